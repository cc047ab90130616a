"""Outlines for a screen: distinct, true to the catalogue, and nothing drawn outside the diameter."""

from dataclasses import replace
from math import hypot

import pytest
from fontTools.pens.boundsPen import BoundsPen
from fontTools.pens.recordingPen import RecordingPen
from fontTools.svgLib.path import parse_path
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from triagebot.gauge import screen_outlines
from triagebot.gauge.outlines import kinds_of
from triagebot.topics import Fastening, Texts, Topic

SUBJECT = "freewheel-12-spline"


def described(topic: Topic, **answers: object) -> Topic:
    """A topic of one fastening with these answers."""
    return listed(topic, fastening(topic, answers))


def listed(topic: Topic, *rows: Fastening) -> Topic:
    """A topic of these fastenings."""
    return replace(topic, catalogue=topic.catalogue.model_copy(update={"fastenings": rows}))


def fastening(topic: Topic, answers: dict[str, object], **changes: object) -> Fastening:
    """A fastening with a remover, with these answers and changed as said."""
    row = topic.fastenings[SUBJECT].model_dump(by_alias=True) | {"answers": answers}
    return Fastening.model_validate(row | changes)


def reach(path: str) -> float:
    """How far the farthest corner of a path is from the middle, mm."""
    pen = RecordingPen()
    parse_path(path, pen)
    return max(hypot(*points[-1]) for _, points in pen.value if points)


def extent(path: str) -> tuple[float, float, float, float]:
    pen = BoundsPen(None)
    parse_path(path, pen)
    bounds: tuple[float, float, float, float] = pen.bounds
    return bounds


def test_every_distinct_fitting_has_one_outline(topic: Topic, texts: Texts) -> None:
    outlines = screen_outlines(topic)
    assert [(o.kind, o.count, o.diameter_mm) for o in outlines] == [
        ("splines", 12, 20.0),
        ("splines", 12, 22.5),
        ("splines", 12, 22.8),
        ("splines", 12, 23.0),
        ("splines", 12, 23.4),
        ("splines", 20, 21.5),
        ("notches", 2, 25.0),
        ("notches", 4, 24.0),
        ("notches", 4, 32.0),
        ("notches", 4, 40.0),
        ("outer-notches", 0, 37.5),
    ]
    assert len({o.id for o in outlines}) == len(outlines)
    shared = {o.id: o.fastenings for o in outlines}
    assert shared["splines-12-23.4"] == ("cassette-12-spline", "cassette-threaded-driver")
    assert shared["outer-notches-3-6-30-45"] == ("cassette-notched-ring", "fixed-notched-ring")


def test_every_outline_says_what_it_is(topic: Topic, texts: Texts) -> None:
    labels = {o.id: o.label(texts).replace("\N{NO-BREAK SPACE}", " ") for o in screen_outlines(topic)}
    assert labels["splines-12-23.4"] == "12 splines, 23.4 mm"
    assert labels["notches-4-32"] == "4 notches, 32 mm"
    assert labels["outer-notches-3-6-30-45"] == "3 to 6 notches outside: between the lines, 30 to 45 mm"
    assert len(set(labels.values())) == len(labels)


def test_a_path_reaches_the_diameter_and_no_farther(topic: Topic) -> None:
    for outline in screen_outlines(topic):
        radius = outline.high_mm / 2
        left, foot, right, top = extent(outline.svg_path_mm)
        assert reach(outline.svg_path_mm) == pytest.approx(radius, abs=0.02)
        assert (-left, -foot, top) == pytest.approx([right] * 3, abs=0.02)
        assert right == pytest.approx(radius, abs=0.02)


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow])
@given(
    kind=st.sampled_from(["splines", "notches", "outer-notches"]),
    count=st.integers(2, 48),
    mm=st.floats(15, 60).map(lambda mm: round(mm, 2)),
)
def test_any_fitting_of_any_catalogue_is_drawn_within_its_diameter(
    topic: Topic, texts: Texts, kind: str, count: int, mm: float
) -> None:
    (outline,) = screen_outlines(described(topic, fitting=kind, count=str(count), size={"mm": mm}))
    assert (outline.kind, outline.count, outline.diameter_mm) == (kind, count, mm)
    assert reach(outline.svg_path_mm) == pytest.approx(mm / 2, abs=0.01)
    assert outline.svg_path_mm.count("M") > 1


@pytest.mark.parametrize(
    "answers",
    [
        {},
        {"fitting": "splines", "count": "12"},
        {"fitting": "splines", "size": {"mm": 23}},
        {"fitting": "none", "count": "12", "size": {"mm": 23}},
        {"count": "12", "size": {"mm": 23}},
    ],
)
def test_what_the_catalogue_does_not_say_is_not_drawn(topic: Topic, texts: Texts, answers: dict[str, object]) -> None:
    assert screen_outlines(described(topic, **answers)) == ()


def test_a_span_without_a_remover_is_not_drawn(topic: Topic) -> None:
    """It would lead to a person, as the count does; one size tells what has no remover from what has one."""
    span: dict[str, object] = {"fitting": "notches", "count": "3", "size": {"low": 19, "high": 40}}
    rare = fastening(topic, span, id="rare", remover=None)
    assert screen_outlines(listed(topic, rare)) == ()
    assert [o.id for o in screen_outlines(described(topic, **span))] == ["notches-3-19-40"]
    small = fastening(topic, span | {"size": {"mm": 20}}, id="small", remover=None)
    assert [o.id for o in screen_outlines(listed(topic, small))] == ["notches-3-20"]
    (shared,) = screen_outlines(listed(topic, rare, fastening(topic, span)))
    assert shared.fastenings == ("rare", SUBJECT)


def test_where_only_the_number_is_open_there_is_one_circle(topic: Topic, texts: Texts) -> None:
    mixed = described(topic, fitting="notches", count={"2": 0.5, "4": 0.5}, size={"mm": 24})
    (outline,) = screen_outlines(mixed)
    assert (outline.count, outline.counts, outline.low_mm, outline.high_mm) == (0, (2, 4), 24, 24)
    assert outline.svg_path_mm.count("M") == 1
    assert kinds_of(mixed)[0].id == outline.id == "notches-2-4-24"


def test_the_likeliest_kind_is_drawn(topic: Topic, texts: Texts) -> None:
    mixed = described(topic, fitting={"splines": 0.2, "notches": 0.8}, count="4", size={"mm": 24})
    assert screen_outlines(mixed)[0].kind == "notches"
