"""The simulated people: that nobody makes them better than they are, and that they know nothing of the engine.

The rates are written out here a second time on purpose. They are the yardstick of every figure that the project gives;
the person who changes them changes what the figures mean.
"""

from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from scipy.stats import binom, kstest

from tests.effort import effort
from tests.strategies import rear_sprockets
from triagebot.errors import UsageError
from triagebot.identify import ChoiceReading, CountReading, Reading, SizeReading, UnsureReading
from triagebot.identify.information import Array
from triagebot.study import wheels
from triagebot.study.people import PROFILES, Person, draw_person, profile_named, seeded

TOPIC = rear_sprockets()
PEOPLE = effort(2_000, 12_000)
#: By how much the slips of each profile differ from those of a household; "not knowing" is the same for all.
SLIPS = {"household": 1.0, "careful": 0.5, "careless": 2.0}

TRUTH: dict[str, str | float] = {
    "wheel": "out", "drive": "coasts", "spin": "stays", "fitting": "splines", "count": 12, "size": 23.0,
    "sprockets": 7, "body": "no-splines", "marking": "other", "torque": "no", "hub": "plain", "wire-ring": "no",
    "lockring-tool": "stops-short", "freewheel-tool": "home",
    "axle": "nuts", "motor": "none", "condition": "good",
}  # fmt: skip


def somebody(profile: str, number: int = 0, means: str = "rule", deviation: float = 0.65) -> Person:
    fastening = TOPIC.fastenings["freewheel-12-spline"]
    return Person(number, 1, PROFILES[profile], fastening, TRUTH, means, deviation)


@cache
def asked(profile: str, question: str, deviation: float = 0.65) -> tuple[Reading, ...]:
    """What so many people say when asked for the first time."""
    asked_for = TOPIC.questions[question]
    return tuple(somebody(profile, n, deviation=deviation).answer(asked_for, ()) for n in range(PEOPLE))


def agrees(hits: int, of: int, rate: float) -> bool:
    """Whether the number of hits is what a rate gives: within the 99.9 % interval of the binomial distribution."""
    low, high = binom.interval(0.999, of, rate)
    return bool(low <= hits <= high)


def unsure(readings: Sequence[Reading]) -> int:
    return sum(isinstance(reading, UnsureReading) for reading in readings)


# --- the rates as written -----------------------------------------------------------------------------------------


def test_household_errs_as_written() -> None:
    household = PROFILES["household"]

    assert dict(household.choice) == {"spin": 0.05, "fitting": 0.07}
    assert household.other_choice == 0.05
    assert dict(household.unsure) == {"body": 0.15, "marking": 0.15}
    assert (household.other_unsure, household.number_unsure) == (0.08, 0.05)
    assert (household.miss, household.ends, household.arbitrary) == (0.005, 0.04, 0.02)
    assert (household.gross, household.unit, household.repeat) == (0.07, 0.02, 0.30)


def test_the_other_profiles_err_as_written() -> None:
    newcomer, household = PROFILES["newcomer"], PROFILES["household"]

    assert newcomer.never == {
        "body": 0.8,
        "marking": 0.45,
        "torque": 0.25,
        "lockring-tool": 0.93,
        "freewheel-tool": 0.96,
    }
    assert household.never == {"lockring-tool": 0.75, "freewheel-tool": 0.85}
    assert (newcomer.scale, newcomer.wrong_part, household.wrong_part) == (1.0, 0.02, 0.0)
    assert (PROFILES["persisting"].scale, PROFILES["persisting"].repeat) == (2.0, 0.9)
    assert PROFILES["mixes-up-the-spin"].choice["spin"] == 0.3
    assert set(PROFILES["sees-little"].never.values()) == {1.0}
    assert PROFILES["wrong-part"].wrong_part == 0.3


@pytest.mark.parametrize(("profile", "scale"), SLIPS.items())
def test_profiles_differ_only_in_how_often_people_slip(profile: str, scale: float) -> None:
    assert replace(PROFILES[profile], scale=1.0) == PROFILES["household"]
    assert PROFILES[profile].scale == scale


def test_an_unknown_profile_is_named_with_the_known_ones() -> None:
    with pytest.raises(UsageError, match=r"tidy.*household.*careful.*careless"):
        profile_named("tidy")


# --- the rates as drawn -------------------------------------------------------------------------------------------

CHOICES = {"spin": 0.05, "fitting": 0.07, "drive": 0.05, "body": 0.05, "marking": 0.05, "torque": 0.05, "hub": 0.05}


