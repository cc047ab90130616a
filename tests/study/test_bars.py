"""The bars, and the ideal observer beside the planner."""

from functools import cache

import numpy as np
import pytest

from tests.strategies import rear_sprockets
from triagebot.study.bars import BARS, Bar, Measured, bars_table, measured
from triagebot.study.ideal import Limit, ideal, own_model
from triagebot.study.people import PROFILES, Person, draw_person
from triagebot.study.simulate import meet_planner, report
from triagebot.study.wheels import load_wheels, mix_of

TOPIC = rear_sprockets()
WHEELS = load_wheels(TOPIC)
CITY = mix_of(TOPIC, WHEELS, "")


@cache
def drawn(people: int = 250) -> tuple[Person, ...]:
    return tuple(draw_person(TOPIC, n, 6, PROFILES["household"], CITY, WHEELS) for n in range(people))


def observed(most_wrong: float) -> Limit:
    return ideal(TOPIC, own_model(TOPIC, WHEELS, PROFILES["household"], CITY), drawn(), most_wrong)


def test_the_observer_who_knows_all_does_no_worse_than_the_planner() -> None:
    planner = report([meet_planner(TOPIC, person) for person in drawn()])
    limit = observed(max(planner.wrong, 0.004))

    assert limit.right >= planner.right
    assert limit.wrong <= max(planner.wrong, 0.004)


def test_who_may_err_more_gets_more_right() -> None:
    strict, easy = observed(0.0), observed(0.05)

    assert strict.wrong == 0
    assert strict.right <= easy.right
    assert easy.at <= strict.at


def test_its_figures_are_those_of_the_people() -> None:
    model = own_model(TOPIC, WHEELS, PROFILES["careless"], CITY)

    assert model.prior.sum() == pytest.approx(1)
    assert CITY is not None
    of_all = sum(CITY.values())
    place = model.fastenings.index("freewheel-12-spline")
    assert model.prior[place] == pytest.approx(CITY["freewheel-12-spline"] / of_all, rel=1e-3)
    rare = [n for n, name in enumerate(model.fastenings) if name.startswith("rare-")]
    assert len(rare) == sum(len(kind.counts) * len(kind.sizes) for kind in WHEELS.rare)
    assert float(np.sum(model.prior[rare])) == pytest.approx(CITY["unlisted"] / of_all, rel=1e-3)
    assert 1 - model.tables["spin"].rows[place].max() == pytest.approx(2 * 0.05)


def test_every_bar_is_measured_and_said() -> None:
    found = measured(TOPIC, WHEELS, 12, 1)
    lines = bars_table(found).split("\n")

    assert [row.bar for row in found] == list(BARS)
    assert len(lines) == len(BARS) + 1
    assert {line.split()[-1 if row.ideal is None else -2] for line, row in zip(lines[1:], found, strict=True)} <= {
        "yes",
        "no",
    }
    assert {bar.profile for bar in BARS if bar.figure == "surest_right"} == set(PROFILES)


@pytest.mark.parametrize(("figure", "met"), [(0.955, True), (0.954, False), (float("nan"), False)])
def test_a_bar_is_met_from_its_figure_on(figure: float, met: bool) -> None:
    assert Measured(Bar("household", "", "right", least=0.955), figure).met is met
