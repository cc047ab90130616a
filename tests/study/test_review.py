"""A review by hand, its table and its page."""

import json
import re
from dataclasses import asdict, replace
from datetime import timedelta
from html.parser import HTMLParser

import pytest
from scipy.stats import beta

from tests.strategies import rear_sprockets
from tests.study.shelf import FOUR_NOTCH, TWELVE, closed, said
from triagebot.cases.runs import Run, runs_of
from triagebot.conversation import Case
from triagebot.study.findings import finding_of
from triagebot.study.learning import learned_from
from triagebot.study.review import Review, Tally, review
from triagebot.study.review_page import review_page
from triagebot.study.review_table import review_table
from triagebot.testing import START
from triagebot.topics import taught

TOPIC = rear_sprockets()
NOW = START + timedelta(days=30)


def runs(*cases: Case) -> list[Run]:
    return [run for case in cases for run in runs_of(case.events)]


def some() -> list[Run]:
    return runs(
        closed(said(*FOUR_NOTCH, code="AAA-001"), "freewheel-4-notch-24", True),
        closed(said(*FOUR_NOTCH, code="AAA-002"), "freewheel-4-notch-24", False),
        closed(said(*FOUR_NOTCH, code="AAA-003"), "freewheel-2-notch"),
        closed(said(*TWELVE, code="AAA-004"), None, True),
        closed(said("person", code="AAA-005"), "unlisted"),
        closed(said("12 splines", code="AAA-006"), "freewheel-12-spline"),
        closed(said(*FOUR_NOTCH, code="AAA-007"), None, None),
        said("12 splines", code="AAA-008"),
        said("12 splines", "stop", code="AAA-009"),
        said("12 splines", "it was 20 splines, not 12", code="AAA-010", days=30),
        said(*FOUR_NOTCH, code="AAA-011"),
    )


def reviewed(found: list[Run]) -> Review:
    return review(found, TOPIC, TOPIC, NOW)


def test_what_is_counted() -> None:
    found = reviewed(some())

    assert (found.runs, found.closed, found.misfits, found.elsewhere) == (11, 7, 1, 0)
    assert found.tally == Tally(right=3, wrong=1, person=1, none=1, unknown=1)
    assert dict(found.fastenings)["freewheel-4-notch-24"] == Tally(right=2)
    assert dict(found.fastenings)["freewheel-2-notch"] == Tally(wrong=1)
    assert list(dict(found.fastenings)) == [name for name in TOPIC.fastenings if name in dict(found.fastenings)]


def test_questions_that_people_fail() -> None:
    found = {row.question: row for row in reviewed(some()).questions}

    assert (found["count"].judged, found["count"].contradicted) == (5, 1), "four notches, and there were two"
    assert found["count"].taken_back == 1
    assert found["spin"].contradicted == 0
    assert all(row.unsure <= row.answered and row.contradicted <= row.judged for row in found.values())


def test_where_people_gave_up_and_who_is_still_at_it() -> None:
    rows = reviewed(some()).given_up
    (open_question,) = {run.open for run in runs(said("12 splines"))}

    assert [(row.question, row.left, row.stopped) for row in rows] == [(open_question, 1, 1)]
    earlier = review(some(), TOPIC, TOPIC, START + timedelta(hours=1)).given_up
    assert [(row.left, row.stopped) for row in earlier] == [(0, 1)]


def test_bands_say_how_often_it_came_true() -> None:
    found = reviewed(some())

    assert sum(band.cases for band in found.bands) == 4
    assert sum(band.cases for band in found.bins) == 5, "the person's case was stated, too"
    (band,) = (band for band in found.bins if band.cases >= 3)
    findings = [finding for run in some() if (finding := finding_of(run, TOPIC)) and finding.stated is not None]
    inside = [f for f in findings if f.stated is not None and f.stated >= 0.95]
    true = sum(bool(f.correct) for f in inside)
    assert band.true == true / len(inside)
    assert (band.low, band.high) == pytest.approx(beta.interval(0.95, 1 + true, 1 + len(inside) - true))


def test_another_edition_is_told() -> None:
    older = [replace(run, edition="0000-0000") for run in some()]

    assert reviewed(older).elsewhere == 7


def test_to_learn_from_the_same_cases_again_teaches_nothing_new() -> None:
    found = reviewed(some())
    learned = learned_from(TOPIC, found.priors, found.slips, found.closed, None)
    again = review(some(), TOPIC, taught(TOPIC, learned), NOW)

    assert [row.suggested for row in again.priors] == [row.suggested for row in found.priors]
    assert [row.suggested for row in again.slips] == [row.suggested for row in found.slips]
    assert [row.used for row in again.priors] != [row.used for row in found.priors]


def test_nothing_yet() -> None:
    found = reviewed([])

    assert found.tally.cases == 0
    assert "0 conversations" in review_table(found)
    assert "before cases are closed" in review_page(found, "today")


def test_the_table_says_it_all() -> None:
    table = review_table(reviewed(some()))

    assert "11 conversations, 7 of them closed" in table
    assert "1 time the right remover was named and did not fit" in table
    (row,) = (line for line in table.splitlines() if line.split()[:1] == ["all"])
    assert row.split() == ["all", "3", "0", "1", "1", "1", "1"]
    assert max(map(len, table.splitlines())) <= 120


class Page(HTMLParser):
    """What a page would fetch or run, and whether its tags close."""

    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []
        self.fetched: list[str] = []

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.handle_starttag(tag, attrs)
        if self.open and self.open[-1] == tag:
            self.open.pop()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if tag not in ("meta", "br", "rect", "path", "circle"):
            self.open.append(tag)
        self.fetched += [f"{tag} {name}" for name, _ in attrs if name in ("src", "href", "xlink:href", "srcset")]
        if tag in ("script", "link", "iframe", "object", "image", "img", "use"):
            self.fetched.append(tag)

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag


def test_the_page_fetches_nothing_and_is_whole() -> None:
    text = review_page(reviewed(some()), "2026-03-02 <10:00>")
    page = Page()
    page.feed(text)
    page.close()

    assert page.fetched == []
    assert page.open == []
    assert "url(" not in text
    assert "@import" not in text
    assert "&lt;10:00&gt;" in text
    assert text.count("<svg ") == 4
    assert "nan" not in text


def test_the_words_of_a_drawing_can_be_read_on_a_phone() -> None:
    """On a screen of 390 points some 326 are left for it; a drawing 360 units wide shows 13 as 12 points there."""
    text = review_page(reviewed(some()), "today")
    assert "width=device-width" in text
    wide = [float(box.split()[2]) for box in re.findall(r'viewBox="([^"]+)"', text)]
    assert len(wide) == 4
    assert all(13 * 326 / each >= 9.5 for each in wide)
    assert max(wide) <= 440


def test_no_code_and_nothing_that_was_written_is_in_any_of_it() -> None:
    found = reviewed(runs(closed(said("my name is Quilla and I have 12 splines", code="QQQ-222"), "unlisted")))

    for text in (review_table(found), review_page(found, "today"), json.dumps(asdict(found))):
        assert "Quilla" not in text
        assert "QQQ" not in text
