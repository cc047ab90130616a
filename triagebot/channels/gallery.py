"""Pictures as a channel sends them: drawn when first asked for, uploaded once, named by the platform from then on.

One picture is never uploaded twice side by side.
"""

import asyncio
from collections.abc import Awaitable, Callable
from dataclasses import dataclass, field
from hashlib import sha256
from typing import TypeVar

from triagebot.conversation import Guide
from triagebot.delivery import Delivery
from triagebot.pictures import picture, png_elsewhere
from triagebot.topics import Texts

#: Pixels: sharp on a phone, and some 60 kB.
WIDTH = 1000

T = TypeVar("T")


class UnknownName(Exception):  # noqa: N818 - says what the platform says
    """The platform does not know the name of a picture any more, so it has to be uploaded anew."""


@dataclass(frozen=True, slots=True)
class Drawing:
    """A picture before it is rendered: the same in words, and the digest of what is drawn."""

    words: str
    digest: str


@dataclass(slots=True)
class Gallery:
    """The pictures of one channel, in every language. Used in one event loop only."""

    guide: Guide
    delivery: Delivery
    channel: str
    _drawings: dict[tuple[str, str], Drawing] = field(default_factory=dict)
    _names: dict[str, str] = field(default_factory=dict)
    _uploading: dict[str, asyncio.Lock] = field(default_factory=dict)

    async def drawing(self, name: str, texts: Texts) -> Drawing:
        """Raises KeyError for a name that is none."""
        which = (name, texts.language)
        if which not in self._drawings:
            drawn = await asyncio.to_thread(picture, self.guide.topic, name, texts)
            self._drawings[which] = Drawing(drawn.alt, sha256(drawn.svg.encode()).hexdigest())
        return self._drawings[which]

    async def rendered(self, name: str, texts: Texts) -> bytes:
        """As PNG."""
        return await asyncio.to_thread(lambda: png_elsewhere(picture(self.guide.topic, name, texts), WIDTH))

    async def send(
        self, name: str, texts: Texts, post: Callable[[str | bytes], Awaitable[tuple[T, str]]], shelf: str = ""
    ) -> T:
        """Has `post` send the picture by its name if the platform has it, else its bytes; it gives what came of it,
        and the picture's name, or raises UnknownName. Pictures of different shelves have different names."""
        digest = (await self.drawing(name, texts)).digest + shelf
        uploading = self._uploading.setdefault(digest, asyncio.Lock())
        unknown: str | None = None
        while True:
            async with uploading:
                known = self._names.get(digest) or await self.delivery.picture(self.channel, digest)
                if known is None or known == unknown:
                    return await self._upload(name, texts, digest, post)
            try:
                sent, self._names[digest] = await post(known)
            except UnknownName:
                unknown = known
            else:
                return sent

    async def _upload(
        self, name: str, texts: Texts, digest: str, post: Callable[[str | bytes], Awaitable[tuple[T, str]]]
    ) -> T:
        sent, named = await post(await self.rendered(name, texts))
        self._names[digest] = named
        await self.delivery.uploaded(self.channel, digest, named)
        return sent
