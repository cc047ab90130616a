"""Keeps to the platform's pace by itself, chat by chat: a chat that is full holds no other."""

from collections import OrderedDict

from aiolimiter import AsyncLimiter

from triagebot.channels.telegram.limits import BOT_ROOM, CHAT_ROOM, GROUP_ROOM, MOST_ROOMS


class Pace:
    """Used in one event loop only."""

    def __init__(self) -> None:
        self._bot = AsyncLimiter(*BOT_ROOM)
        self._chats: OrderedDict[int, AsyncLimiter] = OrderedDict()

    async def room(self, chat: int, *, new: bool = True) -> None:
        """Waits until one more message may go to this chat; a change of one only counts for the bot. Groups have
        negative numbers."""
        if new:
            await self._of(chat).acquire()
        await self._bot.acquire()

    def moved(self, old: int, new: int) -> None:
        """A group has another number now, and the room that it had."""
        if old in self._chats:
            self._chats[new] = self._chats.pop(old)

    def _of(self, chat: int) -> AsyncLimiter:
        limiter = self._chats.get(chat)
        if limiter is None:
            limiter = self._chats[chat] = AsyncLimiter(*(GROUP_ROOM if chat < 0 else CHAT_ROOM))
            if len(self._chats) > MOST_ROOMS:
                self._chats.popitem(last=False)
        self._chats.move_to_end(chat)
        return limiter
