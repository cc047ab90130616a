"""A third person in a room for two, and answers to what was put to somebody else: as they are read, and in rooms."""

from datetime import UTC, datetime
from typing import Any

import pytest

from tests.channels.matrix.conftest import People
from tests.channels.matrix.heard import Heard
from tests.channels.matrix.person import Person
from tests.channels.matrix.stage import Rider, Stage
from tests.channels.matrix.staged import EITHER, stage, stages
from tests.conversation.guides import shipped_guide
from triagebot.channels.matrix.reading import Reader
from triagebot.channels.matrix.seen import Room, Seen
from triagebot.messages import Beside, Incoming, Joined, Said

__all__ = ["stage", "stages"]

TEXTS = shipped_guide().language("en").texts
ADA, BOB = "@ada:shop.test", "@bob:far.test"
AT = datetime(2026, 1, 5, 9, tzinfo=UTC)
TWO = Room("!a", "!a", direct=True, encrypted=False, alone=ADA)
INVITED = Room("!a", "!a", direct=False, encrypted=False, alone=ADA)
THREE = Room("!a", "!a", direct=False, encrypted=False)
AGAIN_TWO = Room("!a", "!a", direct=True, encrypted=False, alone=BOB)


@pytest.fixture
def reader() -> Reader:
    return Reader("@wheels:shop.test", "Wheel Bot", "en", ("en",))


def seen(text: str, room: Room, sender: str = ADA, kind: Any = "words", **more: Any) -> Seen:
    return Seen(kind, "$1", room, sender, AT, text, **more)


def one(reader: Reader, what: Seen) -> Incoming:
    (incoming,) = reader.read(what)
    return incoming


# --- a room for two -------------------------------------------------------------------------------------------------


def test_an_invitation_alone_changes_nothing(reader: Reader) -> None:
    assert reader.read(seen("9", INVITED)) == (), "this room was never one for two"
    reader.read(seen("hello", TWO, name="Ada"))
    incoming = one(reader, seen("9", INVITED))
    assert (incoming.conversation, incoming.private, incoming.beside) == (ADA, True, None)


def test_who_was_there_first_keeps_their_conversation(reader: Reader) -> None:
    reader.read(seen("hello", TWO, name="Ada"))
    assert reader.read(seen("shall I count them?", THREE)) == ()
    incoming = one(reader, seen("9", THREE, answers_us=True, put_to=ADA))
    assert (incoming.conversation, incoming.private, incoming.beside) == (ADA, False, None)
    assert incoming.address == {"room": "!a", "reply": "$1", "person": ADA}
    pressed = one(reader, seen("1", THREE, kind="reaction", about="$question"))
    assert pressed.conversation == ADA


def test_who_comes_in_is_brought_with_the_one_who_was_there(reader: Reader) -> None:
    assert reader.read(seen("", THREE, BOB, "joined")) == ()
    reader.read(seen("hello", TWO, name="Ada"))
    later = Reader("@wheels:shop.test", "Wheel Bot", "en", ("en",))
    later.restore(reader.kept())
    incoming = one(later, seen("", THREE, BOB, "joined"))
    assert (incoming.conversation, incoming.content) == (f"!a - {BOB}", Joined())
    assert incoming.beside == Beside("Ada", ADA)
    assert later.read(seen("", THREE, "@cas:far.test", "joined")) == (), "a bridge may bring in dozens"
    assert later.read(seen("what a mess", THREE, BOB)) == ()
    incoming = one(later, seen("mine has 9", THREE, BOB, mentions_us=True))
    assert (incoming.content, incoming.beside) == (Said("mine has 9"), Beside("Ada", ADA))
    pressed = one(later, seen("👍", THREE, BOB, "reaction", about="$question"))
    assert pressed.beside == Beside("Ada", ADA)


def test_who_has_no_name_is_called_by_their_account(reader: Reader) -> None:
    reader.met(TWO, ADA)
    assert one(reader, seen("", THREE, BOB, "joined")).beside == Beside("ada", ADA)


def test_a_room_where_somebody_else_is_left_is_theirs(reader: Reader) -> None:
    reader.read(seen("hello", TWO))
    incoming = one(reader, seen("hello", AGAIN_TWO, BOB))
    assert (incoming.conversation, incoming.private, incoming.beside) == (BOB, True, None)


def test_who_is_forgotten_is_forgotten_here(reader: Reader) -> None:
    reader.read(seen("hello", TWO))
    reader.forget(ADA)
    assert ADA not in str(reader.kept())


