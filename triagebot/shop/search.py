"""Search in the procedure notes: by words, and for the one section that answers a question.

Rules of this file:
- What is searched: every section of every note, in every language, and what stands before a note's first heading.
  Accents and capitals do not count. Whatever somebody types is words to look for, never a command.
- What a question is about: its words, without those that the language's table calls idle. A word is found under its
  own forms (tight, tightened) and under its kin (torque). It counts for more the fewer sections have it.
- What somebody looks for in the list of notes: slips of the pen are mended by the notes' own words, and a section that
  has more of the words, rarer ones, or one of them in its heading stands higher. Some words ask for a part of the work
  whatever it says ("how tight" for putting it back): see `leads`. The plain names of what a note is about and of its
  tools count as its title does, since a title has the shop's own; and words that stand side by side as they were typed
  ("face ring") count for more than the same words apart.
- When a section is offered for a question: it has at least `ENOUGH` of what the question is about, by weight, in two
  words or more; one is enough if it stands in the section's heading or in the language's table of kin. Notes about the
  person's fastenings come before those about none. Somebody whose fastening is not known is offered a section only if
  no other note has one that is nearly as good.
"""

import re
import sqlite3
import unicodedata
from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cache, cached_property
from itertools import pairwise, product
from math import log
from pathlib import Path
from sys import intern
from threading import Lock

from triagebot.shop.notes import Note, NoteLink, Section, base_language, spoken
from triagebot.shop.paragraphs import CLOSE, OPEN, paragraphs_of
from triagebot.shop.spelling import as_meant
from triagebot.topics import read_yaml

#: The share of a question, by weight, that a section must have.
ENOUGH = 0.6
#: What a word in the section's heading, or in the note's title, counts more than in the text.
HEADING, TITLE = 0.25, 0.1
#: What a word counts for in the list, by where it stands; for each time it stands there; where it leads to the heading.
COLUMNS: Mapping[str, float] = {"title": 0.8, "heading": 1.2, "body": 1.0}
OFTEN, LED = 0.02, 1.6
#: What two words that stand side by side count for more.
BESIDE = 0.8
#: How much better than any other note's best section one must be when the fastening is not known.
LEAD = 0.1
#: So much of what somebody typed is looked at.
MOST_LETTERS, MOST_WORDS = 300, 24
#: So many characters of a section are told, and what stands where paragraphs were left out or end.
QUOTED, _GAP = 400, " … "
#: A word's other forms are so many letters longer or shorter, and share this many at least.
ENDING, STEM = 4, 4

_WORD = re.compile(r"[^\W_]+")
#: The unit of torque, as people write it; its letters alone are no words.
_NEWTON_METRES = re.compile(r"\bn\s?[·⋅.*]\s?m\b", re.IGNORECASE)
_SENTENCE_END = re.compile(r"[.!?](?= )")
#: The mark of a question in the scripts that have one.
_QUESTION_MARK = re.compile("[?\uff1f\u061f\u037e]")
_TABLES = Path(__file__).parent / "asked"


@dataclass(frozen=True, slots=True)
class Found:
    """The section that answers a question best; None is the part before the first heading. `score`: 0.6 to 1.35.

    `words` are the paragraphs of it that have most of the question, in plain text, and no longer than `QUOTED`.
    """

    note: Note
    section: Section | None
    link: NoteLink
    score: float
    words: str

    @property
    def url(self) -> str:
        return self.link.url


@dataclass(frozen=True, slots=True)
class Hit:
    """A section that has the words looked for. `excerpt` is a row of texts: every other one, from the second on, is
    one of those words as it stands there."""

    note: Note
    section: Section | None
    excerpt: tuple[str, ...]


