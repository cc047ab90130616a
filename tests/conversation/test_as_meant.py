"""What people say is read as they mean it, or asked back; what says nothing of this wheel is no fact."""

from datetime import UTC, datetime
from itertools import pairwise

import pytest

from tests.words import words_of
from triagebot.conversation import Guide, Message, open_case, turn
from triagebot.identify import ChoiceReading, CountReading, SizeReading
from triagebot.testing import ScriptedPerson


def asked(guide: Guide, question: str) -> ScriptedPerson:
    """Somebody who is asked this question, after whatever leads there."""
    person = ScriptedPerson(guide)
    ways = {
        "sprockets": ("hello",),
        "count": ("7 sprockets",),
        "spin": ("7 sprockets", "12 splines"),
        "size": ("1 cog", "notches", "4"),
        "drive": ("one sprocket, notches on the outside, 4, 38 mm",),
    }
    person.says(*ways[question])
    return person


@pytest.mark.parametrize(
    ("question", "text", "means"),
    [
        ("spin", "it doesn't turn with the cogs", ChoiceReading("spin", "stays")),
        ("spin", "it isn't going round with the gears", ChoiceReading("spin", "stays")),
        ("spin", "the midle dosent trun", ChoiceReading("spin", "stays")),
        ("spin", "middle = still", ChoiceReading("spin", "stays")),
        ("sprockets", "twleve splins", CountReading("count", 12, 12)),
        ("sprockets", "wheels off mate", ChoiceReading("wheel", "out")),
        ("sprockets", "12 splines stays still", ChoiceReading("spin", "stays")),
        ("count", "I thought two but it is four", CountReading("count", 4, 4)),
        ("count", "3 for 30 mm", SizeReading("size", 30.0, 0.0, "unknown")),
        ("sprockets", "6 cogs stays 2 notches", CountReading("sprockets", 6, 6)),
        ("sprockets", "fw 12 22.5", SizeReading("size", 22.5, 0.0, "unknown")),
        ("count", "one of the two notches has broken off", ChoiceReading("condition", "worn")),
    ],
)
def test_it_is_read_as_it_is_meant(guide: Guide, question: str, text: str, means: object) -> None:
    person = asked(guide, question)
    person.says(text)
    puzzle = person.case.now.puzzle
    assert means in (*person.case.now.readings, puzzle.proposed if puzzle else None), person.case.now


@pytest.mark.parametrize(
    ("question", "text"),
    [
        ("count", "the tool I bought has 20 splines and 21.5 mm"),
        ("drive", "none that I can see"),
        ("spin", "ok"),
        ("spin", "sure"),
        ("spin", "i can't"),
        ("count", "brb in 10"),
        ("count", "which one?"),
        ("size", "is 23 mm normal?"),
        ("count", "my mate reckons it has four notches"),
        ("sprockets", "my last bike had 7 speeds"),
        ("spin", "I'll spin it after lunch"),
        ("spin", "are you a human?"),
        ("count", "ich habe keine Ahnung wie viele das sind"),
    ],
)
def test_what_says_nothing_of_this_wheel_is_no_fact(guide: Guide, question: str, text: str) -> None:
    person = asked(guide, question)
    before = person.case.now.facts
    person.says(text)
    assert person.case.now.facts == before
    assert person.reply.status == "question"


def test_what_was_not_read_is_said(guide: Guide) -> None:
    person = asked(guide, "size")
    person.says("3 for 30 mm")
    assert "I didn’t get this part: “3 for”" in words_of(person.reply)


def test_what_is_likely_is_asked_back_in_one_press(guide: Guide) -> None:
    person = asked(guide, "spin")
    person.says("it probably stays still")
    assert "You mean the middle stays still?" in words_of(person.reply)
    person.presses("yes")
    assert ChoiceReading("spin", "stays") in person.case.now.readings


def test_a_number_is_asked_back_where_it_fits(guide: Guide) -> None:
    person = ScriptedPerson(guide)
    person.says("hello", "kind of a ring with teeth, maybe 2.3?")
    assert ChoiceReading("fitting", "splines") in person.case.now.readings
    assert "Do you mean it measures 23 mm?" in words_of(person.reply)


@pytest.mark.parametrize("instead", ["maybe it stays still?", "12 splines"])
def test_what_was_asked_back_is_not_lost_without_a_word(guide: Guide, instead: str) -> None:
    person = asked(guide, "count")
    person.says("2.3")
    assert "Do you mean it measures 23 mm?" in words_of(person.reply)
    person.says(instead)
    assert "I’ll leave out “2.3” for now." in words_of(person.reply)
    assert not any(isinstance(reading, SizeReading) for reading in person.case.now.readings)


