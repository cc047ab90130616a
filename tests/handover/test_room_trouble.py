"""Photos in the staff's room, and what goes wrong there: nothing that was said is lost, and nobody meets silence."""

import logging
from pathlib import Path

import pytest

from tests.conversation.guides import shipped_guide
from tests.delivery.recorded import After
from tests.doubles.telegram.content import plain_png
from tests.handover.workshop import ROOM, Workshop, workshop
from tests.words import words_of
from triagebot.conversation import Message, plain
from triagebot.conversation.blocks import Remark
from triagebot.delivery import WaitingClient
from triagebot.messages import Edited, Gone, InRoom, Refused, Sent

TEXTS = shipped_guide().language("en").texts
SHOP = shipped_guide().shop.name


# --- photos -------------------------------------------------------------------------------------------------------


def test_photos_pass_both_ways(shop: Workshop) -> None:
    shop.roomy.files = {"early": plain_png(64, 48), "late": plain_png(64, 48), "hers": plain_png(64, 48)}
    shop.brings("bob", Sent("photo", ({"file": "early"},)))
    code = shop.needs_a_person("bob")
    assert [m.photo for m in shop.roomy.screens[ROOM]] == [None, 1, None]
    assert shop.says("bob", Sent("photo", ({"file": "late"},), "and from behind")) == ""
    assert shop.room()[-1] == TEXTS(
        "handover-room-said", code=code, who="person", corrects="no", text="and from behind"
    )
    assert shop.last().photo == 2
    shop.says_in_room("ada", Sent("photo", ({"file": "hers"},), "Like this one?"))
    photo = shop.roomy.screens["bob"][-1]
    assert words_of(photo.reply) == TEXTS("staff-from-person", name="Ada", shop=SHOP, text="Like this one?")
    assert photo.photo == 3
    picture = shop.run(shop.delivery.photo(3))
    assert picture is not None
    assert picture.startswith(b"\xff\xd8\xff")


def test_a_photo_alone_takes_the_case_from_the_bot_in_so_many_words(shop: Workshop) -> None:
    shop.roomy.files = {"hers": plain_png(64, 48)}
    shop.needs_a_person("bob")
    shop.says("bob", "back to the bot")
    shop.says_in_room("ada", Sent("photo", ({"file": "hers"},)))
    (photo, taken) = shop.roomy.screens["bob"][-1].reply.of(Remark)
    assert photo.text == TEXTS("handover-from-photo", name="Ada", shop=SHOP, count=1)
    assert taken.text == TEXTS("handover-taken")


def test_a_photo_that_cannot_be_had_is_told(shop: Workshop) -> None:
    shop.roomy.files = {"broken": b"none"}
    code = shop.needs_a_person("bob")
    shop.brings("bob", Sent("photo", ({"file": "broken"},)))
    assert shop.room()[-1] == TEXTS("handover-room-photo-lost", code=code)
    shop.says_in_room("ada", Sent("photo", ({"file": "broken"},)), message="m7")
    assert shop.room()[-1] == TEXTS("handover-photo-lost", code=code)
    assert shop.last().address["under"] == "m7"


def test_what_cannot_be_passed_on_is_told_to_both(shop: Workshop) -> None:
    code = shop.needs_a_person("bob")
    assert shop.says("bob", Sent("voice")) == TEXTS("handover-cannot-pass")
    assert shop.room()[-1] == TEXTS("handover-room-thing", code=code, who="person")


# --- what goes wrong ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize("error", [Gone("blocked"), Refused("too long")])
def test_an_answer_that_does_not_arrive_is_told_under_it(shop: Workshop, error: Exception) -> None:
    code = shop.needs_a_person("bob")
    shop.roomy.fates["bob"].extend([error, error])
    shop.says_in_room("ada", "At three.", message="m9")
    assert shop.room()[-1] == TEXTS("handover-failed", code=code)
    assert shop.last().address["under"] == "m9"


def test_who_never_heard_that_a_person_has_it_meets_no_silence(shop: Workshop) -> None:
    shop.needs_a_person("bob")
    shop.says("bob", "back to the bot")
    # The buttons of the answer are taken away first.
    shop.roomy.fates["bob"].extend([Refused("too long"), Refused("too long")])
    shop.says_in_room("ada", "Wait a moment.")
    assert "the wheel is out" in shop.says("bob", "the wheel is out")


def test_a_case_that_cannot_be_read_holds_up_neither_what_failed_nor_the_next_start(shop: Workshop) -> None:
    broken, code = shop.needs_a_person("bob"), shop.needs_a_person("cid")
    with shop.store.store.begin() as tx:
        stored = tx.case_by_code(broken)
        assert stored is not None
        tx.connection.exec_driver_sql(f"UPDATE events SET body = 'rubbish' WHERE case_id = {stored.id}")
        relayed = {"number": stored.id, "code": broken, "under": "m9", "takes": True}
        (told,) = shop.delivery._hand_over.undelivered(tx, {"relayed": relayed})
    assert words_of(told.reply) == TEXTS("handover-failed", code=broken)
    assert told.beside["under"] == "m9"
    shop.reopened("elsewhere")
    heads = [words.split(",")[0] for words in shop.room("elsewhere")]
    assert code in heads
    assert broken not in heads


