"""Twenty people talk to `triagebot serve` at the same time, and somebody kills it again and again.

Everybody plays a script whose replies are known from a run that nobody disturbed. They wait for exactly the reply that
is due before they go on, so a lost or doubled message, or one out of order, would stop them or show in their case.
"""

import asyncio
import json
import random
import re
import socket
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from itertools import zip_longest
from pathlib import Path
from time import monotonic
from typing import Any

from sqlalchemy import func, select

from tests.channels.process import Process
from tests.channels.telegram.stage import fresh_token
from tests.doubles.telegram import Person, Screen, Telegram
from tests.doubles.telegram.rules import PRESS_LIVES
from tests.store.reading import cases_of, current_case
from triagebot.store import View, open_store
from triagebot.store.tables import inbox, outbox

#: What people do: `!` presses a button, all else is written. No two replies of a script in a row are the same.
SCRIPTS: tuple[tuple[str, ...], ...] = (
    ("/start", "!I don’t know", "the wheel is out", "!How do I check?", "it stays still", "!Back", "it turns", "why"),
    (
        "/start",
        "6 sprockets",
        "help",
        "it turns, the wheel is out",
        "!I don’t know",
        "!Back",
        "person",
        "restart",
    ),
    ("hello", "the wheel is out and the middle turns", "why", "splines", "12", "change", "stop", "continue"),
)
PEOPLE = 20
#: Seconds between looks at a screen, and after which somebody who waits in vain gives up.
LOOKS, PATIENCE = 0.25, 600.0
#: How often the process is killed before it is ready; when it is, seconds after its start, or after it was ready: on a
#: machine that needs so many seconds to start it, and in proportion on one that is slower.
UNREADY, STARTING, WORKING, STARTS_IN = 0.15, (0.1, 1.0), (0.0, 1.2), 1.5
#: What it says once it is ready; of what a crash has left, it warns before that.
READY = b" INFO telegram: "
#: What differs from one run to the next.
_OWN = ("at", "code", "message", "press", "digest")


@dataclass
class Bot(Process):
    """`triagebot serve` as a process that is started again and again."""

    platform: Telegram
    folder: Path
    webhook: bool
    token: str = field(default_factory=fresh_token)
    port: int = 0

    def __post_init__(self) -> None:
        self.platform.add_bot(self.token, f"bot{self.token[:9]}_bot")
        with socket.create_server(("127.0.0.1", 0)) as free:
            self.port = free.getsockname()[1]

    def start(self) -> None:
        settings = {
            "TELEGRAM_TOKEN": self.token,
            "TELEGRAM_SERVER": self.platform.base_url.removesuffix("/bot"),
            "WEB_PORT": str(self.port),
        }
        if self.webhook:
            settings["TELEGRAM_WEBHOOK"] = f"http://127.0.0.1:{self.port}/telegram"
        self.launch(settings)

    async def killed_at(self, draws: random.Random) -> None:
        """Starts it, and kills it at some moment."""
        known, began = len(self.said()), monotonic()
        self.start()
        if draws.random() < UNREADY:
            await asyncio.sleep(draws.uniform(*STARTING))
        else:
            while READY not in self.said()[known:]:
                await asyncio.sleep(0.02)
            await asyncio.sleep(draws.uniform(*WORKING) * max(1.0, (monotonic() - began) / STARTS_IN))
        self.kill()


def said(screen: Screen) -> list[str]:
    """What the bot said, without what differs: codes, and what an answered question looks like afterwards."""
    return [re.sub(r"\b[2-9A-Z]{3}-[2-9A-Z]{3}\b", "CODE", message.text) for message in screen.from_bots]


@dataclass
class Player:
    """Somebody who plays a script. `replies` are those that are due; without them, whatever comes is taken down."""

    person: Person
    script: Sequence[str]
    replies: list[str] = field(default_factory=list)
    taken_down: list[str] = field(default_factory=list)

    async def play(self) -> None:
        seen, at = 0, 0
        for step, act in enumerate(self.script):
            if act.startswith("!"):
                self.person.press(act[1:], message=at)
            else:
                self.person.write(act)
            seen, at = await self._reply(seen, step, at)

    async def _reply(self, seen: int, step: int, at: int) -> tuple[int, int]:
        """Waits for the reply that is due; gives how many were seen with it, and its number on the phone. The platform
        forgets a press that nobody fetches for too long, so it is made again then."""
        act, acted = self.script[step], monotonic()
        for _ in range(int(PATIENCE / LOOKS)):
            await asyncio.sleep(LOOKS)
            if act.startswith("!") and monotonic() - acted > PRESS_LIVES + LOOKS:
                self.person.press(act[1:], message=at)
                acted = monotonic()
            screen = self.person.screen()
            texts = said(screen)
            due = self.replies[len(self.taken_down)] if self.replies else None
            for place in range(seen, len(texts)):
                if due is None or texts[place] == due:
                    self.taken_down.append(texts[place])
                    return place + 1, screen.from_bots[place].id
        raise AssertionError(f"step {step} of {self.script} was not answered:\n{screen.drawn()}")


