"""Ten people talk to `triagebot serve` at the same time, half of them encrypted, and somebody kills it again and again.

Everybody plays a script whose replies are known from a run that nobody disturbed. They take exactly the reply that is
due, so a lost or doubled message, or one out of order, stops them or shows in their case. What the bot sent is counted
on the server, event by event, against what its delivery meant to send: the server tells repeats from the transaction
ids, so not one is allowed, and none may be missing, or there and not to be read.

Numbers under questions are left out of this: they are put there as time allows.
"""

import asyncio
import json
import random
import re
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from itertools import zip_longest
from pathlib import Path
from time import monotonic
from typing import Any
from urllib.parse import quote

from sqlalchemy import func, select

from tests.channels.matrix.conftest import PASSWORD
from tests.channels.matrix.heard import Heard
from tests.channels.matrix.homeserver import Homeserver
from tests.channels.matrix.person import Person
from tests.channels.process import Process
from tests.store.reading import cases_of, current_case
from triagebot.store import open_store
from triagebot.store.tables import inbox, outbox

#: What people do once they were greeted: `#` reacts with a number, all else is written. No two replies of a script in a
#: row are the same.
SCRIPTS: tuple[tuple[str, ...], ...] = (
    ("9 sprockets", "#1", "how do I check", "Back", "why", "#2", "help"),
    ("6 sprockets", "help", "it has notches, the wheel is out", "I don’t know", "Back", "person", "restart"),
    ("the wheel is out and the middle turns", "why", "splines", "12", "change", "stop", "continue"),
)
PEOPLE = 10
#: Seconds after which somebody who waits in vain gives up.
PATIENCE = 600.0
#: How often the process is killed before it is ready; when it is, seconds after its start, or after it was ready: on a
#: machine that needs so many seconds to start it, and in proportion on one that is slower.
UNREADY, STARTING, WORKING, STARTS_IN = 0.2, (0.1, 2.5), (0.0, 2.0), 2.0
#: Seconds that it gets to be ready.
READY_WITHIN = 120.0
#: What differs from one run to the next.
_OWN = ("at", "code", "message", "press", "digest")


@dataclass
class Serving(Process):
    """`triagebot serve` as a process that is started again and again; `settings` are its own, without TRIAGEBOT_."""

    stops_within = 30.0

    folder: Path
    settings: Mapping[str, str]

    def start(self) -> int:
        """Gives how long its log was before."""
        before = len(self.said())
        self.launch({"WEB_PORT": "0"} | dict(self.settings))
        return before

    async def ready(self, before: int, said: bytes = b"matrix: this is ") -> None:
        """Until it has said something since its log was so long."""
        async with asyncio.timeout(READY_WITHIN):
            while said not in self.said()[before:]:
                assert self.process is not None
                assert self.process.poll() is None, self.log.read_text("utf-8")[-2000:]
                await asyncio.sleep(0.02)

    async def killed_at(self, draws: random.Random) -> None:
        """Starts it, and kills it at some moment."""
        began, before = monotonic(), self.start()
        if draws.random() < UNREADY:
            await asyncio.sleep(draws.uniform(*STARTING))
        else:
            await self.ready(before)
            await asyncio.sleep(draws.uniform(*WORKING) * max(1.0, (monotonic() - began) / STARTS_IN))
        self.kill()


def serving(homeserver: Homeserver, user: str, folder: Path, **more: str) -> Serving:
    """As the bot of an account."""
    folder.mkdir()
    ours = {"MATRIX_SERVER": homeserver.url, "MATRIX_USER": user, "MATRIX_PASSWORD": PASSWORD}
    return Serving(folder, ours | more)


class Client(Person):
    """Somebody whose client can be put aside."""

    async def rest(self) -> None:
        """Looks no more."""
        if self._listening is not None:
            self._listening.cancel()
            await asyncio.gather(self._listening, return_exceptions=True)
            self._listening = None

    async def catch_up(self) -> None:
        """Sees what came meanwhile."""
        await self._sync_once()
        await self._sync_once()


def plain(text: str) -> str:
    """What the bot said, without what differs: codes, and how long the shop is open."""
    text = re.sub(r"\b[2-9A-Z]{3}-[2-9A-Z]{3}\b", "CODE", text)
    return re.sub(r"(?m)^The shop is .*$", "HOURS", text)


