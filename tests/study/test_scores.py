"""How probabilities are scored, against published figures and scikit-learn."""

from math import isnan

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from triagebot.study.scores import brier, expected_calibration_error

# Five stated probabilities and outcomes, two bins: the example in the documentation of torchmetrics' calibration error.
STATED, CAME_TRUE = [0.25, 0.25, 0.55, 0.75, 0.75], [0, 0, 1, 1, 1]


def forecasts() -> st.SearchStrategy[list[tuple[float, int]]]:
    return st.lists(st.tuples(st.floats(0, 1), st.integers(0, 1)), min_size=1, max_size=40)


def test_brier_of_four_forecasts() -> None:
    """scikit-learn's documentation of brier_score_loss: .0375."""
    assert brier([0.1, 0.9, 0.8, 0.3], [0, 1, 1, 0]) == pytest.approx(0.0375)


@given(forecasts())
def test_brier_is_that_of_scikit_learn(some: list[tuple[float, int]]) -> None:
    from sklearn.metrics import brier_score_loss  # takes a second or two to import, and nothing else needs it

    stated, came_true = zip(*some, strict=True)

    assert brier(stated, came_true) == pytest.approx(brier_score_loss(came_true, stated, pos_label=1))


def test_calibration_error_of_five_forecasts() -> None:
    """torchmetrics' documentation: L1 .2900."""
    assert expected_calibration_error(STATED, CAME_TRUE, bins=2) == pytest.approx(0.2900, abs=5e-5)


@given(forecasts())
def test_calibration_error_by_hand(some: list[tuple[float, int]]) -> None:
    """Bins (0, 0.1], (0.1, 0.2] … with 0 in the first: a plain loop as the reference."""
    gaps = []
    for bin_ in range(10):
        inside = [(p, y) for p, y in some if (bin_ < np.ceil(p * 10) <= bin_ + 1) or (bin_ == 0 and p == 0)]
        if inside:
            means = np.mean(inside, axis=0)
            gaps.append((len(inside) / len(some), abs(means[0] - means[1])))
    stated, came_true = zip(*some, strict=True)

    assert expected_calibration_error(stated, came_true) == pytest.approx(sum(w * gap for w, gap in gaps), abs=1e-12)


def test_a_forecaster_who_is_right_as_often_as_said_has_no_error() -> None:
    assert expected_calibration_error([0.25] * 4, [1, 0, 0, 0]) == 0
    assert brier([1.0, 0.0], [1, 0]) == 0


def test_no_forecasts_have_no_score() -> None:
    assert isnan(brier([], []))