@pytest.mark.parametrize("profile", SLIPS)
@pytest.mark.parametrize(("question", "slip"), CHOICES.items())
def test_choices_slip_and_fail_as_written(profile: str, question: str, slip: float) -> None:
    said = asked(profile, question)
    chosen = Counter(reading.choice for reading in said if isinstance(reading, ChoiceReading))
    wrong = {choice: n for choice, n in chosen.items() if choice != TRUTH[question]}
    others = len(TOPIC.questions[question].choices) - 1

    assert agrees(unsure(said), PEOPLE, 0.15 if question in ("body", "marking") else 0.08)
    assert agrees(sum(wrong.values()), chosen.total(), SLIPS[profile] * slip)
    assert len(wrong) == others
    assert all(agrees(n, chosen.total(), SLIPS[profile] * slip / others) for n in wrong.values())


@pytest.mark.parametrize("profile", SLIPS)
def test_counts_slip_as_written(profile: str) -> None:
    """12 things: each missed or doubled with p each, ±1 at the ends, an arbitrary number now and then."""
    said, scale = asked(profile, "count"), SLIPS[profile]
    numbers = Counter(reading.low for reading in said if isinstance(reading, CountReading))
    p, ends, arbitrary = scale * 0.005, scale * 0.04, scale * 0.02

    # by convolution over the items: P(12 come out) with and without a step at the ends
    steps = np.array([1.0])
    for _ in range(12):
        steps = np.convolve(steps, [p, 1 - 2 * p, p])
    steps = np.convolve(steps, [ends / 2, 1 - ends, ends / 2])
    expected = {12 + k: (1 - arbitrary) * steps[13 + k] + arbitrary / 40 for k in (-2, -1, 0, 1, 2)}

    assert agrees(unsure(said), PEOPLE, 0.05)
    for number, chance in expected.items():
        assert agrees(numbers[number], numbers.total(), chance), number
    far = sum(n for number, n in numbers.items() if abs(number - 12) > 4)
    assert agrees(far, numbers.total(), arbitrary * 31 / 40)
    assert all(reading.low == reading.high for reading in said if isinstance(reading, CountReading))


def lengths(readings: Sequence[Reading]) -> Array:
    return np.array([reading.mm for reading in readings if isinstance(reading, SizeReading)])


@pytest.mark.parametrize("profile", SLIPS)
@pytest.mark.parametrize("deviation", [0.2, 0.65, 1.0])
def test_sizes_go_wrong_as_written(profile: str, deviation: float) -> None:
    said, scale = asked(profile, "size", deviation), SLIPS[profile]
    mm = lengths(said)
    near = abs(mm - 23.0) < 6 * deviation
    gross, unit = scale * 0.07, scale * 0.02

    assert agrees(unsure(said), PEOPLE, 0.05)
    assert agrees(int((mm < 5).sum()), len(mm), (1 - gross) * unit)
    assert agrees(int((~near & (mm >= 10)).sum()), len(mm), gross * (1 - 12 * deviation / 45))
    # what is near is normal about the truth, with some gross ones that happen to fall there
    stray = gross * 12 * deviation / 45
    core = mm[near]
    read = deviation**2 + 0.1**2 / 12  # to the nearest tenth of a millimetre
    variance = (1 - gross) * (1 - unit) * read + stray * (12 * deviation) ** 2 / 12
    assert core.mean() == pytest.approx(23.0, abs=5 * deviation / np.sqrt(len(core)))
    assert core.var() == pytest.approx(variance / ((1 - gross) * (1 - unit) + stray), rel=0.06)


def test_gross_errors_are_uniform_from_10_to_55_mm() -> None:
    mm = lengths(asked("careless", "size", 0.2))
    gross = mm[(mm >= 5) & (abs(mm - 23.0) > 1.5)]
    spread = np.where(gross > 23, gross - 3, gross)  # the gap around the truth closed up

    assert gross.min() < 11
    assert gross.max() > 54
    assert kstest(spread, "uniform", (10, 42)).pvalue > 0.001


def test_wrong_units_are_centimetres_and_inches() -> None:
    small = lengths(asked("careless", "size", 0.2))
    small = small[small < 5]
    inches = abs(small - 23 / 25.4) < 0.06
    centimetres = abs(small - 2.3) < 0.15

    assert (inches | centimetres).all()
    assert agrees(int(inches.sum()), len(small), 0.5)