def test_who_cannot_be_reached_any_more_is_told_at_once(shop: Workshop) -> None:
    code = shop.needs_a_person("bob")
    shop.roomy.fates["bob"].extend([Gone("blocked")] * 2)
    shop.says_in_room("ada", "At three.")
    shop.says_in_room("ada", "At four.")
    assert shop.room()[-1] == TEXTS("handover-unreachable", code=code)


def test_a_room_that_is_gone_loses_nothing(shop: Workshop, caplog: pytest.LogCaptureFixture) -> None:
    shop.roomy.fates[ROOM].extend([Gone("deleted")] * 9)
    with caplog.at_level(logging.ERROR):
        code, other = shop.needs_a_person("bob"), shop.needs_a_person("cleo")
        shop.says("bob", "still there?")
    assert [record.message for record in caplog.records if "staff's room" in record.message] != []
    assert sum("staff's room" in record.message for record in caplog.records) == 1
    assert (shop.state(code), shop.state(other)) == ("waiting", "waiting")
    assert "12 spl" not in shop.says("ada", f"claim {code}")
    shop.reopened("another room")
    assert sorted(text[:7] for text in shop.room("another room")) == sorted([code, code, other])
    assert any(text.endswith("writes:\nstill there?") for text in shop.room("another room"))
    shop.says("bob", "and now?")
    assert shop.room("another room")[-1].endswith("and now?")


def test_a_crash_after_the_card_went_out_loses_no_thread(shop: Workshop) -> None:
    shop.says("bob", "it stays still, 4 notches, about 40 mm")
    shop.roomy.fates[ROOM].append(After(shop.store.die))
    shop.bring_and_die("bob", "person")
    shop.crash()
    shop.run(shop.delivery.idle())
    shop.says_in_room("ada", "At three.")
    assert shop.told("bob")[-1].endswith("At three.")
    assert len(shop.roomy.threads) == 1


def test_cases_from_before_there_was_a_room_are_laid_out(tmp_path: Path) -> None:
    with workshop(tmp_path) as shop:
        shop.rooms = ()
        shop.close()
        shop.open()
        code = shop.needs_a_person("bob")
        assert shop.room() == []
        shop.reopened(ROOM)
        assert shop.room()[0].startswith(code)
        shop.says_in_room("ada", "We are here.")
        assert shop.told("bob")[-1].endswith("We are here.")


def test_a_case_of_another_process_is_laid_out_when_the_delivery_looks_around(shop: Workshop) -> None:
    waiting_client = WaitingClient(shop.guide, shop.store.store, shop.clock, shop.codes)
    waiting_client.hear("terminal:me", Message("person"), "en")
    assert shop.room() == []
    shop.run(shop.delivery._do(shop.delivery._lay_out))
    shop.run(shop.delivery.idle())
    assert shop.room()[0].startswith("222-222")
    shop.says_in_room("ada", "Where are you?")
    assert shop.room()[-1] == TEXTS("handover-waits", code="222-222"), "nobody sends to a terminal"
    heard = waiting_client.hear("terminal:me", Message("at home"), "en")
    assert plain(heard.reply).startswith(TEXTS("staff-from-person", name="Ada", shop=SHOP, text="Where are you?"))
    assert "Where are you?" not in plain(waiting_client.hear("terminal:me", Message("coming"), "en").reply)


def test_a_mentor_s_words_are_told_from_those_of_whose_case_it_is(shop: Workshop) -> None:
    shop.says("mo", "I’m helping somebody: the blue commuter")
    told = shop.says("mo", "person")
    assert TEXTS("handover-handed", shop=SHOP) in told
    shop.says("mo", "it wobbles, they say")
    assert shop.room()[-1].endswith("their mentor writes:\nit wobbles, they say")
    shop.says_in_room("ada", "Let them bring it.")
    assert shop.told("mo")[-1].endswith("Let them bring it.")
    assert "?" in shop.says("mo", "back to the bot")


def test_who_wants_to_be_forgotten_is(shop: Workshop) -> None:
    code = shop.needs_a_person("bob")
    shop.says("bob", "the wheel is Ada's, by the way")
    shop.says("bob", "forget me")
    shop.says("bob", "yes")
    last = shop.last()
    assert words_of(last.reply) == TEXTS("handover-room-forgotten", code=code)
    assert last.closes
    assert last.address["thread"] == "thread 1"
    with shop.reading() as view:
        bodies = view.connection.exec_driver_sql("SELECT body FROM outbox").scalars().all()
        said = [view.cipher.decrypt(body) for body in bodies]
        assert not any(code in body or "by the way" in body for body in said)
        rooms = view.connection.exec_driver_sql("SELECT count(*) FROM conversations").scalar()
    assert rooms == 1, "Ada's own"
    assert shop.says_in_room("ada", "Are you there?").outcome == "ignored"