@dataclass(frozen=True)
class Asking:
    """How questions are put in one language: see `asked/<language>.yaml`."""

    first: frozenset[str] = frozenset()
    idle: frozenset[str] = frozenset()
    vague: frozenset[str] = frozenset()
    kin: Mapping[str, frozenset[str]] = field(default_factory=dict)
    same: Mapping[str, frozenset[str]] = field(default_factory=dict)
    leads: Mapping[str, frozenset[str]] = field(default_factory=dict)

    @cached_property
    def words(self) -> frozenset[str]:
        """All words that the table has."""
        return frozenset(self.idle | self.kin.keys() | self.same.keys() | self.leads.keys())


@dataclass(frozen=True, slots=True)
class _Meant:
    """A word of a question: its forms in the notes, its weight, and whether the table of kin has it."""

    forms: frozenset[str]
    weight: float
    of_procedures: bool


class NoteIndex:
    """The sections of some notes in an SQLite table in memory. May be used from any thread."""

    def __init__(self, notes: Iterable[Note], link_to: Callable[[Note, str | None], NoteLink]) -> None:
        self._link_to = link_to
        self._parts = [(note, section, parts) for note in notes for section, parts in paragraphs_of(note)]
        self._rows = [(note, section, " ".join(parts)) for note, section, parts in self._parts]
        self._lock = Lock()
        self._table = sqlite3.connect(":memory:", check_same_thread=False)
        self._table.execute(
            "CREATE VIRTUAL TABLE sections USING fts5(title, heading, body, tokenize='unicode61 remove_diacritics 2')"
        )
        self._table.executemany(
            "INSERT INTO sections(rowid, title, heading, body) VALUES (?, ?, ?, ?)",
            (
                (n, note.title, section.title if section else "", text)
                for n, (note, section, text) in enumerate(self._rows)
            ),
        )
        self._table.execute("CREATE VIRTUAL TABLE words USING fts5vocab(sections, instance)")
        self._places: dict[str, dict[int, tuple[str, ...]]] = {}
        for word, row, column in self._table.execute("SELECT term, doc, col FROM words"):
            columns = self._places.setdefault(word, {})
            columns[row] = (*columns.get(row, ()), intern(column))
        self._named: dict[str, set[int]] = defaultdict(set)
        self._pairs: list[frozenset[tuple[str, str]]] = []
        for n, (note, _, text) in enumerate(self._rows):
            for word in words_of(" ".join((*note.head.fastenings, *note.head.removers))):
                self._named[word].add(n)
            self._pairs.append(frozenset(pairwise(words_of(text, len(text), len(text)))))
        self._stems: dict[str, list[str]] = defaultdict(list)
        for word in self._places:
            self._stems[word[:STEM]].append(word)

    def search(self, words: str, language: str | None = None, most: int = 20) -> tuple[Hit, ...]:
        """The sections that have the words looked for, best first; those in `language` before others."""
        asking = _asking(language)
        typed = words_of(_NEWTON_METRES.sub("nm", words[:MOST_LETTERS]))
        wanted = list(dict.fromkeys(as_meant(typed, self._places.keys() | self._named.keys() | asking.words)))
        telling = [word for word in wanted if word not in asking.idle] or wanted
        meant = [(word, self._meant(word, asking, asking.same.get(word, frozenset()))) for word in telling]
        ranked = []
        for row, (note, section, _) in enumerate(self._rows):
            worth = self._worth(row, section, meant, asking)
            if worth:
                ranked.append((not _spoken(note, language), -worth, row))
        forms = frozenset().union(*(each.forms for _, each in meant))
        return tuple(self._hit(row, forms) for *_, row in sorted(ranked)[:most])

    def best(self, question: str, language: str | None, fastenings: Sequence[str] = ()) -> Found | None:
        """The section that answers a question about one of the fastenings; None if none does well enough.

        Among equals the fastening that is named first wins.
        """
        asking = _asking(language)
        telling = [word for word in dict.fromkeys(words_of(question)) if word not in asking.idle]
        meant = [self._meant(word, asking) for word in telling]
        for rows in self._rows_about(fastenings, language) if telling else ():
            ranked = sorted(
                (
                    (score, -rank, often, -row)
                    for row, rank in rows.items()
                    for score, often in (self._score(row, meant),)
                    if score
                ),
                reverse=True,
            )
            if not ranked:
                continue
            score, (note, section, _) = ranked[0][0], self._rows[-ranked[0][-1]]
            rivals = (other[0] for other in ranked if self._rows[-other[-1]][0] is not note)
            if not fastenings and next(rivals, 0.0) > score - LEAD:
                return None
            link = self._link_to(note, section.slug if section else None)
            return Found(note, section, link, score, self._told(-ranked[0][-1], meant))
        return None

    def asks(self, text: str, language: str | None) -> bool:
        """Whether somebody puts this as a question: by its mark, or by the word that it begins with."""
        return bool(_QUESTION_MARK.search(text)) or next(iter(words_of(text)), "") in _asking(language).first

    def _told(self, row: int, meant: Sequence[_Meant]) -> str:
        """The paragraphs of a section that have most of a question, as they follow each other; the first ones, if none
        has any of it. What stands above all of them, in a heading, tells them not apart."""
        note, section, parts = self._parts[row]
        above = set(words_of(f"{note.title} {section.title if section else ''}"))
        telling = [word for word in meant if not word.forms & above]
        weights = []
        for part in parts:
            words = set(words_of(part, letters=len(part), words=len(part)))
            weights.append(sum(word.weight for word in telling if word.forms & words))
        told: list[int] = []
        room = QUOTED
        for place in sorted(range(len(parts)), key=lambda place: -weights[place]):  # stable: the first of equals
            if told and (weights[place] < max(weights) / 2 or len(parts[place]) > room):
                break
            told.append(place)
            room -= len(parts[place])
        return _shortened(_GAP.join(parts[place] for place in sorted(told)))

    def _worth(self, row: int, section: Section | None, meant: "Sequence[tuple[str, _Meant]]", asking: Asking) -> float:
        """What a section has of what is looked for, by weight; 0 for nothing."""
        heading = frozenset(words_of(section.title)) if section else frozenset()
        worth, met = 0.0, 0
        for word, each in meant:
            columns = [column for form in each.forms for column in self._places[form].get(row, ())]
            value = sum(COLUMNS[column] for column in set(columns)) + OFTEN * log(1 + len(columns))
            if not columns and row in self._named.get(word, ()):
                value += COLUMNS["title"]
            if asking.leads.get(word, frozenset()) & heading:
                value += LED
            worth += value * each.weight
            met += value > 0
        for (_, one), (_, other) in pairwise(meant):
            if any(pair in self._pairs[row] for pair in product(one.forms, other.forms)):
                worth += BESIDE * (one.weight + other.weight) / 2
        return worth * (met / len(meant)) ** 2 if meant else 0.0

    def _hit(self, row: int, forms: frozenset[str]) -> Hit:
        note, section, text = self._rows[row]
        there = sorted(form for form in forms if "body" in self._places[form].get(row, ()))
        if not there:
            return Hit(note, section, (_shortened(text),))
        expression = "{body} : (" + " OR ".join(f'"{form}"' for form in there) + ")"
        found = "SELECT snippet(sections, 2, ?, ?, '…', 24) FROM sections WHERE sections MATCH ? AND rowid = ?"
        with self._lock:
            (text,) = self._table.execute(found, (OPEN, CLOSE, expression, row)).fetchone()
        return Hit(note, section, tuple(re.split(f"[{OPEN}{CLOSE}]", text)))

    def _rows_about(self, fastenings: Sequence[str], language: str | None) -> Iterator[dict[int, int]]:
        """The rows of notes about any of these fastenings, with the place of the fastening among them; then those of
        notes about none. All rows, if no fastening is given. In the person's language if there are any."""
        ranks = {fastening: place for place, fastening in enumerate(fastenings)}
        own: dict[int, int] = {}
        general: dict[int, int] = {}
        for place, (note, _, _) in enumerate(self._rows):
            about = [ranks[fastening] for fastening in note.head.fastenings if fastening in ranks]
            if about or not fastenings:
                own[place] = min(about, default=0)
            elif not note.head.fastenings:
                general[place] = 0
        for rows in (own, general):
            yield {row: rank for row, rank in rows.items() if _spoken(self._rows[row][0], language)} or rows

    def _score(self, row: int, meant: Sequence[_Meant]) -> tuple[float, int]:
        """What a row has of a question, by weight (0 for not enough), and how many times it has it."""
        whole = have = more = 0.0
        met, often, telling = 0, 0, False
        for word in meant:
            columns = [column for form in word.forms for column in self._places[form].get(row, ())]
            if columns and set(columns) == {"title"}:
                continue  # the whole note has it, so it tells no section
            whole += word.weight
            if not columns:
                continue
            have += word.weight
            more += word.weight * (HEADING * ("heading" in columns) + TITLE * ("title" in columns))
            met += 1
            often += len(columns)
            telling = telling or "heading" in columns or word.of_procedures
        if not met or have < ENOUGH * whole or (met == 1 and not telling):
            return 0.0, 0
        return round((have + more) / whole, 6), often

    def _meant(self, word: str, asking: Asking, same: frozenset[str] = frozenset()) -> _Meant:
        """The words of the notes that stand for a word of a question."""
        kin = asking.kin.get(word, frozenset()) | same
        sought = kin - {word} if word in asking.vague else {word, *kin}
        forms = frozenset(
            known
            for one in sought
            for known in self._stems.get(one[:STEM], ())
            if _akin(known, one) and (one == word or len(known) >= len(one))  # "lefty" stands for no "left on"
        )
        rows = set().union(*(self._places[form].keys() for form in forms))
        return _Meant(forms, log(1 + (len(self._rows) + 1) / (len(rows) + 0.5)), bool(kin))


