"""The built-in topic's words, questions and gauges, with invented makers."""

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
import yaml

from triagebot.conversation.understanding import Setting, Words, load_words
from triagebot.topics.gauges import Gauges
from triagebot.topics.schema import Flow, Question

TOPIC = Path(__file__).parents[3] / "flows" / "rear-sprockets"
MAKERS = {"norvale": "common-ring", "tidewell": "deep-ring", "old brass": "odd-freewheel"}


@pytest.fixture(scope="session")
def words() -> Words:
    return load_words("en", TOPIC)


@pytest.fixture(scope="session")
def questions() -> dict[str, Question]:
    flow = Flow.model_validate(yaml.safe_load((TOPIC / "flow.yaml").read_text(encoding="utf-8")))
    return {question.id: question for question in flow.questions}


@pytest.fixture(scope="session")
def gauges() -> dict[str, float]:
    rows = Gauges.model_validate(yaml.safe_load((TOPIC / "gauges.yaml").read_text(encoding="utf-8")))
    return {gauge.id: gauge.mm for gauge in rows.gauges}


@pytest.fixture(scope="session")
def setting(words: Words, questions: dict[str, Question], gauges: dict[str, float]) -> Callable[..., Setting]:
    """Makes the setting of an open question, read by the rules alone; labels default to the choices' ids."""
    by_rules = replace(words, guess=None)

    def make(
        open_question: str | None = None, labels: tuple[str, ...] | None = None, confirming: bool = False
    ) -> Setting:
        choices = questions[open_question].choices if open_question else ()
        return Setting(by_rules, questions, open_question, choices, labels or choices, MAKERS, gauges, confirming)

    return make
