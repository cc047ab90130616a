"""What members do at the counter page, in the same transactions as messages: first come first, here or in a chat.

Rules of this file:
- whose session it is, is looked up in the transaction that does what they want: who left the staff does nothing more;
- a form that comes twice does what it does once, by its key, like a message;
- what a member is answered is shown on the page; what others are told because of it goes out as from a chat.
"""

from collections.abc import Awaitable, Callable
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING, Any, TypeVar

from triagebot.conversation import Guide
from triagebot.counter.login import log_in, log_out, member_at
from triagebot.counter.work import Attended, Work
from triagebot.delivery.inbox import Inbox
from triagebot.store.post import Post
from triagebot.topics import Texts

if TYPE_CHECKING:
    from triagebot.store import Transaction

T = TypeVar("T")

#: Under this name the keys of its forms are kept.
NAME = "counter"


@dataclass(frozen=True, eq=False)
class CounterPage:
    """`write` has something done in a transaction of the writer's."""

    guide: Guide
    clock: Callable[[], datetime]
    inbox: Inbox
    write: "Callable[[Callable[[Transaction], Any]], Awaitable[Any]]"

    async def log_in(self, secret: str, texts: Texts) -> str | None:
        """The secret of a new session; None for a link that does not count."""
        session: str | None = await self.write(
            lambda tx: log_in(tx, secret, self.clock(), lambda role: texts(f"staff-called-{role}"))
        )
        return session

    async def log_out(self, session: str) -> None:
        await self.write(lambda tx: log_out(tx, session, self.clock()))

    async def look(self, session: str, texts: Texts, at: Callable[[Work], T]) -> T | None:
        """What a member sees; None where the session does not count."""
        found: T | None = await self.write(
            lambda tx: None if (work := self._work(tx, session, texts)) is None else at(work)
        )
        return found

    async def act(self, session: str, texts: Texts, key: str, deed: Callable[[Work], Attended]) -> Attended | None:
        """What a member is answered who does something; nothing where the same form came before, and None where the
        session does not count."""

        def do(tx: "Transaction") -> Attended | None:
            work = self._work(tx, session, texts)
            if work is None:
                return None
            person, post = work.member.person, Post(tx)
            once = tx.cipher.lookup_hash("key", NAME, f"{person}:{key}")
            if post.receive(NAME, once, person, self.clock(), "done", None) is None:
                return Attended(None)
            made = deed(work)
            self.inbox.tell_of(tx, post, made, NAME)
            return made

        made: Attended | None = await self.write(do)
        return made

    def _work(self, tx: "Transaction", session: str, texts: Texts) -> Work | None:
        member = member_at(tx, session, self.clock())
        return None if member is None else self.inbox.counter.work(tx, member.person, texts)
