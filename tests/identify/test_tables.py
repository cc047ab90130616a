"""Likelihoods of readings, one table a question: lists against counts by hand, sizes against SciPy's integration."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import simpson
from scipy.stats import multivariate_normal, norm

from tests.strategies import lengths, readings_of, rear_sprockets
from triagebot.identify import (
    BoundReading,
    ChoiceReading,
    CountReading,
    ListTable,
    Reading,
    SizeNoise,
    SizeReading,
    UnsureReading,
    size_table,
    tables,
)
from triagebot.identify.noise import UNIT_SLIPS
from triagebot.identify.tables import SizeTable

REAL = SizeNoise(gross=0.07, span=(10, 55), unit=0.02, bias=0.6, means={"calliper": 0.2, "rule": 0.65, "eye": 1.0})
CLEAN = SizeNoise(gross=0.0, span=(10, 55), unit=0.0, bias=0.6, means=REAL.means)
TOLERANCE = 0.15

ROWS = np.array([[0.7, 0.2, 0.1], [0.1, 0.3, 0.6]])
CHOICES = ListTable("colour", ("red", "green", "blue"), ROWS, 0.3, truth=np.eye(len(ROWS)), confusion=ROWS)
COUNTS = ListTable("count", (1, 2, 3), ROWS, 0.3, truth=np.eye(len(ROWS)), confusion=ROWS)


def one_size(mm: float, tolerance: float, noise: SizeNoise) -> SizeTable:
    return size_table(
        "size", np.array([mm]), np.array([mm]), np.array([tolerance]), np.array([False]), noise, repeat=0.3
    )


# --- choices and counts -------------------------------------------------------------------------------------------


def test_nodes_and_weights_are_those_of_the_quadrature() -> None:
    nodes, weights = np.polynomial.hermite_e.hermegauss(9)
    assert pytest.approx(nodes, abs=1e-15) == tables._NODES
    assert pytest.approx(weights / weights.sum(), abs=1e-15) == tables._WEIGHTS


def test_a_choice_weighs_what_its_column_says() -> None:
    assert CHOICES.likelihood([ChoiceReading("colour", "blue")]) == pytest.approx([0.1, 0.6])


def test_a_denied_choice_leaves_all_the_others() -> None:
    assert CHOICES.likelihood([ChoiceReading("colour", "blue", denied=True)]) == pytest.approx([0.9, 0.4])


def test_a_range_of_counts_adds_its_columns() -> None:
    assert COUNTS.likelihood([CountReading("count", 2, 3)]) == pytest.approx([0.3, 0.9])


@pytest.mark.parametrize(
    "reading",
    [ChoiceReading("colour", "mauve"), CountReading("colour", 9, 9), SizeReading("colour", 3), UnsureReading("colour")],
)
def test_what_is_not_listed_says_nothing(reading: Reading) -> None:
    assert CHOICES.likelihood([reading]) == pytest.approx([1, 1])
    assert CHOICES.answers([reading]) == pytest.approx(ROWS)


def test_said_again_is_worth_less_than_a_second_witness() -> None:
    """With probability 0.3 somebody repeats themselves whatever is true."""
    blue = ChoiceReading("colour", "blue")

    assert CHOICES.likelihood([blue, blue]) == pytest.approx(ROWS[:, 2] * (0.3 + 0.7 * ROWS[:, 2]))


def test_a_change_of_mind_is_a_fresh_look() -> None:
    said = [ChoiceReading("colour", "blue"), ChoiceReading("colour", "red")]

    assert CHOICES.likelihood(said) == pytest.approx(ROWS[:, 2] * 0.7 * ROWS[:, 0])


def test_a_repeated_question_may_get_the_same_answer_again() -> None:
    again = CHOICES.answers([ChoiceReading("colour", "blue")])

    assert again == pytest.approx(0.7 * ROWS + 0.3 * np.array([0, 0, 1]))


# --- sizes --------------------------------------------------------------------------------------------------------


def integrated(readings: Sequence[SizeReading], mm: float, tolerance: float, noise: SizeNoise) -> float:
    """Joint density of readings by one means: the true size with its bias integrated out by Simpson's rule."""
    deviation = noise.means[readings[0].means]
    shared, scatter = np.hypot(tolerance, noise.bias * deviation), np.sqrt(1 - noise.bias**2) * deviation
    y = np.linspace(mm - 12 * shared, mm + 12 * shared, 20_001)
    product = norm.pdf(y, mm, shared)
    low, high = noise.span
    for reading in readings:
        x, spread = reading.mm, np.hypot(scatter, reading.half_width / np.sqrt(3))
        density = (1 - noise.gross - noise.unit) * norm.pdf(x, y, spread)
        density += noise.gross / (high - low) if low <= x <= high else 0.0
        for factor in UNIT_SLIPS:
            density += noise.unit / len(UNIT_SLIPS) * norm.pdf(x, factor * y, factor * spread)
        product = product * density
    return float(simpson(product, x=y))


