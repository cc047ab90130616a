"""What happened in a case, run by run."""

from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.conversation.guides import shipped_guide
from tests.conversation.sayings import messages as sayings
from tests.study.shelf import FOUR_NOTCH, closed, keep, said
from triagebot.cases.runs import Run, runs_of
from triagebot.cases.summaries import kept_runs
from triagebot.conversation import Message, edition
from triagebot.conversation.events import Answered
from triagebot.identify import ChoiceReading, CountReading, SizeReading, UnsureReading
from triagebot.store import open_store
from triagebot.testing import START, Clock, ScriptedPerson


def only(*texts: str) -> Run:
    (run,) = runs_of(said(*texts).events)
    return run


def test_a_run_that_was_answered() -> None:
    run = only(*FOUR_NOTCH)

    assert (run.code, run.outcome, run.opened) == ("AAA-001", "answer", START)
    assert run.edition == edition(shipped_guide().topic.digest)
    assert {ChoiceReading("spin", "stays"), CountReading("count", 4, 4)} <= set(run.evidence)
    assert SizeReading("size", 24.0, means="calliper") in run.evidence
    assert run.said[: len(run.evidence)] == run.evidence
    assert run.taken_back == ()
    assert 0 < run.questions <= len(run.asked)


def test_what_is_told_after_the_outcome_adds_nothing_that_identifies() -> None:
    answered = said(*FOUR_NOTCH)
    (before,) = runs_of(answered.events)
    (after,) = runs_of(said(*FOUR_NOTCH, "quick release").events)

    assert any(reading.question == "axle" for reading in after.said)
    assert tuple(reading for reading in after.evidence if reading.question != "axle") == before.evidence


def test_what_was_taken_back_counts_whichever_way_it_was() -> None:
    corrected = only("12 splines", "it was 20 splines, not 12")
    undone = only("12 splines", "back")

    assert "count" in corrected.taken_back
    assert set(undone.taken_back) >= {"count", "fitting"}
    assert undone.evidence == ()
    assert CountReading("count", 12, 12) in undone.said


def test_where_a_conversation_stopped_and_what_was_open() -> None:
    left = only("12 splines")
    stopped = only("12 splines", "stop")

    assert (left.outcome, stopped.outcome) == (None, "stopped")
    assert left.open is not None
    assert stopped.open == left.open


def test_not_knowing_is_kept_as_that() -> None:
    run = only("I don't know")

    assert [type(reading) for reading in run.said] == [UnsureReading]


def test_a_restart_begins_the_next_run_and_each_is_closed_by_itself() -> None:
    clock = Clock()
    person = ScriptedPerson(shipped_guide(), clock)
    person.says(*FOUR_NOTCH)
    first = closed(person.case, "freewheel-4-notch-24", True)
    person.last = replace(person.last, case=first)
    person.says("restart", "20 splines")

    one, two = runs_of(person.case.events)
    assert one.closed is not None
    assert one.outcome == "answer"
    assert two.closed is None
    assert CountReading("count", 20, 20) in two.said
    assert CountReading("count", 20, 20) not in one.said
    assert two.evidence


def test_events_that_do_not_begin_a_case() -> None:
    with pytest.raises(ValueError, match="Opened"):
        list(runs_of(said("hello").events[1:]))


def test_runs_come_out_of_a_store_since_a_day(tmp_path: Path) -> None:
    cases = [said("12 splines", code=f"AAA-00{n}", days=10 * n) for n in range(3)]
    cases[0] = closed(cases[0], "unlisted")
    key = keep(tmp_path / "data", cases)

    with open_store(tmp_path / "data", key_file=key) as store, store.read() as view:
        everything = list(kept_runs(view, "rear-sprockets"))
        later = list(kept_runs(view, "rear-sprockets", START + timedelta(days=5)))
        other = list(kept_runs(view, "front-forks"))
    assert [run.code for run in everything] == ["AAA-000", "AAA-001", "AAA-002"]
    assert [run.code for run in later] == ["AAA-001", "AAA-002"]
    assert everything[0].closed is not None
    assert other == []


@given(st.lists(sayings(), max_size=12))
def test_whatever_is_said_runs_and_case_agree(messages: list[Message]) -> None:
    person = ScriptedPerson(shipped_guide())
    for message in messages:
        person.send(message)
    found = list(runs_of(person.case.events))
    last, now = found[-1], person.case.now

    assert last.outcome == now.outcome
    assert last.open == now.question
    if now.outcome in (None, "stopped"):
        assert last.evidence == now.readings
    answered = [event for event in person.case.events if isinstance(event, Answered)]
    assert [r for run in found for r in run.said] == [fact.reading for event in answered for fact in event.facts]
    assert {r.question for r in now.readings} <= {r.question for run in found for r in run.said}
