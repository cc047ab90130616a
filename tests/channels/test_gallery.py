"""One picture is uploaded once, the person who wants it at the same time, and anew when the platform has forgotten
it."""

import asyncio
from typing import cast

import pytest

from tests.conversation.guides import shipped_guide
from triagebot.channels.rendering import Drawing, Gallery, UnknownName
from triagebot.delivery import Delivery
from triagebot.topics import Texts

pytestmark = pytest.mark.asyncio

SENDERS = 5


class Shelf:
    """What the delivery keeps of names."""

    def __init__(self, name: str | None) -> None:
        self.name = name

    async def picture(self, channel: str, digest: str) -> str | None:
        return self.name

    async def uploaded(self, channel: str, digest: str, name: str) -> None:
        self.name = name


class Drawn(Gallery):
    """Draws nothing, since that takes long."""

    async def drawing(self, name: str, texts: Texts) -> Drawing:
        return Drawing("in words", "digest")

    async def rendered(self, name: str, texts: Texts) -> bytes:
        return b"PNG"


class Platform:
    """Knows the pictures that were uploaded, and takes its time."""

    def __init__(self) -> None:
        self.known: list[str] = []

    async def post(self, given: str | bytes) -> tuple[str, str]:
        await asyncio.sleep(0.01)
        if isinstance(given, bytes):
            given = f"name {len(self.known)}"
            self.known.append(given)
        elif given not in self.known:
            raise UnknownName
        return f"sent {given}", given


@pytest.mark.parametrize("kept", [None, "forgotten by the platform"])
async def test_side_by_side_it_is_uploaded_once(kept: str | None) -> None:
    guide, shelf, platform = shipped_guide(), Shelf(kept), Platform()
    gallery = Drawn(guide, cast("Delivery", shelf), "a channel")
    texts = guide.language("en").texts
    sent = await asyncio.gather(*(gallery.send("wheel", texts, platform.post) for _ in range(SENDERS)))
    assert sent == ["sent name 0"] * SENDERS
    assert (platform.known, shelf.name) == (["name 0"], "name 0")


async def test_forgotten_again_it_is_uploaded_again() -> None:
    guide, shelf, platform = shipped_guide(), Shelf(None), Platform()
    gallery = Drawn(guide, cast("Delivery", shelf), "a channel")
    texts = guide.language("en").texts
    assert await gallery.send("wheel", texts, platform.post) == "sent name 0"
    platform.known = ["another"]
    assert await gallery.send("wheel", texts, platform.post) == "sent name 1"
    assert shelf.name == "name 1"
