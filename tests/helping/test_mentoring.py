"""Somebody opens a case for a rider who is elsewhere: questions to send on, and several riders at once."""

import pytest

from tests.delivery.office import Office
from tests.delivery.recorded import RecordedChannel
from tests.helping.riding import BLUE, MO, RED, by, code_of, helps, shown, to_send_on
from tests.words import words_of
from triagebot.helping.words import mentor_words, opens
from triagebot.messages import Arrived, Commanded, Pressed, Said
from triagebot.topics import Texts

# --- opening ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "name"),
    [
        ("I’m helping somebody", ""),
        ("help_somebody", ""),
        ("I’m helping a friend.", ""),
        ("for a friend: the blue commuter", "the blue commuter"),
        ("I’m helping somebody, Red Racer", "Red Racer"),
        ("can somebody help me", None),
        ("help", None),
        ("a friend says it has 12 splines", None),
    ],
)
def test_what_opens_a_case_for_somebody_else(text: str, name: str | None) -> None:
    assert opens(mentor_words("en"), Said(text), text) == name


def test_a_case_gets_its_name_and_its_question_comes_to_send_on(
    office: Office, channel: RecordedChannel, texts: Texts
) -> None:
    office.bring(MO, "I’m helping somebody")
    assert words_of(channel.last(MO).reply) == texts("mentor-name-it")
    office.bring(MO, BLUE)
    asked, forward = shown(channel, MO), to_send_on(channel, MO)
    assert asked.reply.question is not None
    assert asked.reply.question.text == texts("mentor-what-back", name=BLUE)
    question = asked.reply.question.id
    assert texts(f"question-{question}.how") in words_of(asked.reply)
    assert words_of(forward.reply).startswith(texts(f"question-{question}"))
    assert forward.reply.question is None
    assert not forward.reply.offers
    assert channel.screens[MO][-2:] == [asked, forward], "what is to be sent on comes right behind"


def test_it_may_not_have_been_meant(office: Office, channel: RecordedChannel, texts: Texts) -> None:
    office.bring(MO, "9 sprockets")
    own = code_of(office, MO)
    office.bring(MO, "for a friend")
    office.bring(MO, "no")
    assert words_of(channel.last(MO).reply) == texts("mentor-not-meant")
    assert code_of(office, MO) == own
    office.bring(MO, "cases")
    assert texts("mentor-cases-head") not in words_of(channel.last(MO).reply)


def test_a_command_opens_one_as_words_do(office: Office, channel: RecordedChannel, texts: Texts) -> None:
    office.bring(MO, Commanded("mentor"))
    assert words_of(channel.last(MO).reply) == texts("mentor-name-it")


def test_answers_say_who_passed_them_on_and_choices_can_be_pressed(office: Office, channel: RecordedChannel) -> None:
    code = helps(office)
    office.bring(MO, "9 sprockets")
    question = shown(channel, MO)
    assert question.reply.question is not None
    choice = question.reply.question.choices[0]
    assert f"1. {choice.label}" in words_of(to_send_on(channel, MO).reply)
    office.bring(MO, Pressed(code, question.turn, choice.id))
    assert by(office, MO) == ["mentor", "mentor"]
    office.bring(MO, "why")
    assert "9 sprockets" in words_of(shown(channel, MO).reply)


@pytest.mark.parametrize("said", ["why", "help", "privacy", "thanks", "hmm"])
def test_a_question_that_is_open_still_is_not_sent_on_twice(
    office: Office, channel: RecordedChannel, said: str
) -> None:
    helps(office)
    office.bring(MO, "it turns, 9 sprockets")
    asked = shown(channel, MO)
    office.bring(MO, said)
    last = channel.last(MO)
    assert not last.forward
    assert last.reply.question is not None
    assert asked.reply.question is not None
    assert last.reply.question.choices == asked.reply.question.choices
    office.bring(MO, "how do I check?")
    assert words_of(to_send_on(channel, MO).reply)


def test_a_warning_goes_along_with_the_question(office: Office, channel: RecordedChannel, texts: Texts) -> None:
    helps(office)
    for said in ("it is an electric bike", "a motor cable comes out of the axle"):
        office.bring(MO, said)
        assert texts("signal-warning") in words_of(to_send_on(channel, MO).reply)


