"""What a simulated year of closed cases is good for: no harm where the mix is the catalogue's, help where it is not."""

from functools import cache

import pytest

from tests.effort import effort
from tests.strategies import rear_sprockets
from triagebot.errors import UsageError
from triagebot.study.people import PROFILES
from triagebot.study.wheels import Wheels, mix_of
from triagebot.study.year import Year, closed_cases, year

TOPIC = rear_sprockets()
OLD_WHEELS = (
    "cassette-12-spline=0.2,freewheel-4-notch-24=8,freewheel-2-notch=6,fixed-notched-ring=4,freewheel-20-spline=4"
)


@cache
def simulated(mix: str, seed: int = 3, cases: int = 600, people: int = effort(300, 1500)) -> Year:
    return year(TOPIC, cases, people, seed, shares=mix_of(TOPIC, Wheels(), mix))


def test_on_the_mix_that_the_catalogue_expects_learning_does_no_harm() -> None:
    result = simulated("")

    assert result.taught.mean_loss <= result.shipped.mean_loss + 0.15
    assert result.taught.wrong <= result.shipped.wrong + 0.002
    assert result.taught.right >= result.shipped.right - 0.005
    assert result.taught.calibration_error <= 0.02


@pytest.mark.parametrize("seed", effort((3,), (1, 3)))
def test_where_old_wheels_are_common_learning_saves_questions_and_losses(seed: int) -> None:
    result = simulated(OLD_WHEELS, seed)

    assert result.taught.mean_questions <= result.shipped.mean_questions - 0.15
    assert result.taught.mean_loss <= result.shipped.mean_loss - 0.1
    assert result.taught.wrong <= result.shipped.wrong + 0.003
    assert result.learned.priors["freewheel-4-notch-24"] > 3 * TOPIC.fastenings["freewheel-4-notch-24"].prior


def test_the_shop_learns_from_other_people_than_it_is_measured_on() -> None:
    learnt_from = {
        tuple(sorted(map(str, finding.run.said)))
        for finding in closed_cases(TOPIC, 40, 7919 + 3, PROFILES["household"])
    }
    measured_on = {
        tuple(sorted(map(str, finding.run.said))) for finding in closed_cases(TOPIC, 40, 3, PROFILES["household"])
    }

    assert len(learnt_from & measured_on) <= 8, "some are alike by chance; of the same people all would be"


def test_few_cases_change_little() -> None:
    learned = simulated("freewheel-2-notch=1000", cases=5, people=1).learned

    assert learned.priors["freewheel-2-notch"] == pytest.approx((200 * 0.015 + 5) / 205, abs=1e-4)


@pytest.mark.parametrize("text", ["gone=2", "unlisted", "unlisted=-1", "unlisted=inf", "unlisted=nan", "unlisted=x"])
def test_a_mix_that_means_nothing(text: str) -> None:
    with pytest.raises(UsageError, match="unlisted=2"):
        mix_of(TOPIC, Wheels(), text)


def test_a_mix_says_how_many_times_as_common() -> None:
    mix = mix_of(TOPIC, Wheels(), "unlisted=2, fixed-notched-ring=0")

    assert mix["unlisted"] == pytest.approx(0.036)
    assert mix["fixed-notched-ring"] == 0
    assert mix["freewheel-2-notch"] == 0.015