def test_forgetting_while_the_card_waits_takes_it_back(shop: Workshop) -> None:
    shop.says("bob", "it stays still, 4 notches, about 40 mm")
    shop.roomy.fates[ROOM].extend([Gone("deleted")])
    shop.says("bob", "person")
    shop.says("bob", "forget me")
    shop.says("bob", "yes")
    assert shop.room() == []


def test_a_correction_of_theirs_is_passed_on_and_withdraws_nothing(shop: Workshop) -> None:
    shop.says("bob", "it stays still, 4 notches, about 40 mm", key="b1")
    shop.says("bob", "person")
    before = shop.held("bob")
    shop.says("bob", Edited("it stays still, 4 notches, about 32 mm", "b1"))
    after = shop.held("bob")
    assert before is not None
    assert after is not None
    assert after.case.now.facts == before.case.now.facts
    assert shop.room()[-1].endswith("corrects themselves:\nit stays still, 4 notches, about 32 mm")


# --- out of reach, closed, and what answers nothing -------------------------------------------------------------------


def test_what_was_said_while_the_room_was_out_of_reach_is_laid_out_when_it_is_back(shop: Workshop) -> None:
    code = shop.needs_a_person("bob")
    shop.roomy.files = {"late": plain_png(64, 48)}
    shop.roomy.fates[ROOM].extend([Gone("kicked out")] * 9)
    shop.says("bob", "can you call me?")
    shop.brings("bob", Sent("photo", ({"file": "late"},)))
    shop.says("ada", f"say {code} When?")
    shop.says("bob", "at five")
    shop.roomy.fates[ROOM].clear()
    before = len(shop.room())
    shop.looks_around()
    assert len(shop.room()) == before + 5
    laid_out = shop.room()[before:]
    assert laid_out[0].startswith(code)
    assert laid_out[1].endswith("person") or laid_out[1].endswith("can you call me?")
    for words in ("can you call me?", "Ada answered: When?", "at five"):
        assert sum(each.endswith(words) for each in laid_out) == 1
    assert shop.last().photo is not None
    before = len(shop.room())
    shop.looks_around()
    assert len(shop.room()) == before, "once is enough"
    shop.says("bob", "and now?")
    assert shop.room()[-1].endswith("and now?")


def test_a_room_that_stays_out_of_reach_is_tried_again_and_again(shop: Workshop) -> None:
    shop.roomy.fates[ROOM].extend([Gone("kicked out")] * 3)
    code = shop.needs_a_person("bob")
    for _ in range(2):
        shop.looks_around()
        assert shop.room() == []
    shop.looks_around()
    assert shop.room()[0].startswith(code)


def test_a_first_message_that_the_room_refuses_is_tried_again(shop: Workshop) -> None:
    shop.roomy.fates[ROOM].extend([Refused("no rights")] * 2)
    code = shop.needs_a_person("bob")
    shop.looks_around()
    assert shop.room() == []
    shop.looks_around()
    assert shop.room()[0].startswith(code)


def test_a_case_closed_in_private_is_told_in_its_room_which_closes_its_thread(shop: Workshop) -> None:
    code = shop.needs_a_person("bob")
    shop.says("ada", f"close {code} 4n 40 fitted")
    assert shop.room()[-1] == TEXTS("handover-room-closed", code=code, name="Ada")
    assert shop.last().closes
    shop.looks_around()
    assert shop.room()[-1] == TEXTS("handover-room-closed", code=code, name="Ada"), "nothing is laid out again"


def test_a_case_closed_at_a_terminal_is_told_in_its_room(shop: Workshop) -> None:
    code = shop.needs_a_person("bob")
    client = WaitingClient(shop.guide, shop.store.store, shop.clock, bench=True, rooms=shop.rooms)
    client.hear("terminal:eve", Message(shop.invitation(name="Eve")), "en")
    client.hear("terminal:eve", Message(f"close {code} 4n 40 fitted"), "en")
    shop.looks_around()
    assert shop.room()[-1] == TEXTS("handover-room-closed", code=code, name="Eve")
    assert shop.last().closes


def test_words_in_a_thread_that_answer_nothing_are_hinted_at_once(shop: Workshop) -> None:
    code = shop.needs_a_person("bob")
    aside = InRoom("ada", f"{ROOM} thread 1", answers=False)
    told = len(shop.told("bob"))
    shop.says_in_room("ada", "tell him at five", message="m4", in_room=aside)
    assert shop.room()[-1] == TEXTS("handover-room-hint", code=code)
    assert shop.last().address["under"] == "m4"
    before = len(shop.room())
    shop.says_in_room("ada", "or at six", in_room=aside)
    shop.says_in_room("zoe", "hello", in_room=InRoom("zoe", f"{ROOM} thread 1", answers=False))
    assert len(shop.room()) == before
    shop.clock.wait(minutes=40)
    shop.says_in_room("ada", "or at seven", in_room=aside)
    assert shop.room()[-1] == TEXTS("handover-room-hint", code=code)
    assert len(shop.told("bob")) == told, "nothing of it went out"
