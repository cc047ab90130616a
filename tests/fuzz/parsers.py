"""Every parser that meets what comes from outside: it takes any bytes, and raises nothing but the errors that are its
answer. `BOUNDED` are those that anybody may send to, so that a slow one would hold up others.
"""

import contextlib
import io
import json
import logging
import random
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from datetime import UTC, datetime
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from tests.counter.shop import Shop
from tests.counter.waiting import ADA, BOB
from tests.fuzz.mutating import corpus
from triagebot.channels.lines import talk
from triagebot.channels.matrix.events import EventReader
from triagebot.channels.matrix.reading import Reader as MatrixReader
from triagebot.channels.matrix.seen import Room
from triagebot.channels.telegram.reading import Reader as TelegramReader
from triagebot.channels.telegram.webhook import _update
from triagebot.conversation import Message, ask_first, open_case, turn
from triagebot.delivery import WaitingClient
from triagebot.delivery.image_cleaning import Unfit, clean
from triagebot.errors import DataError
from triagebot.messages import Said
from triagebot.pages.chat_said import Unread, _object, read
from triagebot.pages.markdown import html_of
from triagebot.shop.notes import read_note
from triagebot.topics.marks import read_yaml

Parser = Callable[[bytes], object]
NAMES = ("text", "staff", "telegram", "matrix", "form", "lines", "yaml", "notes", "photos")
BOUNDED = frozenset({"text", "staff", "telegram", "matrix", "form"})
NOW = datetime(2026, 1, 5, 9, tzinfo=UTC)
#: Characters of a message that platforms let through.
MOST_TEXT = 4096


class _Undone(Exception):  # noqa: N818 - no error: what was tried is taken back
    """Ends a transaction without writing."""


def texts(data: bytes) -> str:
    return data.decode("utf-8", "surrogateescape" if data[:1] == b"\xff" else "replace")[:MOST_TEXT]


@contextmanager
def parsers() -> Iterator[dict[str, Parser]]:
    """All of them, with what they need; logs are silent meanwhile."""
    logging.disable(logging.CRITICAL)
    with ExitStack() as stack:
        stack.callback(logging.disable, logging.NOTSET)
        folder = Path(stack.enter_context(TemporaryDirectory()))
        shop = Shop(folder / "shop")
        stack.callback(shop.end)
        shop.staff(ADA)
        shop.needs_a_person(BOB)
        yield {
            "text": _text(shop),
            "staff": lambda data: _staff(shop, data),
            "telegram": _telegram(shop),
            "matrix": _matrix(),
            "form": _form,
            "lines": _lines(shop),
            "yaml": _yaml(folder / "a.yaml"),
            "notes": _notes(folder / "notes"),
            "photos": _photo,
        }


def seeds(name: str) -> tuple[bytes, ...]:
    return corpus(name) if name != "photos" else _pictures()


def _text(shop: Shop) -> Parser:
    guide, draw = shop.guide, random.Random(1)
    cases = [open_case(guide, "", "en", NOW)]
    cases += [ask_first(guide, cases[0], question, NOW) for question in guide.topic.questions]

    def take(data: bytes) -> object:
        return turn(guide, draw.choice(cases), Message(texts(data)), NOW)

    return take


def _staff(shop: Shop, data: bytes) -> None:
    """The whole way of a line of staff's, and nothing of it is kept."""
    incoming = shop.incoming(ADA, Said(texts(data)))
    with contextlib.suppress(_Undone), shop.store.store.begin() as tx:
        shop.delivery._inbox.accept(incoming, tx)
        raise _Undone


def _telegram(shop: Shop) -> Parser:
    reader = TelegramReader(7, "a_bot", "en", ("en",))

    def take(data: bytes) -> object:
        update = _update(data)
        return None if update is None else reader.safely(update)

    return take


def _matrix() -> Parser:
    events = EventReader("@wheels:shop.test", "Wheel Bot")
    rooms = (Room("!direct", "!direct", direct=True, encrypted=False), Room("!g", "!g", direct=False, encrypted=False))
    reader = MatrixReader("@wheels:shop.test", "Wheel Bot", "en", ("en",), {})

    def take(data: bytes) -> None:
        with contextlib.suppress(ValueError, RecursionError):
            raw = json.loads(data)
            if isinstance(raw, dict):
                _read_all(raw)

    def _read_all(raw: dict[str, Any]) -> None:
        try:
            for room in rooms:
                for seen in (events.read(raw, room, "Ada", NOW), events.undecryptable(raw, room, "", NOW)):
                    if seen is not None:
                        reader.read(seen)
        except (ValueError, RecursionError) as error:
            raise AssertionError("an event cannot be read") from error

    return take


def _form(data: bytes) -> None:
    with contextlib.suppress(Unread):
        read(_object(data))


def _lines(shop: Shop) -> Parser:
    client = WaitingClient(shop.guide, shop.store.store)
    count = iter(range(1 << 60))

    def take(data: bytes) -> None:
        line = data.decode("utf-8", "replace")
        if line.strip() and '"person": "p1"' in line:  # somebody else each time: nobody's case grows
            line = line.replace('"p1"', f'"p{next(count)}"', 1)
        for answer in talk(client, [line], "en"):
            json.loads(answer)

    return take


def _yaml(file: Path) -> Parser:
    def take(data: bytes) -> None:
        file.write_bytes(data)
        with contextlib.suppress(DataError):
            read_yaml(file)

    return take


def _notes(folder: Path) -> Parser:
    folder.mkdir()
    file = folder / "a.md"

    def take(data: bytes) -> None:
        file.write_bytes(data)
        with contextlib.suppress(DataError):
            html_of(read_note(file, file.name)[0], {"CAUTION": "caution"}, lambda found: None)

    return take


def _photo(data: bytes) -> None:
    with contextlib.suppress(Unfit):
        clean(data)


def _pictures() -> tuple[bytes, ...]:
    from PIL import Image

    made = []
    for form, mode in (("JPEG", "RGB"), ("PNG", "RGBA"), ("WEBP", "RGB"), ("PNG", "P"), ("JPEG", "L")):
        out = io.BytesIO()
        Image.new(mode, (23, 17)).save(out, form)
        made.append(out.getvalue())
    return tuple(made)