@pytest.mark.parametrize("means", ["calliper", "rule", "eye"])
@pytest.mark.parametrize("x", [2.34, 11.7, 22.6, 23.0, 23.4, 23.9, 25.0, 30.0])
@pytest.mark.parametrize("half_width", [0.0, 0.5])
def test_one_size_is_the_integral_that_scipy_computes(x: float, means: str, half_width: float) -> None:
    """Tolerance, bias, scatter, a range given, gross errors and slips of unit all at once; within half a percent."""
    reading = SizeReading("size", x, half_width, means)

    ours = one_size(23.4, TOLERANCE, REAL).likelihood([reading])[0]

    assert ours == pytest.approx(integrated([reading], 23.4, TOLERANCE, REAL), rel=0.005)


@pytest.mark.parametrize("means", ["calliper", "rule", "eye"])
@pytest.mark.parametrize("pair", [(22.8, 23.1), (23.4, 23.6), (23.9, 24.0), (23.4, 40.0)])
def test_two_sizes_by_the_same_means_share_their_bias(pair: tuple[float, float], means: str) -> None:
    readings = [SizeReading("size", x, means=means) for x in pair]

    ours = one_size(23.4, TOLERANCE, REAL).likelihood(readings)[0]

    assert ours == pytest.approx(integrated(readings, 23.4, TOLERANCE, REAL), rel=0.025)


@pytest.mark.parametrize("means", ["calliper", "rule", "eye"])
@pytest.mark.parametrize("pair", [(23.1, 23.2), (23.3, 23.6), (23.0, 23.8)])
def test_two_clean_sizes_are_a_normal_pair(pair: tuple[float, float], means: str) -> None:
    """Closed form: covariance of the shared part everywhere, scatter on the diagonal (SciPy's multivariate normal)."""
    bias, scatter = CLEAN.spread(means)
    covariance = np.full((2, 2), bias**2 + TOLERANCE**2) + np.eye(2) * scatter**2

    ours = one_size(23.4, TOLERANCE, CLEAN).likelihood([SizeReading("size", x, means=means) for x in pair])[0]

    assert ours == pytest.approx(multivariate_normal.pdf(pair, [23.4, 23.4], covariance), rel=0.025)


def test_sizes_by_different_means_are_independent() -> None:
    table = one_size(23.4, TOLERANCE, REAL)
    calliper, rule = SizeReading("size", 23.2, means="calliper"), SizeReading("size", 24.0, means="rule")

    both = table.likelihood([calliper, rule])

    assert both == pytest.approx(table.likelihood([calliper]) * table.likelihood([rule]))


def test_a_bias_that_repeats_is_not_averaged_away() -> None:
    """Four rule readings of 24 mm say less against 23.4 mm than four independent ones would."""
    table = one_size(23.4, TOLERANCE, CLEAN)
    other = one_size(24.0, TOLERANCE, CLEAN)
    four = [SizeReading("size", 24.0 + step, means="rule") for step in (-0.03, -0.01, 0.01, 0.03)]

    together = table.likelihood(four)[0] / other.likelihood(four)[0]
    alone = np.prod([table.likelihood([r])[0] / other.likelihood([r])[0] for r in four])

    assert alone < together < 1


@pytest.mark.parametrize("means", ["calliper", "rule", "eye"])
@pytest.mark.parametrize("x", [20.0, 29.5, 30.0, 30.3, 37.4, 44.8, 45.0, 45.5])
def test_a_range_of_true_sizes_is_a_difference_of_tails(x: float, means: str) -> None:
    """Closed form of a uniform true size under normal noise: (Φ((high - x)/u) - Φ((low - x)/u)) / (high - low)."""
    u = CLEAN.means[means]
    table = size_table(
        "size", np.array([30.0]), np.array([45.0]), np.array([TOLERANCE]), np.array([False]), CLEAN, repeat=0.3
    )

    ours = table.likelihood([SizeReading("size", x, means=means)])[0]

    expected = (norm.cdf(45, x, u) - norm.cdf(30, x, u)) / 15
    assert ours == pytest.approx(expected, rel=0.03, abs=0.0012)  # the range is cut into 31 pieces


