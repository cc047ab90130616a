"""Worked examples of the textbooks, told to the belief, the plan and the decision that people meet.

Each is a small model of its own. Two changes of dress make them fit, and neither changes a number:
- where stopping in doubt costs far more than any doubt, the loss to come is the entropy over remedies (`BITS`), so what
  the planner expects a question to save in time is its information gain;
- a gain is told as what is lost against the best that could have been done ("drill" where the well turns out dry costs
  70, "do not" where it is soaking 200). A loss that hangs on the truth alone moves into the prior, since an expected
  loss is a sum of their products.

Not here, since the planner has no such measure: characters 3 and 5 of the Open DELTA sample. Where a taxon varies, its
criterion is log2 of how many taxa are left, however likely each of them is.
"""

from collections.abc import Mapping, Sequence

import numpy as np
import pytest

from tests.identify.small_models import BITS, small_model
from triagebot.identify import Candidate, ChoiceReading, Losses, Model, Plan, Worth, belief, decide, plan


def planned(model: Model, *said: ChoiceReading, price: float = 0.01) -> Plan:
    """The plan when any question of the model may be asked, at the same price."""
    return plan(model, said, [Candidate(question, price) for question in model.tables])


def saved(model: Model, *said: ChoiceReading) -> dict[str, Worth]:
    return {worth.question: worth for worth in planned(model, *said).worth}


# --- belief -----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("prior", "hit", "false_alarm", "posterior"), [(0.01, 0.8, 0.1, 0.0748), (0.005, 0.95, 0.01, 0.3231)]
)
def test_bayes_of_the_textbooks(prior: float, hit: float, false_alarm: float, posterior: float) -> None:
    """A test for a rare condition: the standard examples, .0748 and .3231."""
    model = small_model(
        {"ill": prior, "well": 1 - prior},
        {"test": {"positive": [hit, false_alarm], "negative": [1 - hit, 1 - false_alarm]}},
    )

    assert belief(model, [ChoiceReading("test", "positive")])[0] == pytest.approx(posterior, abs=5e-5)


def test_burglary_network_by_enumeration() -> None:
    """Russell and Norvig, "Artificial Intelligence: A Modern Approach", 14.4: P(burglary | both call) = 0.284.

    The calls are independent only once the alarm is known, so hypotheses are worlds of burglary, earthquake and alarm.
    """
    burglary, earthquake = np.array([0.999, 0.001]), np.array([0.998, 0.002])
    alarm = np.array([[0.001, 0.29], [0.94, 0.95]])  # P(alarm | burglary, earthquake)
    john, mary = np.array([0.05, 0.90]), np.array([0.01, 0.70])  # P(calls | alarm)
    worlds = {
        f"{b}{e}{a}": burglary[b] * earthquake[e] * (alarm[b, e] if a else 1 - alarm[b, e])
        for b in (0, 1)
        for e in (0, 1)
        for a in (0, 1)
    }
    calls = {
        name: {"calls": [chance[int(w[2])] for w in worlds], "silent": [1 - chance[int(w[2])] for w in worlds]}
        for name, chance in (("john", john), ("mary", mary))
    }
    model = small_model(worlds, calls)

    shares = belief(model, [ChoiceReading("john", "calls"), ChoiceReading("mary", "calls")])

    ringing = np.stack([1 - alarm, alarm], axis=2)
    joint = np.einsum("b,e,bea,a,a->b", burglary, earthquake, ringing, john, mary)
    stolen = sum(share for share, name in zip(shares, model.fastenings, strict=True) if name.startswith("1"))
    assert stolen == pytest.approx(joint[1] / joint.sum(), abs=1e-9)
    assert stolen == pytest.approx(0.284, abs=5e-4)


# --- doubt, and the question that settles most of it ------------------------------------------------------------------

# Outlook, temperature, humidity, wind, and whether they played: the 14 days of Quinlan, "Induction of decision trees",
# Machine Learning 1 (1986), printed again in Mitchell, "Machine Learning" (1997), table 3.2. Sorted by the last.
TENNIS = """
    overcast hot  high   weak   yes
    rain     mild high   weak   yes
    rain     cool normal weak   yes
    overcast cool normal strong yes
    sunny    cool normal weak   yes
    rain     mild normal weak   yes
    sunny    mild normal strong yes
    overcast mild high   strong yes
    overcast hot  normal weak   yes
    sunny    hot  high   weak   no
    sunny    hot  high   strong no
    rain     cool normal strong no
    sunny    mild high   weak   no
    rain     mild high   strong no
"""


def tennis() -> Model:
    """Every day a fastening, whether they played its remover, every attribute a question that never errs."""
    days = {f"day-{n}": line.split() for n, line in enumerate(TENNIS.strip().splitlines())}
    questions = {
        name: {
            value: [float(day[column] == value) for day in days.values()]
            for value in sorted({day[column] for day in days.values()})
        }
        for column, name in enumerate(("outlook", "temperature", "humidity", "wind"))
    }
    return small_model(dict.fromkeys(days, 1 / 14), questions, {day: days[day][4] for day in days}, losses=BITS)


