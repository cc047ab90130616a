"""Doubt, and the worth of a question, for any belief: against SciPy, and against what must hold of any value."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays
from scipy.special import rel_entr
from scipy.stats import entropy

from tests.identify.small_models import BITS, small_model
from triagebot.identify import Candidate, Losses, Worth, plan
from triagebot.identify.information import Array, surprise

#: Nothing bars a remover, and doubt never stands for a loss: stopping is a plain choice of the least expected loss.
PLAIN = Losses(wrong=100, person=50, look_alike=30, again=1, bit=1e9)


def shares(size: int) -> st.SearchStrategy[Array]:
    weights = arrays(int, size, elements=st.integers(0, 1000)).filter(np.any)
    return weights.map(lambda w: w / w.sum())


def answer_rows(hypotheses: int, answers: int) -> st.SearchStrategy[Array]:
    return st.lists(shares(answers), min_size=hypotheses, max_size=hypotheses).map(np.array)


def worth_of(rows: Array, prior: Array, losses: Losses) -> Worth:
    """What the planner expects of a question with these answer probabilities, for four hypotheses, the last a person's
    case."""
    names = ("a", "b", "c", "nobody")
    answers = {f"answer-{n}": list(column) for n, column in enumerate(rows.T)}
    model = small_model(dict(zip(names, prior + 1e-12, strict=True)), {"asked": answers}, None, 2, losses)
    (worth,) = plan(model, [], [Candidate("asked", 1)]).worth
    return worth


@given(shares(5))
def test_surprise_is_the_entropy_that_scipy_computes(some: Array) -> None:
    """SciPy's stats.entropy is the reference."""
    assert surprise(some[:, None])[0] == pytest.approx(float(entropy(some, base=2)), abs=1e-9)


@given(shares(4), st.floats(0.01, 1))
def test_surprise_is_by_the_chance_of_the_column(some: Array, chance: float) -> None:
    assert surprise(chance * some[:, None])[0] == pytest.approx(chance * entropy(some, base=2), abs=1e-9)


def test_an_answer_that_nobody_gives_holds_no_doubt() -> None:
    assert list(surprise(np.array([[0.0, 0.5], [0.0, 0.5]]))) == [0, 1]


@given(shares(4), answer_rows(4, 3))
def test_a_question_saves_the_divergence_from_independence(prior: Array, rows: Array) -> None:
    """I = KL(joint || product of margins), enumerated with SciPy: what it saves in time where a bit costs 1."""
    joint = prior[:, None] * rows
    apart = joint.sum(axis=1, keepdims=True) * joint.sum(axis=0, keepdims=True)

    worth = worth_of(rows, prior, BITS)

    assert worth.in_time == pytest.approx(rel_entr(joint, apart).sum() / np.log(2), abs=1e-6)


@given(shares(4), answer_rows(4, 3))
def test_asking_never_makes_the_best_way_out_worse_nor_better_than_the_truth_does(prior: Array, rows: Array) -> None:
    """Preposterior analysis; Raiffa and Schlaifer, "Applied Statistical Decision Theory" (1961)."""
    worth, truth = worth_of(rows, prior, PLAIN), worth_of(np.eye(4), prior, PLAIN)

    assert -1e-9 <= worth.at_once <= truth.at_once + 1e-9