def _shortened(text: str) -> str:
    """A text of at most `QUOTED` characters: whole sentences if there is one, else whole words."""
    if len(text) <= QUOTED:
        return text
    begun = text[: QUOTED - 1]
    ends = [found.end() for found in _SENTENCE_END.finditer(begun)]
    return begun[: ends[-1]] + _GAP.rstrip() if ends else begun.rsplit(" ", 1)[0] + "…"


def words_of(text: str, letters: int = MOST_LETTERS, words: int = MOST_WORDS) -> list[str]:
    """The words of what somebody typed, as the table writes them: small letters, no accents; no single letters."""
    apart = unicodedata.normalize("NFD", text[:letters].replace("’", "").replace("'", "").lower())
    bare = unicodedata.normalize("NFC", "".join(letter for letter in apart if not unicodedata.combining(letter)))
    return [word for word in _WORD.findall(bare) if len(word) > 1 or not word.isascii() or word.isdigit()][:words]


def _akin(known: str, word: str) -> bool:
    """Whether two words are forms of one: the shorter begins the longer."""
    if known == word:
        return True
    short, long = sorted((known, word), key=len)
    return len(short) >= STEM and long.startswith(short) and len(long) - len(short) <= ENDING


def _spoken(note: Note, language: str | None) -> bool:
    return language is not None and spoken(note, language)


def _asking(language: str | None) -> Asking:
    return _table(base_language(language or ""))


@cache
def _table(language: str) -> Asking:
    path = _TABLES / f"{language}.yaml"
    if not language.isalpha() or not path.is_file():
        return Asking()
    data, _ = read_yaml(path)
    leads: dict[str, frozenset[str]] = {}
    for row in data["leads"]:
        leads |= {word: frozenset(row["to"]) for word in row["words"]}
    return Asking(
        frozenset(data["first"]),
        frozenset(data["idle"]),
        frozenset(data["vague"]),
        _each_for_the_others(data["kin"]),
        _each_for_the_others(data["same"]),
        leads,
    )


def _each_for_the_others(rows: Iterable[Sequence[str]]) -> Mapping[str, frozenset[str]]:
    found: dict[str, set[str]] = defaultdict(set)
    for row in rows:
        for word in row:
            found[word] |= set(row)
    return {word: frozenset(words) for word, words in found.items()}
