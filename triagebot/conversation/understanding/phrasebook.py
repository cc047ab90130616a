"""What is said about the work, as phrases: what is asked once an outcome stands, and what is said at a step.

Rules of this file: a message that is a phrase and nothing else goes before a phrase that stands within it, and of those
the longest counts. Nothing here is a reading of the wheel.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any

import yaml
from pydantic import BaseModel, ConfigDict

from triagebot.conversation.understanding.normalise import folded
from triagebot.conversation.understanding.phrases import PhraseMeaning, Root, Row, every, longest, parse, plant
from triagebot.conversation.understanding.words import Words

FOLDER = Path(__file__).resolve().parent.parent / "words" / "work"
#: A message of more words than this is no phrase of the book.
MOST_WORDS = 40


class Ways(BaseModel):
    """Ways to say one thing, as patterns."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    whole: tuple[str, ...] = ()
    within: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, eq=False)
class Phrasebook:
    """Phrases by what they mean, and the `little` words that may stand around a whole one."""

    whole: Root
    within: Root
    little: frozenset[str]

    def exactly(self, text: str, words: Words) -> str | None:
        """What the whole message means, politeness and other little words around it aside."""
        keys = keys_of(text, words)
        for part in _trimmed(keys, self.little):
            end, meanings = longest(self.whole, part, 0, len(part), [False] * len(part), None, False)
            if meanings and end == len(part):
                return meanings[0].subject
        return None

    def anywhere(self, text: str, words: Words) -> str | None:
        """What the longest phrase in the message means."""
        keys = keys_of(text, words)
        best, meant = 0, None
        for start in range(len(keys)):
            end, meanings = longest(self.within, keys, start, len(keys), [False] * len(keys), None, False)
            if meanings and end - start > best:
                best, meant = end - start, meanings[0].subject
        return meant

    def whole_of(self, keys: list[str]) -> frozenset[str]:
        """All that these words mean as a whole, little words around them aside."""
        for part in _trimmed(keys, self.little):
            found = [meanings for end, meanings in every(self.whole, part, 0, _numbers(part)) if end == len(part)]
            if found:
                return frozenset(meaning.subject for meanings in found for meaning in meanings)
        return frozenset()

    def everywhere(self, keys: list[str]) -> list[tuple[int, frozenset[str]]]:
        """Where each phrase begins and all that it means, in order; none that stands within a longer one."""
        spans: dict[tuple[int, int], set[str]] = {}
        for start in range(len(keys)):
            for end, meanings in every(self.within, keys, start, _numbers(keys)):
                spans.setdefault((start, end), set()).update(meaning.subject for meaning in meanings)
        return [
            (start, frozenset(meant))
            for (start, end), meant in sorted(spans.items())
            if not any(s <= start and end <= e and (s, e) != (start, end) for s, e in spans)
        ]


def _numbers(keys: list[str]) -> list[bool]:
    return [key.isdigit() for key in keys]


def keys_of(text: str, words: Words) -> list[str]:
    """The words of a message, folded and mended; none of a very long one."""
    keys = "".join(c if c.isalnum() else " " for c in folded(text)).split()
    return [words.mended(key)[0] for key in keys] if len(keys) <= MOST_WORDS else []


def _trimmed(keys: list[str], little: frozenset[str]) -> list[list[str]]:
    """The message itself first, then without little words before and behind it."""
    found = [keys] if keys else []
    first, last = 0, len(keys)
    while first < last - 1 and keys[first] in little:
        first += 1
    while last - 1 > first and keys[last - 1] in little:
        last -= 1
    for part in (keys[first:], keys[:last], keys[first:last]):
        if part and part not in found:
            found.append(part)
    return found


@lru_cache(maxsize=4)
def tables(language: str) -> Mapping[str, Any]:
    """All tables of a language's file; empty where there is none."""
    file = FOLDER / f"{language}.yaml"
    return yaml.load(file.read_text(encoding="utf-8"), Loader=yaml.CBaseLoader) if file.exists() else {}


@lru_cache(maxsize=16)
def phrasebook(language: str, table: str) -> Phrasebook:
    """The phrases of one table of a language's file; empty where there is none."""
    known, parts = tables(language), tables(language).get("parts", {})
    book = Phrasebook(Root(), Root(), frozenset(known.get("little", ())))
    apart: dict[str, tuple[Row, ...]] = {}
    for meaning, ways in known.get(table, {}).items():
        said = Ways.model_validate(ways)
        for root, patterns in ((book.whole, said.whole), (book.within, said.within)):
            for pattern in patterns:
                rows = parse(pattern, parts, lambda words: words.split(), apart)
                plant(root, rows, PhraseMeaning("command", meaning))
    return book
