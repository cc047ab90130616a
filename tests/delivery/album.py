"""Photos on a channel of the tests: what each gives, attempt by attempt, and what is kept of them."""

import asyncio
import logging
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any

import pytest

from tests.delivery.office import Office
from tests.delivery.recorded import RecordedChannel
from tests.store.kept_photos import KeptPhoto, photos_of
from triagebot.delivery import outbox, photos
from triagebot.messages import Sent, Transient

A, B = "a", "b"
NOT_NOW = Transient("down")


@dataclass
class Album(RecordedChannel):
    """A channel with photos: what each gives, attempt by attempt; the last again and again. `most` is how many were
    under way at the same time, `begun` all attempts in order."""

    photos: dict[str, list[bytes | Exception | Callable[[], object]]] = field(default_factory=dict)
    begun: list[str] = field(default_factory=list)
    under_way: int = 0
    most: int = 0
    held: asyncio.Event | None = None

    async def fetch(self, place: Mapping[str, Any], most: int) -> bytes:
        name = place["file"]
        self.begun.append(name)
        self.under_way += 1
        self.most = max(self.most, self.under_way)
        try:
            await (self.held.wait() if self.held is not None else asyncio.sleep(0))
            found = self.photos[name]
            given = found.pop(0) if len(found) > 1 else found[0]
            if callable(given):
                given()
                return b""
            if isinstance(given, Exception):
                raise given
            return given
        finally:
            self.under_way -= 1


@pytest.fixture(autouse=True)
def _short_pauses(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(outbox, "pause", lambda attempt: 0.001)


@pytest.fixture
def channel() -> Album:
    return Album()


@pytest.fixture
def told(caplog: pytest.LogCaptureFixture) -> Iterator[Callable[[], list[str]]]:
    """What the log says about photos."""
    with caplog.at_level(logging.INFO, "triagebot"):
        yield lambda: [each.getMessage() for each in caplog.records if each.name == photos.__name__]


def bring(office: Office, *gives: bytes | Exception | Callable[[], object], name: str = "f", person: str = A) -> None:
    """Somebody sends a photo, for which the channel gives this; all that comes of it has happened then."""
    send(office, *gives, name=name, person=person)
    office.run(office.delivery.idle())


def send(office: Office, *gives: bytes | Exception | Callable[[], object], name: str = "f", person: str = A) -> None:
    assert isinstance(office.channel, Album)
    office.channel.photos[name] = list(gives)
    office.run(office.delivery.receive(office.incoming(person, Sent("photo", ({"file": name},)))))


def hold(office: Office) -> asyncio.Event:
    """Every photo takes until this is set."""

    async def begin() -> asyncio.Event:
        return asyncio.Event()

    assert isinstance(office.channel, Album)
    office.channel.held = office.run(begin())
    return office.channel.held


def of(office: Office, person: str = A) -> list[KeptPhoto]:
    held = office.held(person)
    assert held is not None
    with office.store.store.read() as view:
        return list(photos_of(view, held.number))


def states(office: Office, person: str = A) -> list[str]:
    return [photo.reason or photo.state for photo in of(office, person)]


def on_disk(office: Office) -> bytes:
    return b"".join(path.read_bytes() for path in sorted(office.folder.iterdir()))


def traces(office: Office) -> list[bytes]:
    """The beginning, the middle and the end of every picture as it is closed on the disk."""
    bodies = [row[0] for row in office.rows("photos", "body") if row[0]]
    return [part.encode() for body in bodies for part in (body[100:160], body[len(body) // 2 :][:60], body[-60:])]
