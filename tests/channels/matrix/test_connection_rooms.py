"""Rooms come and go: invitations, being put out, upgrades, who may speak; and what a room is called over all that."""

import pytest

from tests.channels.matrix.bot import Bot, Bots
from tests.channels.matrix.conftest import People
from tests.channels.matrix.faults import Faults, broken
from triagebot.channels.matrix.rooms import Invite
from triagebot.messages import Gone, Refused, Transient, Withheld

pytestmark = pytest.mark.asyncio


async def test_invitations_say_who_wants_the_bot_where(bot: Bot, people: People) -> None:
    ada = await people("ada")
    direct = await ada.create_direct_room(bot.user)
    group = await ada.create_group_room(bot.user)
    found: set[Invite] = set()

    async def see_both() -> None:
        while len(found) < 2:
            found.update((await bot.connection.sync(bot.place)).invites)

    await see_both()
    assert found == {Invite(direct, ada.user_id, True), Invite(group, ada.user_id, False)}
    await bot.restart()
    found.clear()
    place = bot.place
    bot.place = None  # even from now on: what is open is told again
    result = await bot.connection.sync(place)
    assert {invite.room for invite in result.invites} == {direct, group}
    await bot.connection.leave(group)
    await ada.sees(lambda heard: heard.room == group and heard.kind == "m.room.member" and heard.body == "leave")
    assert bot.connection.members(group) == 0
    assert await bot.connection.join(direct)
    assert bot.connection.members(direct) == 2
    assert not await bot.connection.join("!nowhere:wheels.test")


async def test_one_can_speak_in_a_room_as_soon_as_one_is_in(bot: Bot, people: People) -> None:
    ada = await people("ada")
    room = await ada.create_direct_room(bot.user, encrypted=True)
    while not (result := await bot.connection.sync(bot.place)).invites:
        bot.place = result.place
    await bot.connection.join(room)
    await ada.sees_join(room, bot.user)
    await bot.say(room, "hello")
    assert (await ada.hears()).body == "hello"


async def test_bridges_are_nobody(bots: Bots, people: People) -> None:
    ada, bridge = await people("ada"), await people("bridge")
    bot = await bots(started=False)
    bot.connection._bridges = frozenset({bridge.user_id})
    await bot.start()
    room = await bot.meet(ada, group=True)
    await ada.invite(room, bridge.user_id)
    await bridge.join(room)
    await ada.say(room, "still for two")
    (seen,) = [each for each in await bot.hears("still for two") if each.kind == "words"]
    assert seen.room.direct
    assert bot.connection.members(room) == 3
    await ada.leave(room)
    await bridge.say(room, "now of many, behind one account")
    *_, seen = await bot.hears("now of many, behind one account")
    assert not seen.room.direct


async def test_put_out_of_a_room_nothing_can_be_sent_there(bot: Bot, people: People) -> None:
    ada = await people("ada")
    room = await bot.meet(ada, encrypted=False, group=True)
    await ada.kick(room, bot.user)
    with pytest.raises(Gone):
        await bot.say(room, "seen by nobody")
    await bot.until(lambda: bot.gone == [room])
    with pytest.raises(Gone):
        await bot.say(room, "seen by nobody")
    assert bot.connection.room(room) is None
    with pytest.raises(Gone):
        await bot.say("!never:wheels.test", "seen by nobody")


@pytest.mark.parametrize("encrypted", [False, True], ids=["plain", "encrypted"])
async def test_without_the_power_to_speak_a_message_is_withheld(bot: Bot, people: People, encrypted: bool) -> None:
    ada = await people("ada")
    room = await bot.meet(ada, encrypted=encrypted, group=True)
    await ada.require_power_to_talk(room, 50)
    with pytest.raises(Withheld):
        await bot.say(room, "seen by nobody yet")
    result = await bot.connection.sync(bot.place)
    assert result.powers, "a change of it is noticed"
    await ada.set_power_level(room, bot.user, 50)
    await bot.say(room, "seen")
    assert (await ada.hears()).body == "seen"


async def test_a_message_that_is_too_long_is_refused_and_the_longest_goes(bot: Bot, people: People) -> None:
    ada = await people("ada")
    for encrypted, most in ((False, 64_000), (True, 47_500)):
        room = await bot.meet(ada, encrypted)
        longest = "x" * most
        with pytest.raises(Refused, match="M_TOO_LARGE"):
            await bot.say(room, longest + "x" * 2_500)
        await bot.say(room, longest)
        assert (await ada.hears()).body == longest
        await ada.say(room, longest)
        assert (await bot.hears(longest))[-1].text == longest
        bot.seen.clear()


async def test_an_upgraded_room_is_followed_and_keeps_its_first_name(bot: Bot, people: People) -> None:
    ada = await people("ada")
    first = await bot.meet(ada, encrypted=True, group=True)
    second = await ada.upgrade_room(first, "12")
    await bot.until(lambda: second in (bot.place or ""))
    with pytest.raises(Transient):
        await bot.say(first, "on the way", tx="tb-1")
    await ada.invite(second, bot.user)  # as a person's client does
    await bot.until(lambda: bot.moved == [(first, second)])
    await ada.sees_join(second, bot.user)
    await bot.say(first, "on the way", tx="tb-1")
    assert (await ada.hears()).room == second
    await ada.say(second, "here we are")
    (seen,) = await bot.hears("here we are")
    assert (seen.room.id, seen.room.first) == (second, first)
    third = await ada.upgrade_room(second, "12")
    await ada.invite(third, bot.user)
    await bot.restart()
    await bot.until(lambda: bot.moved == [(first, second), (second, third)])
    await ada.say(third, "and further")
    *_, seen = await bot.hears("and further")
    assert (seen.room.id, seen.room.first) == (third, first)


async def test_a_room_that_only_claims_to_follow_does_not(bot: Bot, people: People) -> None:
    ada, eve = await people("ada"), await people("eve")
    room = await bot.meet(ada)
    other = await eve.create_group_room(bot.user)
    await bot.until(lambda: bot.connection.room(other))
    tombstone = {"body": "moved", "replacement_room": room}
    await eve.ask("PUT", f"rooms/{other}/state/m.room.tombstone/", tombstone)
    await ada.say(room, "as before")
    (seen,) = await bot.hears("as before")
    assert (seen.room.first, bot.moved) == (room, [])


async def test_a_move_that_the_server_keeps_the_bot_from_is_made_later(bot: Bot, people: People, line: Faults) -> None:
    ada = await people("ada")
    old = await bot.meet(ada)
    with line.during("POST", "/join/", broken()):
        new = await ada.upgrade_room(old)
        await ada.invite(new, bot.user)
        while len(line.asked("POST", "/join/")) < 2:
            await bot.sync(accept=False)
    await ada.say(old, "stirs it")
    await bot.until(lambda: bot.moved == [(old, new)])
