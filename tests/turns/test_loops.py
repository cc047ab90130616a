"""Programs in the place of a person: none of them keeps the bot talking."""

import logging
from datetime import UTC, datetime, timedelta

import pytest

from tests.delivery.office import Office
from tests.delivery.recorded import RecordedChannel
from triagebot.conversation.reply import plain
from triagebot.messages import Arrived, Commanded
from triagebot.turns import loops
from triagebot.turns.loops import ECHOES, FASTEST, LATELY, REST, Loops, shared_place

NOW = datetime(2026, 1, 5, 9, tzinfo=UTC)
STOPPED = "You seem to be a program"


def echoed(office: Office, channel: RecordedChannel, person: str, before: str = "", most: int = 40) -> list[str]:
    """What is said to somebody who says the last of it again, with some words `before` it, until nothing comes."""
    said = ["hello"]
    office.bring(person, "hello")
    for _ in range(most):
        office.settle()
        words = heard_by(channel, person)
        if len(words) < len(said):
            break
        said.append(words[-1])
        office.bring(person, f"{before}{words[-1]}")
    return heard_by(channel, person)


def heard_by(channel: RecordedChannel, person: str) -> list[str]:
    """Everything that is said, the questions too; without changes of earlier messages."""
    return [plain(message.reply) for message in channel.screens[person] if message.kind != "edit"]


@pytest.mark.parametrize("before", ["", "You said: ", "echo> "])
def test_a_program_that_says_every_word_again_hears_one_sentence_and_then_nothing(
    office: Office, channel: RecordedChannel, caplog: pytest.LogCaptureFixture, before: str
) -> None:
    with caplog.at_level(logging.WARNING):
        heard = echoed(office, channel, "parrot", before)
    assert len(heard) <= 2 + ECHOES
    assert [STOPPED in words for words in heard] == [False] * (len(heard) - 1) + [True]
    assert caplog.text.count("nothing more is said for a while") == 1
    held = office.held("parrot")
    assert held is not None
    assert held.case.now.facts == ()
    assert not held.case.handed


def test_a_program_that_says_the_greeting_again_asks_for_nobody(office: Office, channel: RecordedChannel) -> None:
    """It names the word by which people ask for a person."""
    office.bring("parrot", Arrived())
    office.settle()
    (greeting,) = heard_by(channel, "parrot")
    office.bring("parrot", greeting)
    office.settle()
    held = office.held("parrot")
    assert held is not None
    assert held.case.now.outcome is None, heard_by(channel, "parrot")[-1]


def test_what_a_picture_shows_hides_no_echo(office: Office, channel: RecordedChannel) -> None:
    """Some channels say it behind the question."""
    office.bring("parrot", "6 sprockets")
    for _ in range(ECHOES + 2):
        office.settle()
        said = heard_by(channel, "parrot")[-1]
        office.bring("parrot", f"{said}\n\nIn the picture: a ring with four notches in it.")
    assert STOPPED in heard_by(channel, "parrot")[-1]
    assert len(heard_by(channel, "parrot")) <= 2 + ECHOES


def test_it_listens_again_once_it_was_left_alone(
    office: Office, channel: RecordedChannel, monkeypatch: pytest.MonkeyPatch
) -> None:
    heard = len(echoed(office, channel, "parrot"))
    monkeypatch.setattr(loops, "REST", timedelta(0))
    office.bring("parrot", "9 sprockets")
    office.settle()
    assert "9 sprockets" in heard_by(channel, "parrot")[heard]


def test_who_says_a_choice_as_it_is_shown_is_heard(office: Office, channel: RecordedChannel) -> None:
    for words in ("1 sprocket", "There’s nothing to grip", "It brakes when you pedal backwards"):
        office.bring("ada", words)
    held = office.held("ada")
    assert held is not None
    assert "hub" in {fact.reading.question for fact in held.case.now.facts}


def test_who_reads_a_question_aloud_and_answers_it_is_heard(office: Office, channel: RecordedChannel) -> None:
    office.bring("ada", "hello")
    office.settle()
    office.bring("ada", "How many sprockets (cogs) are there at the back? There are 9")
    held = office.held("ada")
    assert held is not None
    assert [fact.reading.question for fact in held.case.now.facts] == ["sprockets"]


