"""Phrases written in the words files, and finding them in a row of tokens.

A pattern is words with `(a|b|)` for alternatives, `<name>` for a named part (itself a pattern), `*` for up to two
words that do not matter, `#` for any number and `$` for the end of the clause; brackets stand between words, not
inside them. Every pattern becomes a small automaton hung from one root, so alternatives cost their sum and not their
product. The longest phrase that starts at a token wins; equally long ones share their meanings.
"""

import re
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cache
from threading import Lock
from typing import Any, Literal, NamedTuple

#: What a phrase stands for. The program's own kinds first, then those that a topic's lexicon gives.
Kind = Literal[
    "command", "negation", "hedge", "correction", "unsure", "joint", "shape", "means", "comparison", "elsewhere",
    "hostile", "off-topic", "break", "scope", "insists", "share", "lone-share", "counter", "motion",
    "choice", "noun", "name", "gauge", "mention", "ignore", "other", "wavering", "withdraw", "enquiry",
]  # fmt: skip

#: What a phrase needs beside itself; see `PhraseMeaning`.
Bound = Literal["", "loose", "echo", "beside"]

#: A pattern that is spelled out may stand for this many phrases; more is a slip of the pen.
MOST_PHRASES = 5000
#: How deep brackets and parts may stand in each other.
DEEPEST = 8
#: With these a phrase begins that may begin with many words.
_ANY = ("*", "#", "$")
_ANY_SET = frozenset(_ANY)
#: How many words `*` may skip.
WILD_WORDS = 2
#: Of so many nodes behind a word, those that lead on are looked up by the next word; so many pairs are remembered.
MANY, MOST_PAIRS = 3, 4000
#: Brackets, bars, named parts and the words between them.
_PIECES = re.compile(r"[()|]|<[a-z0-9-]+>|[^()|<]+|<")


class PhraseMeaning(NamedTuple):
    """One thing that a phrase stands for. `subject` and `value` depend on the kind; `when_open`: only then.

    `bound`: words too common to mean it by themselves. A `loose` phrase needs a clause that speaks of nothing else, an
    `echo` needs its question open, or spoken of before it in the message, a `beside` one what its neighbours speak of.
    """

    kind: Kind
    subject: str = ""
    value: str = ""
    when_open: bool = False
    bound: Bound = ""


class PatternError(ValueError):
    """A pattern in a words file cannot be read; says which and why."""


#: A pattern taken apart: words, or alternatives of patterns, one after another.
Piece = str | tuple["Row", ...]
Row = tuple[Piece, ...]


@dataclass(slots=True, eq=False)
class Node:
    """One step into the phrases. There are some ten thousand, most with a single one behind each word."""

    after: dict[str, list["Node"]] = field(default_factory=dict)
    meanings: tuple[PhraseMeaning, ...] = ()


@dataclass(slots=True, eq=False)
class Root(Node):
    """Where phrases begin. Those that begin with a word are hung only when that word is met for the first time: a
    message meets few of them. What hangs behind a word, and in which order, does not depend on what was met before."""

    waiting: dict[str, list[tuple[tuple[Row, ...], PhraseMeaning]]] = field(default_factory=dict)
    pairs: dict[tuple[str, str], Sequence[Node]] = field(default_factory=dict, repr=False)
    lock: Lock = field(default_factory=Lock, repr=False)

    def __getstate__(self) -> tuple[object, ...]:
        """All but what is of one process: what it met, and the lock."""
        return self.after, self.meanings, self.waiting

    def __setstate__(self, state: tuple[Any, ...]) -> None:
        self.after, self.meanings, self.waiting = state
        self.pairs, self.lock = {}, Lock()

    def meet(self, key: str) -> None:
        """Hang what waits for a phrase to begin with this word."""
        if key not in self.waiting:
            return
        with self.lock:
            for rows, meaning in self.waiting.get(key, ()):
                for end in _grow([self], _beginning_with(key, rows)):
                    if end is not self and meaning not in end.meanings:
                        end.meanings += (meaning,)
            self.waiting.pop(key, None)

    def ahead(self, key: str, behind: str) -> Sequence[Node]:
        """The nodes behind `key` that lead on where `behind` follows it ("" where nothing does)."""
        nodes = self.after[key]
        if len(nodes) < MANY:
            return nodes
        known = self.pairs.get((key, behind))
        if known is None:
            if len(self.pairs) >= MOST_PAIRS:
                self.pairs.clear()
            known = self.pairs[key, behind] = tuple(n for n in nodes if n.meanings or _leads_on(n.after, behind))
        return known


def _leads_on(after: Mapping[str, list[Node]], key: str) -> bool:
    return key in after or "*" in after or "#" in after or "$" in after


