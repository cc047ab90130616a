"""What a line of the staff's speaks of: tools, a case, a time, a peg; and the words that are left when these are taken
out. What is meant by them is said in `meant`.

Rules of this file:
- words are mended where they are a slip away from one that the staff use, unless they are ordinary words, written with
  a capital letter, or the name of somebody who has a tool;
- a time is the longest run of words that means one; a number before a tool is how many of it, unless it names the tool;
- a tool is known as `tool_lookup` knows it, whatever "tool" or "remover" stands behind it.
"""

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from functools import cache, lru_cache, partial

from triagebot.conversation import Guide
from triagebot.conversation.understanding import readable
from triagebot.counter.heard_tools import TOOL, Mention, tool_words, tools_heard
from triagebot.counter.lending import is_counted
from triagebot.counter.times import until, words_of_time
from triagebot.counter.words import StaffWords
from triagebot.counter.work import Work, named_case
from triagebot.messages.codes import read_code
from triagebot.shop import fold
from triagebot.store.loans import Loans
from triagebot.store.staff import Staff

#: What stands in the words for what was taken out of them.
CASE, WHEN, PEG, COMMA = "CASE", "WHEN", "PEG", ","
#: A number has at most so many digits, and a gap between two words so many blanks; so many characters of a line, and so
#: many words, are looked through for what it speaks of; and so long are words that may be several.
MOST_DIGITS, MOST_BLANKS, MOST_HEARD, MOST_WORDS, _LONGEST_GLUED = 20, 20, 400, 60, 40
#: So many characters may come of what somebody writes when it is folded: twice as many as a messenger lets through.
MOST_UNFOLDED = 8192
_TOO_MANY_DIGITS = re.compile(rf"\d{{{MOST_DIGITS + 1},}}")
_TOO_MANY_BLANKS = re.compile(rf"\s{{{MOST_BLANKS + 1},}}")
_LETTERS = re.compile(r"[^\W\d_]{2,}")
_TOKEN = re.compile(r"\d+(?:[:.]\d+)?|[^\W\d_]+|[,;+&/]")
#: So many words of a line are looked up as the code of a case.
MOST_CODES = 12
#: No time has more words.
_LONGEST_TIME = 6
#: A shorter word is not mended; from here on it may have two slips.
_MENDED_FROM, _TWO_SLIPS_FROM = 4, 9
#: No word is taken for a slip of one that says nothing.
_NEVER_MEANT = ("filler", "me", "not", "it")
#: Two words written as one have so many letters at least.
_GLUED_FROM = 8


@dataclass(frozen=True, slots=True)
class Heard:
    """What a line speaks of. `words` are what was said, with a sign for each tool, time and case; `when` is how the
    time was said and `due` what it means; `begins`: that it begins then; `question`: there is a question mark.
    `without` are the tools that were left out ("all but the 2n"), `beside` is what is said beside the tools. `mended`
    has what each word that was mended was written like, `spelt` each word as it was written. `spans`: two times are
    said, from one to the other."""

    words: tuple[str, ...]
    tools: tuple[Mention, ...] = ()
    code: str = ""
    when: str = ""
    due: datetime | None = None
    peg: str = ""
    question: bool = False
    without: tuple[str, ...] = ()
    beside: str = ""
    begins: bool = False
    mended: Mapping[str, str] = field(default_factory=dict)
    spelt: Mapping[str, str] = field(default_factory=dict)
    spans: bool = False

    @property
    def when_alone(self) -> str:
        """The time without the word that it begins with: "at 1" is "1"."""
        first, _, rest = self.when.partition(" ")
        return rest if rest and first in ("until", "till", "til", "at", "by", "from", "before", "to") else self.when


def without_long_runs(text: str) -> str:
    """A text in which no number has more digits than anything is counted or numbered by, and no gap more than
    `MOST_BLANKS`: patterns take long over thousands of them, and Python makes no number of so many digits. Of one whose
    signs stand for whole sentences, the beginning; words of any length that are passed on stay whole."""
    text = readable(text, max(MOST_UNFOLDED, 2 * len(text)))
    text = _TOO_MANY_DIGITS.sub(lambda found: found[0][:MOST_DIGITS], text)
    return _TOO_MANY_BLANKS.sub(lambda found: found[0][:MOST_BLANKS], text)


