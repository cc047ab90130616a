"""Handing over: what goes to the staff's room, what comes back, and what stays where it was said."""

import logging
from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from tests.conversation.guides import shipped_guide
from tests.delivery.recorded import After
from tests.doubles.telegram.content import plain_png
from tests.handover.workshop import ROOM, Workshop, workshop
from tests.words import words_of
from triagebot.conversation import Message, plain
from triagebot.conversation.events import Handed, Remarked, Returned
from triagebot.conversation.scene import FOR_THEM
from triagebot.delivery import WaitingClient
from triagebot.messages import Edited, Gone, InRoom, Pressed, Refused, Sent
from triagebot.shop.schema import WEEKDAYS, ClosedDates, Week
from triagebot.store.staff import Staff, Tickets

TEXTS = shipped_guide().language("en").texts
SHOP = shipped_guide().shop.name


@pytest.fixture
def shop(tmp_path: Path) -> Iterator[Workshop]:
    with workshop(tmp_path) as made:
        yield made


# --- handing over -------------------------------------------------------------------------------------------------


def test_the_card_goes_to_the_room_and_later_messages_follow(shop: Workshop) -> None:
    code = shop.needs_a_person("bob")
    card, message = shop.room()
    assert card.startswith(code)
    assert "4" in card
    assert card.endswith(TEXTS("handover-room-how"))
    assert message == TEXTS("handover-room-said", code=code, who="person", corrects="no", text="person")
    assert shop.roomy.threads == [code]
    assert shop.says("bob", "it is a blue commuter") == "", "a person has it"
    assert shop.room()[-1].endswith("writes:\nit is a blue commuter")
    assert shop.last().address == {"chat": ROOM, "thread": "thread 1"}


def test_whose_case_it_is_knows_who_speaks_from_then_on(shop: Workshop) -> None:
    shop.says("bob", "it stays still, 4 notches, about 40 mm")
    told = shop.says("bob", "person")
    assert TEXTS("handover-handed", shop=SHOP) in told
    assert TEXTS("what-next-person") not in told, "the bot is not to be told now"
    assert [choice.id for choice in shop.recorded.last("bob").reply.offers] == ["bot"]
    shop.says_in_room("ada", "Bring it in at three.")
    assert shop.told("bob")[-1] == TEXTS("staff-from-person", name="Ada", shop=SHOP, text="Bring it in at three.")


def test_what_came_in_meanwhile_is_in_the_case(shop: Workshop) -> None:
    code = shop.needs_a_person("bob")
    shop.says("bob", "12 splines after all")
    held = shop.held("bob")
    assert held is not None
    assert isinstance(shop.events(code)[-2], Handed)
    kept = shop.events(code)[-1]
    assert isinstance(kept, Remarked)
    assert (kept.what, kept.text) == (FOR_THEM, "12 splines after all")
    assert not any(fact.text == "12 splines after all" for fact in held.case.now.facts)


def test_commands_about_the_conversation_still_work(shop: Workshop) -> None:
    shop.needs_a_person("bob")
    assert TEXTS("handover-stands") in shop.says("bob", "help")
    assert "Your case code" in shop.says("bob", "my code")
    assert shop.guide.shop.contact.person in shop.says("bob", "privacy")
    assert len(shop.room()) == 2, "none of these is for the staff"


def test_back_to_the_bot_is_said_and_puts_a_question(shop: Workshop) -> None:
    shop.says("bob", "person")
    code = shop.code("bob")
    told = shop.says("bob", "Back to the bot")
    assert told.startswith(TEXTS("handover-returned"))
    assert "?" in told
    assert isinstance(shop.events(code)[-2], Returned)
    assert shop.room()[-1] == TEXTS("handover-room-went-on", code=code)
    before = len(shop.room())
    shop.says("bob", "the wheel is out")
    assert len(shop.room()) == before, "what the bot is told is not passed on"
    assert shop.state(code) == "waiting"
    assert TEXTS("handover-bot-here") in shop.says("bob", "back to the bot")


def test_the_button_for_it_does_the_same_once(shop: Workshop) -> None:
    code = shop.needs_a_person("bob")
    shown = shop.recorded.last("bob")
    press = Pressed(code, shown.turn, "bot")
    assert shop.says("bob", press).startswith(TEXTS("handover-returned"))
    assert shop.says("bob", press) == ""


def test_the_room_hears_what_the_bot_names_after_all(shop: Workshop) -> None:
    shop.says("bob", "person")
    code = shop.code("bob")
    shop.says("bob", "back to the bot")
    for said in ("it stays still, 4 notches, about 40 mm", "no name", "single", "steel axle", "no", "nutted", "unsure"):
        if any("has named" in told for told in shop.room()):
            break
        shop.says("bob", said)
    assert shop.room()[-1].startswith(f"{code}: since then, the bot has named ")