def test_who_says_a_question_again_once_is_shown_it_again(office: Office, channel: RecordedChannel) -> None:
    office.bring("ada", "hello")
    for _ in range(ECHOES + 1):
        office.bring("ada", "How many sprockets (cogs) are there at the back")
        office.bring("ada", "hm, let me see")
    office.settle()
    assert STOPPED not in "\n".join(channel.texts("ada"))


@pytest.mark.parametrize(
    "text",
    [
        "Nine splines, one of them narrower",
        "nine splines one of them narrower",
        "It has nine splines, one of them narrower.",
        "ok: “Nine splines, one of them narrower”",
    ],
)
def test_a_choice_in_the_words_in_which_it_was_shown_is_an_answer(
    office: Office, channel: RecordedChannel, text: str
) -> None:
    office.bring("ada", "12 splines, 23.5 mm, it turns with the sprockets, 9 sprockets, the wheel is out")
    office.settle()
    assert "lockring tool" not in "\n".join(channel.texts("ada"))
    office.bring("ada", text)
    office.settle()
    assert "lockring tool" in "\n".join(channel.texts("ada"))


def test_nobody_types_so_fast() -> None:
    known = Loops(lambda: 0.0)
    often = int(FASTEST.burst)
    judged = [known.judged("flood", f"and then another thing, the {number}th", NOW) for number in range(often + 2)]
    assert judged == [""] * often + ["stop", "silent"]
    assert known.judged("ada", "and then another thing", NOW) == ""


def test_a_press_or_a_plain_answer_is_never_taken_for_a_program(office: Office, channel: RecordedChannel) -> None:
    office.bring("ada", "hello")
    for _ in range(int(FASTEST.burst) + 5):
        office.bring("ada", "9")
        office.bring("ada", Commanded("back"))
    office.settle()
    assert STOPPED not in "\n".join(channel.texts("ada"))


def test_what_is_not_typed_may_come_fast() -> None:
    known = Loops(lambda: 0.0)
    for number in range(1000):
        assert known.judged("lines", f"line {number}", NOW, typed=False) == ""


def test_silence_lasts_as_long_as_something_comes() -> None:
    known = Loops(lambda: 0.0)
    words = "one two three four five six seven eight"
    known.said("it", words)
    assert [known.judged("it", words, NOW) for _ in range(ECHOES + 1)] == ["echo", "echo", "stop", "silent"]
    assert known.judged("it", "hello", NOW + REST - timedelta(seconds=1)) == "silent"
    assert known.judged("it", "hello", NOW + 2 * REST - timedelta(seconds=2)) == "silent"
    assert known.judged("it", "hello", NOW + 4 * REST) == ""


@pytest.mark.parametrize(
    ("person", "place"),
    [
        ("matrix:!room:x - @bob:x", "matrix:!room:x"),
        ("matrix:!room:x $root @bob:x", "matrix:!room:x"),
        ("matrix:@bob:x", ""),
        ("matrix:@b/12/3:x", ""),
        ("telegram:-100123/0/55", "telegram:-100123"),
        ("telegram:55", ""),
        ("page:abc", ""),
    ],
)
def test_where_somebody_talks_beside_others(person: str, place: str) -> None:
    assert shared_place(person) == place


def test_words_that_were_said_to_somebody_else_there_are_an_echo_there_and_nowhere_else() -> None:
    known = Loops(lambda: 0.0)
    words = "one two three four five six seven eight"
    known.said("ada", words, "room")
    assert [known.judged("bob", words, NOW, place="room") for _ in range(ECHOES)] == ["echo", "echo", "stop"]
    assert known.judged("cas", words, NOW, place="elsewhere") == ""
    assert known.judged("dan", words, NOW) == ""
    for number in range(LATELY):
        known.said("ada", f"other words for the {number}th time, and more", "room")
    assert known.judged("eve", words, NOW, place="room") == "", "that was long ago"
