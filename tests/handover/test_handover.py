"""Handing over: what goes to the staff's room, what comes back, and what stays where it was said."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from tests.conversation.guides import shipped_guide
from tests.handover.workshop import ROOM, Workshop, workshop
from tests.store.engines import ON_BOTH
from triagebot.conversation.events import Handed, Remarked, Returned
from triagebot.conversation.scene import FOR_THEM
from triagebot.messages import Pressed, Sent
from triagebot.shop.schema import WEEKDAYS, ClosedDates, Week
from triagebot.store.staff import Staff, Tickets

pytestmark = ON_BOTH

TEXTS = shipped_guide().language("en").texts
SHOP = shipped_guide().shop.name


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
    assert "wheel is out" in shop.says("bob", "the wheel is out").split("\n\n")[0]
    shop.says_in_room("ada", "back to the bot")
    assert shop.room()[-1] == TEXTS("handover-not-handed", code=code)


def test_two_cases_have_a_thread_each(shop: Workshop) -> None:
    shop.needs_a_person("bob")
    shop.needs_a_person("cleo")
    shop.says_in_room("ada", "to Cleo", thread=2)
    shop.says_in_room("ada", "to Bob", thread=1)
    assert shop.told("cleo")[-1].endswith("to Cleo")
    assert shop.told("bob")[-1].endswith("to Bob")
