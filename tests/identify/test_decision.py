"""When to stop and with what: the three ways out, and the rule that nothing plausible is passed over."""

import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from tests.identify.small_models import LOSSES, small_model
from tests.strategies import cases, rear_sprockets
from triagebot.identify import Model, Reading, belief, decide, prospect
from triagebot.identify.information import Array, surprise

MODEL = rear_sprockets().model
THREE = small_model({"a": 0.4, "b": 0.3, "c": 0.2, "nobody": 0.1}, {})


@pytest.mark.parametrize(
    ("shares", "kind", "named", "loss"),
    [
        pytest.param([1, 0, 0, 0], "answer", {0}, 0, id="sure"),
        pytest.param([0.94, 0.04, 0.01, 0.01], "answer", {0}, 6, id="nearly sure"),
        pytest.param([0.01, 0.01, 0.97, 0.01], "answer", {2}, 3, id="nearly sure of another"),
        pytest.param([0.94, 0.06, 0, 0], "look-alike", {0, 1}, 30, id="a second is plausible"),
        pytest.param([0.50, 0.46, 0.02, 0.02], "look-alike", {0, 1}, 32.8, id="two, little else"),
        pytest.param([0.50, 0.40, 0.10, 0], "person", set(), 50, id="three are plausible"),
        pytest.param([0.90, 0, 0, 0.10], "person", set(), 45, id="perhaps not listed"),
        pytest.param([0, 0, 0, 1], "person", set(), 0, id="surely not listed"),
    ],
)
def test_ways_out(shares: list[float], kind: str, named: set[int], loss: float) -> None:
    """Losses by hand: 100 for each wrong one, 50 for a person's time over a listed one, 30 for two named together."""
    decision = decide(THREE, np.array(shares))

    assert (decision.kind, set(decision.remedies)) == (kind, named)
    assert decision.loss == pytest.approx(loss)


def test_fastenings_of_one_remover_need_not_be_told_apart() -> None:
    model = small_model({"a": 0.5, "b": 0.5}, {}, remedies={"a": "same-tool", "b": "same-tool"})

    assert decide(model, np.array([0.5, 0.5, 0])).kind == "answer"


def simplex(size: int) -> st.SearchStrategy[Array]:
    """Beliefs of every sharpness: even ones, and ones with nearly everything in one place."""
    weights = arrays(float, size, elements=st.floats(-14, 0))
    return weights.map(lambda w: np.exp(w) / np.exp(w).sum())


def keeps_the_rule(model: Model, shares: Array) -> None:
    decision = decide(model, shares)
    by_remedy = model.by_remedy(shares)
    others = [share for place, share in enumerate(by_remedy) if place not in decision.remedies]

    assert len(decision.remedies) == {"answer": 1, "look-alike": 2, "person": 0}[decision.kind]
    assert len(by_remedy) - 1 not in decision.remedies, "no remover belongs to what is not listed"
    assert all(model.remedies[place].remover for place in decision.remedies)
    if decision.remedies:
        assert max(others) < model.plausible
        assert min(by_remedy[list(decision.remedies)]) >= max(others)
    assert np.isfinite(decision.loss)


@given(simplex(len(MODEL.fastenings)))
def test_no_remover_is_named_while_another_stays_plausible(shares: Array) -> None:
    keeps_the_rule(MODEL, shares)


@given(cases(most=12))
@example([])
def test_no_readings_lead_to_a_remover_while_another_stays_plausible(said: list[Reading]) -> None:
    keeps_the_rule(MODEL, belief(MODEL, said))


@given(simplex(4), st.floats(0.01, 1))
def test_risk_scales_with_the_chance_of_being_here(shares: Array, chance: float) -> None:
    masses = np.stack([shares, chance * shares], axis=1)

    risk = prospect(THREE, THREE.by_remedy(masses)).stopping

    assert risk[0] == pytest.approx(decide(THREE, shares).loss)
    assert risk[1] == pytest.approx(chance * risk[0])


@given(simplex(4))
def test_what_is_to_come_costs_no_more_than_stopping_nor_than_the_doubt(shares: Array) -> None:
    masses = shares[:, None]

    stopping, ahead, _ = prospect(THREE, THREE.by_remedy(masses))

    assert ahead[0] == pytest.approx(min(stopping[0], LOSSES.bit * surprise(masses)[0]))
