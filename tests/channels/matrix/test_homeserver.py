"""The homeserver of the tests itself: comes, goes, keeps what it knew, and ends with the process that started it."""

import asyncio
import os
import signal
import subprocess
import sys
from pathlib import Path
from time import monotonic

import aiohttp
import pytest

from tests.channels.matrix.conftest import PASSWORD, People, missing
from tests.channels.matrix.device import Refused
from tests.channels.matrix.homeserver import STINGY, Homeserver, NoHomeserver
from tests.channels.matrix.person import Person

pytestmark = pytest.mark.asyncio

ROOT = Path(__file__).parents[3]


def alive(pid: int) -> bool:
    try:
        return Path(f"/proc/{pid}/stat").read_text(encoding="utf-8").rpartition(")")[2].split()[0] != "Z"
    except FileNotFoundError:
        return False


async def test_it_listens_on_the_loopback_alone_and_its_pid_is_its_own(homeserver: Homeserver) -> None:
    command = Path(f"/proc/{homeserver.pid}/cmdline").read_bytes().split(b"\0")
    assert b"synapse.app.homeserver" in command
    inodes = {os.readlink(each) for each in Path(f"/proc/{homeserver.pid}/fd").iterdir() if each.exists()}
    rows = [row.split() for row in Path("/proc/net/tcp").read_text(encoding="utf-8").splitlines()[1:]]
    listening = {row[1] for row in rows if row[3] == "0A" and f"socket:[{row[9]}]" in inodes}
    assert listening == {f"0100007F:{homeserver.port:04X}"}


@pytest.mark.parametrize("way", ["stop", "kill"])
async def test_it_comes_back_on_its_data_and_port(homeserver: Homeserver, people: People, way: str) -> None:
    ada, bea = await people("ada"), await people("bea")
    room = await ada.create_direct_room(bea.user_id)
    await bea.join(room)
    before = homeserver.pid
    if way == "stop":
        await homeserver.stop()
    else:
        homeserver.kill()
    assert not alive(before)
    with pytest.raises(NoHomeserver):
        _ = homeserver.pid
    saying = asyncio.create_task(ada.say(room, "while it was away"))
    await asyncio.sleep(0.2)
    assert not saying.done()
    await homeserver.start()
    assert homeserver.pid != before
    assert (await bea.hears()).event_id == await saying
    assert (ada.gaps, bea.gaps) == (0, 0)


async def test_paused_it_answers_nobody_until_it_is_resumed(homeserver: Homeserver) -> None:
    versions = f"{homeserver.url}/_matrix/client/versions"
    async with aiohttp.ClientSession() as session:
        homeserver.pause()
        with pytest.raises(TimeoutError):
            await session.get(versions, timeout=aiohttp.ClientTimeout(total=0.3))
        homeserver.resume()
        async with session.get(versions) as answer:
            assert answer.status == 200


async def test_an_account_is_made_once(homeserver: Homeserver) -> None:
    name = f"twin-{monotonic()}"
    assert await homeserver.register(name, PASSWORD) == f"@{name}:wheels.test"
    with pytest.raises(NoHomeserver, match="User ID already taken"):
        await homeserver.register(name, PASSWORD)


async def test_an_administrator_may_ask_about_others(homeserver: Homeserver, tmp_path: Path, people: People) -> None:
    boss = await homeserver.register(f"boss-{monotonic()}", PASSWORD, admin=True)
    ada = await people("ada")
    async with Person(homeserver.url, boss, tmp_path / "boss") as person:
        await person.login(PASSWORD)
        assert (await person.ask("GET", f"../../../_synapse/admin/v2/users/{ada.user_id}"))["admin"] is False
    with pytest.raises(Refused):
        await ada.ask("GET", f"../../../_synapse/admin/v2/users/{boss}")


async def test_with_tight_limits_it_refuses_what_comes_too_fast(tmp_path: Path) -> None:
    server = Homeserver(tmp_path / "tight", messages=STINGY)
    try:
        await server.start()
        user = await server.register("ada", PASSWORD)
        async with Person(server.url, user, tmp_path / "ada") as ada:
            await ada.login(PASSWORD)
            room = await ada.create_group_room()
            codes = []
            for number in range(6):
                sending = ada.ask(
                    "PUT", f"rooms/{room}/send/m.room.message/{number}", {"msgtype": "m.text", "body": "x"}
                )
                (outcome,) = await asyncio.gather(sending, return_exceptions=True)
                codes.append(str(outcome.code) if isinstance(outcome, Refused) else "sent")
            # Making the room took some of what may be sent at once.
            assert codes == sorted(codes, reverse=True)
            assert 1 <= codes.count("sent") <= STINGY.burst
    finally:
        await server.stop()


async def test_settings_that_do_not_work_are_told_with_their_reason(tmp_path: Path) -> None:
    server = Homeserver(tmp_path / "broken")
    (tmp_path / "broken" / "signing.key").write_text("no key\n", encoding="utf-8")
    with pytest.raises(NoHomeserver, match="signing"):
        await server.start()
    assert not server.running


async def test_without_a_homeserver_tests_are_skipped_by_hand_and_fail_in_ci(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("CI", raising=False)
    with pytest.raises(pytest.skip.Exception, match="no homeserver"):
        missing("there is no homeserver to talk to")
    monkeypatch.setenv("CI", "true")
    with pytest.raises(pytest.fail.Exception, match="no homeserver"):
        missing("there is no homeserver to talk to")


_STARTS_ONE_AND_WAITS = """
import asyncio, sys, time
from pathlib import Path
from tests.channels.matrix.homeserver import Homeserver
server = Homeserver(Path(sys.argv[1]))
asyncio.run(server.start())
print(server.pid, flush=True)
time.sleep(600)
"""


@pytest.mark.skipif(sys.platform != "linux", reason="only Linux ends a process with its parent")
async def test_it_ends_with_the_person_who_started_it_even_by_kill(tmp_path: Path) -> None:
    starter = subprocess.Popen(
        [sys.executable, "-c", _STARTS_ONE_AND_WAITS, str(tmp_path / "left")],
        cwd=ROOT,
        stdout=subprocess.PIPE,
        text=True,
    )
    with starter:
        assert starter.stdout is not None
        pid = int(await asyncio.to_thread(starter.stdout.readline))
        assert alive(pid)
        starter.send_signal(signal.SIGKILL)
    until = monotonic() + 60
    while alive(pid) and monotonic() < until:
        await asyncio.sleep(0.02)
    assert not alive(pid)
