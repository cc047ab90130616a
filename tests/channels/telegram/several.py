"""Several processes of `triagebot serve` on one PostgreSQL, which are killed, stopped beyond their leases, and cut off
from the database, while twenty people talk to their one bot (see `campaign`).

`python -m tests.channels.telegram.several [--minutes N] [--seed N]` does so for as long as one wants.
"""

import argparse
import asyncio
import os
import random
import signal
import tempfile
from collections import Counter
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path
from time import monotonic

import psycopg

from tests.channels.process import Process
from tests.channels.telegram.campaign import PEOPLE, SCRIPTS, Player, events_of, troubles, undisturbed
from tests.channels.telegram.stage import fresh_token
from tests.commands import PATIENCE
from tests.doubles.telegram import Telegram, serve_apart
from tests.store import cluster
from tests.store.reading import cases_of
from triagebot.store import open_store
from triagebot.store.leases import LASTS

PROCESSES = 3
#: What happens to one of the processes, or to the database, and how often in proportion.
HARM: Mapping[str, int] = {"killed": 4, "stopped": 2, "cut off": 2, "stopped briefly": 1}
#: Seconds between two harms.
PACE = (0.5, 2.5)
#: Within so many seconds another process serves the channel where its holder has died or hangs.
TAKEN_OVER = 15.0
_CUT = "SELECT pg_terminate_backend(pid) FROM pg_stat_activity WHERE datname = current_database() AND pid <> %s"


@dataclass
class Server(Process):
    """One process, with a data folder of its own."""

    folder: Path
    settings: Mapping[str, str]
    #: How much it had told when it was started last.
    begun: int = 0

    def start(self) -> None:
        self.folder.mkdir(exist_ok=True)
        self.begun = len(self.said())
        self.launch({**self.settings, "WEB_PORT": "0"})

    def is_up(self) -> bool:
        """Whether it runs, and has said since it was started that it takes requests."""
        assert self.process is not None
        return self.process.poll() is None and b"pages and chat:" in self.said()[self.begun :]

    def serves(self) -> bool:
        """Whether it said last that it fetches messages."""
        said = self.said()
        ended = max(
            said.rfind(b"not served by this process"), said.rfind(b"SIGKILL"), said.rfind(b"by another process")
        )
        return said.rfind(b"telegram: fetching messages") > ended

    def signal(self, number: int) -> None:
        """Sends it a signal, if it has not ended by itself meanwhile."""
        assert self.process is not None
        with suppress(ProcessLookupError):
            self.process.send_signal(number)


@dataclass
class Several:
    """All of them, and the database."""

    platform: Telegram
    folder: Path
    url: str
    count: int = PROCESSES
    token: str = field(default_factory=fresh_token)
    harm: Counter[str] = field(default_factory=Counter)

    def __post_init__(self) -> None:
        self.platform.add_bot(self.token, f"bot{self.token[:9]}_bot")
        settings = {
            "TELEGRAM_TOKEN": self.token,
            "TELEGRAM_SERVER": self.platform.base_url.removesuffix("/bot"),
            "DATABASE": self.url,
            "KEY_FILE": str(self.folder / "triagebot.key"),
        }
        self.servers = [Server(self.folder / f"process-{number}", settings) for number in range(self.count)]

    async def do_harm(self, what: str, draws: random.Random) -> None:
        server = draws.choice(self.servers)
        self.harm[what] += 1
        if what == "killed":
            server.kill()
            with server.log.open("ab") as log:
                log.write(b"SIGKILL\n")
            await asyncio.sleep(draws.uniform(0.0, 1.0))
            server.start()
        elif what == "cut off":
            with psycopg.connect(self.url, autocommit=True) as connection:
                connection.execute(_CUT, [connection.info.backend_pid])
        else:
            server.signal(signal.SIGSTOP)
            await asyncio.sleep(LASTS.total_seconds() + 3 if what == "stopped" else 1.0)
            server.signal(signal.SIGCONT)

    def start_again(self) -> None:
        """As a service manager does: a process that cannot reach the database when it starts says so and ends."""
        for server in self.servers:
            if server.process is not None and server.process.poll() is not None:
                self.harm["started again"] += 1
                server.start()

    async def all_up(self) -> None:
        """Starts those again that ended, until all of them run."""
        until = monotonic() + PATIENCE
        while not all(server.is_up() for server in self.servers):
            assert monotonic() < until, [server.said()[-500:] for server in self.servers]
            self.start_again()
            await asyncio.sleep(0.25)

    def end(self) -> None:
        for server in self.servers:
            if server.process is not None and server.process.poll() is None:
                server.signal(signal.SIGCONT)
            server.end()


