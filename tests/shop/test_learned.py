"""A shop's learned.yaml: read with the shop, part of every edition, and every fault of it told with its place."""

from collections.abc import Callable
from pathlib import Path

import pytest

from triagebot.conversation import load_guide
from triagebot.errors import DataError
from triagebot.shop import LEARNED, load_shop
from triagebot.topics import Topic

Complaints = Callable[..., list[str]]


def write(folder: Path, text: str) -> None:
    (folder / LEARNED).write_text(text, encoding="utf-8")


def test_a_conversation_goes_by_what_was_learned(folder: Path, topic: Topic, complaints: Complaints) -> None:
    before = load_guide(topic, load_shop(folder, topic), ("en",))
    write(
        folder, "topic: rear-sprockets\ncases: 40\npriors:\n  freewheel-2-notch: 0.10\n  freewheel-12-spline: 0.059\n"
    )

    guide = load_guide(topic, load_shop(folder, topic), ("en",))

    assert complaints() == []
    assert guide.topic.fastenings["freewheel-2-notch"].prior == pytest.approx(0.10)
    assert guide.topic.digest != before.topic.digest == topic.digest


@pytest.mark.parametrize(
    ("text", "complaint"),
    [
        ("topic: front-forks\n", "learned.yaml:1:8: topic: 'front-forks' is no name of this topic"),
        ("topic: rear-sprockets\npriors: {gone: 0.5}\n", "learned.yaml:2:16: priors.gone: 'gone' is no fastening"),
        ("topic: rear-sprockets\nslips: {size: 0.1}\n", "learned.yaml:2:15: slips.size: 'size' is no question with"),
        ("topic: rear-sprockets\nslips: {spin: 0.6}\n", "learned.yaml:2:15: slips.spin: should be less than 0.5"),
        ("topic: rear-sprockets\npriors: {unlisted: 0}\n", "learned.yaml:2:20: priors.unlisted: should be greater"),
        ("priors: {}\n", "learned.yaml:1:1: topic: is missing"),
    ],
)
def test_a_file_that_means_nothing_keeps_the_shop_from_being_used(
    folder: Path, topic: Topic, complaints: Complaints, text: str, complaint: str
) -> None:
    write(folder, text)

    with pytest.raises(DataError):
        load_shop(folder, topic)
    assert any(row.startswith(complaint) for row in complaints()), complaints()


@pytest.mark.parametrize(
    ("priors", "complaint"),
    [
        ("unlisted: 0.01, freewheel-2-notch: 0.023", "2:20: priors.unlisted: no less than 0.018"),
        ("freewheel-2-notch: 0.001, freewheel-12-spline: 0.158", "2:29: priors.freewheel-2-notch: no less than 0.0015"),
        ("freewheel-2-notch: 0.3", "2:1: priors: they sum to 0.3, where the topic gives these fastenings 0.015"),
    ],
)
def test_figures_that_ought_not_to_be_are_told_and_held_at_their_floors(
    folder: Path, topic: Topic, complaints: Complaints, priors: str, complaint: str
) -> None:
    write(folder, f"topic: rear-sprockets\npriors: {{{priors}}}\n")

    guide = load_guide(topic, load_shop(folder, topic), ("en",))

    assert guide.topic.fastenings["unlisted"].prior >= 0.018 - 1e-9
    assert [row for row in complaints() if row.startswith(f"learned.yaml:{complaint}")]


def test_figures_that_put_a_fastening_out_of_reach_are_told(folder: Path, topic: Topic, complaints: Complaints) -> None:
    choices = [question.id for question in topic.flow.questions if question.slip is not None]
    write(folder, "topic: rear-sprockets\nslips:\n" + "".join(f"  {name}: 0.4\n" for name in choices))

    (first, *_) = complaints()
    assert "learned.yaml" in first
    assert "no truthful answers lead to the remover of 'cassette-threaded-sprocket'" in first
