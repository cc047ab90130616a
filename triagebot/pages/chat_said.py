"""What somebody sends from the chat page, in the delivery's words.

A message has one of these: `text`;
`choice` with the `case` and the `turn` of the message that showed the button; `command`; `arrive` ("on" or "new"); or a
`photo`, which is a file of a form. `key` tells one that comes twice; with another content it is another message, since
a page that the browser brings back from its memory has its old keys.
"""

import json
import re
import secrets
from collections.abc import Callable, Mapping
from dataclasses import asdict, dataclass, replace
from datetime import datetime
from hashlib import sha256

from starlette.datastructures import UploadFile
from starlette.requests import Request

from triagebot.delivery.image_cleaning import Why
from triagebot.messages import Arrived, Commanded, Incoming, Pressed, Said
from triagebot.messages.message import Content
from triagebot.pages.chat_channel import NAME, Page
from triagebot.pages.chat_visitor import Visitor

#: Fields and their longest value; a text is as long as the whole may be.
FIELDS: Mapping[str, int] = {
    "text": 1 << 20,
    "choice": 100,
    "case": 20,
    "turn": 9,
    "command": 40,
    "arrive": 3,
    "key": 64,
    "start": 64,
    "after": 18,
    "keep": 1,
}
#: Why a photo cannot be kept, and by what text (`chat-<name>`) that is said.
REFUSED: Mapping[Why, str] = {
    "too-large": "wide",
    "no-picture": "unfit",
    "broken": "broken",
    "heic": "heic",
    "empty": "empty",
}
_KEY = re.compile(r"[A-Za-z0-9_-]{0,64}")


class Unread(ValueError):  # noqa: N818 - says what the message is
    """What came cannot be read as a message."""


@dataclass(frozen=True, slots=True)
class Sentence:
    """One message of a page, and what the page says with it: the `start` secret of somebody new, and the number of the
    last message that it has shown (`after`); `keep` when it cannot remember its own words. A `photo` is the file as it
    came, None where there was no place for one in what was sent."""

    content: Content | None
    key: str
    start: str = ""
    after: int = 0
    photo: bytes | None = None
    keep: bool = False


async def sentence(request: Request) -> Sentence:
    """The message in a request, a form's or a JSON object. Raises Unread."""
    photo: bytes | None = None
    kind = request.headers.get("content-type", "").partition(";")[0].strip().lower()
    if kind == "application/json":
        given = _object(await request.body())
    elif kind in ("application/x-www-form-urlencoded", "multipart/form-data"):
        async with request.form(max_files=1, max_fields=20) as form:
            given = {name: value for name, value in form.items() if not isinstance(value, UploadFile)}
            file = form.get("photo")
            photo = await file.read() if isinstance(file, UploadFile) else photo
    else:
        raise Unread("neither a form nor JSON")
    return replace(read(given), photo=photo)


def read(given: Mapping[str, object]) -> Sentence:
    """Raises Unread for fields that do not fit, and for two contents at once."""
    fields = {name: _field(name, value) for name, value in given.items() if name in FIELDS and value is not None}
    contents = [make(fields) for name, make in _CONTENTS.items() if name in fields]
    if len(contents) > 1:
        raise Unread("more than one content")
    if not _KEY.fullmatch(fields.get("key", "")):
        raise Unread("the key is none")
    return Sentence(
        content=contents[0] if contents else None,
        key=fields.get("key", "") or secrets.token_urlsafe(16),
        start=fields.get("start", ""),
        after=_number(fields.get("after", "") or "0"),
        keep=bool(fields.get("keep")),
    )


def incoming(visitor: Visitor, content: Content, key: str, language: str, at: datetime, words: str = "") -> Incoming:
    """The message as the delivery takes it. `words` are to be shown again."""
    said = sha256(json.dumps([type(content).__name__, asdict(content)], sort_keys=True).encode()).hexdigest()
    return Incoming(
        channel=NAME,
        key=f"{visitor.conversation}:{key}:{said}",
        conversation=visitor.conversation,
        address=Page.address(visitor.conversation),
        content=content,
        at=at,
        language=language,
        words=words,
    )


def _object(body: bytes) -> Mapping[str, object]:
    try:
        given = json.loads(body)
    except (ValueError, RecursionError) as error:
        raise Unread("not JSON") from error
    if not isinstance(given, dict):
        raise Unread("not a JSON object")
    return given


def _field(name: str, value: object) -> str:
    if isinstance(value, bool) or not isinstance(value, str | int):
        raise Unread(f"{name} is neither text nor a number")
    # Half of a surrogate pair is in no text that a page could show.
    text = str(value).encode("utf-16", "surrogatepass").decode("utf-16", "replace")
    if len(text) > FIELDS[name]:
        raise Unread(f"{name} is too long")
    return text


def _number(text: str) -> int:
    if not re.fullmatch(r"[0-9]{1,18}", text):
        raise Unread("not a number")
    return int(text)


def _pressed(fields: Mapping[str, str]) -> Content:
    return Pressed(fields.get("case", ""), _number(fields.get("turn", "")), fields["choice"])


_CONTENTS: Mapping[str, Callable[[Mapping[str, str]], Content]] = {
    "text": lambda fields: Said(fields["text"]),
    "choice": _pressed,
    "command": lambda fields: Commanded(fields["command"]),
    "arrive": lambda fields: Arrived(new=fields["arrive"] == "new"),
}
