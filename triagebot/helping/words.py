"""What helpers and riders write: their words, a language (`words/<language>.yaml` beside this file, or English where
there is none), the names of cases, and the codes to join with.

Decided here and nowhere else: how a code is written, how long a name may be, and how a command is told from the rest of
a message: the longest words that begin it and name one are the command.
"""

import secrets
import unicodedata
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from triagebot.conversation import Message
from triagebot.messages.incoming import Commanded, Content
from triagebot.shop import fold
from triagebot.topics import read_yaml

if TYPE_CHECKING:
    from triagebot.store.parties import Party

#: A code is so many consonants, in groups: it is no word and no number, and 2^51 are hard to guess in two days.
ALPHABET, LETTERS, GROUP = "BCDFGHJKMNPQRSTVWXYZ", 12, 4
#: A name has so many characters at most, and is heard if it is at least so alike (per cent).
LONGEST_NAME, ALIKE = 60, 80
#: No command is longer than so many words, and no code than so many characters.
_LONGEST_COMMAND, _LONGEST_CODE = 3, 40

_WORDS = Path(__file__).resolve().parent / "words"


@dataclass(frozen=True, eq=False)
class MentorWords:
    """What helpers and riders write, folded; `commands` by the words that begin them."""

    opens: frozenset[str]
    commands: Mapping[str, str]
    leave: frozenset[str]
    not_meant: frozenset[str]
    yes: frozenset[str]
    no: frozenset[str]
    articles: frozenset[str]


@lru_cache(maxsize=32)
def mentor_words(language: str) -> MentorWords:
    """The words of a language, or of English where there are none. Raises DataError for a file that cannot be read."""
    path = _WORDS / f"{language.split('-', maxsplit=1)[0]}.yaml"
    data, _ = read_yaml(path if path.is_file() else _WORDS / "en.yaml")

    def folded(phrases: Any) -> frozenset[str]:
        return frozenset(fold(str(phrase)) for phrase in phrases)

    commands = {phrase: command for command, phrases in data["commands"].items() for phrase in folded(phrases)}
    sets = (folded(data[name]) for name in ("leave", "not-meant", "yes", "no", "articles"))
    return MentorWords(folded(data["opens"]), commands, *sets)


def read_code(text: str) -> str | None:
    """The code to join with that a text is and nothing else, however it is grouped; None for any other text."""
    if len(text) > _LONGEST_CODE:
        return None
    plain = unicodedata.normalize("NFKC", text).upper()
    letters = "".join(c for c in plain if not (c.isspace() or unicodedata.category(c) in ("Pd", "Po", "Pc", "Cf")))
    return letters if len(letters) == LETTERS and set(letters) <= set(ALPHABET) else None


def fresh_code() -> str:
    return "".join(secrets.choice(ALPHABET) for _ in range(LETTERS))


def grouped(code: str) -> str:
    return "-".join(code[start : start + GROUP] for start in range(0, len(code), GROUP))


def opens(words: MentorWords, content: Content | Message, text: str) -> str | None:
    """The name of the case that somebody opens for somebody else, "" if they give none; None if they open none."""
    if isinstance(content, Commanded) and content.command == "mentor":
        return ""
    if not text or len(text) > 4 * LONGEST_NAME:
        return None
    if fold(text) in words.opens:
        return ""
    for mark in ":,":
        head, found, tail = text.partition(mark)
        if found and fold(head) in words.opens and cleaned(tail):
            return cleaned(tail)
    return None


def command_of(words: MentorWords, text: str) -> tuple[str | None, str]:
    said = text.split()
    for length in range(min(_LONGEST_COMMAND, len(said)), 0, -1):
        command = words.commands.get(fold(" ".join(said[:length])))
        if command is not None:
            return command, " ".join(said[length:])
    return None, ""


def cleaned(name: str) -> str:
    """A name as it is kept: one line, without quotation marks or a full stop."""
    return " ".join(name.split()).strip(" “”\"'‘’.!:,")[:LONGEST_NAME].strip() if fold(name) else ""


def free(name: str, helped: "Sequence[Party]", case: int) -> str:
    """A name that no other of somebody's cases has."""
    taken = {fold(party.name) for party in helped if party.case != case}
    number, tried = 1, name
    while fold(tried) in taken:
        number += 1
        tried = f"{name} {number}"
    return tried


def without(words: frozenset[str], text: str) -> str:
    """A text without these words before it."""
    said = text.split()
    while said and fold(said[0]) in words:
        said = said[1:]
    return " ".join(said)
