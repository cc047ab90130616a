"""The pictures that go with questions show what their texts promise."""

import re
from dataclasses import replace

import pytest

from tests.pictures.pixels import written
from triagebot.pictures import LESSONS, Picture, fastening_view, look_alikes, question_picture
from triagebot.pictures.lessons import KINDS
from triagebot.topics import Texts, Topic


def arcs(picture: Picture) -> list[tuple[float, float, int, int, float]]:
    """Every open arc that is drawn as a line: its start, whether it is large, whether it runs clockwise, its radius."""
    drawn = re.findall(
        r'd="M([-\d.]+) ([-\d.]+) A([-\d.]+) [-\d.]+ 0 ([01]) ([01]) [-\d.]+ [-\d.]+" fill="none"', picture.svg
    )
    return [(float(x), float(y), int(large), int(sweep), float(radius)) for x, y, radius, large, sweep in drawn]


def words(topic: Topic, name: str, texts: Texts) -> list[str]:
    return [box.text for box in written(question_picture(topic, name, texts))]


def test_every_picture_that_the_topic_names_is_there_and_no_other(topic: Topic) -> None:
    assert {question.picture for question in topic.flow.questions} - {None} == set(LESSONS)


@pytest.mark.parametrize("name", LESSONS)
def test_the_words_for_it_are_those_of_the_topic(topic: Topic, texts: Texts, name: str) -> None:
    picture = question_picture(topic, name, texts)
    assert picture.alt == texts(f"picture-{name}")
    asked = next(question for question in topic.flow.questions if question.picture == name)
    assert picture.title == texts(f"question-{asked.id}.name")


def test_the_innermost_fitting_is_told_from_what_is_round_it(topic: Topic, texts: Texts) -> None:
    shown = " ".join(words(topic, "innermost-fitting", texts))
    for part in ("axle", "locknut", "innermost fitting", "face ring", "sprockets"):
        assert part in shown


def test_kinds_are_numbered_as_the_choices_are(topic: Topic, texts: Texts) -> None:
    """Whatever order the flow file lists them in."""
    listed = list(topic.questions["fitting"].choices)
    for choices in (listed, listed[::-1], [*listed[2:], *listed[:2]]):
        questions = tuple(
            question.model_copy(update={"choices": tuple(choices)}) if question.id == "fitting" else question
            for question in topic.flow.questions
        )
        other = replace(topic, flow=topic.flow.model_copy(update={"questions": questions}))
        boxes = written(question_picture(other, "fitting-kinds", texts))
        numbers = [box for box in boxes if box.text.isdigit()]
        assert [box.text for box in numbers] == ["1", "2", "3", "4"]
        for badge, choice in zip(numbers, choices, strict=True):
            below = [box for box in boxes if box.top > badge.bottom and abs(box.left - badge.left) < 45]
            nearest = min(
                (box for box in below if not box.text.isdigit()),
                key=lambda box: (round(box.top), abs(box.left - badge.left)),
            )
            assert nearest.text == texts(f"label-{choice}")


def test_every_kind_that_can_be_chosen_is_drawn(topic: Topic) -> None:
    assert {look.kind for look in KINDS} == set(topic.questions["fitting"].choices)


def test_a_topic_that_does_not_ask_has_the_picture_without_numbers(topic: Topic, texts: Texts) -> None:
    questions = tuple(question for question in topic.flow.questions if question.id != "fitting")
    other = replace(topic, flow=topic.flow.model_copy(update={"questions": questions}))
    assert not [text for text in words(other, "fitting-kinds", texts) if text.isdigit()]


def test_the_spin_test_shows_the_hand_the_way_and_both_results(topic: Topic, texts: Texts) -> None:
    """Backwards is anticlockwise, as one looks at the sprockets; each result has the number of its choice."""
    picture = question_picture(topic, "spin-test", texts)
    shown = written(picture)
    assert "hold the tyre" in " ".join(box.text for box in shown)
    half = picture.width_mm / 2
    for place, choice in enumerate(("turns", "stays")):
        side = [box for box in shown if place * half <= (box.left + box.right) / 2 < (place + 1) * half]
        said = " ".join(box.text for box in side)
        assert texts(f"label-spin-{choice}") in said
        assert str(topic.questions["spin"].choices.index(choice) + 1) in [box.text for box in side]
    assert "anticlockwise" in texts("question-spin.how")
    ways = [sign for _, _, _, sign, _ in arcs(picture)]
    assert ways
    assert set(ways) == {0}


def test_arrows_point_the_way_that_it_loosens(topic: Topic, texts: Texts) -> None:
    """A ring with a left-hand thread has its arrow the other way; what is not unscrewed has none."""
    seen = set()
    for name, fastening in topic.fastenings.items():
        view = fastening_view(topic, name, texts)
        wanted = {"anticlockwise": {0}, "clockwise": {1}, "none": set()}[fastening.direction]
        assert {clockwise for _, _, _, clockwise, _ in arcs(view)} == wanted, name
        told = fastening.direction != "none"
        assert ("this way" in " ".join(box.text for box in written(view))) == told
        assert (f"points {fastening.direction}" in view.alt) == told
        seen.add(fastening.direction)
    assert seen == {"anticlockwise", "clockwise", "none"}
    both = look_alikes(topic, ("cassette-12-spline", "fixed-notched-ring"), texts)
    assert [clockwise for _, _, _, clockwise, _ in arcs(both)] == [0, 0, 1, 1], "each is drawn with a light edge"


def test_counting_starts_at_the_mark(topic: Topic, texts: Texts) -> None:
    assert [text for text in words(topic, "count-with-a-mark", texts) if text.isdigit()] == ["1", "2", "3"]


def test_the_two_bodies_are_named(topic: Topic, texts: Texts) -> None:
    shown = " ".join(words(topic, "body-patterns", texts))
    for part in ("9 splines", "narrower", "8 deep splines"):
        assert part in shown.replace("\N{NO-BREAK SPACE}", " ")


def test_an_unknown_picture_is_an_error(topic: Topic, texts: Texts) -> None:
    with pytest.raises(KeyError):
        question_picture(topic, "no-such-picture", texts)