def spread_of(table: SizeTable, half_width: float = 0.0, means: str = "ideal") -> float:
    """Standard deviation of the lengths that the table expects, mm."""
    x = np.linspace(table.low[0] - 8, table.low[0] + 8, 4001)
    density = np.array([table.likelihood([SizeReading("size", at, half_width, means)])[0] for at in x])
    mean = float(simpson(x * density, x=x) / simpson(density, x=x))
    return float(np.sqrt(simpson((x - mean) ** 2 * density, x=x) / simpson(density, x=x)))


IDEAL = SizeNoise(gross=0.0, span=(10, 55), unit=0.0, bias=0.6, means={"ideal": 1e-3})


def test_a_half_width_counts_as_rectangular() -> None:
    """JCGM 100:2008 4.3.7 and Eurachem QUAM E.1: u = a/√3; a = 1.5 gives 0.87."""
    assert spread_of(one_size(30, 1e-3, IDEAL), half_width=1.5) == pytest.approx(1.5 / np.sqrt(3), rel=0.002)
    assert spread_of(one_size(30, 1e-3, IDEAL), half_width=1.5) == pytest.approx(0.87, abs=0.005)


def test_a_resolution_counts_as_its_width_over_root_twelve() -> None:
    """JCGM 100:2008 F.2.2.1: an instrument read to the nearest mm has u = 1/√12 = 0.289 mm."""
    assert spread_of(one_size(30, 1e-3, IDEAL), half_width=0.5) == pytest.approx(1 / np.sqrt(12), rel=0.002)


def test_uncertainties_add_in_squares() -> None:
    """JCGM 100:2008 H.1, gauge block: 25, 16.599, 6.7, 5.8, 3.9 and 2.88679 nm give 32 nm.

    Here a hundredth of a millimetre stands for a nanometre. The largest is taken as the fitting's own tolerance, the
    second as the instrument, and the four small ones as the half-width that they come to.
    """
    small = np.sqrt(3) * np.sqrt(6.7**2 + 5.8**2 + 3.9**2 + 2.88679**2)
    instrument = SizeNoise(gross=0.0, span=(10, 55), unit=0.0, bias=0.6, means={"comparator": 0.16599})

    together = spread_of(one_size(30, 0.25, instrument), half_width=small / 100, means="comparator")

    assert 100 * together == pytest.approx(31.66, abs=0.05)
    assert round(100 * together) == 32


@pytest.mark.parametrize(("u", "wrong"), [(0.3, 0.048), (0.5, 0.159), (1.0, 0.309)])
def test_a_rule_cannot_tell_25_mm_from_24(u: float, wrong: float) -> None:
    """A person who names the likelier of the two is wrong in 4.8, 15.9 and 30.9 % of cases (computed: Φ(-0.5/u))."""
    noise = SizeNoise(gross=0.0, span=(10, 55), unit=0.0, bias=0.6, means={"rule": u})
    sizes = np.array([24.0, 25.0])
    table = size_table("size", sizes, sizes, np.full(2, 1e-4), np.zeros(2, bool), noise, repeat=0.3)
    x = np.linspace(18, 31, 2601)
    density = np.array([table.likelihood([SizeReading("size", at, means="rule")]) for at in x])

    assert simpson(density.min(axis=1), x=x) / 2 == pytest.approx(wrong, abs=1e-3)


def open_and_known() -> SizeTable:
    """Something of 23.4 mm, and something that may have any size."""
    sizes = np.array([23.4, 0.0])
    return size_table("size", sizes, sizes, np.array([TOLERANCE, 1.0]), np.array([False, True]), REAL, repeat=0.3)


@given(lengths(), st.integers(2, 4), st.sampled_from(["calliper", "rule", "eye"]))
def test_a_length_said_again_word_for_word_is_no_news_of_any_fastening(mm: float, times: int, means: str) -> None:
    """Not of one whose size is open either: else repeating oneself would rule out what is not listed."""
    table, said = open_and_known(), SizeReading("size", mm, means=means)

    assert table.likelihood([said] * times) == pytest.approx(table.likelihood([said]))


