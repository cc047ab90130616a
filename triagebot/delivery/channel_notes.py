"""What channels note down, and look up again, in transactions of the delivery's."""

from abc import ABC, abstractmethod
from collections.abc import Callable
from typing import TYPE_CHECKING, Any, TypeVar

from triagebot.store.photos import Photos
from triagebot.store.post import Post

if TYPE_CHECKING:
    from triagebot.store import Transaction
    from triagebot.store.message_rows import OutboxRow

T = TypeVar("T")


class ChannelNotes(ABC):
    """A part of the delivery, which has jobs done and sends."""

    @abstractmethod
    async def _do(self, job: "Callable[[Transaction], T]", *, urgent: bool = False, of: str | None = None) -> T: ...

    @abstractmethod
    def _wake(self, channel: str, conversation: str, row: "OutboxRow | None" = None) -> None: ...

    async def photo(self, number: int) -> bytes | None:
        """A photo that goes with a message (see `Outgoing`), a JPEG; None where it is gone."""
        return await self._do(lambda tx: Photos(tx).picture(number))

    async def place(self, channel: str) -> str | None:
        """How far a channel has read; None if it never did."""
        return await self._do(lambda tx: Post(tx).place(channel))

    async def picture(self, channel: str, digest: str) -> str | None:
        """What a channel calls a picture that it has uploaded; `digest` is that of the picture's bytes."""
        return await self._do(lambda tx: Post(tx).picture(channel, digest))

    async def uploaded(self, channel: str, digest: str, name: str) -> None:
        """Says what a channel calls a picture from now on."""
        await self._do(lambda tx: Post(tx).uploaded(channel, digest, name))

    async def moved(self, channel: str, old: str, new: str, address: dict[str, Any]) -> None:
        """A conversation goes on under another name, as when a group becomes a larger one."""

        def move(tx: "Transaction") -> None:
            post, lookup_hash = Post(tx), tx.lookup_hash(f"{channel}:{new}")
            post.move(tx.lookup_hash(f"{channel}:{old}"), lookup_hash)
            post.set_address(lookup_hash, channel, address)
            tx.after_commit.append(lambda: self._wake(channel, lookup_hash))

        await self._do(move)
