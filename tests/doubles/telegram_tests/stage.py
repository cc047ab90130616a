"""What a test works with: the unmodified client of a bot of its own, and two people with phones."""

import asyncio
from dataclasses import dataclass
from itertools import count

from telegram import Bot
from telegram.request import HTTPXRequest

from tests.doubles.telegram import Person, Telegram
from tests.doubles.telegram.people import PATIENCE

#: Longer than a test lasts (s): a request for updates that waits so long is answered because of something else.
FOR_EVER = 3600
_NUMBERS = count(100_000_001)


def fresh_token() -> str:
    return f"{next(_NUMBERS)}:{'A' * 35}"


@dataclass(frozen=True)
class Stage:
    """The unmodified client of a bot, and two people; `ada` has started the bot, `bob` has not."""

    telegram: Telegram
    token: str
    bot: Bot
    ada: Person
    bob: Person

    @property
    def calls(self) -> list[tuple[str, str, str]]:
        """What this bot asked for: method, refusal and fault."""
        mine = [entry for entry in self.telegram.log() if entry.bot == self.bot.id]
        return [(entry.method, entry.error, entry.fault) for entry in mine]

    async def holds_a_poll(self) -> None:
        """Until the platform has a request of this bot's for updates, and nothing to answer it with."""
        async with asyncio.timeout(PATIENCE):
            while not self.telegram.holding(self.token):
                await asyncio.sleep(0.01)


def client(telegram: Telegram, token: str) -> Bot:
    """The client as a bot uses it, without the third of a second that it takes to load certificates."""

    def request() -> HTTPXRequest:
        return HTTPXRequest(connection_pool_size=16, httpx_kwargs={"verify": False, "trust_env": False})

    return Bot(token, telegram.base_url, telegram.base_file_url, request(), request())
