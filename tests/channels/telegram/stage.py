"""The channel on a delivery of its own, talking to the fake platform by the real client; and somebody who knows a
wheel."""

import asyncio
import os
import socket
from collections.abc import AsyncIterator, Callable, Mapping
from contextlib import asynccontextmanager, nullcontext
from dataclasses import dataclass, field
from itertools import count
from pathlib import Path
from unittest.mock import patch

import uvicorn
from starlette.applications import Starlette

from tests.channels.wheels import FOUR_NOTCHES
from tests.conversation.guides import shipped_guide
from tests.doubles.telegram import Person, Screen
from tests.doubles.telegram import Telegram as Platform
from tests.doubles.telegram.people import PATIENCE
from tests.store.fresh import open_fresh
from triagebot.channels.telegram import Telegram, bot_api, client
from triagebot.channels.telegram.webhook import route
from triagebot.conversation import Guide
from triagebot.delivery import Delivery
from triagebot.handover import StaffRoom
from triagebot.rates import Rate
from triagebot.store import Store

_NUMBERS = count(200_000_001)
#: Room for messages that is never used up: tests wait for the pace only where they are about it.
NO_LIMIT = Rate(1_000_000, 1_000_000)
SECRET = "a-secret-of-sixteen-and-more"


def fresh_token() -> str:
    return f"{next(_NUMBERS)}:{'B' * 35}"


async def until(true: Callable[[], bool]) -> None:
    """Waits until something is true; gives up after a time that only bounds a failing test."""
    async with asyncio.timeout(PATIENCE):
        while not true():
            await asyncio.sleep(0.01)


def said_back(screen: Screen, words: str) -> bool:
    """Whether the newest message is the bot's and says these words back."""
    return not screen.last.person and words in screen.last.text


@dataclass
class Stage:
    """A bot at work. `pending` asks the platform how many updates wait for it."""

    platform: Platform
    token: str
    store: Store
    delivery: Delivery
    channel: Telegram
    fetching: asyncio.Task[None] | None = None
    address: str = ""

    def person(self, name: str, language: str = "en") -> Person:
        return self.platform.add_person(name, language=language, bot=self.token)

    async def quiet(self) -> None:
        """Until nothing waits: not on the platform, not at the delivery."""
        for _ in range(2):
            while self.platform.pending(self.token):
                await asyncio.sleep(0.01)
            await asyncio.sleep(0.02)
            await self.delivery.idle()
            await self.channel.idle()

    def calls(self, method: str = "") -> list[tuple[str, int, str, str]]:
        """What this bot asked for: method, chat, refusal and fault."""
        bot = int(self.token.split(":")[0])
        mine = [entry for entry in self.platform.log() if entry.bot == bot]
        return [(e.method, e.chat, e.error, e.fault) for e in mine if method.lower() in ("", e.method.lower())]


@asynccontextmanager
async def opened(
    platform: Platform,
    folder: Path,
    given: Guide | None = None,
    token: str = "",
    room: int = 0,
    *,
    paced: bool = False,
    cases_in: int = 0,
) -> AsyncIterator[Stage]:
    """A bot with a delivery that sends, but to which nothing comes yet. `room` is the group of the staff, under whose
    first number (`cases_in`, if that is another) cases lie; `paced`: it keeps to the platform's pace."""
    if not token:
        token = fresh_token()
        platform.add_bot(token, f"bot{token[:9]}_bot")
    os.environ["PTB_TIMEDELTA"] = "true"
    used = given or shipped_guide()
    rooms_of = dict.fromkeys(("BOT_ROOM", "CHAT_ROOM", "GROUP_ROOM"), NO_LIMIT)
    pace = nullcontext() if paced else patch.multiple(bot_api, **rooms_of)
    with pace, open_fresh(folder / "data", folder / "triagebot.key") as store:
        rooms = (StaffRoom("telegram", {"chat": cases_in or room}),) if room else ()
        delivery = Delivery(used, store, try_again=(0.05, 0.05), grace=2.0, rooms=rooms)
        channel = Telegram(used, delivery, client(token, platform.base_url.removesuffix("/bot")), room=room)
        try:
            async with delivery:
                await channel.open()
                await delivery.serve(channel)
                yield Stage(platform, token, store, delivery, channel)
        finally:
            await channel.close()


@asynccontextmanager
async def polling(
    platform: Platform,
    folder: Path,
    given: Guide | None = None,
    token: str = "",
    room: int = 0,
    *,
    paced: bool = False,
    cases_in: int = 0,
) -> AsyncIterator[Stage]:
    async with opened(platform, folder, given, token, room, paced=paced, cases_in=cases_in) as stage:
        stage.fetching = asyncio.create_task(stage.channel.poll())
        try:
            yield stage
        finally:
            stage.channel.stop()
            await stage.fetching


@asynccontextmanager
async def hooked(platform: Platform, folder: Path) -> AsyncIterator[Stage]:
    """A bot to which the platform brings updates itself."""
    async with opened(platform, folder) as stage:
        app = Starlette(routes=[route(stage.channel, "/telegram", SECRET)])
        with socket.create_server(("127.0.0.1", 0)) as door:
            stage.address = f"http://127.0.0.1:{door.getsockname()[1]}/telegram"
            config = uvicorn.Config(app, log_config=None, ws="none", lifespan="off")
            listener = uvicorn.Server(config)
            listening = asyncio.create_task(listener._serve([door]))
            await stage.channel.hook(stage.address, SECRET)
            try:
                yield stage
            finally:
                stage.channel.stop()
                await stage.channel.client.delete_webhook()
                listener.should_exit = True
                await listening


# --- people -------------------------------------------------------------------------------------------------------


@dataclass
class Rider:
    """Somebody who answers what is asked, by button where there is one (`presses`), else in writing."""

    person: Person
    truth: Mapping[str, str] = field(default_factory=lambda: FOUR_NOTCHES)
    presses: bool = True
    asked: list[str] = field(default_factory=list)

    async def start(self) -> Screen:
        before = len(self.person.screen().from_bots)
        self.person.start()
        return await self.next_after(before)

    async def next_after(self, count_: int) -> Screen:
        """The screen once the bot has said something more; a picture without buttons has its words behind it."""

        def said(screen: Screen) -> bool:
            last = screen.from_bots[-1] if screen.from_bots else None
            return last is not None and len(screen.from_bots) > count_ and (last.kind != "photo" or bool(last.buttons))

        return await self.person.watch(said)

    async def answer(self) -> Screen:
        """Answers the open question; the screen with what the bot says to that."""
        screen = self.person.screen()
        said = screen.from_bots[-1]
        answer = next(answer for part, answer in self.truth.items() if part in said.text)
        self.asked.append(answer)
        button = next((b for b in said.buttons if answer in b.text), None) if self.presses else None
        if button is not None:
            self.person.press(button.text, message=said.id)
        else:
            self.person.write(answer)
        return await self.next_after(len(screen.from_bots))

    async def to_the_end(self) -> Screen:
        """Answers until a remover is named."""
        screen = await self.start()
        for _ in range(25):
            if "Remover:" in screen.from_bots[-1].text:
                return screen
            screen = await self.answer()
        raise AssertionError(screen.drawn())
