"""At the bench: no case is opened, what is missing is remembered, trying it out and going back, what is one's own."""

import pytest

from tests.conversation.guides import shipped_guide
from tests.counter.shop import Shop
from triagebot.messages import Arrived, Chose, Commanded, Edited, Pressed, Sent, turn_number
from triagebot.store.staff import Tickets


def test_lines_open_no_case(shop: Shop) -> None:
    shop.staff("ada")
    for text in (
        "12 spl 23.4 stays",
        "12 spl",
        "stays",
        "tools for 4n",
        "the small four",
        "asdf",
        "help",
        "queue",
        "new",
    ):
        assert shop.says("ada", text)
    for content in (
        Arrived(),
        Arrived(new=True),
        Commanded("help"),
        Commanded("back"),
        Sent("photo", ({"file": "f"},)),
    ):
        assert shop.says("ada", content)
    assert shop.cases() == 0
    assert shop.rows("photos", "id") == []


@pytest.mark.parametrize("asked", ["about 4n 40", "fits what 4n 40"])
def test_who_asks_about_what_is_seen_and_no_tool_has_it_read_as_a_line(shop: Shop, asked: str) -> None:
    shop.staff("ada")
    assert shop.says("ada", asked).startswith("Sure: single-speed freewheel, 4 notches, 40 mm.")


def test_what_is_missing_is_remembered_for_one_wheel(shop: Shop) -> None:
    shop.staff("ada")
    assert "Missing: the spin test." in shop.says("ada", "12 spl")
    assert "the count is 12" in shop.says("ada", "stays")
    shop.says("ada", "12 spl")
    shop.clock.wait(minutes=30)
    assert "the count is 12" not in shop.says("ada", "stays")


def test_and_outlives_a_restart(shop: Shop) -> None:
    shop.staff("ada")
    shop.says("ada", "12 spl")
    shop.crash()
    assert "the count is 12" in shop.says("ada", "stays")


def test_cleared_it_is_another_wheel(shop: Shop) -> None:
    shop.staff("ada")
    shop.says("ada", "12 spl")
    assert shop.says("ada", "new") == "Cleared. Next wheel?"
    assert "the count is 12" not in shop.says("ada", "stays")


@pytest.mark.parametrize(
    ("line", "kind"),
    [
        ("3n", "rare freewheel, 3 notches"),
        ("8n 30", "rare freewheel, 8 notches"),
        ("22 spl", "rare freewheel, 22 to 24 splines"),
        ("16 outer 44", "rare ring, 16 outside notches"),
        ("tools for 3n", "rare freewheel, 3 notches"),
    ],
)
def test_a_rare_kind_is_not_on_the_list_and_no_other_is_named_beside_it(shop: Shop, line: str, kind: str) -> None:
    shop.staff("ada")
    answer = shop.says("ada", line)
    assert f"{kind}. It isn’t on the list of tools: I know no remover for it." in answer
    assert "Could be" not in answer
    for _ in range(12):
        shown = shop.recorded.last("ada")
        if shown.reply.question is None:
            break
        answer = shop.says("ada", Pressed("", shown.turn, "unsure"))
    assert kind in answer
    assert "Tool:" not in answer
    assert shop.recorded.last("ada").reply.result.remover is None
    guide = shipped_guide()
    names = [guide.language("en").texts(f"fastening-{row}.short") for row in guide.topic.fastenings]
    assert [name for name in names if name in answer] == [kind]


@pytest.mark.parametrize("line", ["6n", "tools for 6n"])
def test_flats_of_a_locknut_are_named_with_the_rare_kind_that_looks_like_them_and_no_tool(
    shop: Shop, line: str
) -> None:
    shop.staff("ada")
    answer = shop.says("ada", line)
    first, second = answer.splitlines()
    assert first.startswith("locknut or cone flats, not the fitting. ")
    assert second == (
        "If it is the fitting: rare freewheel, 6 notches. It isn’t on the list of tools: I know no remover for it."
    )
    assert shop.recorded.last("ada").reply.result.remover is None


@pytest.mark.parametrize("line", ["16 spl", "10 spl stays", "5n stays 25"])
def test_a_count_that_nothing_listed_has_names_no_tool(shop: Shop, line: str) -> None:
    shop.staff("ada")
    answer = shop.says("ada", line)
    for _ in range(12):
        shown = shop.recorded.last("ada")
        if shown.reply.question is None:
            break
        answer = shop.says("ada", Pressed("", shown.turn, "unsure"))
    assert "Tool:" not in answer
    assert shop.recorded.last("ada").reply.result.remover is None


def last_turn(shop: Shop) -> int:
    return shop.recorded.last("ada").turn


@pytest.mark.parametrize("line", ["16 spl", "16n", "16 spl 30 mm stays", "16 spl 23.4 turns", "24 spl 23.4 turns"])
def test_a_count_that_no_listed_kind_has_is_said_to_be_off_the_list(shop: Shop, line: str) -> None:
    shop.staff("ada")
    answer = shop.says("ada", line)
    assert "Not on my list" in answer
    assert "12-spline" not in answer
    assert "4 notches" not in answer
    assert "Not on my list" not in shop.says("ada", "40n"), "so wide, and not so many"


def test_a_count_that_fits_what_is_named_is_not_said_to_be_odd(shop: Shop) -> None:
    shop.staff("ada")
    assert "Look again" not in shop.says("ada", "24 spl 25mm stays")


