"""How a visit is told again: by its time where one was said, else by the part of the day and its hours."""

from dataclasses import replace
from datetime import UTC, datetime

import pytest

from tests.conversation.guides import shipped_guide
from triagebot.conversation import Guide
from triagebot.conversation.visiting import Visit, hold_of, visit_of, visit_words
from triagebot.shop.schema import Visits

#: A Thursday.
DAY = "2026-03-05"


@pytest.fixture
def guide() -> Guide:
    """The example shop, taking visits."""
    guide = shipped_guide()
    shop = guide.shop
    return replace(guide, shop=replace(shop, about=shop.about.model_copy(update={"visits": Visits(afternoon=2)})))


def test_a_visit_with_a_time_is_told_by_it(guide: Guide) -> None:
    texts = guide.language("en").texts
    at = datetime(2026, 3, 5, 14, 30, tzinfo=guide.shop.zone).astimezone(UTC)
    assert "afternoon" not in (words := visit_words(guide, texts, Visit(DAY, "afternoon", at)))
    assert words.startswith("Thursday")
    assert words.endswith(("2:30 pm", "14:30")), words


def test_a_visit_without_one_is_told_by_the_part_of_the_day(guide: Guide) -> None:
    words = visit_words(guide, guide.language("en").texts, Visit(DAY, "afternoon", None))
    assert words.startswith("Thursday")
    assert "afternoon" in words


def test_what_is_noted_of_a_visit_and_a_hold_is_read_again() -> None:
    at = datetime(2026, 3, 5, 14, 30, tzinfo=UTC)
    for visit in (Visit(DAY, "afternoon", at), Visit(DAY, "afternoon", None)):
        assert visit_of(visit.text) == visit
    assert hold_of(f"remover-20-spline {at.isoformat()}").until == at