def test_a_member_s_answer_takes_it_from_the_bot_again(shop: Workshop) -> None:
    shop.needs_a_person("bob")
    shop.says("bob", "back to the bot")
    shop.says_in_room("ada", "Wait a moment.")
    assert shop.told("bob")[-1] == "\n\n".join(
        [TEXTS("staff-from-person", name="Ada", shop=SHOP, text="Wait a moment."), TEXTS("handover-taken")]
    )
    assert shop.says("bob", "all right") == ""


def test_trying_it_out_hands_nothing_over(shop: Workshop) -> None:
    shop.says("ada", "try")
    shop.says("ada", "person")
    assert shop.room() == []


def test_without_a_room_and_staff_the_bot_goes_on_as_ever(tmp_path: Path) -> None:
    from tests.counter.shop import Shop

    plain = Shop(tmp_path)
    try:
        plain.needs_a_person("bob")
        assert plain.says("bob", "12 splines")
    finally:
        plain.end()


# --- outside hours ------------------------------------------------------------------------------------------------

#: There, the clocks go forward on 29 March 2026 at 2, and back on 25 October at 3.
CLOSED_FOR_A_DAY = datetime(2026, 3, 4, tzinfo=UTC).date()
NIGHTS = "22:00-02:30"


@pytest.mark.parametrize(
    ("when", "is_open"),
    [
        (datetime(2026, 3, 3, 21, 30, tzinfo=UTC), True),  # half past ten in the evening
        (datetime(2026, 3, 4, 1, 15, tzinfo=UTC), True),  # after midnight, on a holiday that began meanwhile
        (datetime(2026, 3, 4, 1, 45, tzinfo=UTC), False),
        (datetime(2026, 3, 4, 21, 30, tzinfo=UTC), False),  # the holiday's own evening
        (datetime(2026, 3, 29, 0, 45, tzinfo=UTC), True),  # a quarter to two, before the clocks go forward
        (datetime(2026, 3, 29, 1, 15, tzinfo=UTC), True),  # 3:15; half past two does not exist, and closes at 3:30
        (datetime(2026, 3, 29, 1, 45, tzinfo=UTC), False),
        (datetime(2026, 10, 25, 0, 45, tzinfo=UTC), True),  # a quarter to three, for the first time
        (datetime(2026, 10, 25, 1, 15, tzinfo=UTC), True),  # a quarter past two, for the second time
        (datetime(2026, 10, 25, 1, 45, tzinfo=UTC), False),
    ],
)
def test_outside_hours_it_offers_to_go_on(tmp_path: Path, when: datetime, is_open: bool) -> None:
    guide = shipped_guide()
    week = Week.model_validate(dict.fromkeys(WEEKDAYS, NIGHTS))
    closed = ClosedDates(on=CLOSED_FOR_A_DAY, reason="inventory")
    about = guide.shop.about.model_copy(update={"hours": week, "time_zone": "Europe/Berlin", "closed": (closed,)})
    with workshop(tmp_path, replace(guide, shop=replace(guide.shop, about=about))) as shop:
        shop.clock.wait(seconds=(when - shop.clock() - timedelta(minutes=1)).total_seconds())
        told = shop.says("bob", "person")
        assert (TEXTS("handover-handed", shop=SHOP) in told) is is_open
        assert (TEXTS("handover-handed-shut", shop=SHOP) in told) is not is_open
        assert "?" in shop.says("bob", "back to the bot")


# --- from the room ------------------------------------------------------------------------------------------------


def test_who_is_no_staff_is_not_heard(shop: Workshop) -> None:
    code = shop.needs_a_person("bob")
    before = shop.told("bob")
    inbox = len(shop.rows("inbox", "id"))
    assert shop.says_in_room("admin", "Throw it away.").outcome == "ignored"
    assert shop.told("bob") == before
    assert len(shop.rows("inbox", "id")) == inbox, "nothing of it is kept"
    assert shop.state(code) == "waiting"


def test_who_leaves_is_heard_no_more(shop: Workshop) -> None:
    shop.staff("eve")
    code = shop.needs_a_person("bob")
    shop.says_in_room("eve", "Mine.")
    assert shop.state(code) == "claimed"
    with shop.writing() as tx:
        Staff(tx).remove(tx.lookup_hash(f"{shop.roomy.name}:eve"), shop.clock())
        Tickets(tx).release_all(tx.lookup_hash(f"{shop.roomy.name}:eve"))
    assert shop.says_in_room("eve", "And one more thing.").outcome == "ignored"
    assert shop.told("bob")[-1].endswith("Mine.")
    assert shop.state(code) == "waiting"
    shop.says("bob", "hello?")
    assert shop.room()[-1].endswith("hello?")


def test_who_answers_first_has_it_and_others_may_answer_too(shop: Workshop) -> None:
    shop.staff("eve")
    code = shop.needs_a_person("bob")
    shop.says_in_room("ada", "Which bike is it?")
    shop.says_in_room("eve", "And how old?")
    ticket = shop.ticket(code)
    assert ticket is not None
    assert ticket.holder == shop.mark("ada")
    assert [text.split(" at ")[0] for text in shop.told("bob")[-2:]] == ["From Ada", "From Eve"]
    assert "wrote to them: Which bike is it?" in shop.says("ada", f"history {code}")


