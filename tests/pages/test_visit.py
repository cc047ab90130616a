"""A visit that was agreed on, as a file for a calendar behind an address that cannot be guessed."""

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from icalendar import Calendar

from tests.counter.visiting import visiting_guide
from tests.pages.conftest import Visitor
from tests.store.reading import current_case
from triagebot.cases.calendar import LASTS, calendar_link
from triagebot.cases.loaded import rows_of
from triagebot.conversation import Message
from triagebot.conversation.events import Remarked
from triagebot.conversation.visiting import AGREED, CANCELLED
from triagebot.delivery import WaitingClient
from triagebot.pages import app
from triagebot.pages.download import TRIES
from triagebot.store import Store, open_store
from triagebot.testing import Clock

NOW = datetime(2026, 3, 2, 12, tzinfo=UTC)
ME = "terminal:me"


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    with open_store(tmp_path / "data", key_file=tmp_path / "key") as opened:
        yield opened


def remarked(store: Store, what: str, text: str) -> str:
    """The address of the file of somebody's case once this was noted in it."""
    client = WaitingClient(visiting_guide(), store, Clock(NOW), fresh=lambda: "K7M-4QX")
    client.hear(ME, Message("it stays still"), "en")
    with store.begin() as tx:
        case = current_case(tx, ME)
        assert case is not None
        tx.append(case.id, len(case.events), rows_of((Remarked(NOW, what, text),), {}))
        return calendar_link(tx, case.id, "", NOW)


def visitor(store: Store, now: datetime = NOW) -> Visitor:
    return Visitor(app(visiting_guide(), store=store, clock=Clock(now)), "203.0.113.7", "")


def test_a_visit_in_a_part_of_a_day_is_a_file_in_the_shops_time(store: Store) -> None:
    address = remarked(store, AGREED, "2026-04-02 afternoon -")
    page = visitor(store)(address)
    assert page.status_code == 200
    assert page.headers["content-type"] == "text/calendar; charset=utf-8"
    assert page.headers["content-disposition"] == 'attachment; filename="visit.ics"'
    assert page.headers["cache-control"] == "no-store"
    calendar = Calendar.from_ical(page.content)
    (event,) = calendar.walk("VEVENT")
    # In summer time: 15:00 in London is 14:00 UTC. Times of the example shop.
    assert event.decoded("dtstart").astimezone(UTC) == datetime(2026, 4, 2, 14, tzinfo=UTC)
    assert event.decoded("dtend").astimezone(UTC) == datetime(2026, 4, 2, 16, tzinfo=UTC)
    assert str(event["dtstart"].params["TZID"]) == "Europe/London"
    assert [str(zone["tzid"]) for zone in calendar.walk("VTIMEZONE")] == ["Europe/London"]
    assert "K7M-4QX" in str(event["description"])


def test_what_is_off_over_or_wrong_is_all_alike(store: Store) -> None:
    address = remarked(store, AGREED, "2026-03-05 afternoon -")
    late = visitor(store, NOW + LASTS + timedelta(minutes=1))(address)
    remarked(store, CANCELLED, "")
    off, wrong = visitor(store)(address), visitor(store)("/visit/nothing.ics")
    assert [page.status_code for page in (late, off, wrong)] == [404] * 3
    assert late.text == off.text == wrong.text


def test_nobody_may_try_many(store: Store) -> None:
    guesser = visitor(store)
    found = [guesser(f"/visit/guess{number}.ics").status_code for number in range(int(TRIES.burst) + 1)]
    assert found[-1] == 429