def fresh_again(person: Person) -> Reading:
    """A second reading by somebody who does not just repeat themselves: asked as often as it takes."""
    size = TOPIC.questions["size"]
    for times in range(1, 30):
        before: list[Reading] = [UnsureReading("size")] * times
        said = person.answer(size, before)
        if isinstance(said, SizeReading):
            return said
    raise AssertionError("nobody is unsure thirty times")


def test_of_the_deviation_60_percent_is_a_bias_that_repeats() -> None:
    """The correlation of two fresh readings by the same person is 0.6² = 0.36."""
    pairs = []
    for number in range(effort(2_000, 6_000)):
        person = somebody("household", number)
        first, second = person.answer(TOPIC.questions["size"], ()), fresh_again(person)
        if isinstance(first, SizeReading) and isinstance(second, SizeReading):
            pairs.append((first.mm, second.mm))
    both = np.array(pairs)
    both = both[(abs(both - 23.0) < 2.5).all(axis=1)]
    gross = 0.07 * 5 / 45 / (0.91 + 0.07 * 5 / 45)  # share of gross errors among what is near, which share nothing

    assert np.corrcoef(both.T)[0, 1] == pytest.approx(0.36 * (1 - gross) ** 2, abs=0.04)


@pytest.mark.parametrize("question", ["size", "count", "fitting"])
@pytest.mark.parametrize("profile", SLIPS)
def test_three_in_ten_repeat_themselves(profile: str, question: str) -> None:
    impossible: dict[str, Reading] = {
        "size": SizeReading("size", 999.0, means="rule"),
        "count": CountReading("count", 99, 99),
        "fitting": ChoiceReading("fitting", "said-before"),
    }
    before = [impossible[question]]
    again = [somebody(profile, n).answer(TOPIC.questions[question], before) for n in range(PEOPLE)]

    assert agrees(again.count(before[0]), PEOPLE, 0.30)


# --- who they are -------------------------------------------------------------------------------------------------


@cache
def drawn() -> tuple[Person, ...]:
    return tuple(draw_person(TOPIC, n, 1, PROFILES["household"]) for n in range(6000))


def test_owners_are_drawn_by_the_priors_of_the_catalogue() -> None:
    kinds = [f for f in TOPIC.catalogue.fastenings if not f.mistaken]
    total = sum(f.prior for f in kinds)
    owned = Counter(person.fastening.id for person in drawn())

    assert owned.keys() <= {f.id for f in kinds}
    assert all(agrees(owned[f.id], 6000, f.prior / total) for f in kinds)
    assert TOPIC.fastenings["unlisted"].prior / total == pytest.approx(0.018, abs=0.001)


def test_a_shop_may_see_another_mix() -> None:
    shares = {"freewheel-20-spline": 3.0, "unlisted": 1.0}
    owned = Counter(draw_person(TOPIC, n, 1, PROFILES["household"], shares).fastening.id for n in range(1000))

    assert owned.keys() == shares.keys()
    assert agrees(owned["freewheel-20-spline"], 1000, 0.75)


@pytest.mark.parametrize(
    ("share", "means", "deviation"), [(0.3, "calliper", 0.2), (0.5, "rule", 0.65), (0.2, "eye", 1)]
)
def test_people_measure_by_what_they_have(share: float, means: str, deviation: float) -> None:
    own = [person for person in drawn() if person.means == means]

    assert agrees(len(own), 6000, share)
    assert {person.deviation for person in own} == {deviation}


def test_what_is_not_listed_has_arbitrary_features() -> None:
    unlisted = [draw_person(TOPIC, n, 1, PROFILES["household"], {"unlisted": 1.0}).truth for n in range(3000)]

    for question in ("spin", "fitting", "body", "marking"):
        choices = TOPIC.questions[question].choices
        seen = Counter(truth[question] for truth in unlisted)
        assert all(agrees(seen[choice], 3000, 1 / len(choices)) for choice in choices)
    sizes = [float(truth["size"]) for truth in unlisted]
    assert kstest(sizes, "uniform", (10, 45)).pvalue > 0.001
    assert {int(truth["count"]) for truth in unlisted} == set(range(1, 41))


def test_true_sizes_vary_as_the_catalogue_says() -> None:
    own = [draw_person(TOPIC, n, 1, PROFILES["household"], {"freewheel-20-spline": 1.0}).truth for n in range(2000)]
    sizes = np.array([float(truth["size"]) for truth in own])

    assert sizes.mean() == pytest.approx(21.5, abs=0.04)
    assert sizes.std() == pytest.approx(0.4, rel=0.06)