def test_information_gain_on_the_tennis_days() -> None:
    """Quinlan 1986: .9403 bits of doubt; Mitchell 1997, 3.4.2, rounds the gains to .246, .029, .151 and .048."""
    step = planned(tennis())

    assert step.ahead == pytest.approx(0.9403, abs=5e-5)
    assert {worth.question: worth.in_time for worth in step.worth} == pytest.approx(
        {"outlook": 0.2467, "temperature": 0.0292, "humidity": 0.1518, "wind": 0.0481}, abs=5e-5
    )


def test_the_plan_for_the_tennis_days_is_the_published_tree() -> None:
    """Mitchell 1997, figures 3.1 and 3.4: outlook first; humidity if it is sunny, with gains .970, .570 and .019; wind
    if it rains; and nothing more when the sky is overcast. No branch needs the temperature."""
    model = tennis()

    def after(**said: str) -> tuple[str | None, str | None]:
        step = planned(model, *(ChoiceReading(question, value) for question, value in said.items()))
        return step.question, model.remedies[step.decision.remedies[0]].remover if not step.question else None

    assert after() == ("outlook", None)
    assert after(outlook="overcast") == (None, "yes")
    assert after(outlook="sunny") == ("humidity", None)
    assert after(outlook="sunny", humidity="high") == (None, "no")
    assert after(outlook="sunny", humidity="normal") == (None, "yes")
    assert after(outlook="rain") == ("wind", None)
    assert after(outlook="rain", wind="strong") == (None, "no")
    assert after(outlook="rain", wind="weak") == (None, "yes")
    sunny = saved(model, ChoiceReading("outlook", "sunny"))
    assert [sunny[name].in_time for name in ("humidity", "temperature", "wind")] == pytest.approx(
        [0.970, 0.570, 0.019], abs=1.1e-3
    )


def test_first_weighing_of_twelve_balls() -> None:
    """MacKay, "Information Theory, Inference, and Learning Algorithms", exercise 4.1 and figure 4.2: 24 hypotheses are
    4.585 bits; six balls a side give 1.000 bit, four 1.585, and four a side are weighed first."""
    odd = [(ball, heavy) for ball in range(12) for heavy in (True, False)]

    def result(a_side: int, ball: int, heavy: bool) -> str:
        if ball >= 2 * a_side:
            return "level"
        return "left" if (ball < a_side) == heavy else "right"

    weighings = {
        f"{n}-a-side": {side: [float(result(n, *one) == side) for one in odd] for side in ("left", "right", "level")}
        for n in range(1, 7)
    }
    model = small_model({f"{ball}-{heavy}": 1 / 24 for ball, heavy in odd}, weighings, losses=BITS)

    step, bits = planned(model), saved(model)

    assert step.ahead == pytest.approx(4.585, abs=5e-4)
    assert bits["6-a-side"].in_time == pytest.approx(1.0)
    assert bits["4-a-side"].in_time == pytest.approx(np.log2(3))
    assert step.question == "4-a-side"


def test_submarine_gives_six_bits_however_many_shots_it_takes() -> None:
    """MacKay p. 71: two misses give .0227 + .0230 bits, half the sea 1.0, a hit at the 49th shot makes it 6.0."""
    shots = {
        f"shot-{n}": {"hit": [float(s == n) for s in range(64)], "miss": [float(s != n) for s in range(64)]}
        for n in range(49)
    }
    model = small_model({f"square-{n}": 1 / 64 for n in range(64)}, shots, losses=BITS)

    def doubt(misses: int, hit: bool = False) -> float:
        said = [ChoiceReading(f"shot-{n}", "miss") for n in range(misses)]
        if hit:
            said.append(ChoiceReading(f"shot-{misses}", "hit"))
        return plan(model, said, []).ahead

    assert doubt(0) - doubt(1) == pytest.approx(0.0227, abs=5e-5)
    assert doubt(1) - doubt(2) == pytest.approx(0.0230, abs=1e-4)  # log2 63/62 = .02308, printed cut off
    assert doubt(0) - doubt(32) == pytest.approx(1.0, abs=1e-9)
    assert doubt(0) - doubt(48, hit=True) == pytest.approx(6.0, abs=1e-6)