def test_an_open_size_has_the_density_of_the_span() -> None:
    assert open_and_known().likelihood([SizeReading("size", 23.4, means="rule")])[1] == pytest.approx(1 / 45)
    assert open_and_known().likelihood([BoundReading("size", low=23.25)])[1] == pytest.approx((55 - 23.25) / 45)
    assert open_and_known().likelihood([BoundReading("size", high=23.25)])[1] == pytest.approx((23.25 - 10) / 45)


@pytest.mark.parametrize("coin", [19.75, 22.25, 23.25, 24.25, 25.75])
def test_wider_than_a_coin_weighs_as_a_tail(coin: float) -> None:
    """Euro coins of Regulation (EU) 729/2014 against 23.4 mm by eye: Φ(distance / √(1² + 0.15²)), 7 % arbitrary."""
    ours = open_and_known().likelihood([BoundReading("size", low=coin, means="eye")])[0]

    expected = 0.93 * norm.cdf((23.4 - coin) / np.hypot(1, TOLERANCE)) + 0.07 * (55 - coin) / 45
    assert ours == pytest.approx(expected, abs=0.003)


@pytest.mark.parametrize("coin", [19.75, 22.25, 23.25, 24.25, 25.75])
def test_narrower_than_a_coin_weighs_as_the_other_tail(coin: float) -> None:
    ours = open_and_known().likelihood([BoundReading("size", high=coin, means="eye")])[0]

    expected = 0.93 * norm.sf((23.4 - coin) / np.hypot(1, TOLERANCE)) + 0.07 * (coin - 10) / 45
    assert ours == pytest.approx(expected, abs=0.003)


@given(readings_of("size"))
def test_a_reading_of_a_size_weighs_on_every_fastening_of_the_topic(reading: Reading) -> None:
    likelihood = rear_sprockets().model.tables["size"].likelihood([reading])

    assert np.isfinite(likelihood).all()
    assert (likelihood > 0).all()


@given(lengths())
def test_a_length_falls_into_one_bin(mm: float) -> None:
    table = open_and_known()
    place = table.bin_of(mm)

    assert 0 <= place < 45
    assert not 10 <= mm < 55 or 10 + place <= mm < 11 + place


def test_the_next_length_is_expected_where_the_fitting_is() -> None:
    table = open_and_known()
    expected = table.answers([])

    assert expected[0].argmax() == table.bin_of(23.4)
    assert expected[1] == pytest.approx(np.full(45, 1 / 45))


def test_a_repeated_length_is_expected_to_come_again() -> None:
    table = open_and_known()
    again = table.answers([SizeReading("size", 40.2, means="rule")])

    assert again == pytest.approx(0.7 * table.rows + 0.3 * (np.arange(45) == 30))


@pytest.mark.parametrize("mm", [9.0, 10.2, 23.4, 54.9, 60.0])
def test_what_lies_outside_the_span_is_expected_at_its_end(mm: float) -> None:
    """SciPy's normal distribution by the worst means, open at both ends of 10 to 55 mm; 7 % are arbitrary."""
    edges = np.array([-np.inf, *range(11, 55), np.inf])
    expected = np.diff(norm.cdf(edges, mm, np.hypot(TOLERANCE, 1.0)))

    assert one_size(mm, TOLERANCE, REAL).answers([])[0] == pytest.approx(0.93 * expected + 0.07 / 45)


@pytest.mark.parametrize("reading", [SizeReading("size", 23.0), BoundReading("size", low=23.0)])
def test_a_reading_that_does_not_say_how_is_by_unknown_means(reading: SizeReading | BoundReading) -> None:
    noise = replace(REAL, means={**REAL.means, "unknown": 0.8})
    unknown, worst = replace(reading, means="unknown"), replace(reading, means="eye")
    table = one_size(23.4, TOLERANCE, noise)

    assert table.likelihood([reading]) == table.likelihood([unknown]) != table.likelihood([worst])


def test_the_next_length_is_expected_by_unknown_means_where_the_topic_has_them() -> None:
    """SciPy's normal distribution again, with the standard deviation of who does not say how, 0.8 mm."""
    noise = replace(REAL, means={**REAL.means, "unknown": 0.8})
    expected = np.diff(norm.cdf(np.array([-np.inf, *range(11, 55), np.inf]), 23.4, np.hypot(TOLERANCE, 0.8)))

    assert one_size(23.4, TOLERANCE, noise).answers([])[0] == pytest.approx(0.93 * expected + 0.07 / 45)
