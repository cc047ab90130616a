"""Measures of doubt and the worth of asking, against worked examples of the textbooks."""

from collections import Counter
from collections.abc import Set

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays
from scipy.special import rel_entr
from scipy.stats import entropy

from tests.identify.small_models import small_model
from triagebot.identify import ChoiceReading, belief
from triagebot.identify.information import (
    Array,
    expected_risk,
    information_gain,
    risk_of,
    separating_power,
    surprise,
    value_of_asking,
)

# Outlook, temperature, humidity, wind, and whether they played: the 14 days of Quinlan, "Induction of decision trees",
# Machine Learning 1 (1986), printed again in Mitchell, "Machine Learning" (1997), table 3.2.
TENNIS = """
    sunny    hot  high   weak   no
    sunny    hot  high   strong no
    overcast hot  high   weak   yes
    rain     mild high   weak   yes
    rain     cool normal weak   yes
    rain     cool normal strong no
    overcast cool normal strong yes
    sunny    mild high   weak   no
    sunny    cool normal weak   yes
    rain     mild normal weak   yes
    sunny    mild normal strong yes
    overcast mild high   strong yes
    overcast hot  normal weak   yes
    rain     mild high   strong no
"""
DAYS = [line.split() for line in TENNIS.strip().splitlines()]
PLAYED = [day[4] for day in DAYS]

# The oil wildcatter of Raiffa, "Decision Analysis" (1968): dry, wet or soaking; gains in thousands of dollars.
OIL = np.array([0.5, 0.3, 0.2])
DRILLING = np.array([-70.0, 50.0, 200.0])
# Rows dry, wet, soaking; columns no structure, open structure, closed structure.
SEISMIC = np.array([[0.6, 0.3, 0.1], [0.3, 0.4, 0.3], [0.1, 0.4, 0.5]])
WILDCATTER = risk_of(np.array([-DRILLING, np.zeros(3)]))


def entropy_of(shares: Array) -> float:
    return float(surprise(np.asarray(shares)[:, None])[0])


def test_tennis_days_hold_0_9403_bits() -> None:
    shares = np.array([PLAYED.count("yes"), PLAYED.count("no")]) / 14

    assert entropy_of(shares) == pytest.approx(0.9403, abs=5e-5)


@pytest.mark.parametrize(
    ("column", "bits"),
    [
        pytest.param(0, 0.2467, id="outlook"),
        pytest.param(1, 0.0292, id="temperature"),
        pytest.param(2, 0.1518, id="humidity"),
        pytest.param(3, 0.0481, id="wind"),
    ],
)
def test_information_gain_on_the_tennis_days(column: int, bits: float) -> None:
    """Quinlan 1986; Mitchell 1997 rounds to .246, .029, .151, .048."""
    seen = Counter((day[4], day[column]) for day in DAYS)
    values = sorted({day[column] for day in DAYS})
    played = np.array([9, 5]) / 14
    rows = np.array([[seen[said, value] / PLAYED.count(said) for value in values] for said in ("yes", "no")])

    assert information_gain(played, rows) == pytest.approx(bits, abs=5e-5)


@pytest.mark.parametrize(("a_side", "bits"), [(6, 1.0), (4, np.log2(3))])
def test_first_weighing_of_twelve_balls(a_side: int, bits: float) -> None:
    """MacKay, "Information Theory, Inference, and Learning Algorithms", exercise 4.1: 1.000 and 1.585 bits."""
    odd = [(ball, heavy) for ball in range(12) for heavy in (True, False)]
    pans = {ball: "left" if ball < a_side else "right" if ball < 2 * a_side else "aside" for ball in range(12)}

    def sinks(ball: int, heavy: bool) -> str:
        if pans[ball] == "aside":
            return "level"
        return pans[ball] if heavy else {"left": "right", "right": "left"}[pans[ball]]

    rows = np.array([[float(sinks(*one) == result) for result in ("left", "right", "level")] for one in odd])

    assert entropy_of(np.full(24, 1 / 24)) == pytest.approx(4.585, abs=5e-4)
    assert separating_power(rows) == pytest.approx(bits, abs=1e-12)


def test_submarine_gives_six_bits_however_many_shots_it_takes() -> None:
    """MacKay p. 71: two misses give .0227 + .0230 bits, half the sea 1.0, a hit at the 49th shot makes it 6.0."""
    squares = [f"square-{n}" for n in range(64)]
    shots = {
        f"shot-{n}": {"hit": [float(s == n) for s in range(64)], "miss": [float(s != n) for s in range(64)]}
        for n in range(49)
    }
    model = small_model(dict.fromkeys(squares, 1 / 64), shots)

    def doubt(misses: int, hit: bool = False) -> float:
        said = [ChoiceReading(f"shot-{n}", "miss") for n in range(misses)]
        if hit:
            said.append(ChoiceReading(f"shot-{misses}", "hit"))
        return entropy_of(belief(model, said))

    assert doubt(0) - doubt(1) == pytest.approx(0.0227, abs=5e-5)
    assert doubt(1) - doubt(2) == pytest.approx(0.0230, abs=1e-4)  # log2 63/62 = .02308, printed cut off
    assert doubt(0) - doubt(32) == pytest.approx(1.0, abs=1e-9)
    assert doubt(0) - doubt(48, hit=True) == pytest.approx(6.0, abs=1e-6)