WHEELS = wheels.load_wheels(TOPIC)


@pytest.mark.parametrize("mix", WHEELS.mixes)
def test_the_people_of_a_mix_own_what_it_says(mix: str) -> None:
    shares = WHEELS.mixes[mix]
    owned = Counter(draw_person(TOPIC, n, 1, PROFILES["household"], shares, WHEELS).fastening.id for n in range(1500))

    assert shares.keys() <= set(TOPIC.fastenings)
    assert all(agrees(owned[name], 1500, share / sum(shares.values())) for name, share in shares.items())


def test_rare_fittings_are_none_that_the_catalogue_has_a_remover_for() -> None:
    rare = [draw_person(TOPIC, n, 1, PROFILES["household"], {"unlisted": 1.0}, WHEELS).truth for n in range(400)]
    listed = {
        (name, int(number))
        for row in TOPIC.catalogue.fastenings
        if row.remover is not None
        for name in row.listed("fitting")
        for number in row.listed("count")
    }

    assert not {(truth["fitting"], int(truth["count"])) for truth in rare} & listed
    assert len({(truth["fitting"], int(truth["count"])) for truth in rare}) > 12


def test_who_looks_at_the_wrong_part_describes_it_and_half_find_the_right_one_when_asked_again() -> None:
    astray = PROFILES["wrong-part"]
    people = [draw_person(TOPIC, n, 1, astray, {"cassette-12-spline": 1.0}, WHEELS) for n in range(2000)]
    wrong = [person for person in people if person.wrong_part]
    unknown = [UnsureReading("fitting")]
    first = [person.answer(TOPIC.questions["fitting"], ()) for person in wrong]
    second = [person.answer(TOPIC.questions["fitting"], unknown) for person in wrong]

    def seen(answers: list[Reading], choice: str) -> int:
        return sum(isinstance(answer, ChoiceReading) and answer.choice == choice for answer in answers)

    assert agrees(len(wrong), 2000, 0.3)
    assert seen(first, "notches") > 0.8 * len(first)
    assert seen(second, "splines") > 0.25 * len(second)


# --- what they do not depend on -----------------------------------------------------------------------------------


def test_the_same_person_says_the_same_the_person_who_asks_in_whatever_order() -> None:
    def answers(order: Callable[[list[str]], list[str]]) -> dict[str, Reading]:
        person = draw_person(TOPIC, 17, 3, PROFILES["careless"])
        return {q: person.answer(TOPIC.questions[q], ()) for q in order(list(TOPIC.questions))}

    assert answers(sorted) == answers(lambda ids: sorted(ids, reverse=True))


def test_other_seeds_and_numbers_are_other_people() -> None:
    def mm(seed: int, number: int) -> float:
        return float(
            draw_person(TOPIC, number, seed, PROFILES["household"], {"freewheel-20-spline": 1.0}).truth["size"]
        )

    assert len({mm(seed, number) for seed in range(5) for number in range(5)}) == 25


def test_nine_in_ten_have_the_wheel_out_once_told_how() -> None:
    wheel = TOPIC.questions["wheel"]
    stuck = [replace(somebody("household", n), truth={**TRUTH, "wheel": "in"}) for n in range(4000)]

    assert sum(person.is_able(wheel, 0) for person in stuck) == 0
    assert agrees(sum(person.is_able(wheel, 1) for person in stuck), 4000, 0.9)
    assert all(somebody("household", n).is_able(wheel, 0) for n in range(20))


# --- what is quicker draws the same ---------------------------------------------------------------------------------


@pytest.mark.parametrize("words", [(1, 2), (0, 0, 0, 0), (7, 4_294_967_295, 5, 2), (4_294_967_296, 1), (1 << 70, 3, 0)])
def test_a_seed_of_words_is_that_of_the_library(words: tuple[int, ...]) -> None:
    assert list(seeded(*words).random(5)) == list(np.random.default_rng(words).random(5))


@pytest.mark.parametrize("shares", [(1.0,), (0.2, 0.5, 0.3), (0.0, 1.0, 0.0), (0.05, 0.0, 0.9, 0.05)])
def test_what_is_drawn_by_shares_is_what_the_library_draws(shares: tuple[float, ...]) -> None:
    one, other = np.random.default_rng(5), np.random.default_rng(5)
    for _ in range(200):
        assert wheels.drawn(one, np.array(shares)) == other.choice(len(shares), p=shares)
