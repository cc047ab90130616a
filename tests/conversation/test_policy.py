"""What is asked next and why a person must look, where the words of a conversation do not show it."""

from collections.abc import Mapping, Sequence

import numpy as np
import pytest

from tests.conversation.guides import without_question
from triagebot.conversation import Guide, NextStep, open_case
from triagebot.conversation import policy as deciding
from triagebot.conversation.policy import next_step
from triagebot.conversation.scene import Scene
from triagebot.identify import Candidate, ChoiceReading, CountReading, Decision, Model, Reading, UnsureReading, plan
from triagebot.identify.planner import Plan
from triagebot.testing import START

COUNTED = CountReading("count", 12, 12)


@pytest.fixture
def prices(monkeypatch: pytest.MonkeyPatch) -> dict[str, float]:
    """The price at which each question was weighed last."""
    seen: dict[str, float] = {}

    def weighed(model: Model, readings: Sequence[Reading], candidates: Sequence[Candidate]) -> Plan:
        seen.update({candidate.question: candidate.price for candidate in candidates})
        return plan(model, readings, candidates)

    monkeypatch.setattr(deciding, "plan", weighed)
    return seen


@pytest.mark.parametrize(
    ("readings", "asked", "dearer"),
    [((), {}, False), ((COUNTED,), {}, True), ((), {"count": 1}, True), ((COUNTED,), {"count": 1}, True)],
)
def test_what_was_asked_or_told_before_is_dearer_to_ask_again(
    guide: Guide, prices: dict[str, float], readings: tuple[Reading, ...], asked: Mapping[str, int], dearer: bool
) -> None:
    # What was told is weighed again where nothing else is left to ask.
    rest = frozenset(question for question in guide.topic.questions if question != "count")
    next_step(guide.topic, readings, asked, barred=rest)
    again = guide.topic.flow.losses.again if dearer else 1
    assert prices["count"] == pytest.approx(guide.topic.questions["count"].price * again)
    assert again == 1 or again > 1.1


def test_an_ability_that_must_be_asked_first_is_paid_for_too(guide: Guide, prices: dict[str, float]) -> None:
    next_step(guide.topic, (ChoiceReading("wheel", "in"),), {"wheel": 1})
    questions = guide.topic.questions
    assert prices["spin"] == pytest.approx(questions["spin"].price + questions["wheel"].price)


@pytest.mark.parametrize("gone", [CountReading("sprockets", 7, 7), UnsureReading("sprockets")])
def test_what_was_told_of_a_question_that_is_gone_says_nothing(guide: Guide, gone: Reading) -> None:
    topic = without_question(guide, "sprockets").topic
    with_it, without = (next_step(topic, told, {}) for told in ((COUNTED, gone), (COUNTED,)))
    assert with_it.question == without.question
    assert with_it.decision == without.decision
    assert with_it.shares == pytest.approx(without.shares)


def reason(guide: Guide, fastening: str, share: float) -> str:
    """Why a person must look where this fastening leads with this share, and the others have the rest."""
    scene = Scene(guide, open_case(guide, "AAA-001", "en", START), START)
    names = guide.topic.model.fastenings
    shares = np.full(len(names), (1 - share) / (len(names) - 1))
    shares[names.index(fastening)] = share
    scene.step = NextStep(None, Decision("person", (), 0.0), shares)
    scene.conclude(scene.step)
    return scene.case.now.reason


def test_what_no_remover_is_sold_for_is_named_once_it_is_likelier_than_all_others_together(guide: Guide) -> None:
    rows = guide.topic.catalogue.fastenings
    rare = next(row.id for row in rows if row.remover is None and not row.broad)
    broad = next(row.id for row in rows if row.broad)
    known = next(row.id for row in rows if row.remover is not None)
    assert [reason(guide, rare, share) for share in (0.49, 0.5, 0.9)] == ["doubt", "no-remover", "no-remover"]
    assert [reason(guide, broad, share) for share in (0.49, 0.5, 0.9)] == ["doubt", "unlisted", "unlisted"]
    assert reason(guide, known, 0.9) == "doubt"
