"""Readings in words: ranges told as ranges, reasons in one order, makers' names only where they are meant."""

import pytest

from triagebot.conversation import Guide
from triagebot.conversation.wording import all_said, either, label, listing, number, said
from triagebot.identify import BoundReading, ChoiceReading, CountReading, Reading, SizeReading, UnsureReading


@pytest.mark.parametrize(
    ("reading", "clause"),
    [
        (SizeReading("size", 23.4), "it measures 23.4 mm"),
        (SizeReading("size", 23.0, means="calliper"), "it measures 23 mm with a calliper"),
        (SizeReading("size", 40.0, 0.5), "it measures about 40 mm"),
        (SizeReading("size", 23.4, 0.5), "it measures about 23.4 mm"),
        (SizeReading("size", 24.5, 0.5), "it measures 24 to 25 mm"),
        (SizeReading("size", 23.75, 0.25), "it measures 23.5 to 24 mm"),
        (BoundReading("size", low=24.25, means="gauge"), "it measures more than 24.25 mm by a coin or card"),
        (BoundReading("size", high=23.25), "it measures less than 23.25 mm"),
        (BoundReading("size", 30, 45), "it measures 30 to 45 mm"),
        (CountReading("count", 12, 12), "the count is 12"),
        (CountReading("count", 11, 12), "the count is 11 to 12"),
        (CountReading("sprockets", 1, 1), "there is one sprocket at the back"),
        (CountReading("sprockets", 7, 7), "there are 7 sprockets at the back"),
        (CountReading("sprockets", 6, 7), "there are 6 to 7 sprockets at the back"),
        (ChoiceReading("spin", "stays"), "the middle stays still"),
        (ChoiceReading("fitting", "splines", denied=True), "there are no splines"),
        (
            ChoiceReading("marking", "odd-freewheel", denied=True),
            "it’s not true that the maker’s name is Plimbrook",
        ),
        (ChoiceReading("marking", "common-ring"), "the maker’s name is Tarvolden, Hoddesley or Brünnhalter"),
        (ChoiceReading("marking", "odd-freewheel"), "the maker’s name is Plimbrook"),
        (ChoiceReading("marking", "other"), "there’s another maker’s name, or none"),
        (UnsureReading("size"), "you’re not sure about the width of the fitting"),
    ],
)
def test_a_reading_is_told_as_it_was_meant(guide: Guide, reading: Reading, clause: str) -> None:
    assert said(guide, guide.language("en").texts, reading) == clause


def test_reasons_come_in_the_order_of_the_questions_without_what_is_not_known(guide: Guide) -> None:
    readings: list[Reading] = [
        SizeReading("size", 32.0),
        UnsureReading("body"),
        CountReading("count", 4, 4),
        ChoiceReading("spin", "stays"),
        CountReading("count", 4, 4),
    ]
    assert all_said(guide, guide.language("en").texts, readings) == (
        "the middle stays still, the count is 4 and it measures 32 mm"
    )


def test_an_answer_that_changed_when_asked_again_is_told_with_the_one_before(guide: Guide) -> None:
    readings = [CountReading("count", 19, 19), CountReading("count", 20, 20)]
    assert all_said(guide, guide.language("en").texts, readings) == ("the count is 20 (at first: the count is 19)")


def test_bounds_are_told_side_by_side(guide: Guide) -> None:
    readings = [BoundReading("size", low=23.25), BoundReading("size", high=25.75)]
    assert all_said(guide, guide.language("en").texts, readings) == (
        "it measures more than 23.25 mm and it measures less than 25.75 mm"
    )


def test_a_person_who_finds_no_name_finds_a_choice_for_it(guide: Guide) -> None:
    question, texts = guide.topic.questions["marking"], guide.language("en").texts
    labels = {choice: label(guide, texts, question, choice) for choice in question.choices}
    assert labels["other"] == "Another name, or no name at all"
    assert labels["deep-ring"] == "Wexmarrow, Ostrafell"


def test_rows_are_joined_as_english_joins_them(guide: Guide) -> None:
    texts = guide.language("en").texts
    assert listing(texts, []) == ""
    assert listing(texts, ["a"]) == "a"
    assert listing(texts, ["a", "b", "c"]) == "a, b and c"
    assert either(texts, ["a", "b", "c"]) == "a, b or c"
    assert number(texts, 1234.56) == "1234.6"
