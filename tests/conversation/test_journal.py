"""Events as JSON objects and back; folding is total."""

import json
from datetime import UTC, datetime, timedelta, timezone

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests import strategies as domain
from tests.conversation.invariants import through_json
from triagebot.conversation import Event, Fact, Puzzle, fold_events
from triagebot.conversation import case as events
from triagebot.conversation.events import from_json, to_json
from triagebot.identify import CountReading, SizeReading

START = datetime(2026, 3, 2, 10, tzinfo=UTC)
OPENED = events.Opened(START, "AAA-001", "rear-sprockets", "abc", "en", "begin")


def words() -> st.SearchStrategy[str]:
    return st.text(max_size=12)


def ids() -> st.SearchStrategy[str]:
    return st.sampled_from(["spin", "count", "size", "ask-spin", "begin", "wheel"])


def facts() -> st.SearchStrategy[Fact]:
    return st.builds(Fact, domain.readings(), words(), st.booleans())


def any_event() -> st.SearchStrategy[Event]:
    """Any event but the first, in any order that no conversation would have."""
    at = st.datetimes(
        datetime(2020, 1, 1), datetime(2040, 1, 1), timezones=st.sampled_from([UTC, timezone(timedelta(hours=5.5))])
    )
    puzzles = st.builds(
        Puzzle,
        st.sampled_from(["unit", "range", "choice", "conflict"]),
        ids(),
        words(),
        st.one_of(st.none(), domain.readings()),
    )
    flags = (st.booleans(),) * 4
    lists = st.lists(ids(), max_size=3).map(tuple)
    return st.one_of(
        st.builds(events.Asked, at, ids(), ids(), *flags),
        st.builds(events.Answered, at, st.lists(facts(), max_size=3).map(tuple), lists, words(), words()),
        st.builds(events.Puzzled, at, puzzles, ids()),
        st.builds(events.Listed, at),
        st.builds(events.Withdrew, at, ids()),
        st.builds(events.Undid, at),
        st.builds(
            events.Concluded,
            at,
            st.sampled_from(["answer", "look-alike", "person", "stopped"]),
            ids(),
            st.sampled_from(["", "asked", "doubt", "unlisted", "no-remover", "referral"]),
        ),
        st.builds(events.Restarted, at, ids()),
        st.builds(events.Adopted, at, words(), lists, st.one_of(st.none(), ids()), ids()),
        st.builds(events.Remarked, at, st.sampled_from(["not-understood", "help"]), words()),
        st.builds(events.Spoke, at, st.sampled_from(["en", "de"])),
        st.builds(events.Closed, at, st.one_of(st.none(), ids()), st.one_of(st.none(), st.booleans()), words()),
    )


@given(any_event())
def test_every_event_comes_back_as_it_was(event: Event) -> None:
    assert through_json(event) == event


@given(st.lists(any_event(), max_size=15))
def test_folding_is_total_and_stepwise(later: list[Event]) -> None:
    case = fold_events([OPENED, *later])
    assert case.events == (OPENED, *later)
    assert fold_events(from_json(json.loads(json.dumps(to_json(event)))) for event in case.events) == case
    for reading in case.now.readings:
        assert any(isinstance(e, events.Answered) and reading in [f.reading for f in e.facts] for e in later)


@given(st.lists(any_event(), max_size=8), st.lists(facts(), max_size=2))
def test_undo_gives_back_what_stood_before_the_answer(later: list[Event], told: list[Fact]) -> None:
    before = fold_events([OPENED, *later])
    after = fold_events([*before.events, events.Answered(START, tuple(told)), events.Undid(START)])
    assert after.now.facts == before.now.facts
    assert after.now.question == before.now.question
    assert after.past == before.past


@given(st.lists(any_event(), max_size=8), st.lists(any_event(), max_size=8))
def test_what_staff_close_a_case_with_changes_nothing_of_the_conversation(
    before: list[Event], later: list[Event]
) -> None:
    closed = events.Closed(START + timedelta(days=1), "freewheel-2-notch", True, "Ada")
    case = fold_events([OPENED, *before, closed, *later])
    without = fold_events([OPENED, *before, *later])
    assert (case.now, case.past, case.missed, case.touched) == (
        without.now,
        without.past,
        without.missed,
        without.touched,
    )
    again = [event for event in later if isinstance(event, events.Closed | events.Restarted)]
    assert (case.closed == closed) == (not again or again[-1] == closed)


def test_what_it_really_was_is_as_said_last_until_a_restart() -> None:
    first, second = (events.Closed(START, kind, fitted, "Ada") for kind, fitted in [("a", True), (None, False)])
    assert fold_events([OPENED]).closed is None
    assert fold_events([OPENED, first, second]).closed == second
    assert fold_events([OPENED, first, events.Undid(START)]).closed == first
    assert fold_events([OPENED, first, events.Restarted(START, "begin")]).closed is None


def test_a_case_begins_with_opened() -> None:
    with pytest.raises(ValueError, match="begins with an Opened"):
        fold_events([])
    with pytest.raises(ValueError, match="begins with an Opened"):
        fold_events([events.Undid(START)])


@pytest.mark.parametrize(
    ("written", "told"),
    [
        ({"kind": "sang", "at": "2026-03-02T10:00:00+00:00"}, "event 'sang': unknown kind.*newer"),
        ({"at": "2026-03-02T10:00:00+00:00"}, "event 'without a kind': unknown kind"),
        (
            {"kind": "undid", "at": "2026-03-02T10:00:00+00:00", "loudly": True},
            "event 'undid.loudly': unknown field.*newer",
        ),
        ({"kind": "asked", "at": "2026-03-02T10:00:00+00:00"}, "event 'asked.question': lacks this field"),
        ({"kind": "undid", "at": "yesterday"}, "event 'undid.at': .*datetime"),
        ({"kind": "count-reading", "question": "count", "low": 1, "high": 2}, "event 'count-reading': unknown kind"),
    ],
)
def test_what_cannot_be_read_says_why(written: dict[str, object], told: str) -> None:
    with pytest.raises(ValueError, match=told):
        from_json(written)


def test_what_is_written_is_plain() -> None:
    fact = Fact(CountReading("count", 11, 12), "11 or 12")
    assert to_json(events.Answered(START, (fact,), ("motor",), "11 or 12")) == {
        "kind": "answered",
        "at": "2026-03-02T10:00:00+00:00",
        "facts": [
            {
                "kind": "fact",
                "reading": {"kind": "count-reading", "question": "count", "low": 11, "high": 12},
                "text": "11 or 12",
                "corrects": False,
            }
        ],
        "mentions": ["motor"],
        "text": "11 or 12",
        "by": "person",
    }
    puzzle = Puzzle("unit", "size", "2.3 mm", SizeReading("size", 23.0))
    assert to_json(events.Puzzled(START, puzzle, "confirm"))["puzzle"]["of"] == "unit"
