"""The beta distribution beside that of scipy."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import beta

from triagebot.study.chances import beta_cdf, beta_quantile, credible

shapes = st.floats(-1, 4).map(lambda power: 10.0**power)


@given(st.floats(0, 1), shapes, shapes)
def test_it_is_the_distribution_that_scipy_has(x: float, a: float, b: float) -> None:
    assert beta_cdf(x, a, b) == pytest.approx(beta.cdf(x, a, b), abs=1e-9)


@given(st.sampled_from([0.025, 0.5, 0.975]), shapes, shapes)
def test_near_the_mean_too_and_its_inverse(p: float, a: float, b: float) -> None:
    x = beta.ppf(p, a, b)

    assert beta_cdf(x, a, b) == pytest.approx(beta.cdf(x, a, b), abs=1e-9)
    assert beta_quantile(p, a, b) == pytest.approx(x, abs=1e-9)


def test_a_credible_interval() -> None:
    assert credible(7, 95) == pytest.approx(beta.interval(0.95, 7, 95))
    assert credible(7, 95, 0.5) == pytest.approx(beta.interval(0.5, 7, 95))
