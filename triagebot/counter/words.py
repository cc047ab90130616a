"""What the staff's words mean, a language: `words/<language>.yaml` beside this file, or English where there is none.

Decided here and nowhere else: how a command is told from the rest of a message. The longest words that begin it and
name a command are the command; what stands behind them is kept as it was written.
"""

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any

from triagebot.shop import fold
from triagebot.topics import read_yaml

_TABLES = Path(__file__).resolve().parent / "words"
_FALLBACK = "en"
#: No command is longer than so many words.
_LONGEST = 4


@dataclass(frozen=True, slots=True)
class Order:
    """A command, and what is said behind it."""

    command: str
    rest: str


@dataclass(frozen=True, eq=False)
class StaffWords:
    """All that the staff may write in one language; every phrase is folded."""

    commands: Mapping[str, str]
    fits_endings: Collection[str]
    articles: Collection[str]
    abbreviations: Mapping[str, str]
    whole: Collection[str]
    fitted: Collection[str]
    not_fitted: Collection[str]
    not_tried: Collection[str]
    unlisted: Collection[str]
    lent_to: Collection[str]
    lent_until: Collection[str]
    returned_from: Collection[str]
    times: Mapping[str, Collection[str]]

    def order(self, text: str) -> Order | None:
        """The command that a message begins with; None where it begins with none."""
        words = text.split()
        for length in range(min(_LONGEST, len(words)), 0, -1):
            command = self.commands.get(fold(" ".join(words[:length])))
            if command is not None:
                return Order(command, " ".join(words[length:]))
        return None


@lru_cache(maxsize=32)
def staff_words(language: str) -> StaffWords:
    """The words of a language. Raises DataError for a file that cannot be read."""
    path = _TABLES / f"{language.split('-', maxsplit=1)[0]}.yaml"
    data, _ = read_yaml(path if path.is_file() else _TABLES / f"{_FALLBACK}.yaml")
    return StaffWords(
        commands={phrase: command for command, phrases in data["commands"].items() for phrase in _folded(phrases)},
        fits_endings=_folded(data["fits-endings"]),
        articles=_folded(data["articles"]),
        abbreviations={str(short): str(long) for short, long in data["abbreviations"].items()},
        whole=_folded(data["whole"]),
        fitted=_folded(data["fitted"]),
        not_fitted=_folded(data["not-fitted"]),
        not_tried=_folded(data["not-tried"]),
        unlisted=_folded(data["unlisted"]),
        lent_to=_folded(data["lent-to"]),
        lent_until=_folded(data["lent-until"]),
        returned_from=_folded(data["returned-from"]),
        times={kind: _folded(phrases) for kind, phrases in data["times"].items()},
    )


def _folded(phrases: Any) -> tuple[str, ...]:
    return tuple(fold(str(phrase)) for phrase in phrases)