@dataclass
class Player:
    """Somebody who plays a script. `replies` are those that are due; without them, whatever comes is taken down."""

    client: Client
    bot: str
    encrypted: bool
    script: Sequence[str]
    replies: Sequence[str] = ()
    room: str = ""
    taken_down: list[str] = field(default_factory=list)

    @property
    def id(self) -> str:
        return f"matrix:{self.client.user_id}"

    async def play(self) -> None:
        await self.client.login(PASSWORD)
        self.room = await self.client.create_direct_room(self.bot, self.encrypted)
        await self.client.sees_join(self.room, self.bot, PATIENCE)
        said = await self._reply("hello")
        for act in self.script:
            if act.startswith("#"):
                await self.client.react(self.room, said.event_id, f"{act[1:]}\ufe0f\u20e3")
            else:
                await self.client.say(self.room, act)
            said = await self._reply(act)
        await self.client.rest()

    async def _reply(self, act: str) -> Heard:
        """The next words of the bot, which must be those that are due."""
        try:
            said = await self.client.hears(lambda heard: heard.in_words, PATIENCE, self.room)
        except TimeoutError as error:
            raise AssertionError(f"{act!r} of {self.script} was not answered: {error}") from None
        text = plain(said.body)
        if self.replies:
            due = self.replies[len(self.taken_down)]
            assert text == due, f"{act!r} of {self.script} was answered {text!r}, due was {due!r}"
        self.taken_down.append(text)
        return said

    def said(self) -> list[str]:
        """All words of the bot that can be read."""
        seen = self.client.seen
        return [plain(each.body) for each in seen if each.sender == self.bot and each.in_words and each.is_message]

    async def on_the_server(self) -> list[dict[str, Any]]:
        """Every event of the bot's in the room but numbers and states, as the server has them."""
        found: list[dict[str, Any]] = []
        path, start = f"rooms/{quote(self.room, safe='')}/messages?dir=b&limit=200", ""
        while True:
            given = await self.client.ask("GET", f"{path}{start}")
            found += given["chunk"]
            if not given.get("end"):
                break
            start = f"&from={quote(given['end'], safe='')}"
        mine = (each for each in found if each["sender"] == self.bot and "state_key" not in each)
        return [each for each in mine if each["type"] != "m.reaction"]


def events_of(stored: Any) -> list[dict[str, Any]]:
    """What happened in a case, without what differs from run to run."""
    return [json.loads(json.dumps({k: v for k, v in row.items() if k not in _OWN})) for row in stored.events]


@dataclass(frozen=True, slots=True)
class Report:
    """`repeated` and `missing` are events, `unread` those that are there and cannot be read; `odd` tells which."""

    kills: int
    people: int
    encrypted: int
    sent: int
    repeated: int
    missing: int
    unread: int
    trouble: Mapping[str, int]
    odd: tuple[str, ...]

    def __str__(self) -> str:
        return (
            f"{self.kills} kills, {self.people} people ({self.encrypted} encrypted), {self.sent} events sent, "
            f"{self.repeated} repeated, {self.missing} missing, {self.unread} unreadable"
        )


@dataclass
class Campaign:
    """On a homeserver, in a folder."""

    homeserver: Homeserver
    folder: Path
    seats: int = PEOPLE

    async def run(self, *, kills: int, seed: int) -> Report:
        """Kills the bot so often, then lets everybody finish. Raises AssertionError for whatever came out otherwise."""
        replies, events = await self._undisturbed()
        bot = await self._bot("killed", seed)
        draws, over = random.Random(seed), asyncio.Event()
        played: list[tuple[Player, int]] = []

        async def seat(number: int) -> None:
            """One of the people at a time, as long as there is somebody who kills."""
            place = 0
            while not over.is_set():
                which = (number + place) % len(SCRIPTS)
                encrypted = number % 2 == 1
                player = await self._player(f"p{seed}-{number}-{place}", user(bot), encrypted, which, replies[which])
                played.append((player, which))
                await player.play()
                place += 1

        seats = [asyncio.create_task(seat(number)) for number in range(self.seats)]
        try:
            for _ in range(kills):
                await bot.killed_at(draws)
                _raise_what_ended(seats)
            over.set()
            bot.start()
            await asyncio.gather(*seats)
            await _all_is_out(bot)
            assert bot.stop() == 0
            return await _reported(bot, played, events, kills)
        finally:
            bot.end()
            for task in seats:
                task.cancel()
            await asyncio.gather(*seats, return_exceptions=True)
            await asyncio.gather(*(player.client.close() for player, _ in played))

    async def _undisturbed(self) -> tuple[list[list[str]], list[list[dict[str, Any]]]]:
        """Every script once, with nobody to disturb it: the replies, and the events of the case."""
        bot = await self._bot("undisturbed", 0)
        await bot.ready(bot.start())
        players = [
            await self._player(f"ref-{place}", user(bot), place % 2 == 1, place) for place in range(len(SCRIPTS))
        ]
        try:
            await asyncio.gather(*(player.play() for player in players))
            assert bot.stop() == 0
        finally:
            bot.end()
            await asyncio.gather(*(player.client.close() for player in players))
        with open_store(bot.folder / "data", key_file=bot.folder / "triagebot.key") as store, store.read() as view:
            cases = [current_case(view, player.id) for player in players]
        return [player.taken_down for player in players], [events_of(case) for case in cases]

    async def _bot(self, name: str, seed: int) -> Serving:
        account = await self.homeserver.register(f"{name}-{seed}-{id(self)}", PASSWORD)
        return serving(self.homeserver, account, self.folder / name)

    async def _player(self, name: str, bot: str, encrypted: bool, which: int, replies: Sequence[str] = ()) -> Player:
        who = await self.homeserver.register(f"{name}-{id(self)}", PASSWORD)
        client = Client(self.homeserver.url, who, self.folder / name)
        return Player(client, bot, encrypted, SCRIPTS[which], replies)