@dataclass(frozen=True, slots=True)
class Report:
    harm: Mapping[str, int]
    people: int
    replies: int
    repeated: int
    trouble: Mapping[str, int]

    def __str__(self) -> str:
        harm = ", ".join(f"{count} {what}" for what, count in sorted(self.harm.items()))
        return f"{harm}: {self.people} people, {self.replies} replies, {self.repeated} sent once more"


async def several(
    platform: Telegram, folder: Path, url: str, *, seed: int, harms: int = 0, minutes: float = 0.0, people: int = PEOPLE
) -> Report:
    """Does so many harms, or for so many minutes, then lets everybody finish. Raises AssertionError for whatever came
    out otherwise than undisturbed."""
    replies, events = await undisturbed(platform, folder / "undisturbed")
    all_of_them, draws, over = Several(platform, folder, url), random.Random(seed), asyncio.Event()
    played: list[tuple[Player, int]] = []

    async def seat(number: int) -> None:
        while not over.is_set():
            which = (number + len(played)) % len(SCRIPTS)
            who = platform.add_person(f"P{number}", language="en", bot=all_of_them.token)
            player = Player(who, SCRIPTS[which], replies[which])
            await player.play()
            played.append((player, which))

    for server in all_of_them.servers:
        server.start()
    seats = [asyncio.create_task(seat(number)) for number in range(people)]
    until, done = monotonic() + 60 * minutes, 0
    try:
        while done < harms or monotonic() < until:
            await asyncio.sleep(draws.uniform(*PACE))
            (what,) = draws.choices(list(HARM), list(HARM.values()))
            await all_of_them.do_harm(what, draws)
            all_of_them.start_again()
            done += 1
        over.set()
        await asyncio.gather(*seats)
        while platform.pending(all_of_them.token):
            await asyncio.sleep(0.25)
        await asyncio.sleep(2.0)
        await all_of_them.all_up()  # one that is told to stop while it starts ends by the signal
        assert [server.stop() for server in all_of_them.servers] == [0] * all_of_them.count
    finally:
        for task in seats:
            task.cancel()
        all_of_them.end()
    return _reported(all_of_them, played, events)


def _reported(all_of_them: Several, played: list[tuple[Player, int]], events: list[list[dict[str, object]]]) -> Report:
    repeated = replies = 0
    key_file = all_of_them.folder / "triagebot.key"
    with (
        open_store(all_of_them.servers[0].folder / "data", key_file=key_file, database=all_of_them.url) as store,
        store.read() as view,
    ):
        for player, which in played:
            (case,) = cases_of(view, f"telegram:{player.person.id}")
            assert events_of(case) == events[which], player.person.screen().drawn()
            repeated += len(player.person.screen().from_bots) - len(player.replies)
            replies += len(player.replies)
        trouble = troubles(view)
    return Report(all_of_them.harm, len(played), replies, repeated, trouble)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--minutes", type=float, default=10.0)
    parser.add_argument("--seed", type=int, default=1)
    given = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder, cluster.running() as socket, serve_apart() as platform:
        url = cluster.url_for(socket, Path(folder))
        print(asyncio.run(several(platform, Path(folder), url, seed=given.seed, minutes=given.minutes)))


if __name__ == "__main__":
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    main()