def test_a_button_answers_what_is_missing(shop: Shop) -> None:
    shop.staff("ada")
    shop.says("ada", "3 outer 40 turns")
    shown = shop.recorded.last("ada")
    assert shown.reply.question is not None
    assert [choice.id for choice in shown.reply.question.choices] == ["coasts", "fixed"]
    assert "the crab claw" in shop.says("ada", Pressed("", shown.turn, "coasts"))


def test_a_button_of_an_older_line_changes_nothing(shop: Shop) -> None:
    shop.staff("ada")
    shop.says("ada", "3 outer 40 turns")
    old = last_turn(shop)
    shop.says("ada", "12 spl")
    assert (
        shop.says("ada", Pressed("", old, "coasts")) == "That button belongs to an earlier line. Write the line again."
    )
    assert "the count is 12" in shop.says("ada", "stays")


def test_nor_does_one_of_an_older_line_that_asked_the_same(shop: Shop) -> None:
    shop.staff("ada")
    shop.says("ada", "12 spl")
    old = last_turn(shop)
    shop.says("ada", "splines")
    question = shop.recorded.last("ada").reply.question
    assert question is not None
    assert question.id == "spin"
    assert "earlier line" in shop.says("ada", Pressed("", old, "stays"))


def test_the_same_button_twice_answers_once(shop: Shop) -> None:
    shop.staff("ada")
    shop.says("ada", "12 spl")
    press = Pressed("", last_turn(shop), "stays")
    assert "Could be" in shop.says("ada", press)
    assert "earlier line" in shop.says("ada", press)


def test_trying_it_out_is_an_ordinary_conversation(shop: Shop) -> None:
    shop.staff("ada")
    text = shop.says("ada", "try")
    assert text.startswith("You’re seeing what a customer sees.")
    assert "I’m the bot" in text
    assert shop.cases() == 1
    assert shop.says("ada", "12 splines").startswith("12 splines, then.")
    assert "words always work" in shop.says("ada", "help")
    shop.says("ada", Pressed(shop.code("ada"), turn_number(shop.held("ada").case), "stays"))  # type: ignore[union-attr]
    assert shop.says("ada", "done") == "Done. Back to staff view."
    assert shop.says("ada", "4n 40").startswith("Sure: ")
    assert shop.cases() == 1


def test_who_tries_it_out_does_not_wait_in_the_queue(shop: Shop) -> None:
    shop.staff("ada")
    shop.says("ada", "try")
    shop.says("ada", "person")
    assert shop.state(shop.code("ada")) == ""
    shop.says("ada", "done")
    assert shop.says("ada", "queue") == "Nobody is waiting."


def test_another_try_is_another_case(shop: Shop) -> None:
    shop.staff("ada")
    shop.says("ada", "try")
    first = shop.code("ada")
    shop.says("ada", "done")
    shop.says("ada", "try")
    assert shop.code("ada") != first


def test_a_member_s_own_case_goes_on_undisturbed(shop: Shop) -> None:
    """Somebody who was a customer before: the buttons of their case still answer it."""
    shop.says("ada", "it stays still, 4 notches")
    shown = shop.recorded.last("ada")
    shop.staff("ada")
    before = len(shop.held("ada").case.events)  # type: ignore[union-attr]
    shop.says("ada", "12 spl")
    assert len(shop.held("ada").case.events) == before  # type: ignore[union-attr]
    shop.says("ada", Pressed(shown.case, shown.turn, "unsure"))
    assert len(shop.held("ada").case.events) > before  # type: ignore[union-attr]


def test_being_forgotten_is_for_everybody(shop: Shop) -> None:
    shop.says("ada", "4 notches")
    shop.staff("ada")
    assert "Shall I delete" in shop.says("ada", "forget me")
    assert "I’ve deleted everything" in shop.says("ada", "yes")
    assert shop.cases() == 0
    assert shop.member("ada") is not None, "staff until somebody removes them"
    assert shop.says("ada", "4n 40").startswith("Sure: ")


def test_privacy_and_language_are_for_everybody(shop: Shop) -> None:
    shop.staff("ada")
    assert "I keep what you tell me" in shop.says("ada", Commanded("privacy"))
    assert "I only speak English" in shop.says("ada", "language")
    shop.says("ada", Chose("en"))
    assert shop.says("ada", "4n 40").startswith("Sure: ")


def test_a_corrected_line_is_answered_anew_and_a_corrected_order_is_not_obeyed(shop: Shop) -> None:
    shop.staff("ada")
    code = shop.needs_a_person("bob")
    shop.says("ada", "4n 4", key="first")
    assert "the big four" in shop.says("ada", Edited("4n 40", of="first"))
    for text in (f"claim {code}", f"close {code} fitted", f"say {code} bring-it", f"snooze {code} 2h", "try"):
        refused = "I can’t use an edit or a forward here. Please write it again."
        assert shop.says("ada", Edited(text, of="first")) == refused
        assert shop.says("ada", text, forwarded=True) == refused
    assert code in shop.says("ada", Edited(f"case {code}", of="first"))
    assert shop.state(code) == "waiting"
    assert shop.rows("deeds", "what") == [("joined",)]


def test_who_comes_in_hears_how_many_wait(shop: Shop) -> None:
    shop.staff("ada")
    assert shop.says("ada", Arrived()).startswith("Nobody is waiting.")
    shop.needs_a_person("bob")
    assert shop.says("ada", Arrived()).startswith("One person is waiting")
    shop.needs_a_person("cyd")
    assert shop.says("ada", "help").startswith("2 people are waiting")
    with shop.reading() as view:
        assert Tickets(view).waiting() == 2