def hear(work: Work, text: str) -> Heard:
    """What a line speaks of; of a long one, what its first `MOST_HEARD` characters do."""
    code, rest = _case(work, text[:MOST_HEARD])
    rest = _LETTERS.sub(lambda match: work.words.said_as.get(match[0].lower(), match[0]), rest)
    for pattern, instead in work.words.line_rewrites:
        rest = pattern.sub(instead, rest)
    written = _TOKEN.findall(rest.replace("’", "").replace("'", ""))[:MOST_WORDS]
    glued_from = _GLUED_FROM if len(rest.split()) > 1 else _MENDED_FROM
    keep = cache(partial(_names, work))
    named = {raw for raw in written[1:] if raw[:1].isupper()} if not text.isupper() else set()
    known_as = {
        raw: _mended(work, _folded(raw), glued_from, keep, named=raw in named) for raw in dict.fromkeys(written)
    }
    meant = [(raw, known_as[raw]) for raw in written]
    mended = {parts[0]: _folded(raw) for raw, parts in meant if len(parts) == 1 and parts[0] != _folded(raw)}
    spelt = {word: raw for raw, parts in meant if len(parts) == 1 for word in (parts[0], _folded(raw))}
    tokens = [part for _, parts in meant for part in parts]
    tokens, when, due, spans = _time(work, tokens)
    begins = due is not None and _begins(work, text, when)
    tokens, peg = _peg(work, tokens)
    tokens, tools = tools_heard(work, tokens)
    tokens, tools, without = _left_out(work, tokens, tools)
    beside = " ".join(token for token in tokens if token not in (TOOL, WHEN, PEG, CASE))
    question = "?" in text or "?" in rest
    return Heard(tuple(tokens), tools, code, when, due, peg, question, without, beside, begins, mended, spelt, spans)


def _begins(work: Work, text: str, when: str) -> bool:
    """Whether something begins at a time that was said, and does not end then ("off at 5", but "back at 1")."""
    said = fold(text).split()
    first = when.split(maxsplit=1)[0]
    before = said[: said.index(first)][-1:] if first in said else []
    returns = any(word in work.words.is_back for word in said)
    return not returns and any(word in work.words.duty_from for word in (first, *before))


def _left_out(
    work: Work, tokens: list[str], tools: tuple[Mention, ...]
) -> tuple[list[str], tuple[Mention, ...], tuple[str, ...]]:
    """The words and the tools without those that are said to be left out; and these."""
    places = [place for place, token in enumerate(tokens) if token == TOOL]
    for number, place in enumerate(places):
        before = [token for token in tokens[:place] if work.words.senses.get(token) != "filler"]
        named = number > 0 or any(token in work.words.everything for token in before)
        if named and before and before[-1] in work.words.excludes:
            cut = place - 1 - tokens[:place][::-1].index(before[-1])
            return tokens[:cut], tools[:number], tuple(tool for each in tools[number:] for tool in each.tools)
    return tokens, tools, ()


def _folded(raw: str) -> str:
    return fold(raw) if raw.isalpha() else raw


def _case(work: Work, text: str) -> tuple[str, str]:
    """The code of the first case that is named, and the text with a sign in its place."""
    words, looked_up = text.split(), 0
    for place, word in enumerate(words):
        if read_code(word.strip(",.:;?!")) is None and not (place + 1 < len(words) and len(word) <= 4):
            continue
        looked_up += 1
        if looked_up > MOST_CODES:
            break
        found = named_case(work.tx, " ".join(words[place:]))
        if found is not None:
            return found[0].code, " ".join([*words[:place], CASE, found[1]])
    return "", text


# --- words ------------------------------------------------------------------------------------------------------------


def _mended(
    work: Work, word: str, glued_from: int, names: Callable[[], frozenset[str]], *, named: bool
) -> tuple[str, ...]:
    """A word as it was meant: mended, or cut into the two that were written as one. `names` are those of people;
    `named`: written like one, so that it is taken as it is."""
    if word == CASE.lower():
        return (CASE,)
    if word in work.words.said_as:
        return (work.words.said_as[word],)
    if word in ";/":
        return (COMMA,)
    if not word.isalpha():
        return (word,)
    known, keep = _vocabulary(work.guide, work.words, work.texts.language), names()
    if named or word in known or word in keep or work.guide.language(work.texts.language).words.common(word):
        return (work.words.said_as.get(word, word),)
    meant = _nearest(work.words, known, word)
    if meant == word and glued_from <= len(word) <= _LONGEST_GLUED and (parts := _parts(known | keep, word)):
        return tuple(work.words.said_as.get(part, part) for part in parts)
    return (work.words.said_as.get(meant, meant),)


def _nearest(words: StaffWords, known: frozenset[str], word: str) -> str:
    """The word that this one is a slip away from, where there is one alone; else the word."""
    slips = 2 if len(word) >= _TWO_SLIPS_FROM else 1
    if len(word) < _MENDED_FROM:
        return word
    from rapidfuzz.distance import OSA  # late: see `answering`

    near = [
        each
        for each in known
        if len(each) >= _MENDED_FROM
        and words.senses.get(each) not in _NEVER_MEANT
        and OSA.distance(word, each) <= slips
        and (len(word) > _MENDED_FROM or len(word) != len(each) or sorted(word) == sorted(each))
    ]
    best = min((OSA.distance(word, each) for each in near), default=0)
    nearest = sorted(each for each in near if OSA.distance(word, each) == best)
    known_as = [words.said_as.get(each, each) for each in nearest]
    alike = {words.senses.get(each) or words.tool_words.get(each) or each for each in known_as}
    return nearest[0] if len(alike) == 1 else word