# --- in a group -----------------------------------------------------------------------------------------------------


def test_what_was_put_to_somebody_else_is_brought_as_such(reader: Reader) -> None:
    answer: dict[str, Any] = {"answers_us": True, "put_to": ADA}
    assert one(reader, seen("9", THREE, BOB, **answer)).beside == Beside("ada")
    assert one(reader, seen("9", THREE, BOB, **answer, put_to_name="Ada")).beside == Beside("Ada")
    assert one(reader, seen("9", THREE, **answer)).beside is None
    assert one(reader, seen("9", THREE, BOB, answers_us=True)).beside is None, "it was put to nobody in particular"


def test_a_mere_number_in_anothers_thread_is_brought_and_nothing_else_is(reader: Reader) -> None:
    reader.read(seen("6 sprockets", THREE, mentions_us=True, thread="$root"))
    for said in ("looks like nine", "9 or so", "thanks"):
        assert reader.read(seen(said, THREE, BOB, thread="$root")) == ()
    incoming = one(reader, seen("9", THREE, BOB, thread="$root"))
    assert (incoming.beside, incoming.address["thread"]) == (Beside("ada"), "$root")
    assert reader.read(seen("looks like nine", THREE, BOB, thread="$root")) == (), "nor does it begin to listen to them"
    assert reader.read(seen("9", THREE, BOB, thread="$other")) == ()
    assert one(reader, seen("9", THREE, thread="$root")).beside is None


# --- on a homeserver ------------------------------------------------------------------------------------------------


@pytest.mark.asyncio
@EITHER
async def test_a_third_person_in_a_room_for_two(stage: Stage, people: People, encrypted: bool) -> None:
    ada, bob = await people("ada"), await people("bob")
    room = await stage.meet(ada, encrypted)
    hers = Rider(ada, room, bot=stage.user)

    async def tells(who: Person) -> Heard:
        """The next message that is for them."""
        return await who.hears(lambda heard: heard.sender == stage.user and heard.mentions == (who.user_id,), room=room)

    await hers.next()
    await hers.say("9 sprockets")
    await ada.invite(room, bob.user_id)
    assert "Your case code" in (await hers.say("case")).body, "it hears her as before while he is only invited"
    await bob.until(lambda: room in bob.client.invited_rooms)
    await bob.join(room)
    name = ada.user_id[1:].partition(":")[0]
    told = await tells(bob)
    assert "I’m the bot" in told.body
    assert f"{name}’s wheel" in told.body
    await bob.say(room, "what a mess")
    await bob.say(room, f"{stage.user} it has 6 sprockets")
    again = await tells(bob)
    assert again.body.startswith(TEXTS("newcomer.again", name=name))
    await bob.react(room, again.event_id, "👍")
    assert (await tells(bob)).body == TEXTS("newcomer-asked", name=name)
    asked = await ada.hears(lambda heard: TEXTS("newcomer-confirm") in heard.body)
    await stage.quiet()
    assert stage.cases(f"{room} - {bob.user_id}") == [""], "nobody gets a case that they did not ask for"
    await ada.say(room, TEXTS("newcomer-let"), reply_to=asked.event_id)
    assert (await tells(bob)).body.startswith(TEXTS("moved-here"))
    await stage.until(lambda: stage.cases(f"{room} - {bob.user_id}") == stage.cases(ada.user_id))


@pytest.mark.asyncio
@EITHER
async def test_a_number_under_anothers_question(stage: Stage, people: People, encrypted: bool) -> None:
    ada, bob = await people("ada"), await people("bob")
    room = await ada.create_group_room(stage.user, bob.user_id, encrypted=encrypted)
    await bob.until(lambda: room in bob.client.invited_rooms)
    await bob.join(room)
    await ada.sees_join(room, bob.user_id)
    await ada.sees_join(room, stage.user)
    await bob.sees_join(room, stage.user)
    his = Rider(bob, room, bot=stage.user)
    await ada.say(room, "hello", mention=stage.user)
    asked = await his.next()
    assert "I’m the bot" in asked.body, "who first speaks to it is greeted"
    name = ada.user_id[1:].partition(":")[0]
    await bob.say(room, "9", reply_to=asked.event_id)
    assert (await his.next()).body == TEXTS("put-to-another", name=name)
    await stage.restart()
    await bob.say(room, "9", reply_to=asked.event_id)
    assert (await his.next()).body == TEXTS("put-to-another", name=name), "nor after a restart"
    assert stage.cases(f"{room} - {bob.user_id}") == [""]