def events_of(stored: Any) -> list[dict[str, Any]]:
    """What happened in a case, without what differs from run to run."""
    return [json.loads(json.dumps({k: v for k, v in row.items() if k not in _OWN})) for row in stored.events]


@dataclass(frozen=True, slots=True)
class Report:
    kills: int
    people: int
    repeated: int
    messages: int
    trouble: Mapping[str, int]

    def __str__(self) -> str:
        return f"{self.kills} kills, {self.people} people, {self.messages} replies, {self.repeated} sent twice"


async def undisturbed(platform: Telegram, folder: Path) -> tuple[list[list[str]], list[list[dict[str, Any]]]]:
    """Every script once, with nobody to disturb it: the replies, and the events of the case."""
    folder.mkdir()
    bot = Bot(platform, folder, webhook=False)
    bot.start()
    players = [Player(platform.add_person("Ref", language="en", bot=bot.token), script) for script in SCRIPTS]
    await asyncio.gather(*(player.play() for player in players))
    assert bot.stop() == 0
    with open_store(folder / "data", key_file=folder / "triagebot.key") as store, store.read() as view:
        cases = [current_case(view, f"telegram:{player.person.id}") for player in players]
    return [player.taken_down for player in players], [events_of(case) for case in cases]


async def campaign(platform: Telegram, folder: Path, *, kills: int, people: int, seed: int, webhook: bool) -> Report:
    """Kills the bot so often, then lets everybody finish. Raises AssertionError for whatever came out otherwise."""
    replies, events = await undisturbed(platform, folder / "undisturbed")
    platform.tune(webhook_pace=0.02)
    (folder / "killed").mkdir()
    bot, draws, over = Bot(platform, folder / "killed", webhook), random.Random(seed), asyncio.Event()
    played: list[tuple[Player, int]] = []

    async def seat(number: int) -> None:
        """One of the people at a time, as long as there is somebody who kills."""
        while not over.is_set():
            which = (number + len(played)) % len(SCRIPTS)
            who = platform.add_person(f"P{number}", language="en", bot=bot.token)
            player = Player(who, SCRIPTS[which], replies[which])
            await player.play()
            played.append((player, which))

    seats = [asyncio.create_task(seat(number)) for number in range(people)]
    try:
        for _ in range(kills):
            await bot.killed_at(draws)
        over.set()
        bot.start()
        await asyncio.gather(*seats)
        while platform.pending(bot.token):
            await asyncio.sleep(LOOKS)
        await asyncio.sleep(1.0)
        assert bot.stop() == 0
    finally:
        for task in seats:
            task.cancel()
        bot.end()
    return _reported(bot, played, events, kills)


def _reported(bot: Bot, played: list[tuple[Player, int]], events: list[list[dict[str, Any]]], kills: int) -> Report:
    repeated = messages = 0
    with open_store(bot.folder / "data", key_file=bot.folder / "triagebot.key") as store, store.read() as view:
        for player, which in played:
            (case,) = cases_of(view, f"telegram:{player.person.id}")
            odd = [pair for pair in zip_longest(events_of(case), events[which]) if pair[0] != pair[1]]
            assert not odd, f"first difference: {odd[0]}\n{player.person.screen().drawn()}"
            shown = len(player.person.screen().from_bots)
            repeated += shown - len(player.replies)
            messages += len(player.replies)
        trouble = troubles(view)
    return Report(kills, len(played), repeated, messages, trouble)


def troubles(view: View) -> dict[str, int]:
    """How many messages stand in a state that is not the end of them."""
    return {
        f"{table.name} {state}": int(view.connection.scalar(select(func.count()).where(table.c.state == state)) or 0)
        for table, states in ((inbox, ("waiting", "aside")), (outbox, ("waiting", "sending", "failed")))
        for state in states
    }
