"""The bad line: each fault does what it says, for as long as it says, and to nothing else."""

import aiohttp
import pytest

from tests.channels.matrix import faults
from tests.channels.matrix.conftest import People
from tests.channels.matrix.faults import (
    Fault,
    Faults,
    broken,
    cut,
    dropped,
    forbidden,
    gateway,
    lost,
    slow,
    too_fast,
    unknown_token,
)
from tests.channels.matrix.homeserver import Homeserver, free_port

pytestmark = pytest.mark.asyncio

VERSIONS = "/_matrix/client/versions"


@pytest.mark.parametrize(
    ("fault", "status", "code"),
    [
        (broken(), 500, "M_UNKNOWN"),
        (broken(503), 503, "M_UNKNOWN"),
        (too_fast(70), 429, "M_LIMIT_EXCEEDED"),
        (unknown_token(), 401, "M_UNKNOWN_TOKEN"),
        (forbidden(), 403, "M_FORBIDDEN"),
    ],
    ids=str,
)
async def test_an_answer_in_place_of_the_servers(line: Faults, fault: Fault, status: int, code: str) -> None:
    line.script("GET", "versions", fault)
    async with aiohttp.ClientSession() as session:
        async with session.get(line.url + VERSIONS) as answer:
            assert (answer.status, (await answer.json())["errcode"]) == (status, code)
        async with session.get(line.url + VERSIONS) as answer:
            assert answer.status == 200
    assert [(call.status, call.fault) for call in line.calls] == [(0, fault.name), (200, "")]


async def test_what_a_web_server_says_is_no_json(line: Faults) -> None:
    line.script("GET", "versions", gateway())
    async with aiohttp.ClientSession() as session, session.get(line.url + VERSIONS) as answer:
        assert (answer.status, answer.content_type) == (502, "text/html")


async def test_only_what_matches_fails_and_only_so_often(line: Faults) -> None:
    line.script("GET", "versions", broken(500))
    line.script("*", "versions", broken(503), times=2)
    statuses = []
    async with aiohttp.ClientSession() as session:
        for path in ("/_matrix/client/v3/login", *[VERSIONS] * 4):
            async with session.get(line.url + path) as answer:
                statuses.append(answer.status)
        with line.during("GET", "versions", broken(504)):
            for _ in "12":
                async with session.get(line.url + VERSIONS) as answer:
                    statuses.append(answer.status)
        line.script("GET", "versions", broken(500))
        line.fair()
        async with session.get(line.url + VERSIONS) as answer:
            statuses.append(answer.status)
    assert statuses == [200, 500, 503, 503, 200, 504, 504, 200]


async def test_held_up_on_the_way(line: Faults, monkeypatch: pytest.MonkeyPatch) -> None:
    waited: list[float] = []

    async def counted(seconds: float) -> None:
        waited.append(seconds)

    monkeypatch.setattr(faults, "pause", counted)
    line.script("GET", "versions", slow(before=0.15, after=0.25))
    async with aiohttp.ClientSession() as session, session.get(line.url + VERSIONS) as answer:
        assert answer.status == 200
    assert waited == [0.15, 0.25]


@pytest.mark.parametrize(
    ("fault", "arrives", "error"),
    [
        (dropped(), False, aiohttp.ServerDisconnectedError),
        (lost(), True, aiohttp.ServerDisconnectedError),
        (cut(), True, aiohttp.ClientPayloadError),
    ],
    ids=["dropped", "lost", "cut"],
)
async def test_a_send_that_breaks_off(
    line: Faults, people: People, fault: Fault, arrives: bool, error: type[Exception]
) -> None:
    ada, bea = await people("ada"), await people("bea")
    room = await ada.create_direct_room(bea.user_id)
    await bea.join(room)
    line.script("PUT", r"/send/m\.room\.message/once", fault, times=1 if fault.cut else 2)
    headers = {"Authorization": f"Bearer {ada.client.access_token}"}
    address = f"{line.url}/_matrix/client/v3/rooms/{room}/send/m.room.message/once"
    async with aiohttp.ClientSession(headers=headers) as session:
        with pytest.raises(error):
            async with session.put(address, json={"msgtype": "m.text", "body": "once"}) as answer:
                await answer.read()
        if arrives:
            assert (await bea.hears()).body == "once"
        else:
            with pytest.raises(TimeoutError):
                await bea.hears(timeout=0.3)
        async with session.put(address, json={"msgtype": "m.text", "body": "once"}) as answer:
            given = await answer.json()
    await bea.sees(lambda heard: heard.event_id == given["event_id"])
    assert [heard.body for heard in bea.seen if heard.is_message] == ["once"]
    assert [call.fault for call in line.asked("PUT", "/once")] == [fault.name] * (1 if fault.cut else 2) + [""]


async def test_a_server_that_is_away_is_away_through_the_line_too(homeserver: Homeserver) -> None:
    async with Faults(f"http://127.0.0.1:{free_port()}") as line, aiohttp.ClientSession() as session:
        with pytest.raises(aiohttp.ServerDisconnectedError):
            await session.get(line.url + VERSIONS)
        line.homeserver = homeserver.url  # it is there again
        async with session.get(line.url + VERSIONS) as answer:
            assert answer.status == 200
    assert [call.fault for call in line.calls] == ["away", "away", ""]


async def test_somebody_can_live_behind_the_line(line: Faults, people: People) -> None:
    ada, bea = await people("ada", url=line.url), await people("bea")
    room = await ada.create_direct_room(bea.user_id, encrypted=True)
    await bea.join(room)
    await ada.sees_join(room, bea.user_id)
    line.script("PUT", "/send/", lost(), times=2)
    said = await ada.say(room, "said once, asked for thrice")
    assert (await bea.hears()).event_id == said
    picture = await ada.send_photo(room, b"\x89PNG" * 50_000)
    shown = await bea.hears()
    assert (shown.event_id, await bea.fetch(shown)) == (picture, b"\x89PNG" * 50_000)
    assert [call.fault for call in line.asked("PUT", "/send/")] == ["lost", "lost", "", ""]