def parse(
    pattern: str,
    parts: Mapping[str, str],
    keys: Callable[[str], Sequence[str]],
    known: dict[str, tuple[Row, ...]] | None = None,
) -> tuple[Row, ...]:
    """The alternatives of a pattern; `keys` cuts plain text into token keys. Parts that were taken apart before are in
    `known`, which grows. Raises PatternError."""
    pieces = _PIECES.findall(pattern)
    if len(pieces) == 1 and pattern[0] not in "()|<" and (plain := keys(pattern)):
        return (tuple(plain),)
    rows, end = _alternatives(pieces, 0, pattern, parts, keys, {} if known is None else known, 0)
    if end < len(pieces):
        raise PatternError(f"{pattern!r}: a bracket closes that was never opened")
    if not _has_a_word(rows):
        raise PatternError(f"{pattern!r}: stands for nothing")
    return rows


def _alternatives(
    pieces: Sequence[str],
    at: int,
    pattern: str,
    parts: Mapping[str, str],
    keys: Callable[[str], Sequence[str]],
    known: dict[str, tuple[Row, ...]],
    depth: int,
) -> tuple[tuple[Row, ...], int]:
    """The alternatives from `at` up to the closing bracket or the end, and where that is."""
    if depth > DEEPEST:
        raise PatternError(f"{pattern!r}: too deep, or parts that name each other in a ring")
    rows: list[Row] = []
    row: list[Piece] = []
    while at < len(pieces) and (piece := pieces[at]) != ")":
        at += 1
        if piece == "(":
            inner, at = _alternatives(pieces, at, pattern, parts, keys, known, depth + 1)
            if at >= len(pieces):
                raise PatternError(f"{pattern!r}: a bracket is missing")
            row.append(inner)
            at += 1
        elif piece == "|":
            rows.append(_row(row))
            row = []
        elif piece[0] == "<" and len(piece) > 1:
            row.append(_part(piece[1:-1], pattern, parts, keys, known, depth))
        else:
            row += keys(piece)
    return (*rows, _row(row)), at


def _row(pieces: Sequence[Piece]) -> Row:
    """A row as it is kept: nearly half of all rows are one word, and few of these words differ."""
    return _of_one_word(pieces[0]) if len(pieces) == 1 and isinstance(pieces[0], str) else tuple(pieces)


@cache
def _of_one_word(word: str) -> Row:
    return (word,)


def _part(
    name: str,
    pattern: str,
    parts: Mapping[str, str],
    keys: Callable[[str], Sequence[str]],
    known: dict[str, tuple[Row, ...]],
    depth: int,
) -> tuple[Row, ...]:
    if name not in parts:
        raise PatternError(f"{pattern!r}: no part named {name!r}")
    if name not in known:
        pieces = _PIECES.findall(parts[name])
        rows, end = _alternatives(pieces, 0, pattern, parts, keys, known, depth + 1)
        if end < len(pieces):
            raise PatternError(f"part {name!r}: a bracket closes that was never opened")
        known[name] = rows
    return known[name]


def phrases(rows: Iterable[Row]) -> Iterator[str]:
    """Every phrase spelled out, as keys with blanks between. Raises PatternError when there are too many."""
    for count, phrase in enumerate(_spelled(tuple(rows))):
        if count > MOST_PHRASES:
            raise PatternError(f"{phrase!r} and its like: more than {MOST_PHRASES} phrases")
        yield " ".join(phrase)


def _spelled(rows: tuple[Row, ...]) -> Iterator[tuple[str, ...]]:
    for row in rows:
        if not row:
            yield ()
            continue
        first, rest = row[0], row[1:]
        for head in _spelled(first) if isinstance(first, tuple) else ((first,),):
            for tail in _spelled((rest,)):
                yield head + tail


def _has_a_word(rows: tuple[Row, ...]) -> bool:
    return any(piece if isinstance(piece, str) else _has_a_word(piece) for row in rows for piece in row)


def words_in(rows: Iterable[Row]) -> frozenset[str]:
    """The keys of the pattern."""
    found: set[str] = set()
    _gather(tuple(rows), found, set())
    return frozenset(found)


def _gather(rows: tuple[Row, ...], found: set[str], gone_through: set[int]) -> None:
    """Add the keys; a part that stands in several places is gone through once."""
    if id(rows) in gone_through:
        return
    gone_through.add(id(rows))
    for row in rows:
        for piece in row:
            if isinstance(piece, str):
                found.add(piece)
            else:
                _gather(piece, found, gone_through)


def plant(root: Root, rows: Iterable[Row], meaning: PhraseMeaning) -> None:
    """Let a pattern wait at the root, under every word with which it may begin."""
    whole = tuple(rows)
    for key in dict.fromkeys(_first_words(whole)):
        root.waiting.setdefault(key, []).append((whole, meaning))


def _first_words(rows: tuple[Row, ...]) -> Iterator[str]:
    for row in rows:
        for piece in row:
            if isinstance(piece, str):
                yield piece
                break
            yield from _first_words(piece)
            if not _may_be_empty(piece):
                break


