"""The learned part of finding what is asked: how much a message is like what people ask for one thing and another.

Rules of this file:
- it sees the words of each sentence, alone, in twos and threes, and pieces of them; and the question that is open;
- it gives everything that may be asked a score: about 1 where it is sure and 0 where it is not; the words that always
  work have scores of their own. Apart from that it says how much a message is like those that only tell something;
- `study.train_enquiries` makes it. Without one, patterns alone find what is asked.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from triagebot.conversation.enquiries.sentences import Sentence
from triagebot.conversation.understanding.guess import grams, letters
from triagebot.conversation.understanding.model import Guess

#: Of what the model gives scores: what is asked, whether a message only tells something, and which word is meant.
ASKS, TELLS, MEANS = "asks", "tells", "what-is"
#: Asks for nothing.
NOTHING = "-"
#: What is open once a fastening was named.
ANSWERED = "answered"
#: How much a piece of a word counts beside a word.
PIECE = 0.7
#: Words of a sentence that are looked at.
MOST_WORDS = 40


@dataclass(frozen=True, slots=True)
class Learned:
    """What was learned from questions."""

    guess: Guess

    def scores(self, sentences: Sequence[Sentence], opened: str | None) -> "Scores":
        """What the sentences together ask for, while a question is open."""
        by_question: dict[str, dict[str, float]] = {ASKS: {}, TELLS: {}, MEANS: {}}
        for (question, answer), score in self.guess.scores(features(sentences, opened)).items():
            by_question[question][answer] = score
        return Scores(by_question[ASKS], by_question[MEANS], by_question[TELLS].get(NOTHING, 0.0))


@dataclass(frozen=True, slots=True)
class Scores:
    """How much speaks for each thing that may be asked, for each word that may be meant, and for asking nothing."""

    asks: Mapping[str, float]
    means: Mapping[str, float]
    tells: float


def features(sentences: Sequence[Sentence], opened: str | None) -> dict[str, float]:
    """What the model sees of some sentences."""
    seen = {f"open {opened}": 1.0}
    for sentence in sentences:
        keys = sentence.keys[:MOST_WORDS]
        seen |= dict.fromkeys(grams(keys), 1.0)
        seen |= dict.fromkeys(letters(keys), PIECE)
        if sentence.marked:
            seen["?"] = 1.0
    return seen