def test_a_correction_corrects_nothing_that_went_out(shop: Workshop) -> None:
    code = shop.needs_a_person("bob")
    shop.says_in_room("ada", "At three.", key="r1")
    before = shop.told("bob")
    shop.edits_in_room("ada", "At four.", "r1")
    assert shop.told("bob") == before
    assert shop.room()[-1] == TEXTS("handover-edited", code=code)
    assert shop.last().address["under"] == "m1"
    assert shop.edits_in_room("ada", "among us", "r-internal").outcome == "ignored"


def test_what_is_forwarded_or_cannot_be_passed_on_is_told(shop: Workshop) -> None:
    code = shop.needs_a_person("bob")
    before = shop.told("bob")
    shop.says_in_room("ada", "Somebody else's words", forwarded=True)
    assert shop.room()[-1] == TEXTS("handover-forwarded", code=code)
    shop.says_in_room("ada", Sent("voice"))
    assert shop.room()[-1] == TEXTS("handover-words-only", code=code)
    assert shop.told("bob") == before


def test_an_answer_that_comes_twice_goes_out_once(shop: Workshop) -> None:
    shop.needs_a_person("bob")
    shop.says_in_room("ada", "At three.", key="r1")
    assert shop.says_in_room("ada", "At three.", key="r1").outcome == "duplicate"
    assert sum(text.endswith("At three.") for text in shop.told("bob")) == 1


def test_an_answer_to_a_closed_case_says_how_to_open_it(shop: Workshop) -> None:
    code = shop.needs_a_person("bob")
    shop.says("ada", f"close {code} fitted 4n 40")
    before = shop.told("bob")
    shop.says_in_room("ada", "One more thing")
    assert shop.room()[-1] == TEXTS("handover-closed", code=code)
    assert shop.told("bob") == before
    assert f"{code} is yours" in shop.says("ada", f"claim {code}")
    shop.says_in_room("ada", "One more thing")
    assert shop.told("bob")[-1].split("\n\n")[0].endswith("One more thing")


def test_a_member_gives_it_back_to_the_bot(shop: Workshop) -> None:
    shop.says("bob", "person")
    code = shop.code("bob")
    shop.says_in_room("ada", "back to the bot")
    assert shop.told("bob")[-1].startswith(TEXTS("handover-returned-by", name="Ada"))
    assert shop.recorded.last("bob").reply.question is not None
    assert shop.room()[-1] == TEXTS("handover-handed-back", code=code)
    assert "the wheel is out" in shop.says("bob", "the wheel is out")
    shop.says_in_room("ada", "back to the bot")
    assert shop.room()[-1] == TEXTS("handover-not-handed", code=code)


def test_two_cases_have_a_thread_each(shop: Workshop) -> None:
    shop.needs_a_person("bob")
    shop.needs_a_person("cleo")
    shop.says_in_room("ada", "to Cleo", thread=2)
    shop.says_in_room("ada", "to Bob", thread=1)
    assert shop.told("cleo")[-1].endswith("to Cleo")
    assert shop.told("bob")[-1].endswith("to Bob")


# --- photos -------------------------------------------------------------------------------------------------------


def test_photos_pass_both_ways(shop: Workshop) -> None:
    shop.roomy.files = {"early": plain_png(64, 48), "late": plain_png(64, 48), "hers": plain_png(64, 48)}
    shop.brings("bob", Sent("photo", ({"file": "early"},)))
    code = shop.needs_a_person("bob")
    assert [m.photo for m in shop.roomy.screens[ROOM]] == [None, 1, None]
    assert shop.says("bob", Sent("photo", ({"file": "late"},), "and from behind")) == ""
    assert shop.room()[-2:] == [
        TEXTS("handover-room-said", code=code, who="person", corrects="no", text="and from behind"),
        TEXTS("handover-room-photo", code=code),
    ]
    assert shop.last().photo == 2
    shop.says_in_room("ada", Sent("photo", ({"file": "hers"},), "Like this one?"))
    words, photo = shop.roomy.screens["bob"][-2:]
    assert words_of(words.reply).endswith("Like this one?")
    assert words_of(photo.reply) == TEXTS("handover-from-photo", name="Ada", shop=SHOP)
    assert photo.photo == 3
    picture = shop.run(shop.delivery.photo(3))
    assert picture is not None
    assert picture.startswith(b"\xff\xd8\xff")


def test_a_photo_alone_takes_the_case_from_the_bot_in_so_many_words(shop: Workshop) -> None:
    shop.roomy.files = {"hers": plain_png(64, 48)}
    shop.needs_a_person("bob")
    shop.says("bob", "back to the bot")
    shop.says_in_room("ada", Sent("photo", ({"file": "hers"},)))
    assert shop.told("bob")[-2:] == [TEXTS("handover-taken"), TEXTS("handover-from-photo", name="Ada", shop=SHOP)]


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
        tx.connection.exec_driver_sql("UPDATE events SET body = 'rubbish' WHERE case_id = ?", (stored.id,))
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