def _may_be_empty(rows: tuple[Row, ...]) -> bool:
    return any(all(not isinstance(piece, str) and _may_be_empty(piece) for piece in row) for row in rows)


def _beginning_with(key: str, rows: tuple[Row, ...]) -> tuple[Row, ...]:
    """The alternatives that begin with this word."""
    found: list[Row] = []
    for row in rows:
        for place, piece in enumerate(row):
            if isinstance(piece, str):
                if piece == key:
                    found.append(row[place:])
                break
            if begun := _beginning_with(key, piece):
                found.append((begun, *row[place + 1 :]))
            if not _may_be_empty(piece):
                break
    return tuple(found)


def _grow(starts: list[Node], rows: Iterable[Row]) -> list[Node]:
    """The nodes where the alternatives end: those that end in a word meet in one, so that what follows hangs once."""
    ends: dict[Node, None] = {}
    meeting = Node()
    for row in rows:
        reached = starts
        for place, piece in enumerate(row):
            if isinstance(piece, str):
                node = meeting if place == len(row) - 1 else Node()
                for start in reached:
                    steps = start.after.setdefault(piece, [])
                    if not steps or steps[-1] is not node:
                        steps.append(node)
                reached = [node]
            else:
                reached = _grow(reached, piece)
        ends |= dict.fromkeys(reached)
    return list(ends)


def longest(
    root: Root,
    keys: Sequence[str],
    start: int,
    stop: int,
    numbers: Sequence[bool],
    open_question: str | None,
    short: bool,
    *,
    beside: frozenset[str] = frozenset(),
    hidden: frozenset[str] = frozenset(),
) -> tuple[int, tuple[PhraseMeaning, ...]]:
    """End and meanings of the longest phrase within `keys[start:stop]` that begins at `start`.

    Meanings that hold only while a question is open are left out for other questions; a single word of that sort
    counts only in a `short` message. Nouns and phrases of several words hold for the questions `beside` the open one
    too; what is said of `hidden` questions is left out. The end is `start` when there is no phrase.
    """
    if root.waiting:
        for key in (keys[start], *_ANY) if start < stop else _ANY:
            if key in root.waiting:
                root.meet(key)
    best = start
    meanings: tuple[PhraseMeaning, ...] = ()
    if start < stop and keys[start] not in root.after and _ANY_SET.isdisjoint(root.after):
        return start, ()
    for end, found in _walk(root, keys, start, stop, numbers):
        if end < best or end == start:
            continue
        several = end > start + 1
        live = tuple(
            m
            for m in found
            if not (m.subject in hidden and m.kind in ("choice", "noun"))
            and (
                not m.when_open
                or (m.subject == open_question and (short or several or m.kind == "noun"))
                or (m.subject in beside and (several or m.kind == "noun"))
            )
        )
        if live and end > best:
            best, meanings = end, live
        elif live:
            meanings += tuple(m for m in live if m not in meanings)
    return best, meanings


def every(
    root: Root, keys: Sequence[str], start: int, numbers: Sequence[bool]
) -> Iterator[tuple[int, tuple[PhraseMeaning, ...]]]:
    """End and meanings of every phrase that begins at `start`."""
    for key in (keys[start], *_ANY):
        root.meet(key)
    return (found for found in _walk(root, keys, start, len(keys), numbers) if found[0] > start)


def _walk(
    root: Root, keys: Sequence[str], start: int, stop: int, numbers: Sequence[bool]
) -> list[tuple[int, tuple[PhraseMeaning, ...]]]:
    """End and meanings of every phrase that begins at `start`, in the order in which they hang."""
    found: list[tuple[int, tuple[PhraseMeaning, ...]]] = []
    _go_on(root, root, start, keys, stop, numbers, found)
    return found


def _go_on(
    root: Root,
    node: Node,
    place: int,
    keys: Sequence[str],
    stop: int,
    numbers: Sequence[bool],
    found: list[tuple[int, tuple[PhraseMeaning, ...]]],
) -> None:
    """Add what ends at `node`, to which the words before `place` lead, and what hangs behind it."""
    if node.meanings:
        found.append((place, node.meanings))
    after = node.after
    if not after:
        return
    if place >= stop:
        for way in ("$", "*"):
            for step in after.get(way, ()):
                _go_on(root, step, place, keys, stop, numbers, found)
        return
    key = keys[place]
    if key in after:
        for step in root.ahead(key, keys[place + 1] if place + 1 < stop else "") if node is root else after[key]:
            _go_on(root, step, place + 1, keys, stop, numbers, found)
    if "#" in after and numbers[place]:
        for step in after["#"]:
            _go_on(root, step, place + 1, keys, stop, numbers, found)
    if "*" in after:
        for at in range(place, place + WILD_WORDS + 1):
            for step in after["*"]:
                _go_on(root, step, at, keys, stop, numbers, found)
            if at >= stop or numbers[at] or not keys[at][:1].isalpha():
                break
