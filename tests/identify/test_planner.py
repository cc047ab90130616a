"""Which question next: worth its price, or not asked at all."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.identify.small_models import small_model
from tests.strategies import cases, questions, rear_sprockets
from triagebot.identify import Candidate, ChoiceReading, Model, Reading, belief, decide, plan

MODEL = rear_sprockets().model

PRIOR = {"a": 0.5, "b": 0.5}
SPLITS = {"yes": [0.98, 0.02], "no": [0.02, 0.98]}
BLURRED = {"yes": [0.6, 0.4], "no": [0.4, 0.6]}
SILENT = {"yes": [0.5, 0.5], "no": [0.5, 0.5]}


def asked_first(model: Model, *candidates: Candidate) -> str | None:
    return plan(model, [], candidates).question


def test_the_sharper_question_comes_first() -> None:
    model = small_model(PRIOR, {"blurred": BLURRED, "splits": SPLITS})

    assert asked_first(model, Candidate("blurred", 1), Candidate("splits", 1)) == "splits"


def test_a_price_can_turn_the_order() -> None:
    model = small_model(PRIOR, {"dear": SPLITS, "cheap": {"yes": [0.9, 0.1], "no": [0.1, 0.9]}})

    assert asked_first(model, Candidate("dear", 5), Candidate("cheap", 0.5)) == "dear"
    assert asked_first(model, Candidate("dear", 20), Candidate("cheap", 0.5)) == "cheap"


def test_a_question_that_will_not_be_known_is_worth_less() -> None:
    model = small_model(PRIOR, {"first": SPLITS, "second": SPLITS})

    assert asked_first(model, Candidate("first", 1, unsure=0.4), Candidate("second", 1, unsure=0.1)) == "second"
    assert asked_first(model, Candidate("first", 1, unsure=1.0)) is None


def test_of_two_alike_the_earlier_is_asked() -> None:
    model = small_model(PRIOR, {"first": SPLITS, "second": SPLITS})

    assert asked_first(model, Candidate("first", 1), Candidate("second", 1)) == "first"
    assert asked_first(model, Candidate("second", 1), Candidate("first", 1)) == "second"


def test_asking_again_is_worth_less_than_asking_another_way() -> None:
    """What was said is said again with the chance that answers repeat, whatever is true."""
    model = small_model(PRIOR, {"first": BLURRED, "second": BLURRED})

    step = plan(model, [ChoiceReading("first", "yes")], [Candidate("first", 1), Candidate("second", 1)])

    again, other = step.worth
    assert 0 < again.in_time < 0.9 * other.in_time


@pytest.mark.parametrize("price", [1e-6, 1.0])
def test_a_question_that_says_nothing_is_never_asked(price: float) -> None:
    model = small_model(PRIOR, {"silent": SILENT})

    assert asked_first(model, Candidate("silent", price)) is None


@pytest.mark.parametrize("price", [1e-3, 1.0])
def test_a_question_that_only_separates_fastenings_of_one_remover_is_never_asked(price: float) -> None:
    model = small_model(PRIOR, {"splits": SPLITS}, remedies={"a": "same-tool", "b": "same-tool"})

    assert asked_first(model, Candidate("splits", price)) is None


def test_a_question_dearer_than_any_mistake_is_not_asked() -> None:
    model = small_model(PRIOR, {"splits": SPLITS})

    assert asked_first(model, Candidate("splits", 27)) == "splits"  # stopping now costs 30, after the answer 2
    assert asked_first(model, Candidate("splits", 500)) is None


def test_nothing_is_asked_once_it_is_clear() -> None:
    model = small_model(PRIOR, {"first": SPLITS, "second": SPLITS, "third": SPLITS})
    said = [ChoiceReading("first", "yes"), ChoiceReading("second", "yes")]

    step = plan(model, said, [Candidate("third", 1.0)])

    assert step.question is None
    assert (step.decision.kind, step.decision.remedies) == ("answer", (0,))


def test_what_cannot_be_asked_is_not_planned() -> None:
    model = small_model(PRIOR, {"splits": SPLITS})

    assert plan(model, [], []).question is None
    assert plan(model, [], [Candidate("not-a-question", 1.0)]).question is None


def candidates() -> st.SearchStrategy[list[Candidate]]:
    return st.lists(
        st.builds(Candidate, questions(), st.floats(0.05, 5), st.floats(0, 1)),
        unique_by=lambda candidate: candidate.question,
        max_size=8,
    )


@given(cases(), candidates())
def test_every_question_planned_can_change_what_is_done(said: list[Reading], able: list[Candidate]) -> None:
    step = plan(MODEL, said, able)

    assert step.shares == pytest.approx(belief(MODEL, said))
    decided = decide(MODEL, step.shares)
    assert (step.decision.kind, step.decision.remedies) == (decided.kind, decided.remedies)
    assert step.decision.loss == pytest.approx(decided.loss)
    assert step.question is None or step.question in {candidate.question for candidate in able}
    if step.question is not None:
        rows = MODEL.tables[step.question].answers([r for r in said if r.question == step.question])
        after = MODEL.by_remedy(step.shares[:, None] * rows)
        after = after / after.sum(axis=0)
        assert np.abs(after - MODEL.by_remedy(step.shares)[:, None]).max() > 1e-6


@given(cases())
def test_the_planned_question_is_worth_most_an_effort_of_those_that_pay(said: list[Reading]) -> None:
    able = [Candidate(question, MODEL.prices[question]) for question in MODEL.tables]

    step = plan(MODEL, said, able)

    worth = {one.question: one.an_effort for one in step.worth}
    assert worth.keys() == MODEL.tables.keys()
    assert all(np.isfinite(value) and value >= -1e-9 for value in worth.values())
    if step.question is not None:
        assert worth[step.question] > 0
        alone = {
            question for question in worth if plan(MODEL, said, [Candidate(question, MODEL.prices[question])]).question
        }
        assert worth[step.question] == max(worth[question] for question in alone)