def test_best_character_is_asked_first() -> None:
    """Open DELTA test data, the smaller sample, best characters: 6 with separating power 1.92, and 2 with 0.97.

    Carrot, apricot, strawberry, plum and potato by their colour and by whether they have seeds, both without variation.
    Characters 1, 4 and 7 need boundaries between states that the program draws from the data by a rule of its own.
    """

    def character(*shown: int) -> Mapping[str, Sequence[float]]:
        return {f"state-{state}": [float(state == one) for one in shown] for state in sorted(set(shown))}

    taxa = dict.fromkeys(("carrot", "apricot", "strawberry", "plum", "potato"), 0.2)
    characters = {"2": character(2, 1, 1, 1, 2), "6": character(3, 3, 2, 1, 4)}
    model = small_model(taxa, characters, losses=BITS)

    power = {name: round(worth.in_time, 2) for name, worth in saved(model).items()}

    assert power == {"2": 0.97, "6": 1.92}
    assert planned(model).question == "6"


# --- what an answer is worth in money ---------------------------------------------------------------------------------


def wager(prior: Mapping[str, float], losses: Losses, questions: Mapping[str, Mapping[str, Sequence[float]]]) -> Model:
    """A model in which one deed is right in every case but "nobody", and leaving it is right in that one.

    Doubt never stands for a loss, and no rival bars a deed by being plausible.
    """
    return small_model(prior, questions, dict.fromkeys((name for name in prior if name != "nobody"), "deed"), 2, losses)


def test_used_car_is_bought_whatever_the_test_says() -> None:
    """Russell and Norvig, "Artificial Intelligence: A Modern Approach", the used car, exercise of chapter 16: worth 290
    untested, 389.5 if it passes, 92.5 if it fails; bought in any case, so the test is worth nothing."""
    losses = Losses(wrong=200, person=500, look_alike=1e9, again=1, bit=1e9)  # bought when bad, left when good
    model = wager({"good": 0.7, "nobody": 0.3}, losses, {"test": {"pass": [0.80, 0.35], "fail": [0.20, 0.65]}})

    def worth(*said: ChoiceReading) -> float:
        shares = belief(model, said)
        decision = decide(model, shares)
        assert decision.kind == "answer"
        return float(500 * shares[0]) - decision.loss

    assert worth() == pytest.approx(290)
    assert worth(ChoiceReading("test", "pass")) == pytest.approx(389.5, abs=0.05)
    assert worth(ChoiceReading("test", "fail")) == pytest.approx(92.5, abs=0.05)
    assert saved(model)["test"].at_once == pytest.approx(0, abs=1e-9)
    assert planned(model, price=1).question is None


# The oil wildcatter of Raiffa, "Decision Analysis" (1968): wet, soaking or dry; gains in thousands of dollars.
OIL = {"wet": 0.3, "soaking": 0.2, "nobody": 0.5}
AT_STAKE = {"wet": 50, "soaking": 200, "nobody": 70}
SOUNDINGS = {"no-structure": [0.3, 0.1, 0.6], "open": [0.4, 0.4, 0.3], "closed": [0.3, 0.5, 0.1]}
THE_TRUTH = {name: [float(name == other) for other in OIL] for name in OIL}


def wildcatter() -> Model:
    at_stake = sum(OIL[name] * AT_STAKE[name] for name in OIL)
    losses = Losses(wrong=at_stake, person=at_stake, look_alike=1e9, again=1, bit=1e9)
    return wager(
        {name: OIL[name] * AT_STAKE[name] / at_stake for name in OIL},
        losses,
        {"soundings": SOUNDINGS, "truth": THE_TRUTH},
    )


def test_oil_wildcatter_pays_up_to_12_5_for_soundings() -> None:
    """Raiffa 1968: expected value 20, with perfect information 35 more, with soundings 12.5 more: they cost 10, and so
    are taken; he drills unless there is no structure."""
    model = wildcatter()
    best_of_all = OIL["wet"] * AT_STAKE["wet"] + OIL["soaking"] * AT_STAKE["soaking"]

    step = plan(model, [], [Candidate("soundings", 10)])

    assert (step.question, step.decision.kind) == ("soundings", "answer")
    assert best_of_all - step.decision.loss == pytest.approx(20)
    assert saved(model)["soundings"].at_once == pytest.approx(12.5)
    assert saved(model)["truth"].at_once == pytest.approx(35)
    assert plan(model, [], [Candidate("soundings", 12.6)]).question is None
    kinds = {said: decide(model, belief(model, [ChoiceReading("soundings", said)])).kind for said in SOUNDINGS}
    assert kinds == {"no-structure": "person", "open": "answer", "closed": "answer"}


def test_oil_wildcatter_learns_although_two_outcomes_raise_doubt() -> None:
    """Raiffa 1968: mutual information .16041 bits; after an open or a closed structure the doubt is larger."""
    model = small_model(OIL, {"soundings": SOUNDINGS}, losses=BITS)
    before = planned(model)

    after = {said: planned(model, ChoiceReading("soundings", said)).ahead for said in SOUNDINGS}

    assert before.worth[0].in_time == pytest.approx(0.16041, abs=5e-6)
    assert {said: doubt > before.ahead for said, doubt in after.items()} == {
        "no-structure": False, "open": True, "closed": True,
    }  # fmt: skip