def _parts(known: frozenset[str], word: str) -> tuple[str, ...]:
    """The words that were written as one; the last may be a name."""
    return _known_parts(known, word, named=False) or _known_parts(known, word, named=True)


def _known_parts(known: frozenset[str], word: str, *, named: bool) -> tuple[str, ...]:
    if word in known:
        return (word,)
    for end in range(len(word) - 1, 1, -1):
        rest = word[end:]
        ends = (rest,) if named and rest.isalpha() else ()
        if word[:end] in known and (tail := _known_parts(known, rest, named=named) or ends):
            return (word[:end], *tail)
    return ()


def _names(work: Work) -> frozenset[str]:
    """The words of the names of the staff, and of those who have a tool."""
    who = [loan.to for loan in Loans(work.tx).out()] + [member.name for member in Staff(work.tx).members()]
    return frozenset(word for name in who for word in fold(name).split())


@lru_cache(maxsize=64)  # a branch each
def _vocabulary(guide: Guide, words: StaffWords, language: str) -> frozenset[str]:
    """The words that a line of tools, cases and times is made of."""
    senses = {word for phrase in words.senses for word in phrase.split()}
    times = {word for each in words.times.values() for phrase in each for word in phrase.split()}
    days = {word for each in words.weekdays for word in each}
    desk = {word for each in words.desk_words.values() for phrase in each for word in phrase.split()}
    return frozenset(senses | desk | times | days | tool_words(guide, words, language) | set(words.said_as) | {TOOL})


# --- times and pegs ---------------------------------------------------------------------------------------------------


def _time(work: Work, tokens: list[str]) -> tuple[list[str], str, datetime | None, bool]:
    """The words without the times in them, and the first that ends something, or else the first; and whether there is
    one from which it lasts, too."""
    found = _first_time(work, tokens)
    if found is None:
        return tokens, "", None, False
    rest, said, due = found
    again = _first_time(work, rest)
    if again is None or said.split()[0] in work.words.times["until"]:
        return rest, said, due, False
    later, said_later, due_later = again
    ends = said_later.split()[0] in work.words.times["until"]
    return (later, said_later, due_later, True) if ends else (rest, said, due, False)


def _first_time(work: Work, tokens: list[str]) -> tuple[list[str], str, datetime] | None:
    """The words without the first time in them; None where there is none."""
    speaks_of_time = words_of_time(work.words)
    for place in range(len(tokens)):
        for length in range(min(_LONGEST_TIME, len(tokens) - place), 0, -1):
            span = tokens[place : place + length]
            if COMMA in span or CASE in span or not _may_be_a_time(work, span) or _names_a_person(work, tokens, place):
                continue
            if not all(word in speaks_of_time or word[:1].isdecimal() for word in span):
                continue
            said = " ".join(span)
            due = until(work.words, said, work.now, work.guide.shop.hours)
            if due is not None:
                before = place
                while before and tokens[before - 1] in work.words.before_a_time:
                    before -= 1
                behind = place + length
                while behind < len(tokens) and tokens[behind] in work.words.behind_a_time:
                    behind += 1
                return [*tokens[:before], WHEN, *tokens[behind:]], said, due
    return None


def _names_a_person(work: Work, tokens: Sequence[str], place: int) -> bool:
    """Whether a day belongs to what somebody is called: "for the saturday girl"."""
    if not 0 < place < len(tokens) - 1 or not any(tokens[place] in names for names in work.words.weekdays):
        return False
    before, behind = tokens[place - 1], tokens[place + 1]
    said = behind in work.words.senses or behind in work.words.before_a_time or behind in work.words.behind_a_time
    called = behind.isalpha() and not said and not any(behind in each for each in work.words.times.values())
    return called and (before in work.words.articles or work.words.senses.get(before) in ("to", "from"))


def _may_be_a_time(work: Work, span: Sequence[str]) -> bool:
    first = span[0]
    if first.isdecimal() and len(span) > 1 and span[1] in ("m", "d", "h") and len(span) > 2:
        return False
    return not (len(span) == 1 and (first.isdecimal() or first in work.words.no_time_alone))


def _peg(work: Work, tokens: list[str]) -> tuple[list[str], str]:
    """The words without the peg that is named by its number."""
    for place, word in enumerate(tokens[:-1]):
        named = place + 2 < len(tokens) and is_counted(work.words, tokens[place + 2])
        if word in work.words.pegs and tokens[place + 1].isdecimal() and not named:
            return [*tokens[:place], PEG, *tokens[place + 2 :]], tokens[place + 1]
    return tokens, ""
