"""Nobody is told the same twice in a row, unless they ask for it again by the same words."""

import random

from tests.conversation.guides import shipped_guide
from tests.effort import effort
from tests.words import words_of
from triagebot.conversation import Guide, Message, plain, turn
from triagebot.conversation.turn import ask_first
from triagebot.conversation.understanding import understand
from triagebot.identify import CountReading
from triagebot.testing import ScriptedPerson

#: What somebody writes who cannot or will not answer, or answers what was not asked.
SAID = (
    "hm", "ok", "lol", "sure", "no", "yes", "none", "whatever", "thx", "idk", "which one?", "i can't", "brb in 10",
    "maybe later", "2.3", "99", "3 mm", "two", "slots", "splines", "20", "23 mm", "it is what it is", "purple monkeys",
    "can't take the wheel out", "my mate has 4", "I told you", "I already counted three times", "23 again i'm sure",
    "is it going to rain?", "the tool has 20", "4 dents bout 24", "rolls", "stays still", "turns", "good",
)  # fmt: skip


def test_no_two_replies_running_are_the_same() -> None:
    chance = random.Random(5)
    for _ in range(effort(25, 400)):
        person, before, reply = ScriptedPerson(shipped_guide()), "", ""
        for said in ["hello", *chance.choices(SAID, k=10)]:
            person.says(said)
            now = plain(person.reply)
            assert now != reply or said == before, f"{before!r}, then {said!r}: {now}"
            before, reply = said, now


def test_somebody_who_stands_by_an_answer_is_not_asked_again() -> None:
    for words in ("I told you", "I already counted three times", "20 again i'm sure", "20, i'm sure"):
        person = ScriptedPerson(shipped_guide())
        for said in ("wheel is out, it coasts, stays still, splines", "20", "23 mm"):
            person.says(said)
        assert person.case.now.question == "count"  # 23 mm does not fit, so it is looked at once more
        person.says(words)
        assert person.case.now.question != "count"


def test_who_says_unasked_that_it_was_counted_twice_is_not_asked_to_count_again() -> None:
    for again in ("24 splines, counted twice", "I've counted them twice, 24 splines"):
        person = ScriptedPerson(shipped_guide())
        for said in ("hello", "24 splines", again, "it turns"):
            person.says(said)
        assert person.case.now.question != "count"


def test_a_number_that_is_no_size_may_be_the_count() -> None:
    person = ScriptedPerson(shipped_guide())
    for said in ("wheel is out, it coasts, stays still", "slots"):
        person.says(said)
    assert person.case.now.question == "size"
    person.says("two")
    person.says("yes")
    assert [fact.reading.question for fact in person.case.now.facts][-1] == "count"


def test_a_question_that_failed_twice_offers_a_person() -> None:
    guide = shipped_guide()
    person = ScriptedPerson(guide)
    for said in ("wheel is out", "purple monkeys dance", "green apples sing"):
        person.says(said)
    assert guide.shop.contact.line in plain(person.reply) or "person" in plain(person.reply).lower()


def test_a_count_said_once_more_while_another_number_is_asked_is_no_odd_number(guide: Guide) -> None:
    person = ScriptedPerson(guide)
    person.says("it stays still, 24 splines")
    asked = ask_first(guide, person.case, "sprockets", person.clock())
    made = turn(guide, asked, Message("24 counted with a marker"), person.clock())
    assert guide.language("en").texts("insisted") in words_of(made.reply)
    assert "count" in made.case.now.settled
    counts = [r for r in made.case.now.readings if isinstance(r, CountReading) and r.question == "count"]
    assert [(r.low, r.high) for r in counts] == [(24, 24)]
    other = turn(guide, asked, Message("55"), person.clock())
    assert guide.language("en").texts("insisted") not in words_of(other.reply)


def test_a_count_said_once_more_while_the_body_is_asked_is_that_count(guide: Guide) -> None:
    person = ScriptedPerson(guide)
    person.says("it turns, wheel is out, 8 sprockets", "12 splines")
    assert person.case.now.question == "body"
    for text in ("12 splines", "ok 12 again", "no, it's 12 splines, I told you"):
        person.says(text)
        assert all(reading.question != "body" for reading in person.case.now.readings), text
        assert person.case.now.puzzle is None, text


def test_more_splines_than_any_body_has_are_those_of_the_fitting(guide: Guide) -> None:
    read = understand("24 splines, I counted twice", guide.setting("en", "body"))
    assert {fact.reading.question for fact in read.facts} == {"count", "fitting"}
