"""Simulated people who speak: the same people as by readings, in words, through the whole conversation.

Whether the reader understands the bank is not tested: the bank is its yardstick, and what it misreads is a figure.
"""

import importlib
from dataclasses import asdict, fields, replace
from functools import cache

import pytest

from tests.conversation.guides import shipped_guide
from triagebot.conversation.blocks import Choice
from triagebot.conversation.blocks import Question as Shown
from triagebot.conversation.understanding import Setting
from triagebot.conversation.understood import Command, Fact, Meaning
from triagebot.identify import (
    BoundReading,
    ChoiceReading,
    CountReading,
    Reading,
    SizeReading,
    UnsureReading,
)
from triagebot.study.misread import agrees, in_short
from triagebot.study.people import PROFILES, Person, draw_person
from triagebot.study.simulate import meet, meet_planner
from triagebot.study.speaking import USUAL, Manner, Saying, Speaker
from triagebot.study.spoken import LONGEST, Talk, converse, speak, spoken_report, straight
from triagebot.topics import Speech, load_speech

GUIDE = shipped_guide()
TOPIC = GUIDE.topic
#: People who answer what they are asked, and nothing else.
TO_THE_POINT = Manner(0, 0, 0, 0, 0, 0, 0)


@cache
def bank() -> Speech:
    return load_speech(TOPIC, "en")


def people(number: int, seed: int = 1, profile: str = "household") -> list[Person]:
    return [draw_person(TOPIC, n, seed, PROFILES[profile]) for n in range(number)]


def speaker(person: Person, manner: Manner = TO_THE_POINT) -> Speaker:
    return Speaker(person, GUIDE, bank(), manner)


@cache
def talks(number: int, seed: int, *, delivered: bool = False) -> tuple[Talk, ...]:
    return tuple(speak(GUIDE, bank(), "en", number, seed, delivered=delivered))


# --- whole conversations ----------------------------------------------------------------------------------------------


def test_the_same_seed_says_the_same() -> None:
    again = speak(GUIDE, bank(), "en", 12, 3)

    assert [talk.case for talk in again] == [talk.case for talk in talks(12, 3)]
    assert again == list(talks(12, 3))
    assert again != list(talks(12, 4))


def test_fractions_sum_to_one() -> None:
    figures = asdict(spoken_report(talks(20, 1)))

    assert sum(figures[end] for end in ("right", "wrong", "person", "look_alike", "unfinished")) == pytest.approx(1)
    assert 0 <= figures["misread"] <= 1
    assert figures["messages"] >= figures["mean_questions"] > 0
    assert {field.name for field in fields(spoken_report(talks(20, 1)))} >= {"misread", "asked_back", "messages"}


def test_nobody_gives_no_report() -> None:
    with pytest.raises(ValueError, match="nobody"):
        spoken_report([])


def test_through_the_delivery_it_ends_as_by_turns_alone() -> None:
    straight_on, delivered = talks(20, 1), talks(20, 1, delivered=True)

    for one, other in zip(straight_on, delivered, strict=True):
        assert one.end == other.end
        assert (one.messages, one.asked_back, one.misread) == (other.messages, other.asked_back, other.misread)
        assert one.case.now == other.case.now
        assert [type(event) for event in one.case.events] == [type(event) for event in other.case.events]


class Reader:
    """A reader that knows what each message means, since its author told it."""

    def __init__(self) -> None:
        self.meant: dict[str, tuple[Reading, ...]] = {}

    def told(self, meant: Reading) -> Saying:
        text = f"message {len(self.meant)}"
        self.meant[text] = (meant,)
        return Saying(text, (meant,))

    def understand(self, text: str, setting: Setting) -> Meaning:
        return Meaning(facts=tuple(Fact(reading, text) for reading in self.meant.get(text, ())))


def test_a_perfect_reader_loses_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    """Who says what they mean to somebody who knows what they mean ends as by readings, to the last digit: what words
    lose is the reader's doing and the manner's, and none of it comes from running the conversation.

    Those are left out who say where the wheel is, unasked, and then that they do not know: in a conversation that takes
    back what they said, and by readings alone it does not.
    """
    reader = Reader()
    monkeypatch.setattr(importlib.import_module("triagebot.conversation.turn"), "understand", reader.understand)
    monkeypatch.setattr(Speaker, "answer", lambda self, meant, shown, times, second: reader.told(meant))
    monkeypatch.setattr(Speaker, "unasked", lambda self, meant, times: reader.told(meant))

    everybody = (*people(60), *people(30, 2, "careless"))
    constant = [person for person in everybody if not _takes_back(person)]
    assert len(constant) >= 0.9 * len(everybody)
    for person in constant:
        talk = converse(speaker(person), straight(GUIDE, "en"))
        # What else a tool may need is hinted at with the answer, and no longer asked.
        assert talk.end == replace(meet_planner(TOPIC, person), follow_ups=0), person
        assert (talk.misread, talk.asked_back) == ((), 0)


