"""A server for the tests of a module, and for each test a bot and people of its own on it."""

from collections.abc import AsyncIterator, Iterator
from dataclasses import dataclass
from itertools import count

import pytest
import pytest_asyncio
from telegram import Bot
from telegram.request import HTTPXRequest

from triagebot.testing_telegram import Limits, Person, Telegram, Weather, serve

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


@pytest.fixture(autouse=True)
def _new_kind_of_retry_after(monkeypatch: pytest.MonkeyPatch) -> None:
    """The client warns of the old kind, a number of seconds, and warnings are errors here."""
    monkeypatch.setenv("PTB_TIMEDELTA", "true")


@pytest.fixture(scope="module")
def served() -> Iterator[Telegram]:
    with serve() as telegram:
        yield telegram


@pytest.fixture
def telegram(served: Telegram) -> Iterator[Telegram]:
    yield served
    served.set_weather(Weather())
    served.set_limits(Limits())
    served.outage(0)
    served.tune(press_answered_within=30.0, webhook_pace=1.0)


def client(telegram: Telegram, token: str) -> Bot:
    """The client as a bot uses it, without the third of a second that it takes to load certificates."""

    def request() -> HTTPXRequest:
        return HTTPXRequest(connection_pool_size=16, httpx_kwargs={"verify": False, "trust_env": False})

    base = {"base_url": telegram.base_url, "base_file_url": telegram.base_file_url}
    return Bot(token, request=request(), get_updates_request=request(), **base)


@pytest_asyncio.fixture
async def stage(telegram: Telegram) -> AsyncIterator[Stage]:
    token = fresh_token()
    telegram.add_bot(token, f"bot{token[:9]}_bot")
    ada = telegram.add_person("Ada Byron", username="ada", language="en")
    bob = telegram.add_person("Bob", language="de")
    ada.start(bot=token)
    async with client(telegram, token) as bot:
        await bot.get_updates(offset=(await bot.get_updates())[-1].update_id + 1)
        yield Stage(telegram, token, bot, _bound(ada, token), _bound(bob, token))


@dataclass(frozen=True, slots=True)
class _Speaking:
    """A line on which `bot` stands in every act that takes one, so that tests need not repeat it."""

    telegram: Telegram
    token: str

    def do(self, act: str, **named: object) -> object:
        if act in ("write", "send", "edit", "press", "block", "unblock", "screen", "menu"):
            named["bot"] = named.get("bot") or self.token
        return self.telegram.line.do(act, **named)


def _bound(person: Person, token: str) -> Person:
    owner = person.line
    return Person(_Speaking(Telegram(owner, 0), token), person.id, person.name)
