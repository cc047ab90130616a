"""Belief after readings: what holds for any readings of the real topic."""

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from tests.strategies import UNKNOWN_QUESTION, cases, questions, readings, readings_of, rear_sprockets
from triagebot.identify import BoundReading, ChoiceReading, CountReading, Reading, SizeReading, UnsureReading, belief
from triagebot.topics import truth_mix

MODEL = rear_sprockets().model


def test_without_readings_the_prior_stands() -> None:
    assert belief(MODEL, []) == pytest.approx(MODEL.prior)


def test_fastenings_of_a_remedy_stand_together() -> None:
    places = [MODEL.remedy_of(name) for name in MODEL.fastenings]

    assert places == sorted(places)
    assert MODEL.by_remedy(MODEL.prior) == pytest.approx(np.bincount(places, MODEL.prior))


@given(cases())
def test_probabilities_sum_to_one(said: list[Reading]) -> None:
    shares = belief(MODEL, said)

    assert abs(shares.sum() - 1) <= 1e-9
    assert (shares >= 0).all()


@given(cases(), st.randoms(use_true_random=False))
def test_order_of_independent_readings_does_not_matter(said: list[Reading], chance: object) -> None:
    """What is said of one question keeps its order; everything else is shuffled."""
    turns = [reading.question for reading in said]
    chance.shuffle(turns)  # type: ignore[attr-defined]
    waiting = {question: iter([r for r in said if r.question == question]) for question in turns}
    shuffled = [next(waiting[question]) for question in turns]

    assert belief(MODEL, shuffled) == pytest.approx(belief(MODEL, said), abs=1e-9)


@given(cases(), questions())
def test_not_knowing_is_no_evidence(said: list[Reading], question: str) -> None:
    assert belief(MODEL, [*said, UnsureReading(question)]) == pytest.approx(belief(MODEL, said), abs=1e-12)


@given(cases())
def test_a_question_that_nobody_asks_is_no_evidence(said: list[Reading]) -> None:
    strange: list[Reading] = [
        ChoiceReading(UNKNOWN_QUESTION, "red"),
        CountReading(UNKNOWN_QUESTION, 3, 3),
        SizeReading(UNKNOWN_QUESTION, 23.0),
        BoundReading(UNKNOWN_QUESTION, low=20.0),
    ]

    assert belief(MODEL, [*strange, *said]) == pytest.approx(belief(MODEL, said), abs=1e-12)


@given(st.lists(readings(), min_size=1, max_size=4))
def test_nothing_that_is_said_is_impossible(said: list[Reading]) -> None:
    for question in {reading.question for reading in said} & MODEL.tables.keys():
        likelihood = MODEL.tables[question].likelihood([r for r in said if r.question == question])

        assert np.isfinite(likelihood).all()
        assert (likelihood > 0).all()


@given(questions().flatmap(lambda question: st.lists(readings_of(question), max_size=4).map(lambda r: (question, r))))
def test_chances_of_the_next_answer_sum_to_one(asked: tuple[str, list[Reading]]) -> None:
    question, said = asked
    rows = MODEL.tables[question].answers(said)

    assert rows.sum(axis=1) == pytest.approx(np.ones(len(MODEL.fastenings)), abs=1e-9)
    assert (rows >= 0).all()


@given(cases(), questions(), st.data())
def test_a_choice_moves_belief_towards_the_fastenings_for_which_it_is_truer(
    said: list[Reading], question: str, data: st.DataObject
) -> None:
    topic = rear_sprockets()
    choices = topic.questions[question].choices
    assume(choices)
    choice = data.draw(st.sampled_from(choices))
    others = [reading for reading in said if reading.question != question]
    truths = {f.id: truth_mix(f.answers.get(question), list(choices)) for f in topic.catalogue.fastenings}
    true = np.array([truths[name][choices.index(choice)] for name in MODEL.fastenings])

    before = belief(MODEL, others)
    towards = belief(MODEL, [*others, ChoiceReading(question, choice)]) / before
    away = belief(MODEL, [*others, ChoiceReading(question, choice, denied=True)]) / before

    ranked = np.argsort(true, kind="stable")
    assert (np.diff(towards[ranked]) >= -1e-9 * towards.max()).all()
    assert (np.diff(away[ranked]) <= 1e-9 * away.max()).all()
    truer = true > true.min()
    assert not truer.any() or towards[truer].min() > towards[~truer].max()
