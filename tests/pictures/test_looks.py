"""What a fastening looks like is what the catalogue says of it, and nothing that it does not say."""

import pytest

from tests.pictures.conftest import SUBJECT, Described
from triagebot.pictures.looks import UNKNOWN, USUAL, look_of
from triagebot.topics import Topic

EXPECTED = {
    "cassette-12-spline": ("splines", 12, (23.4, 23.4)),
    "cassette-12-spline-deep": ("splines", 12, (22.8, 22.8)),
    "cassette-threaded-driver": ("splines", 12, (23.4, 23.4)),
    "cassette-notched-ring": ("outer-notches", 3, (30, 45)),
    "cassette-threaded-sprocket": ("none", 0, None),
    "freewheel-12-spline": ("splines", 12, (23, 23)),
    "freewheel-12-spline-small": ("splines", 12, (20, 20)),
    "freewheel-12-spline-odd": ("splines", 12, (22.5, 22.5)),
    "freewheel-20-spline": ("splines", 20, (21.5, 21.5)),
    "freewheel-2-notch": ("notches", 2, (25, 25)),
    "freewheel-4-notch-24": ("notches", 4, (24, 24)),
    "freewheel-4-notch-32": ("notches", 4, (32, 32)),
    "freewheel-4-notch-40": ("notches", 4, (40, 40)),
    "fixed-notched-ring": ("outer-notches", 3, (30, 45)),
    "snap-ring-sprocket": ("wire-ring", 0, None),
    "freewheel-3-notch": ("notches", 3, (19, 40)),
    "freewheel-6-notch": ("notches", 6, (19, 40)),
    "freewheel-8-notch": ("notches", 8, (19, 40)),
    "freewheel-fine-spline": ("splines", 24, (18, 30)),
    "ring-16-outer-notch": ("outer-notches", 16, (40, 48)),
    "hub-helical-bayonet": ("unknown", 0, None),
    "locknut-flats": ("unknown", 0, None),
    "unlisted": ("unknown", 0, None),
}


def test_every_fastening_looks_as_the_table_of_common_practice_has_it(topic: Topic) -> None:
    """Common practice of the trade; the diameters that are uncertain are the catalogue's own."""
    looks = {name: look_of(row) for name, row in topic.fastenings.items()}
    assert {name: (look.kind, look.count, look.sizes) for name, look in looks.items()} == EXPECTED


def test_a_mix_is_drawn_at_its_likeliest_and_told_in_full(described: Described) -> None:
    row = described(fitting="notches", count={"2": 0.3, "4": 0.6, "8": 0.1}, size={"low": 20, "high": 30})
    look = look_of(row.fastenings[SUBJECT])
    assert (look.count, look.counts, look.across, look.sizes) == (4, (2, 8), 25, (20, 30))


def test_what_cannot_happen_is_not_told(described: Described) -> None:
    look = look_of(described(fitting="splines", count={"12": 1.0, "40": 0.0}).fastenings[SUBJECT])
    assert look.counts == (12, 12)


@pytest.mark.parametrize(
    "answers",
    [{}, {"fitting": "splines"}, {"fitting": "a-square-hole", "count": "4"}, {"fitting": "notches", "count": "0"}],
)
def test_what_the_catalogue_does_not_describe_is_not_made_up(described: Described, answers: dict[str, str]) -> None:
    assert look_of(described(**answers).fastenings[SUBJECT]) == UNKNOWN


def test_without_a_size_a_usual_one_is_drawn_and_none_is_told(described: Described) -> None:
    look = look_of(described(fitting="splines", count="12").fastenings[SUBJECT])
    assert (look.across, look.sizes) == (USUAL["splines"], None)
