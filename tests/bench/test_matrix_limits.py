"""On a homeserver with the limits that Synapse sets by default: how long somebody waits who writes at an ordinary pace.

Each event counts there, the numbers under a question too: ten at once, and then one in five seconds. What is measured
is the time from when the server took a message until its answer can be read.
"""

import asyncio
from itertools import cycle, islice
from pathlib import Path
from tempfile import TemporaryDirectory
from time import perf_counter

import numpy as np
import pytest

from tests.bench.conftest import Figures
from tests.channels.matrix.campaign import serving
from tests.channels.matrix.conftest import PASSWORD
from tests.channels.matrix.homeserver import Allowance, Homeserver
from tests.channels.matrix.person import Person

pytestmark = [pytest.mark.asyncio, pytest.mark.campaign]

#: Synapse's own `rc_message`.
DEFAULT = Allowance(0.2, 10)
#: So many messages, one in so many seconds; nobody waits longer than so many seconds.
TURNS, EVERY, MOST = 20, 6.0, 7.0
#: Answers, questions, slips; with pictures and without.
SAID = (
    "6 sprockets",
    "help",
    "why",
    "back",
    "9 sprockets",
    "how do I check?",
    "I don’t know",
    "it stays still",
    "case",
)


@pytest.mark.parametrize("encrypted", [False, True], ids=["plain", "encrypted"])
async def test_nobody_waits_long_under_the_default_limits(tmp_path: Path, encrypted: bool, figures: Figures) -> None:
    with TemporaryDirectory(prefix="limited-") as folder:
        homeserver = Homeserver(Path(folder), DEFAULT)
        await homeserver.start()
        user, rider = [await homeserver.register(name, PASSWORD) for name in ("wheels", "ada")]
        ours, ada = (
            serving(homeserver, user, tmp_path / "ours"),
            Person(homeserver.url, rider, tmp_path / "ada", "phone"),
        )
        try:
            await ours.ready(ours.start())
            await ada.login(PASSWORD)
            took = await _talk(ada, user, encrypted)
        finally:
            await ada.close()
            ours.end()
            await homeserver.stop()
    longest, median = max(took), float(np.median(took))
    kind = "encrypted" if encrypted else "plain"
    figures(
        f"Matrix, default limits, {kind}, {TURNS} turns, one in {EVERY:g} s",
        f"median {median:.2f} s, longest {longest:.2f} s",
        f"<= {MOST:g} s",
    )
    assert longest <= MOST, took


async def _talk(ada: Person, user: str, encrypted: bool) -> list[float]:
    room = await ada.create_direct_room(user, encrypted)
    await ada.sees_join(room, user)
    await ada.hears(room=room)
    await asyncio.sleep(EVERY)
    took = []
    for text in islice(cycle(SAID), TURNS):
        await ada.say(room, text)
        sent = perf_counter()
        await ada.hears(room=room)
        took.append(perf_counter() - sent)
        await asyncio.sleep(max(0.0, EVERY - took[-1]))
    return took
