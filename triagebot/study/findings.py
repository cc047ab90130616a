"""What a closed case says of the answer that was given: right or wrong, how sure it was, and which answers misled.

Rules of this file:
- What was named is worked out again from the readings in force at the outcome, with the topic as it is now: beliefs are
  never stored, so a case that another edition answered may be judged by a slightly different one (it is counted).
- What it really was decides whether the answer was right; "it fitted" decides only where that was not said.
- A closing may be wrong, and then it says any other kind alike. What it teaches (`lesson`) is weighed against what the
  conversation found (Bayes' rule), with `WRONG_CLOSINGS`; with `WRONG_WHEN_SURE` where a member was asked and was sure.
- A remover that fitted, with nothing else said, means that the fastening is one of those that it serves, each as likely
  as it was at the outcome. Otherwise only failures, which staff look into, would ever teach anything.
- An answer is contradicted only where the catalogue knows the truth: a listed choice or number that can never be true,
  a length further than `SIZE_REACH` standard deviations from every true one.
"""

from collections.abc import Collection, Mapping
from dataclasses import dataclass, field
from math import hypot, inf
from typing import Literal

from triagebot.cases.runs import Run
from triagebot.identify import BoundReading, ChoiceReading, CountReading, Reading, SizeReading, UnsureReading, belief
from triagebot.identify.information import Array
from triagebot.topics import Question, Topic, remedy_of

#: "none": staff closed the case before it had an outcome; "unknown": nothing was said that would judge it.
Verdict = Literal["right", "look-alike", "wrong", "person", "none", "unknown"]

SIZE_REACH = 3.0

#: How often staff close a case with another kind than it was, and how often once they were asked about it: judgements.
WRONG_CLOSINGS, WRONG_WHEN_SURE = 0.05, 0.005


@dataclass(frozen=True, slots=True)
class Finding:
    """One run and what it turned out to be. `truth` is a share a fastening (empty: not known), as it was closed;
    `lesson` the same, allowing for wrong closings. `stated` P(the leading remedy) at the outcome, `correct` whether
    that was the true one; both None where nothing can be said. `misfit`: the right remover was named, and did not
    fit."""

    run: Run
    verdict: Verdict
    truth: Mapping[str, float]
    stated: float | None = None
    correct: bool | None = None
    misfit: bool = False
    lesson: Mapping[str, float] = field(default_factory=dict)

    @property
    def doubtful(self) -> bool:
        """Whether it more likely was not what it was closed with."""
        name = self.fastening
        return name is not None and self.lesson.get(name, 1.0) < 0.5

    @property
    def fastening(self) -> str | None:
        """What it was, where that is known for certain."""
        return next(iter(self.truth)) if len(self.truth) == 1 else None


def finding_of(run: Run, topic: Topic) -> Finding | None:
    """What a run turned out to be; None while staff have not said."""
    if run.closed is None:
        return None
    model = topic.model
    shares = belief(model, run.evidence)
    remedies = model.by_remedy(shares)
    lead = int(remedies.argmax())
    ranked = sorted(range(len(model.remedies) - 1), key=lambda place: -remedies[place])
    named = {"answer": ranked[:1], "look-alike": ranked[:2]}.get(run.outcome or "", [])
    known = topic.fastenings.get(run.closed.fastening or "")
    fitted = run.closed.fitted
    truth: dict[str, float] = {}
    true: int | None = None
    if known is not None:
        truth, true = {known.id: 1.0}, model.remedies.index(remedy_of(known))
    elif fitted and run.outcome == "answer":
        true = named[0]
        kinds = [place for place, name in enumerate(model.fastenings) if model.remedy_of(name) == true]
        truth = {model.fastenings[place]: float(shares[place] / remedies[true]) for place in kinds}
    stated = float(remedies[lead]) if run.outcome in ("answer", "look-alike", "person") else None
    verdict = _verdict(run, named, true)
    return Finding(
        run,
        verdict,
        truth,
        stated if true is not None else None,
        lead == true if true is not None and stated is not None else None,
        misfit=fitted is False and verdict == "right",
        lesson=_lesson(known.id, shares, topic, sure=run.closed.sure) if known is not None else truth,
    )


def _lesson(said: str, shares: Array, topic: Topic, *, sure: bool) -> Mapping[str, float]:
    """P(it was this kind | the conversation, the closing), a fastening."""
    model = topic.model
    wrong = WRONG_WHEN_SURE if sure else WRONG_CLOSINGS
    place = model.fastenings.index(said)
    weights = shares * wrong / (len(shares) - 1)
    weights[place] = shares[place] * (1 - wrong)
    return dict(zip(model.fastenings, (weights / weights.sum()).tolist(), strict=True))


def _verdict(run: Run, named: list[int], true: int | None) -> Verdict:
    assert run.closed is not None
    if run.outcome in (None, "stopped"):
        return "none"
    if run.outcome == "person":
        return "person"
    if true is not None:
        return ("right" if run.outcome == "answer" else "look-alike") if true in named else "wrong"
    if run.closed.fitted is None:
        return "unknown"
    return "wrong" if not run.closed.fitted else "look-alike"


# --- answers beside the truth -------------------------------------------------------------------------------------


def first_answers(run: Run) -> dict[str, Reading]:
    """What was said first to each question: whatever came of it later, and "unsure" left out."""
    first: dict[str, Reading] = {}
    for reading in run.said:
        if not isinstance(reading, UnsureReading):
            first.setdefault(reading.question, reading)
    return first


def true_answer(topic: Topic, question: Question, fastenings: Collection[str]) -> str | None:
    """The one answer that is true of all these fastenings, where the catalogue knows one."""
    labels = _labels(topic, question, fastenings)
    return next(iter(labels)) if labels is not None and len(labels) == 1 else None


def contradicted(topic: Topic, reading: Reading, fastenings: Collection[str]) -> bool | None:
    """Whether an answer cannot be true of any of these fastenings; None where the catalogue does not know."""
    question = topic.questions.get(reading.question)
    if question is None or not fastenings:
        return None
    if isinstance(reading, SizeReading | BoundReading):
        return _beyond(topic, reading, fastenings)
    labels = _labels(topic, question, fastenings)
    if labels is None:
        return None
    match reading:
        case ChoiceReading(denied=True):
            return labels == {reading.choice}
        case ChoiceReading():
            return reading.choice not in labels
        case CountReading():
            return not any(reading.low <= int(label) <= reading.high for label in labels)
    return None


def _labels(topic: Topic, question: Question, fastenings: Collection[str]) -> set[str] | None:
    """Every listed answer that can be true; None where one of the fastenings says nothing."""
    known = [topic.fastenings[name].listed(question.id) for name in fastenings]
    return {label for mix in known for label, share in mix.items() if share > 0} if all(known) else None


def _beyond(topic: Topic, reading: SizeReading | BoundReading, fastenings: Collection[str]) -> bool | None:
    sizes = [size for name in fastenings if (size := topic.fastenings[name].size(reading.question)) is not None]
    if len(sizes) < len(fastenings):
        return None
    deviations = {means.id: means.sd for means in topic.flow.noise.means}
    spread = deviations.get(reading.means, deviations["unknown"])
    if isinstance(reading, SizeReading):
        low, high, half = reading.mm, reading.mm, reading.half_width
    else:
        low, high, half = reading.low or -inf, reading.high or inf, 0.0
    for size in sizes:
        reach = half + SIZE_REACH * hypot(spread, size.tolerance if size.mm is not None else 0.0)
        bottom, top = size.span
        if low - reach <= top and high + reach >= bottom:
            return False
    return True
