"""The beta distribution beside that of scipy."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import beta, binom, binomtest

from triagebot.study.chances import beta_cdf, beta_quantile, credible, exact

shapes = st.floats(-1, 4).map(lambda power: 10.0**power)


@given(st.floats(0, 1), shapes, shapes)
def test_it_is_the_distribution_that_scipy_has(x: float, a: float, b: float) -> None:
    assert beta_cdf(x, a, b) == pytest.approx(beta.cdf(x, a, b), abs=1e-9)


@given(st.sampled_from([0.025, 0.5, 0.975]), shapes, shapes)
def test_near_the_mean_too_and_its_inverse(p: float, a: float, b: float) -> None:
    x = beta.ppf(p, a, b)

    assert beta_cdf(x, a, b) == pytest.approx(beta.cdf(x, a, b), abs=1e-9)
    found = beta_quantile(p, a, b)
    # Where the density is nearly nothing in the middle, the inverse of scipy is the one that is off.
    assert found == pytest.approx(x, abs=1e-9) or beta.cdf(found, a, b) == pytest.approx(p, abs=1e-9)


def test_a_credible_interval() -> None:
    assert credible(7, 95) == pytest.approx(beta.interval(0.95, 7, 95))
    assert credible(7, 95, 0.5) == pytest.approx(beta.interval(0.5, 7, 95))


@given(st.integers(0, 40), st.integers(1, 40))
def test_the_exact_interval_is_that_of_scipy(seen: int, more: int) -> None:
    found = binomtest(seen, seen + more).proportion_ci(0.95, method="exact")

    assert exact(seen, seen + more) == pytest.approx((found.low, found.high), abs=1e-8)


@pytest.mark.parametrize("share", [0.002, 0.05, 0.3])
def test_the_exact_interval_holds_the_true_share_as_often_as_it_says(share: float) -> None:
    of = 60
    held = [seen for seen in range(of + 1) if exact(seen, of)[0] <= share <= exact(seen, of)[1]]

    assert binom.pmf(held, of, share).sum() >= 0.95
    assert exact(0, 0) == (0.0, 1.0)
