"""What a button carries back, in at most 64 bytes.

Decided here and nowhere else: how it is written. It is `q:<case>:<turn>:<choice>`, in a group followed by whose button
it is and in which thread it stands, in base 36: a press has to be judged before anything is looked up. A choice whose
id is too long is named by a digest of it.
"""

from base64 import urlsafe_b64encode
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from hashlib import blake2b

from triagebot.channels.telegram.limits import MOST_BUTTON

#: Rows of buttons: each its label and what it carries.
Rows = tuple[tuple[tuple[str, str], ...], ...]

_DIGITS = "0123456789abcdefghijklmnopqrstuvwxyz"


@dataclass(frozen=True, slots=True)
class Button:
    """`word` is a choice's id; `owner` and `thread` are 0 in a private chat."""

    word: str
    case: str
    turn: int
    owner: int = 0
    thread: int = 0


def pack(button: Button) -> str:
    """Raises ValueError for what does not fit even with its choice as a digest."""
    data = _written(button, button.word)
    if len(data.encode()) > MOST_BUTTON:
        data = _written(button, _digest(button.word))
    if len(data.encode()) > MOST_BUTTON:
        raise ValueError(f"a button for case {button.case} at turn {button.turn} is longer than {MOST_BUTTON} bytes")
    return data


def unpack(data: str, choices: Mapping[str, str]) -> Button | None:
    """What was packed; None for anything else. `choices` are those that may stand as digests (see `digests`)."""
    kind, *parts = data.split(":")
    try:
        if kind == "q" and len(parts) in (3, 5):
            case, turn, word, *where = parts
            owner, thread = (int(part, 36) for part in where) if where else (0, 0)
            return Button(choices.get(word, word), case, int(turn), owner, thread)
    except ValueError:
        return None
    return None


def digests(choices: Iterable[str]) -> Mapping[str, str]:
    """Every choice by what stands for it when its id is too long."""
    return {_digest(choice): choice for choice in choices}


def _digest(word: str) -> str:
    return "~" + urlsafe_b64encode(blake2b(word.encode(), digest_size=6).digest()).decode()


def _written(button: Button, word: str) -> str:
    where = f":{_base36(button.owner)}:{_base36(button.thread)}" if button.owner else ""
    return f"q:{button.case}:{button.turn}:{word}{where}"


def _base36(number: int) -> str:
    digits = ""
    while number:
        number, digit = divmod(number, 36)
        digits = _DIGITS[digit] + digits
    return digits or "0"
