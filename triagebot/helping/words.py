"""What mentors and riders write: their words, a language (`words/<language>.yaml` beside this file, or English where
there is none), and the names of cases. The longest words that begin a message and name a command are the command.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

from triagebot.conversation import Message
from triagebot.messages.codes import JOIN_CODE, named_code, secret_among
from triagebot.messages.message import Arrived, Commanded, Content, Said
from triagebot.messages.words import by_phrase, folded, words_beside
from triagebot.shop import fold

if TYPE_CHECKING:
    from triagebot.store.parties import Party

#: A name has so many characters at most, and is heard if it is at least so alike (per cent).
LONGEST_NAME, ALIKE = 60, 80
#: Nobody says yes or no in more words than these.
_FEW_WORDS = 8
#: No command is longer than so many words.
_LONGEST_COMMAND = 3


@dataclass(frozen=True, eq=False)
class MentorWords:
    """What mentors and riders write, folded; `commands` by the words that begin them."""

    opens: frozenset[str]
    commands: Mapping[str, str]
    leave: frozenset[str]
    not_meant: frozenset[str]
    yes: frozenset[str]
    no: frozenset[str]
    articles: frozenset[str]
    corrects: frozenset[str]
    little: frozenset[str]

    def agrees(self, text: str) -> bool:
        """Whether a text says yes and nothing else: "yes ok", "sure, thanks"."""
        return self._only(self.yes, text)

    def declines(self, text: str) -> bool:
        """Whether it says no and nothing else."""
        return self._only(self.no, text)

    def _only(self, phrases: frozenset[str], text: str) -> bool:
        """Whether a text consists of these phrases, at least one, and of little words."""
        words, found = fold(text).split()[: _FEW_WORDS + 1], False
        while words and len(words) <= _FEW_WORDS:
            begun = range(len(words), 0, -1)
            length = next((n for n in begun if " ".join(words[:n]) in phrases), 0)
            if not length and words[0] not in self.little:
                return False
            found, words = found or bool(length), words[length or 1 :]
        return found and not words

    def corrected(self, text: str) -> str:
        """The number that a text says is right instead, if it says nothing else; "" for any other text."""
        parts = fold(text).split()
        begins = " ".join(parts[:-1])
        return parts[-1] if parts and begins in self.corrects and parts[-1].isdecimal() else ""


@lru_cache(maxsize=32)
def mentor_words(language: str) -> MentorWords:
    """The words of a language, or of English where there are none. Raises DataError for a file that cannot be read."""
    data = words_beside(__file__, language)
    sets = (
        frozenset(folded(data[name])) for name in ("leave", "not-meant", "yes", "no", "articles", "corrects", "little")
    )
    return MentorWords(frozenset(folded(data["opens"])), by_phrase(data["commands"]), *sets)


def text_of(content: Content | Message) -> str:
    match content:
        case Said(text):
            return text
        case Message(text=text, choice=None):
            return text
        case Arrived(secret=secret):
            return secret
        case _:
            return ""


def asks_about_helping(content: Content | Message, language: str) -> bool:
    """Whether a message is about helping somebody, or names a case by its code."""
    words, text = mentor_words(language), text_of(content)
    return (
        opens(words, content, text) is not None
        or secret_among(text, JOIN_CODE) is not None
        or named_code(text, language) is not None
        or words.commands.get(fold(text)) == "cases"
    )


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
