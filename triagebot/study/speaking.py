"""How a simulated person puts into words what they mean: which phrase, and what goes wrong in typing it.

Rules of this file: what a person means comes from `people.Person` alone, and words never change it, except that a
length may be told without what it was measured with. Words depend on the person, the question and how much the person
has said about it, so that two readers hear the same. The rates are a judgement.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from triagebot.conversation import Guide
from triagebot.conversation.blocks import Question as Shown
from triagebot.conversation.guide import UNSURE
from triagebot.identify import ChoiceReading, CountReading, Reading, SizeReading
from triagebot.study.people import Person
from triagebot.topics import Question, Speech


@dataclass(frozen=True, slots=True)
class Manner:
    """How people write. Every rate is a probability and a judgement.

    Of all messages: `typing_error`. Of turns, before the answer: a message that says `nothing`, a side `question`, one
    about something `elsewhere`. Of answers: `label` (the number or the label of a shown choice), `correction` ("two, no
    wait, four"), and of the others, `second`: another fact of the wheel is told with it.
    """

    typing_error: float = 0.12
    nothing: float = 0.10
    question: float = 0.07
    elsewhere: float = 0.04
    label: float = 0.10
    correction: float = 0.06
    second: float = 0.08


USUAL = Manner()

#: Which keys lie beside each other; a judgement that most people have these.
_KEYS = ("qwertyuiop", "asdfghjkl", "zxcvbnm")
_NEIGHBOURS = {
    key: row[max(place - 1, 0) : place] + row[place + 1 : place + 2] for row in _KEYS for place, key in enumerate(row)
}
#: Shorter words are typed without errors.
_SHORTEST = 4
#: By how much a number is wrong, and a length in mm, before it is corrected.
_WRONG_COUNT, _WRONG_SIZE = (-2, -1, 1, 2), (-5.0, -2.0, -1.0, 1.0, 2.0, 4.0)


@dataclass(frozen=True, slots=True)
class Saying:
    """A message and what its author means by it about the wheel: nothing, or a reading a question."""

    text: str
    means: tuple[Reading, ...] = ()


@dataclass(frozen=True)
class Speaker:
    """A person, the words they have, and how they write."""

    person: Person
    guide: Guide
    speech: Speech
    manner: Manner

    def beside(self, question: str, times: int) -> Saying | None:
        """What this person says instead of answering yet; None if they answer."""
        rng = self.person.rng(f"{question}/beside", times)
        drawn = rng.random()
        manner, speech = self.manner, self.speech
        for rate, phrases in (
            (manner.nothing, speech.nothing),
            (manner.question, speech.questions),
            (manner.elsewhere, speech.elsewhere),
        ):
            if drawn < rate:
                return Saying(self._typed(_one_of(phrases, rng), rng))
            drawn -= rate
        return None

    def tells_more(self, question: str, times: int) -> bool:
        """Whether this person tells another fact with the answer to this question."""
        return bool(self.person.rng(f"{question}/more", times).random() < self.manner.second)

    def answer(self, meant: Reading, shown: Shown | None, times: int, second: Reading | None = None) -> Saying:
        """This answer to the question that is `shown`, said for the `times`-th time; with a second fact."""
        rng = self.person.rng(f"{meant.question}/words", times)
        manner = self.manner
        shown = shown if shown is not None and shown.id == meant.question else None
        drawn = rng.random()
        if isinstance(meant, ChoiceReading) and shown is not None and drawn < manner.label:
            return Saying(self._typed(self._pressed(meant, shown, rng), rng), (meant,))
        if manner.label <= drawn < manner.label + manner.correction:
            corrected = self._corrected(meant, rng)
            if corrected is not None:
                return replace(corrected, text=self._typed(corrected.text, rng))
        said = self._plainly(meant, shown, rng)
        if second is not None:
            more = self._unasked(second, rng)
            said = Saying(said.text + _one_of(self.speech.joiners, rng) + more.text, said.means + more.means)
        return replace(said, text=self._typed(said.text, rng))

    def unasked(self, meant: Reading, times: int) -> Saying:
        """This fact, in words that say what they are about."""
        rng = self.person.rng(f"{meant.question}/unasked", times)
        said = self._unasked(meant, rng)
        return replace(said, text=self._typed(said.text, rng))

    def _unasked(self, meant: Reading, rng: np.random.Generator) -> Saying:
        phrases = self.speech.stands_alone(meant.question, self._phrases(meant))
        return self._filled(_one_of(phrases, rng), meant, rng)

    def _plainly(self, meant: Reading, shown: Shown | None, rng: np.random.Generator) -> Saying:
        if isinstance(meant, ChoiceReading) and self._question(meant).shop_words:
            return Saying(self._makers_name(meant.choice, rng) or self._label(meant.choice, shown), (meant,))
        phrases = self._phrases(meant)
        if not phrases:
            return Saying(self._label(UNSURE, shown), (meant,))
        return self._filled(_one_of(phrases, rng), meant, rng)

    def _question(self, meant: Reading) -> Question:
        return self.guide.topic.questions[meant.question]

    def _phrases(self, meant: Reading) -> Sequence[str]:
        """The phrases for what is meant; none where the shop's own words stand for it."""
        speech = self.speech
        match meant:
            case ChoiceReading():
                return speech.answers[meant.question][meant.choice]
            case CountReading():
                return speech.counts[meant.question]
            case SizeReading(means=means) if means in speech.means:
                return speech.sizes
            case SizeReading(means=means):
                silent = tuple(phrase for phrase in speech.sizes if "{means}" not in phrase)
                return (*silent, *speech.sizes_by.get(means, ()))
            case _:
                return speech.unsure.get(meant.question, ())

    def _filled(self, phrase: str, meant: Reading, rng: np.random.Generator) -> Saying:
        """A phrase with this person's number in it. What the phrase does not tell, its author is not taken to mean."""
        if isinstance(meant, CountReading):
            return Saying(self._number(phrase, meant.low), (meant,))
        if isinstance(meant, SizeReading):
            told = "{means}" in phrase or phrase in self.speech.sizes_by.get(meant.means, ())
            if "{means}" in phrase:
                phrase = phrase.replace("{means}", _one_of(self.speech.means[meant.means], rng))
            said = meant if told else replace(meant, means="unknown")
            return Saying(phrase.replace("{mm}", f"{meant.mm:g}"), (said,))
        return Saying(phrase, (meant,))

    def _number(self, phrase: str, number: int) -> str:
        return phrase.replace("{n}", str(number)).replace("{word}", self.speech.spelled(number))

    def _pressed(self, meant: ChoiceReading, shown: Shown, rng: np.random.Generator) -> str:
        """The number or the label of the choice, as it is shown."""
        ids = [choice.id for choice in shown.choices]
        return str(ids.index(meant.choice) + 1) if rng.random() < 0.5 else self._label(meant.choice, shown)

    def _label(self, choice: str, shown: Shown | None) -> str:
        """What stands beside a choice on the screen; its id where it is not shown."""
        shown_choices = (*shown.choices, *shown.aside) if shown is not None else ()
        return next((each.label for each in shown_choices if each.id == choice), choice)

    def _makers_name(self, choice: str, rng: np.random.Generator) -> str | None:
        """One of the spellings of one of the makers that stand for a choice; None where the shop names none."""
        makers = [m for row in self.guide.shop.makers_file.choices if row.choice == choice for m in row.makers]
        if not makers:
            return None
        maker = makers[int(rng.integers(len(makers)))]
        return _one_of((maker.name, *maker.also), rng)

    def _corrected(self, meant: Reading, rng: np.random.Generator) -> Saying | None:
        """Something wrong first, and then what is meant; None where no phrases fit together."""
        pair = self._wrong_and_right(meant, rng)
        if pair is None:
            return None
        text = _one_of(self.speech.corrections, rng).replace("{wrong}", pair[0]).replace("{right}", pair[1])
        return Saying(text, (replace(meant, means="unknown") if isinstance(meant, SizeReading) else meant,))

    def _wrong_and_right(self, meant: Reading, rng: np.random.Generator) -> tuple[str, str] | None:
        if isinstance(meant, CountReading):
            form = _one_of(("{n}", "{word}"), rng)
            wrong = meant.low + int(rng.choice(_WRONG_COUNT))
            return self._number(form, wrong if wrong > 0 else meant.low + 1), self._number(form, meant.low)
        if isinstance(meant, SizeReading):
            wrong_mm = round(abs(meant.mm + float(rng.choice(_WRONG_SIZE))), 2)
            return f"{wrong_mm:g} mm", f"{meant.mm:g} mm"
        if not isinstance(meant, ChoiceReading) or meant.question not in self.speech.answers:
            return None
        rows = self.speech.answers[meant.question]
        fit = {choice: self.speech.fit_corrections(rows[choice]) for choice in self._question(meant).choices}
        others = [choice for choice, phrases in fit.items() if phrases and choice != meant.choice]
        if not others or not fit[meant.choice]:
            return None
        return _one_of(fit[_one_of(others, rng)], rng), _one_of(fit[meant.choice], rng)

    def _typed(self, text: str, rng: np.random.Generator) -> str:
        """The text as it leaves the thumbs: now and then with one error in one longer word."""
        if rng.random() >= self.manner.typing_error:
            return text
        words = text.split(" ")
        longer = [place for place, word in enumerate(words) if len(word) >= _SHORTEST and word.isalpha()]
        if longer:
            place = longer[int(rng.integers(len(longer)))]
            words[place] = _mistyped(words[place], rng)
        return " ".join(words)


def _mistyped(word: str, rng: np.random.Generator) -> str:
    """Two letters swapped, one dropped, one doubled, or a neighbour of the right key; the first letter stays."""
    place = int(rng.integers(1, len(word)))
    kind = int(rng.integers(4))
    if kind == 0:
        place = min(place, len(word) - 2)
        return word[:place] + word[place + 1] + word[place] + word[place + 2 :]
    letter = word[place]
    typed = ("", letter * 2, _one_of(_NEIGHBOURS.get(letter.lower(), letter), rng))[kind - 1]
    return word[:place] + typed + word[place + 1 :]


def _one_of(things: Sequence[str], rng: np.random.Generator) -> str:
    return things[int(rng.integers(len(things)))]
