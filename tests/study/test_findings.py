"""What a closed case says of the answer, of the person's first answers, and of what is common."""

from collections.abc import Collection
from dataclasses import replace
from datetime import UTC, datetime

import pytest

from tests.strategies import rear_sprockets
from triagebot.cases.runs import Run
from triagebot.conversation.events import Closed, Outcome
from triagebot.identify import BoundReading, ChoiceReading, CountReading, Reading, SizeReading, UnsureReading, belief
from triagebot.study.findings import Finding, contradicted, finding_of, first_answers, true_answer

TOPIC = rear_sprockets()
AT = datetime(2026, 3, 2, 10, tzinfo=UTC)
TWO_NOTCH: tuple[Reading, ...] = (
    ChoiceReading("spin", "stays"),
    ChoiceReading("fitting", "notches"),
    CountReading("count", 2, 2),
    SizeReading("size", 25.0, means="calliper"),
)
TWELVE: tuple[Reading, ...] = (
    ChoiceReading("spin", "turns"),
    ChoiceReading("fitting", "splines"),
    CountReading("count", 12, 12),
    CountReading("sprockets", 9, 9),
    ChoiceReading("body", "nine-one-narrow"),
)


def found(
    evidence: tuple[Reading, ...], outcome: Outcome | None, fastening: str | None, fitted: bool | None = None
) -> Finding:
    run = Run("AAA-001", AT, AT, "", said=evidence, evidence=evidence, outcome=outcome)
    finding = finding_of(replace(run, closed=Closed(AT, fastening, fitted, "Ada")), TOPIC)
    assert finding is not None
    return finding


def test_an_open_case_is_no_finding() -> None:
    assert finding_of(Run("AAA-001", AT, AT, "", outcome="answer", evidence=TWO_NOTCH), TOPIC) is None


@pytest.mark.parametrize(
    ("outcome", "fastening", "fitted", "verdict", "correct"),
    [
        ("answer", "freewheel-2-notch", None, "right", True),
        ("answer", "freewheel-20-spline", None, "wrong", False),
        ("answer", "freewheel-20-spline", True, "wrong", False),
        ("answer", "unlisted", False, "wrong", False),
        ("answer", None, True, "right", True),
        ("answer", None, False, "wrong", None),
        ("answer", None, None, "unknown", None),
        ("answer", "gone-from-the-topic", None, "unknown", None),
        ("look-alike", "freewheel-2-notch", None, "look-alike", True),
        ("look-alike", "unlisted", None, "wrong", False),
        ("look-alike", None, True, "look-alike", None),
        ("person", "unlisted", None, "person", False),
        (None, "unlisted", None, "none", None),
        ("stopped", "unlisted", None, "none", None),
    ],
)
def test_verdicts(
    outcome: Outcome | None, fastening: str | None, fitted: bool | None, verdict: str, correct: bool | None
) -> None:
    finding = found(TWO_NOTCH, outcome, fastening, fitted)

    assert (finding.verdict, finding.correct) == (verdict, correct)
    assert (finding.stated is None) == (correct is None)


def test_how_sure_it_was_is_worked_out_anew_from_what_was_in_force() -> None:
    finding = found(TWO_NOTCH, "answer", "freewheel-2-notch")
    shares = belief(TOPIC.model, TWO_NOTCH)

    assert finding.stated == pytest.approx(float(TOPIC.model.by_remedy(shares).max()))
    assert finding.fastening == "freewheel-2-notch"


def test_a_remover_that_fitted_speaks_for_all_that_it_serves() -> None:
    finding = found(TWELVE, "answer", None, True)

    assert set(finding.truth) == {"cassette-12-spline", "cassette-threaded-driver"}
    assert sum(finding.truth.values()) == pytest.approx(1)
    assert finding.truth["cassette-12-spline"] > 0.9
    assert finding.fastening is None


def test_the_right_remover_that_did_not_fit_is_told() -> None:
    assert found(TWO_NOTCH, "answer", "freewheel-2-notch", False).misfit
    assert not found(TWO_NOTCH, "answer", "freewheel-20-spline", False).misfit
    assert not found(TWO_NOTCH, "answer", "freewheel-2-notch", True).misfit


# --- answers beside the truth -------------------------------------------------------------------------------------


def test_first_answers_leave_not_knowing_out() -> None:
    said = (UnsureReading("spin"), ChoiceReading("spin", "turns"), ChoiceReading("spin", "stays"))

    assert first_answers(Run("AAA-001", AT, AT, "", said=said)) == {"spin": said[1]}


@pytest.mark.parametrize(
    ("question", "fastenings", "true"),
    [
        ("spin", ["freewheel-2-notch"], "stays"),
        ("spin", ["freewheel-2-notch", "freewheel-20-spline"], "stays"),
        ("spin", ["freewheel-2-notch", "cassette-12-spline"], None),
        ("spin", ["freewheel-2-notch", "unlisted"], None),
        ("body", ["cassette-12-spline"], None),
        ("count", ["freewheel-2-notch"], "2"),
    ],
)
def test_the_one_true_answer(question: str, fastenings: Collection[str], true: str | None) -> None:
    assert true_answer(TOPIC, TOPIC.questions[question], fastenings) == true


@pytest.mark.parametrize(
    ("reading", "fastenings", "verdict"),
    [
        (ChoiceReading("spin", "turns"), ["freewheel-2-notch"], True),
        (ChoiceReading("spin", "stays"), ["freewheel-2-notch"], False),
        (ChoiceReading("spin", "stays", denied=True), ["freewheel-2-notch"], True),
        (ChoiceReading("spin", "turns", denied=True), ["freewheel-2-notch"], False),
        (ChoiceReading("body", "eight-deep"), ["cassette-12-spline"], True),
        (ChoiceReading("body", "other-splines"), ["cassette-12-spline"], False),
        (CountReading("count", 4, 4), ["freewheel-2-notch"], True),
        (CountReading("count", 2, 3), ["freewheel-2-notch"], False),
        (CountReading("count", 4, 4), ["freewheel-2-notch", "freewheel-4-notch-24"], False),
        (SizeReading("size", 25.5, means="calliper"), ["freewheel-2-notch"], False),
        (SizeReading("size", 27.0, means="calliper"), ["freewheel-2-notch"], True),
        (SizeReading("size", 27.0, means="eye"), ["freewheel-2-notch"], False),
        (SizeReading("size", 27.0, half_width=2.0, means="calliper"), ["freewheel-2-notch"], False),
        (SizeReading("size", 29.0, means="calliper"), ["fixed-notched-ring"], True),
        (SizeReading("size", 37.0, means="calliper"), ["fixed-notched-ring"], False),
        (BoundReading("size", low=40.0, means="calliper"), ["freewheel-2-notch"], True),
        (BoundReading("size", high=40.0, means="calliper"), ["freewheel-2-notch"], False),
        (BoundReading("size", high=20.0, means="calliper"), ["freewheel-2-notch"], True),
        (ChoiceReading("spin", "turns"), ["unlisted"], None),
        (SizeReading("size", 25.0), ["unlisted"], None),
        (ChoiceReading("axle", "nuts"), ["freewheel-2-notch"], None),
        (ChoiceReading("colour", "red"), ["freewheel-2-notch"], None),
        (ChoiceReading("spin", "turns"), [], None),
    ],
)
def test_what_contradicts_the_truth(reading: Reading, fastenings: Collection[str], verdict: bool | None) -> None:
    assert contradicted(TOPIC, reading, fastenings) is verdict