def _takes_back(person: Person) -> bool:
    wheel = [reading for reading in meet(TOPIC, person).readings if reading.question == "wheel"]
    return any(isinstance(reading, UnsureReading) for reading in wheel[1:])


def test_somebody_who_is_never_understood_gives_up(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(
        importlib.import_module("triagebot.conversation.turn"), "understand", lambda text, setting: Meaning()
    )
    talk = converse(speaker(people(1)[0]), straight(GUIDE, "en"))

    assert (talk.messages, talk.end.kind, talk.misread) == (LONGEST, "unfinished", ())


def test_what_was_not_meant_is_listed(monkeypatch: pytest.MonkeyPatch) -> None:
    """A reader that takes everything for fourteen sprockets, which nobody means."""
    taken = CountReading("sprockets", 14, 14)
    monkeypatch.setattr(
        importlib.import_module("triagebot.conversation.turn"),
        "understand",
        lambda text, setting: Meaning(facts=(Fact(taken, text),)),
    )
    talk = converse(speaker(people(1)[0]), straight(GUIDE, "en"))

    assert talk.misread
    assert {row.taken for row in talk.misread} == {"sprockets=14"}
    assert talk.misread[0].text
    assert talk.misread[0].open in TOPIC.questions


@pytest.mark.parametrize("command", ["person", "stop", "restart"])
def test_what_nobody_asked_for_is_listed(command: Command, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(
        importlib.import_module("triagebot.conversation.turn"), "understand", lambda text, setting: Meaning((), command)
    )
    talk = converse(speaker(people(1)[0]), straight(GUIDE, "en"))

    assert {row.taken for row in talk.misread} == {command}
    assert talk.end.kind == ("person" if command == "person" else "unfinished")


# --- words ------------------------------------------------------------------------------------------------------------


def readings() -> list[Reading]:
    """Something that can be meant, of every kind and of every choice."""
    found: list[Reading] = []
    for question in TOPIC.flow.questions:
        found.append(UnsureReading(question.id))
        found += [ChoiceReading(question.id, choice) for choice in question.choices]
        if question.kind == "count":
            found += [CountReading(question.id, n, n) for n in (1, 9, 13)]
        if question.kind == "size":
            found += [SizeReading(question.id, 23.4, means=means) for means in ("calliper", "rule", "eye")]
    return found


@pytest.mark.parametrize("manner", [TO_THE_POINT, replace(USUAL, correction=1.0, label=0.0), USUAL])
def test_words_never_change_what_is_meant(manner: Manner) -> None:
    """Only what a length was measured with may stay unsaid."""
    for person in people(4):
        for meant in readings():
            for times in range(3):
                said = speaker(person, manner).answer(meant, None, times)
                assert said.text.strip()
                assert "{" not in said.text
                (reading,) = said.means
                silent = replace(meant, means="unknown") if isinstance(meant, SizeReading) else meant
                assert reading in (meant, silent)
                if isinstance(meant, SizeReading):
                    assert "23.4" in said.text


def test_words_do_not_depend_on_what_else_was_said() -> None:
    person = people(1)[0]
    meant = ChoiceReading("spin", "stays")
    alone = speaker(person, USUAL).answer(meant, None, 0)
    speaker(person, USUAL).answer(ChoiceReading("hub", "plain"), None, 0)

    assert speaker(person, USUAL).answer(meant, None, 0) == alone
    assert len({speaker(person, USUAL).answer(meant, None, times).text for times in range(9)}) > 3


def test_messages_beside_an_answer_come_as_often_as_the_manner_says() -> None:
    """Over many people, within four standard errors."""
    crowd = people(1500)
    said = [speaker(person, replace(USUAL, typing_error=0.0)).beside("count", 0) for person in crowd]
    texts = [saying.text for saying in said if saying is not None]
    for rate, phrases in (
        (USUAL.nothing, bank().nothing),
        (USUAL.question, bank().questions),
        (USUAL.elsewhere, bank().elsewhere),
    ):
        share = sum(text in phrases for text in texts) / len(crowd)
        assert abs(share - rate) <= 4 * (rate * (1 - rate) / len(crowd)) ** 0.5
    assert all(saying.means == () for saying in said if saying is not None)


def test_typing_errors_stay_within_one_longer_word() -> None:
    meant = ChoiceReading("fitting", "splines")
    clumsy = replace(TO_THE_POINT, typing_error=1.0)
    pairs = [
        (
            speaker(person).answer(meant, None, 0).text.split(),
            speaker(person, clumsy).answer(meant, None, 0).text.split(),
        )
        for person in people(200)
    ]
    changed = [[(a, b) for a, b in zip(right, typed, strict=True) if a != b] for right, typed in pairs]

    assert {len(words) for words in changed} <= {0, 1}
    assert sum(map(len, changed)) > 150, "two equal letters may be swapped, and a phrase may have short words only"
    assert all(len(right) >= 4 and typed[0] == right[0] for words in changed for right, typed in words)


def test_a_correction_holds_what_is_right_and_something_wrong() -> None:
    corrects = replace(TO_THE_POINT, correction=1.0)
    texts = [speaker(person, corrects).answer(CountReading("count", 12, 12), None, 0).text for person in people(30)]

    assert all("12" in text or "twelve" in text for text in texts)
    assert all(
        any(n in text for n in ("10", "11", "13", "14", "ten", "eleven", "thirteen", "fourteen")) for text in texts
    )


def test_a_maker_is_told_by_the_shops_words() -> None:
    names = {name for row in GUIDE.shop.makers_file.choices for m in row.makers for name in (m.name, *m.also)}
    for choice in TOPIC.questions["marking"].choices:
        said = {speaker(person).answer(ChoiceReading("marking", choice), None, 0).text for person in people(20)}
        assert len(said) > 1
        assert said <= names


def test_a_shown_choice_may_be_picked_by_number_or_label() -> None:
    choices = tuple(Choice(each, f"The {each}") for each in TOPIC.questions["fitting"].choices)
    shown = Shown("fitting", "choice", "What is there?", choices)
    picks = replace(TO_THE_POINT, label=1.0)
    meant = ChoiceReading("fitting", "notches")
    said = {speaker(person, picks).answer(meant, shown, 0).text for person in people(30)}

    assert said == {"2", "The notches"}


def test_what_is_told_unasked_says_what_it_is_about() -> None:
    for person in people(10):
        said = speaker(person).unasked(ChoiceReading("wheel", "in"), 0)
        assert any(word in said.text.lower() for word in bank().unasked["wheel"])


@pytest.mark.parametrize(
    ("number", "word"), [(0, "zero"), (1, "one"), (13, "thirteen"), (20, "twenty"), (48, "forty-eight"), (114, "114")]
)
def test_numbers_are_spelled(number: int, word: str) -> None:
    assert bank().spelled(number) == word


# --- what is misread --------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("taken", "meant", "same"),
    [
        (ChoiceReading("spin", "stays"), ChoiceReading("spin", "stays"), True),
        (ChoiceReading("spin", "turns"), ChoiceReading("spin", "stays"), False),
        (ChoiceReading("spin", "turns", denied=True), ChoiceReading("spin", "stays"), True),
        (ChoiceReading("spin", "stays", denied=True), ChoiceReading("spin", "stays"), False),
        (CountReading("count", 11, 12), CountReading("count", 12, 12), True),
        (CountReading("count", 11, 11), CountReading("count", 12, 12), False),
        (SizeReading("size", 23.4), SizeReading("size", 23.4), True),
        (SizeReading("size", 23.4, means="rule"), SizeReading("size", 23.4), False),
        (SizeReading("size", 23.4), SizeReading("size", 23.4, means="rule"), True),
        (SizeReading("size", 24.4), SizeReading("size", 23.4), False),
        (BoundReading("size", 20.0, None), SizeReading("size", 23.4), True),
        (BoundReading("size", None, 20.0), SizeReading("size", 23.4), False),
        (UnsureReading("spin"), ChoiceReading("spin", "stays"), False),
        (UnsureReading("spin"), UnsureReading("spin"), True),
    ],
)
def test_a_reading_agrees_with_what_was_meant(taken: Reading, meant: Reading, same: bool) -> None:
    assert agrees(taken, meant) is same
    assert in_short(taken).startswith(f"{taken.question}=")