def user(bot: Serving) -> str:
    return bot.settings["MATRIX_USER"]


def _raise_what_ended(seats: Sequence["asyncio.Task[None]"]) -> None:
    for task in seats:
        if task.done():
            task.result()


async def _all_is_out(bot: Serving) -> None:
    """Until nothing is left to send: the last answer is read before the change of what it answers is made."""
    left = select(func.count()).where(outbox.c.state.in_(("waiting", "sending")))
    async with asyncio.timeout(PATIENCE):
        while True:
            with open_store(bot.folder / "data", key_file=bot.folder / "triagebot.key") as store, store.read() as view:
                if not view.connection.scalar(left):
                    return
            await asyncio.sleep(0.5)


async def _reported(
    bot: Serving, played: Sequence[tuple[Player, int]], events: Sequence[list[dict[str, Any]]], kills: int
) -> Report:
    sent = repeated = missing = unread = 0
    odd: list[str] = []
    with open_store(bot.folder / "data", key_file=bot.folder / "triagebot.key") as store, store.read() as view:
        for player, which in played:
            (case,) = cases_of(view, player.id)
            differs = [pair for pair in zip_longest(events_of(case), events[which]) if pair[0] != pair[1]]
            assert not differs, f"first difference: {differs[0]}"
            await player.client.catch_up()
            assert player.client.gaps == 0
            assert player.said() == list(player.replies)
            rows = view.connection.execute(
                select(outbox).where(outbox.c.conversation == view.lookup_hash(player.id)).order_by(outbox.c.id)
            ).all()
            due = _due(rows, lambda closed: json.loads(view.cipher.decrypt(closed)))
            there = Counter(_named(each, player) for each in await player.on_the_server())
            sent += sum(there.values())
            repeated += sum((there - due).values())
            missing += sum((due - there).values())
            unread += there["unreadable"]
            odd += [f"{player.client.user_id}: {each}" for each in ((there - due) | (due - there))]
        trouble = {
            f"{table.name} {state}": int(
                view.connection.scalar(select(func.count()).where(table.c.state == state)) or 0
            )
            for table, states in ((inbox, ("waiting", "aside")), (outbox, ("waiting", "sending", "failed")))
            for state in states
        }
    encrypted = sum(player.encrypted for player, _ in played)
    return Report(kills, len(played), encrypted, sent, repeated, missing, unread, trouble, tuple(odd))


def _due(rows: Sequence[Any], opened: Any) -> "Counter[str]":
    """What must be there, by the rows of what was to go out: each message by the ids of its events, each change of one
    by the event that it changes."""
    due: Counter[str] = Counter()
    receipts = {row.id: opened(row.receipt) for row in rows if row.receipt is not None}
    for row in rows:
        if row.kind != "edit":
            due.update(each for each in (receipts[row.id]["event"], *receipts[row.id]["others"]) if each)
        elif opened(row.body)["answered"]:
            due[f"change of {receipts[row.about]['event']}"] += 1
    return due


def _named(event: Mapping[str, Any], player: Player) -> str:
    """An event on the server as `_due` names it, if the person can read it."""
    seen = next((each for each in player.client.seen if each.event_id == event["event_id"] and each.body), None)
    if seen is None or not (seen.is_message or seen.replaces):
        return "unreadable"
    assert seen.encrypted == player.encrypted
    return f"change of {seen.replaces}" if seen.replaces else seen.event_id
