"""Killed in the middle of anything, the bot goes on where it stood: each message is seen, each answer comes once."""

import asyncio
from pathlib import Path

import pytest

from tests.channels.matrix.conftest import PASSWORD, People
from tests.channels.matrix.device import PATIENCE
from tests.channels.matrix.faults import Fault, Faults, slow
from tests.channels.matrix.homeserver import Homeserver
from tests.channels.matrix.killable import begin
from tests.commands import Forked

pytestmark = [pytest.mark.asyncio, pytest.mark.slow]

BEFORE, AFTER = slow(before=60), slow(after=60)

#: Where it is held, and then killed: before the server hears of a request, or before its answer comes.
MOMENTS = (
    ("PUT", "/send/m.room.encrypted", AFTER),
    ("POST", "/keys/claim", AFTER),
    ("PUT", "/sendToDevice/m.room.encrypted", BEFORE),
    ("PUT", "/sendToDevice/m.room.encrypted", AFTER),
    ("PUT", "/send/m.room.encrypted", BEFORE),
    ("GET", "/sync.*since", AFTER),
)


async def held(line: Faults, method: str, path: str, fault: Fault) -> None:
    """Until a request is held up there."""
    script, before = line.script(method, path, fault), len(line.calls)
    while script.left or (fault is AFTER and fault.name not in (call.fault for call in line.calls[before:])):
        await asyncio.sleep(0.01)
    line.fair()


async def kill(process: Forked) -> None:
    process.kill()
    await asyncio.to_thread(process.wait)


async def test_whenever_it_is_killed_each_message_is_answered_once(
    homeserver: Homeserver, line: Faults, people: People, tmp_path: Path
) -> None:
    user = await homeserver.register(f"bot-{id(line)}", PASSWORD)
    folder = tmp_path / "killable"
    folder.mkdir(mode=0o700)

    async def killed_at(method: str, path: str, fault: Fault) -> None:
        holding = asyncio.create_task(held(line, method, path, fault))
        process = Forked(begin, line.url, user, folder)
        try:
            await asyncio.wait_for(holding, PATIENCE)
        finally:
            await kill(process)

    await killed_at("POST", "/keys/upload", AFTER)
    ada, bob = await people("ada"), await people("bob")
    room = await ada.create_group_room(user, encrypted=True)
    await killed_at("POST", "/join/", AFTER)
    said = []
    for number, (method, path, fault) in enumerate(MOMENTS):
        if path == "/keys/claim":  # somebody whose device has no session with the bot yet
            await ada.invite(room, bob.user_id)
            await bob.join(room)
        said.append(f"message {number}")
        await ada.say(room, said[-1])
        await killed_at(method, path, fault)
    process = Forked(begin, line.url, user, folder)
    try:
        for person in (ada, bob):
            await person.sees(lambda heard: heard.body == f"re: {said[-1]}")
    finally:
        await kill(process)
    heard = [each for each in ada.seen if each.sender == user and each.kind in ("m.text", "undecryptable")]
    assert [each.body for each in heard] == [f"re: {text}" for text in said]