def test_an_outcome_comes_as_a_summary_to_send_on(office: Office, channel: RecordedChannel, texts: Texts) -> None:
    code = helps(office)
    office.bring(MO, "it stays still, 4 notches, 40 mm with a calliper")
    forward = words_of(to_send_on(channel, MO).reply)
    remover = texts("remover-remover-4-notch-40")
    for part in (remover, texts("direction-anticlockwise"), texts("caution-teeth-cut"), code, texts("also-needed")):
        assert part in forward, part
    assert remover not in words_of(shown(channel, MO).reply)
    office.bring(MO, "axle nuts")
    office.bring(MO, "summary")
    assert remover in words_of(to_send_on(channel, MO).reply)


def test_a_person_is_summed_up_too(office: Office, channel: RecordedChannel, texts: Texts) -> None:
    helps(office)
    office.bring(MO, "it stays still")
    office.bring(MO, "person")
    forward = words_of(to_send_on(channel, MO).reply)
    assert texts("mentor-found-person") in forward
    assert "the middle stays still" in forward


# --- several at once ----------------------------------------------------------------------------------------------


def test_two_riders_at_once_are_told_apart_by_name(office: Office, channel: RecordedChannel, texts: Texts) -> None:
    blue, red = helps(office), helps(office, name=RED)
    office.bring(MO, "cases")
    listed = words_of(channel.last(MO).reply)
    assert all(part in listed for part in (BLUE, RED, blue, red))
    office.bring(MO, "it turns")
    office.bring(MO, "blue comuter")
    assert code_of(office, MO) == blue
    assert words_of(shown(channel, MO).reply).startswith(texts("mentor-switched", name=BLUE))
    office.bring(MO, "it stays still")
    office.bring(MO, "red racer: 9 sprockets")
    assert code_of(office, MO) == red
    office.bring(MO, "why")
    assert "9 sprockets" in words_of(shown(channel, MO).reply)
    assert "stays still" not in words_of(shown(channel, MO).reply)
    office.bring(MO, blue)
    assert code_of(office, MO) == blue
    assert words_of(shown(channel, MO).reply).startswith(texts("mentor-switched", name=BLUE))
    office.bring(MO, "switch to the racer")
    assert code_of(office, MO) == red


def test_from_a_case_of_ones_own_one_comes_back_to_those_that_one_helps(
    office: Office, channel: RecordedChannel, texts: Texts
) -> None:
    blue, _ = helps(office), helps(office, name=RED)
    office.bring(MO, Arrived(new=True))
    own = code_of(office, MO)
    office.bring(MO, "12 splines")
    assert by(office, MO) == ["person"]
    assert not channel.last(MO).forward
    office.bring(MO, "cases")
    assert RED in words_of(channel.last(MO).reply)
    office.bring(MO, BLUE)
    assert code_of(office, MO) == blue
    office.bring(MO, own)
    assert code_of(office, MO) == own
    assert by(office, MO) == ["person"]


def test_a_name_that_is_taken_gets_a_number_and_can_be_changed(office: Office, channel: RecordedChannel) -> None:
    helps(office)
    helps(office)
    office.bring(MO, "cases")
    assert f"{BLUE} 2" in words_of(channel.last(MO).reply)
    office.bring(MO, "rename it to the green one")
    office.bring(MO, "cases")
    assert "“the green one”" in words_of(channel.last(MO).reply)
    assert f"{BLUE} 2" not in words_of(channel.last(MO).reply)


def test_a_case_is_put_away(office: Office, channel: RecordedChannel, texts: Texts) -> None:
    blue, red = helps(office), helps(office, name=RED)
    office.bring(MO, "finish")
    assert texts("mentor-code", code=red, shop=office.guide.shop.name) in words_of(to_send_on(channel, MO).reply)
    assert code_of(office, MO) == blue
    office.bring(MO, red)
    assert code_of(office, MO) == red, "by its code it is taken up again"
    office.bring(MO, "finish")
    office.bring(MO, "finish")
    office.bring(MO, "12 splines")
    assert code_of(office, MO) not in (blue, red), "a mentor without riders is an ordinary customer again"
    assert by(office, MO) == ["person"]
