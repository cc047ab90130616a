"""How people err: every likelihood against SciPy or a count by hand."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import multinomial, norm

from triagebot.identify import SizeNoise, choice_rows, count_rows
from triagebot.identify.noise import (
    DENSITY_FLOOR,
    FEW,
    FEW_SHARE,
    UNIT_SLIPS,
    bound_probability,
    count_row,
    normal_density,
    normal_tail,
    size_density,
)

NOISE = SizeNoise(gross=0.07, span=(10, 55), unit=0.02, bias=0.6, means={"calliper": 0.2, "rule": 0.65})


def counted(n: int, p: float, ends: float) -> dict[int, float]:
    """P(total counted | n) with every item missed or doubled with probability p each: SciPy's multinomial, summed."""
    totals: dict[int, float] = {}
    for missed in range(n + 1):
        for doubled in range(n + 1 - missed):
            chance = float(multinomial.pmf([missed, doubled, n - missed - doubled], n, [p, p, 1 - 2 * p]))
            for step, share in ((-1, ends / 2), (0, 1 - ends), (1, ends / 2)):
                total = n - missed + doubled + step
                totals[total] = totals.get(total, 0.0) + chance * share
    return totals


@pytest.mark.parametrize(("n", "slips"), [(4, 0.039), (12, 0.114), (20, 0.182)])
def test_slips_grow_with_what_there_is_to_count(n: int, slips: float) -> None:
    """P(slip) = 1 - (1 - 2p)^n, p = 0.005. A right count is no slip at all, or as many missed as doubled."""
    made_up = sum(multinomial.pmf([k, k, n - 2 * k], n, [0.005, 0.005, 0.99]) for k in range(1, n // 2 + 1))
    right = count_row(n, 1, 60, 0.005, 0.0, 0.0)[n - 1]

    assert 1 - (right - made_up) == pytest.approx(slips, abs=5e-4)
    assert right - made_up == pytest.approx((1 - 2 * 0.005) ** n, abs=1e-8)  # a count of none at all is left out


@pytest.mark.parametrize("n", [3, 4, 5, 12, 20])
def test_counts_are_the_multinomial_that_scipy_enumerates(n: int) -> None:
    totals = counted(n, 0.005, 0.04 * FEW_SHARE if n <= FEW else 0.04)
    expected = np.array([totals.get(total, 0.0) for total in range(1, 61)])  # nobody counts none at all

    row = count_row(n, 1, 60, 0.005, 0.04, 0.0)

    assert row == pytest.approx(expected / expected.sum(), abs=1e-12)


@pytest.mark.parametrize(("n", "wrong"), [(4, 0.0446), (5, 0.0866)])
def test_up_to_four_are_seen_at_a_glance(n: int, wrong: float) -> None:
    """(1 - 2p)^n times (1 - ends), p = 0.005; ends are 0.006 for four and 0.04 for five. What cancels out is less."""
    right = count_row(n, 1, 60, 0.005, 0.04, 0.0)[n - 1]

    assert 1 - right == pytest.approx(wrong, abs=1.5e-3)


def test_arbitrary_counts_fall_anywhere() -> None:
    clean, mixed = count_row(12, 1, 40, 0.005, 0.04, 0.0), count_row(12, 1, 40, 0.005, 0.04, 0.02)

    assert mixed == pytest.approx([0.98 * chance + 0.02 / 40 for chance in clean])


@given(st.integers(1, 48), st.floats(0.001, 0.1), st.floats(0.001, 0.2), st.floats(0.001, 0.2))
def test_no_count_is_impossible(n: int, miss: float, ends: float, arbitrary: float) -> None:
    row = np.array(count_row(n, 1, 48, miss, ends, arbitrary))

    assert row.sum() == pytest.approx(1)
    assert (row > 0).all()


def test_a_mixed_truth_is_counted_as_its_mixture() -> None:
    truth = np.zeros((1, 12))
    truth[0, [2, 3]] = 0.6, 0.4

    rows = count_rows(truth, 1, 0.005, 0.04, 0.02)

    three, four = (np.array(count_row(n, 1, 12, 0.005, 0.04, 0.02)) for n in (3, 4))
    assert rows[0] == pytest.approx(0.6 * three + 0.4 * four)


def test_a_slip_of_choice_falls_on_every_other_choice_alike() -> None:
    rows = choice_rows(np.array([[1.0, 0, 0, 0], [0.5, 0.5, 0, 0]]), 0.06)

    assert rows == pytest.approx(np.array([[0.94, 0.02, 0.02, 0.02], [0.48, 0.48, 0.02, 0.02]]))


@given(st.floats(-30, 30), st.floats(0.01, 10))
def test_normal_density_and_tail_are_those_of_scipy(x: float, spread: float) -> None:
    assert normal_density(np.array([x]), spread)[0] == pytest.approx(norm.pdf(x, scale=spread), rel=1e-9, abs=1e-300)
    assert normal_tail(np.array([x / spread]))[0] == pytest.approx(norm.cdf(x, scale=spread), abs=1e-12)


@pytest.mark.parametrize(("u", "wrong"), [(0.3, 0.048), (0.5, 0.159), (1.0, 0.309)])
def test_telling_25_mm_from_24_at_the_midpoint(u: float, wrong: float) -> None:
    """Half a millimetre against the standard uncertainty u: 4.8, 15.9 and 30.9 % wrong: a rule cannot."""
    assert normal_tail(np.array([(24.5 - 25) / u]))[0] == pytest.approx(wrong, abs=5e-4)


@pytest.mark.parametrize("means", ["calliper", "rule", "thumb"])
def test_bias_and_scatter_add_in_squares(means: str) -> None:
    """JCGM 100:2008 5.1.2; means that nobody has heard of are as bad as the worst known."""
    bias, scatter = NOISE.spread(means)

    assert np.hypot(bias, scatter) == pytest.approx(NOISE.means.get(means, 0.65))
    assert bias == pytest.approx(0.6 * NOISE.means.get(means, 0.65))


@pytest.mark.parametrize("x", [2.3, 9.99, 10.0, 11.5, 22.9, 23.5, 30.0, 55.0, 55.01, 230.0, 900.0])
def test_a_size_is_normal_gross_or_a_slip_of_unit(x: float) -> None:
    expected = 0.91 * norm.pdf(x, 23.0, 0.5) + (0.07 / 45 if x >= 10 else 0) + DENSITY_FLOOR
    expected += sum(0.02 / 5 * norm.pdf(x, factor * 23.0, factor * 0.5) for factor in UNIT_SLIPS)

    assert size_density(x, np.array([23.0]), 0.5, NOISE)[0] == pytest.approx(expected, rel=1e-9)


def test_the_slips_of_unit_are_centimetres_inches_and_a_radius() -> None:
    """1 in = 25.4 mm exactly (NIST SP 811, appendix B)."""
    assert sorted(UNIT_SLIPS) == pytest.approx([1 / 25.4, 0.1, 0.5, 10, 25.4])


@pytest.mark.parametrize("bound", [12.0, 22.0, 23.25, 25.75, 50.0])
def test_a_bound_is_a_normal_tail_or_gross(bound: float) -> None:
    y = np.array([20.0, 23.0, 32.0])

    at_least = bound_probability(bound, None, y, 0.8, NOISE)
    at_most = bound_probability(None, bound, y, 0.8, NOISE)

    assert at_least == pytest.approx(0.93 * norm.sf(bound, y, 0.8) + 0.07 * (55 - bound) / 45)
    assert at_most == pytest.approx(0.93 * norm.cdf(bound, y, 0.8) + 0.07 * (bound - 10) / 45)
    assert at_least + at_most == pytest.approx(np.ones(3))
