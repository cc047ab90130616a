"""In which language a message is, when it is none that is spoken here: told by the little words of each.

Rules of this file: at least two such words, more of them than of any other language, and more than a third of the
message unknown to the language that is spoken.
"""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import yaml
from pydantic import BaseModel, ConfigDict

from triagebot.conversation.understanding.words import Words

#: Where the words and the answers are.
FILE = Path(__file__).resolve().parent.parent / "words" / "other-languages.yaml"
#: How many words of a message are looked at, and how many of them must give the language away.
LOOKED_AT, TELLING = 40, 2
_WORD = re.compile(r"[^\W\d_]+(?:['’][^\W\d_]+)?")


class Language(BaseModel):
    """`words` that give it away, and the `sentence` that says in it which language is spoken here."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    words: frozenset[str]
    sentence: str


@dataclass(frozen=True, slots=True)
class _Heard:
    language: str
    telling: int


@cache
def other_languages() -> Mapping[str, Language]:
    """The languages that can be told, by their codes."""
    rows = yaml.load(FILE.read_text(encoding="utf-8"), yaml.CBaseLoader)
    return {code: Language.model_validate(row) for code, row in rows.items()}


def foreign(text: str, words: Words) -> str | None:
    """The code of the language that `text` is in, if that is another than that of `words`."""
    said = [word.casefold().replace("’", "'") for word in _WORD.findall(text)[:LOOKED_AT]]
    strange = [word for word in said if not _known(word, words)]
    if len(said) < TELLING or len(strange) * 3 <= len(said):
        return None
    heard = [
        _Heard(code, sum(word in language.words for word in said))
        for code, language in other_languages().items()
        if code != words.language and any(word in language.words for word in strange)
    ]
    heard.sort(key=lambda one: -one.telling)
    if not heard or heard[0].telling < TELLING:
        return None
    tied = len(heard) > 1 and heard[1].telling == heard[0].telling
    return None if tied and heard[0].telling * 2 < len(said) else heard[0].language


def _known(word: str, words: Words) -> bool:
    plain = word.replace("'", "")
    return plain in words.vocabulary or words.common(plain) or len(plain) == 1 or plain in words.never_mended
