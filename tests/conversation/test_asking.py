"""A question that is no answer: what the notes say is offered, and what was asked stays open."""

from dataclasses import replace

import pytest

from tests.conversation.invariants import hold_after_a_turn
from tests.words import words_of
from triagebot.conversation import Guide, plain
from triagebot.conversation.events import Remarked
from triagebot.testing import ScriptedPerson

TIGHT = "is it started by hand when it goes back?"
FOUND = ("6 sprockets, the middle stays still", "4 notches", "24 mm with a calliper", *["don't know"] * 4)


def after(guide: Guide, *said: str) -> ScriptedPerson:
    person = ScriptedPerson(guide)
    person.says(*said)
    return person


def asks(person: ScriptedPerson, text: str) -> str:
    """What comes of a question; nothing that was told, asked or decided may change by it."""
    before = person.case
    person.says(text)
    hold_after_a_turn(person.guide, person.case, person.reply, person.last.events)
    assert (person.case.now.question, person.case.now.outcome) == (before.now.question, before.now.outcome)
    assert person.case.now.facts == before.now.facts
    return words_of(person.reply)


def test_what_was_found_is_looked_up_in_its_own_note(guide: Guide) -> None:
    person = after(guide, *FOUND)
    assert person.case.now.outcome == "answer"
    said = asks(person, TIGHT)
    assert "In our notes, “Put it back”: Freewheel with 4 notches, 24 mm" in said
    assert "by hand" in said
    assert "read all of it, with its cautions" in said
    (link,) = person.reply.notes
    assert link.url in said
    assert link in person.reply.notes


def test_the_question_stays_open_and_shows_again(guide: Guide) -> None:
    person = after(guide, "6 sprockets, the middle stays still", "notches")
    question = person.reply.question
    assert question is not None
    assert "That depends on what holds your sprockets" in asks(person, TIGHT)
    assert person.reply.question is not None
    assert person.reply.question.id == question.id
    assert person.reply.question.text in plain(person.reply)
    person.says("4")
    assert person.case.now.question != question.id


def test_while_few_are_plausible_each_has_its_link_and_no_words_of_its_note(guide: Guide) -> None:
    person = after(guide, "6 sprockets, the middle stays still", "notches, 24.5 mm by calliper")
    said = asks(person, TIGHT)
    assert [link.title.split(":")[0] for link in person.reply.notes] == [
        "Freewheel with 4 notches, 24 mm",
        "Freewheel with 2 notches",
    ]
    assert "It says" not in said


def test_before_anything_is_known_nothing_is_told_of_any_fastening(guide: Guide) -> None:
    said = asks(after(guide, "hello"), TIGHT)
    assert said == guide.language("en").texts("notes-depend")


def test_what_holds_for_every_wheel_is_told_at_once(guide: Guide) -> None:
    person = after(guide, "hello")
    said = asks(person, "how do I make an emergency stop with the trailer?")
    assert "In our notes" not in said
    general = replace(
        guide.shop.notes[0],
        head=guide.shop.notes[0].head.model_copy(update={"fastenings": ()}),
    )
    person.guide = replace(guide, shop=replace(guide.shop, notes=(general,)))
    assert "It says: “" in asks(person, TIGHT)


@pytest.mark.parametrize("words", ["how do I check?", "how do I check that?", "how?", "where do I look", "help"])
def test_how_to_check_stays_what_it_is(guide: Guide, words: str) -> None:
    for person in (after(guide, "hello"), after(guide, *FOUND[:2]), after(guide, *FOUND)):
        asks(person, words)
        assert person.reply.notes == ()


def test_after_the_end_a_question_about_the_work_is_none_about_checking(guide: Guide) -> None:
    person = after(guide, *FOUND)
    assert "“Put it back”" in asks(person, "is it started by hand when it goes back?")
    assert "“Before you buy”" in asks(person, "which cassette can I buy to replace it?")
    assert "“If it will not move”" in asks(person, "what do I do if it will not budge?")


@pytest.mark.parametrize("words", ["what time do you open?", "do you sell coffee?", "asdf qwer?", "?!", ""])
def test_what_the_notes_do_not_answer_is_answered_as_before(guide: Guide, words: str) -> None:
    person = after(guide, "hello")
    asks(person, words)
    assert person.reply.notes == ()
    assert "notes" not in words_of(person.reply)


def test_a_name_alone_is_answered_too(guide: Guide) -> None:
    person = after(guide, "hello")
    assert asks(person, "it is a cassette") == guide.language("en").texts("question-spin.touched")
    assert guide.language("en").texts("question-spin.touched") not in asks(person, "is a cassette started by hand?")


def test_an_answer_that_was_not_understood_is_no_question(guide: Guide) -> None:
    person = after(guide, "hello")
    asks(person, "it’s stuck and will not budge")
    assert "I didn’t get that" in words_of(person.reply)
    asks(person, "it’s stuck and will not budge")
    assert "I still don’t follow" in words_of(person.reply)
    assert "Would you rather talk to somebody?" in words_of(person.reply)


def test_a_question_is_no_message_that_gave_nothing(guide: Guide) -> None:
    person = after(guide, "hello", "asdf qwer", "qwer asdf")
    assert person.case.missed == 2
    asks(person, TIGHT)
    assert person.case.missed == 0
    assert isinstance(person.last.events[-1], Remarked)
    assert person.last.events[-1].what == "asked"


@pytest.mark.parametrize(
    ("words", "question", "found"),
    [("what should I buy for an ebike?", "motor", True), ("does the tool slip on rusty ones?", "condition", False)],
)
def test_what_a_question_touches_on_is_asked_about_as_before(
    guide: Guide, words: str, question: str, found: bool
) -> None:
    person = after(guide, *FOUND)
    person.says(words)
    hold_after_a_turn(guide, person.case, person.reply, person.last.events)
    assert person.case.now.question == question
    assert bool(person.reply.notes) is found