def test_what_was_asked_back_and_answered_is_not_left_out(guide: Guide) -> None:
    person = asked(guide, "count")
    person.says("2.3", "24 mm")
    assert "leave out" not in words_of(person.reply)


def test_the_wheel_of_somebody_at_home_is_this_one_until_another_was_spoken_of(guide: Guide) -> None:
    person = ScriptedPerson(guide)
    person.says("hello", "my son's bike has one cog and a back pedal brake")
    assert {"sprockets", "hub"} <= {reading.question for reading in person.case.now.readings}
    before = person.case.now.readings
    person.says("my daughter's bike has 6 cogs")
    assert person.case.now.readings == before


def test_none_at_a_count_means_nothing_to_grip(guide: Guide) -> None:
    person = asked(guide, "count")
    person.says("none")
    assert person.case.now.puzzle is not None
    person.says("yes")
    assert ChoiceReading("fitting", "none") in person.case.now.readings


@pytest.mark.parametrize(
    "text", ["blorp fnord", "ok", "help", "how", "why", "none", "thanks", "hello", "2.3", "🚲", "no"]
)
def test_the_same_words_are_never_sent_twice_in_a_row(guide: Guide, text: str) -> None:
    person = asked(guide, "count")
    said = []
    for _ in range(5):
        person.says(text)
        said.append((words_of(person.reply), person.reply.question and person.reply.question.text))
    assert all(one != other for one, other in pairwise(said)), said


def test_somebody_who_insists_is_believed(guide: Guide) -> None:
    person = asked(guide, "count")
    person.says("23")
    asks = [person.reply.question.id if person.reply.question else ""]
    for _ in range(6):
        if person.case.now.question == "count" and person.case.now.again:
            break
        person.says({"spin": "it stays still", "fitting": "splines"}.get(asks[-1], "I don't know"))
        asks.append(person.reply.question.id if person.reply.question else "")
    person.says("23 again i'm sure")
    for _ in range(6):
        assert person.case.now.question != "count"
        if person.reply.question is None:
            break
        person.says("I don't know")


@pytest.mark.parametrize(
    ("text", "word"),
    [
        ("ich habe leider keine Ahnung was das ist", "Englisch"),
        ("hola, ¿qué herramienta necesito para la rueda?", "inglés"),
        ("bonjour, je ne sais pas ce que c'est", "anglais"),
        ("ciao, non so che cosa sia questo", "inglese"),
        ("hallo, ik weet niet wat dat is", "Engels"),
        ("olá, não sei o que é isso", "inglês"),
    ],
)
def test_another_language_is_told_in_that_language(guide: Guide, text: str, word: str) -> None:
    person = asked(guide, "count")
    person.says(text)
    assert word in words_of(person.reply)
    assert guide.shop.contact.line in words_of(person.reply)
    person.says("12")
    assert CountReading("count", 12, 12) in person.case.now.readings


def test_who_asks_whether_it_is_a_bot_is_told_and_keeps_the_question(guide: Guide) -> None:
    person = asked(guide, "spin")
    person.says("are you a human?")
    assert "I’m a bot" in words_of(person.reply)
    assert person.case.now.question == "spin"
    person.says("what did I say so far")
    assert "12" in words_of(person.reply)
    person.says("how many more questions")
    assert "five questions" in words_of(person.reply)


def test_a_question_that_other_facts_leave_open_is_put_in_other_words(guide: Guide) -> None:
    person = asked(guide, "count")
    put = [words_of(person.reply)]
    for other in ("it stays still", "a quick release holds it"):
        person.says(other)
        assert person.case.now.question == "count"
        put.append(words_of(person.reply).splitlines()[-1])
    assert all(one not in other for one, other in pairwise(reversed(put)))


@pytest.mark.parametrize(
    ("text", "begins"),
    [
        ("how do i get my back gears off", "Hi, I’m the bot at"),
        ("hello", "Hello, I’m the bot at"),
        ("7 sprockets", "Hi, I’m the bot at"),
    ],
)
def test_whoever_begins_is_told_who_answers(guide: Guide, text: str, begins: str) -> None:
    now = datetime(2026, 3, 2, 10, tzinfo=UTC)
    reply = turn(guide, open_case(guide, "K7M4QX", "en", now), Message(text), now).reply
    assert words_of(reply).startswith(begins)
    assert words_of(reply).count("the bot at") == ("bot" in begins)
