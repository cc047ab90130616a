"""The labelled messages that the learned part of the reader was made from, and how well they are read with it.

An ordinary run reads every eighth of them, a long one all.
"""

from collections import Counter

from tests.conversation.guides import shipped_guide
from tests.conversation.understanding.conftest import TOPIC
from tests.conversation.understanding.score import score
from tests.effort import effort
from triagebot.conversation.understanding.model import load_guess
from triagebot.study.train_reader import corpus_of, digest_of, labelled, model_of

#: Of messages with an answer: how many are read exactly at least, and how many wrongly at most; of messages without:
#: how many are taken for an answer at most.
EXACT, WRONG, TAKEN = 0.93, 0.005, 0.0075


def test_the_model_was_made_from_these_messages() -> None:
    model = load_guess(model_of(TOPIC, "en"))
    assert model is not None
    assert model.digest == digest_of(corpus_of(TOPIC, "en")), "run triagebot train"


def test_the_messages_are_read() -> None:
    rows = labelled(corpus_of(TOPIC, "en"))[:: effort(8, 1)]
    graded = Counter(grade for _, grade, _ in score(rows, shipped_guide()))
    said = sum(graded[grade] for grade in ("exact", "asked", "missed", "wrong"))
    assert graded["exact"] / said >= EXACT
    assert graded["wrong"] / said <= WRONG
    assert graded["taken"] / (graded["taken"] + graded["quiet"]) <= TAKEN