# Five fruits and roots by colour, by presence of seeds, by whether the seeds are in a shell, by number of seeds: the
# smaller of the Open DELTA test data sets. A set of states is what a taxon may show; where a character cannot be
# applied, a taxon may show every state. The published powers are 1.92, 0.97, 0.49 and 0.79. Characters 1, 4 and 7 are
# left out: they need boundaries between states that the program draws from the data by a rule of its own.
FIFTY_TWO = frozenset(range(52))
TAXA: dict[int, list[Set[int]]] = {  # carrot, apricot, strawberry, plum, potato
    6: [{3}, {3}, {2}, {1}, {4}],
    2: [{2}, {1}, {1}, {1}, {2}],
    3: [{1, 2}, {1}, {2}, {1}, {1, 2}],
    5: [FIFTY_TWO, {1}, {50}, {1}, FIFTY_TWO],
}


def taxon_rows(character: int) -> Array:
    states = sorted({state for shown in TAXA[character] for state in shown})
    return np.array([[(state in shown) / len(shown) for state in states] for shown in TAXA[character]])


def taxa_left(masses: Array) -> Array:
    """The risk of the best-character criterion: log2 of how many taxa are left, by the answer's chance."""
    left: Array = masses.sum(axis=0) * np.log2((masses > 0).sum(axis=0))
    return left


@pytest.mark.parametrize(("character", "power"), [(6, 1.92), (2, 0.97), (5, 0.79), (3, 0.49)])
def test_best_character_is_a_value_of_asking(character: int, power: float) -> None:
    """Open DELTA test data, best characters of the five fruits and roots."""
    value = value_of_asking(np.full(5, 0.2), taxon_rows(character), taxa_left)

    assert round(value, 2) == power


@pytest.mark.parametrize(("character", "power"), [(6, 1.92), (2, 0.97)])
def test_separating_power_is_the_best_character_criterion_where_no_taxon_varies(character: int, power: float) -> None:
    """Open DELTA test data again; with one state a taxon the criterion is the mutual information itself."""
    assert round(separating_power(taxon_rows(character)), 2) == power


def test_used_car_is_bought_whatever_the_test_says() -> None:
    """Russell and Norvig, "Artificial Intelligence: A Modern Approach", the used car: its test is worth nothing."""
    good_or_bad = np.array([0.7, 0.3])
    passes = np.array([[0.80, 0.20], [0.35, 0.65]])
    risk = risk_of(np.array([[-500.0, 200.0], [0.0, 0.0]]))  # buy, leave
    masses = good_or_bad[:, None] * passes

    assert -risk(good_or_bad[:, None])[0] == pytest.approx(290)
    assert -risk(masses) / masses.sum(axis=0) == pytest.approx([389.5, 92.5], abs=0.05)
    assert value_of_asking(good_or_bad, passes, risk) == pytest.approx(0, abs=1e-12)


def test_oil_wildcatter_pays_up_to_12_5_for_soundings() -> None:
    """Raiffa 1968: expected value 20, with perfect information 35 more, with soundings 12.5 more."""
    assert -WILDCATTER(OIL[:, None])[0] == pytest.approx(20)
    assert value_of_asking(OIL, np.eye(3), WILDCATTER) == pytest.approx(35)
    assert value_of_asking(OIL, SEISMIC, WILDCATTER) == pytest.approx(12.5)
    assert -expected_risk(OIL, SEISMIC, WILDCATTER) == pytest.approx(32.5)


def test_oil_wildcatter_learns_although_two_outcomes_raise_doubt() -> None:
    """Raiffa 1968: mutual information .16041 bits; after an open or a closed structure the doubt is larger."""
    masses = OIL[:, None] * SEISMIC
    after = surprise(masses) / masses.sum(axis=0)
    before = entropy_of(OIL)

    assert information_gain(OIL, SEISMIC) == pytest.approx(0.16041, abs=5e-6)
    assert list(after > before) == [False, True, True]


def shares(size: int) -> st.SearchStrategy[Array]:
    weights = arrays(int, size, elements=st.integers(0, 1000)).filter(np.any)
    return weights.map(lambda w: w / w.sum())


def answer_rows(hypotheses: int, answers: int) -> st.SearchStrategy[Array]:
    return st.lists(shares(answers), min_size=hypotheses, max_size=hypotheses).map(np.array)


@given(shares(5))
def test_surprise_is_the_entropy_that_scipy_computes(some: Array) -> None:
    """SciPy's stats.entropy is the reference."""
    assert entropy_of(some) == pytest.approx(float(entropy(some, base=2)), abs=1e-9)


@given(shares(4), answer_rows(4, 3))
def test_information_gain_is_the_divergence_from_independence(hypotheses: Array, rows: Array) -> None:
    """I = KL(joint || product of margins), enumerated with SciPy."""
    joint = hypotheses[:, None] * rows
    apart = joint.sum(axis=1, keepdims=True) * joint.sum(axis=0, keepdims=True)

    assert information_gain(hypotheses, rows) == pytest.approx(rel_entr(joint, apart).sum() / np.log(2), abs=1e-9)


@given(shares(4), answer_rows(4, 3), arrays(float, (3, 4), elements=st.floats(-100, 100)))
def test_asking_never_makes_the_best_action_worse(hypotheses: Array, rows: Array, losses: Array) -> None:
    assert value_of_asking(hypotheses, rows, risk_of(losses)) >= -1e-12


@given(shares(4), answer_rows(4, 3), arrays(float, (3, 4), elements=st.floats(-100, 100)))
def test_nothing_is_worth_more_than_the_truth(hypotheses: Array, rows: Array, losses: Array) -> None:
    risk = risk_of(losses)

    assert value_of_asking(hypotheses, rows, risk) <= value_of_asking(hypotheses, np.eye(4), risk) + 1e-9
