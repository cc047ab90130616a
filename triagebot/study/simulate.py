"""The planner and the fixed chart on the same simulated people, in one run."""

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from triagebot.conversation.machine import needed
from triagebot.conversation.policy import NextStep, follow_up, next_step, try_by_hand
from triagebot.identify import ChoiceReading, Reading
from triagebot.identify.information import Array
from triagebot.study.chart import follow_chart
from triagebot.study.people import Person, draw_person, profile_named
from triagebot.study.scores import brier, expected_calibration_error
from triagebot.study.wheels import Wheels
from triagebot.topics import Question, Topic, remedy_of

#: A conversation longer than this is counted as unfinished.
LONGEST = 30


@dataclass(frozen=True, slots=True)
class End:
    """How one conversation ended: `kind` is a key of the report, `confidence` P(the leading remedy).

    `confidence` is None where nothing was stated; `correct`: the leading remedy is the true one; `follow_ups`:
    questions on obstacles, after the remover was named; `loss`: what it cost this person, in easy questions, by the
    topic's own losses (each question counts as one, and being sent to a person only who could have been answered).
    """

    kind: str
    questions: int
    confidence: float | None
    correct: bool
    surest: bool = False
    follow_ups: int = 0
    loss: float = 0.0


@dataclass(frozen=True, slots=True)
class Report:
    """Fractions of people by how it ended (they sum to 1), questions asked, and how well probabilities match the truth.

    `brier` and `calibration_error` are over the conversations in which something was stated (nan when there were none).
    `surest_right`: of the answers given with the surest wording, the share that were right (nan when there were none).
    `follow_ups`: the mean number of obstacles that nobody has told of once the remover is named. The conversation hints
    at them and asks about those that were touched on; they are no part of `mean_questions`.
    `mean_loss`: what it cost a person in the mean, in easy questions.
    """

    right: float
    wrong: float
    person: float
    look_alike: float
    unfinished: float
    mean_questions: float
    p95_questions: float
    brier: float
    calibration_error: float
    surest: float
    surest_right: float
    follow_ups: float
    mean_loss: float


@dataclass(frozen=True, slots=True)
class Meeting:
    """What the planner asked and heard, in order, and the step that it ended with."""

    step: NextStep
    readings: tuple[Reading, ...]
    asked: Mapping[str, int]


def meet(topic: Topic, person: Person) -> Meeting:
    """One person and the planner, reading by reading: the conversation's own policy without its words."""
    readings: list[Reading] = []
    asked: Counter[str] = Counter()
    heard: dict[str, list[Reading]] = {}
    waiting = None
    while True:
        step = next_step(topic, readings, asked)
        question = step.question or _beside(topic, step, asked)
        if question is None or asked.total() >= LONGEST:
            return Meeting(step, tuple(readings), asked)
        if step.first is not None:
            asked[step.first] += 1
        if step.first is None or question != waiting:  # put again with what to do first, it is no other question
            asked[question] += 1
        ability = unable(topic, person, question, asked)
        waiting = question if ability is not None else None
        if ability is not None:
            said: Reading = ChoiceReading(ability.id, str(person.truth[ability.id]))
            heard.setdefault(ability.id, []).extend([said] if asked[ability.id] else [])
        else:
            said = person.answer(topic.questions[question], heard.setdefault(question, []))
            heard[question].append(said)
        readings.append(said)


def _beside(topic: Topic, step: NextStep, asked: Mapping[str, int]) -> str | None:
    """The try by hand that is put beside an outcome that names two kinds."""
    by_hand = try_by_hand(topic, step.decision) if step.referral is None else None
    return by_hand if by_hand is not None and not asked[by_hand] else None


def meet_planner(topic: Topic, person: Person) -> End:
    """How one person's conversation with the planner ends."""
    meeting = meet(topic, person)
    step, readings, asked = meeting.step, meeting.readings, Counter(meeting.asked)
    true = topic.model.remedies.index(remedy_of(person.fastening))
    if step.question is not None:
        kind = "unfinished"
    elif step.referral is not None or step.decision.kind == "person":
        kind = "person"
    elif step.decision.kind == "answer":
        kind = "right" if true in step.decision.remedies else "wrong"
    else:
        kind = "look_alike" if true in step.decision.remedies else "wrong"
    answered = step.decision.kind == "answer" and not (step.unseen or step.alike)
    follow_ups = _follow_ups(topic, person, step, readings, asked) if kind not in ("person", "unfinished") else 0
    return end_of(topic, person, kind, step.shares, asked.total(), answered=answered, follow_ups=follow_ups)


def end_of(
    topic: Topic,
    person: Person,
    kind: str,
    belief: Array,
    questions: int,
    *,
    answered: bool,
    follow_ups: int = 0,
    asked_back: int = 0,
) -> End:
    """How it ended, from the probabilities of the fastenings; `answered`: one remover was named. What was asked back
    costs as much as a question."""
    model = topic.model
    shares = model.by_remedy(belief)
    lead = int(shares.argmax())
    surest = answered and float(shares[lead]) >= topic.flow.outcomes.bands.sure
    return End(
        kind,
        questions,
        confidence=float(shares[lead]),
        correct=lead == model.remedies.index(remedy_of(person.fastening)),
        surest=surest and kind in ("right", "wrong"),
        follow_ups=follow_ups,
        loss=_loss(topic, person, kind, questions + asked_back),
    )


def _loss(topic: Topic, person: Person, kind: str, questions: int) -> float:
    losses = topic.flow.losses
    needless = kind in ("person", "unfinished") and person.fastening.remover is not None
    ways = {"wrong": losses.wrong, "look_alike": losses.look_alike}
    return questions + (losses.person if needless else ways.get(kind, 0.0))


def _follow_ups(topic: Topic, person: Person, step: NextStep, readings: Sequence[Reading], asked: Counter[str]) -> int:
    """How many questions on obstacles this person is asked once the remover is named."""
    known = list(readings)
    asked = asked.copy()
    before = asked.total()
    while (question := follow_up(topic, step.decision, known, asked)) is not None:
        asked[question] += 1
        known.append(person.answer(topic.questions[question], ()))
    return asked.total() - before


def unable(topic: Topic, person: Person, question: str, asked: Mapping[str, int]) -> Question | None:
    """What this person must do first (take the wheel out) before the question can be answered; None when able."""
    names = sorted(needed(topic, question))
    return next(
        (topic.questions[name] for name in names if not person.is_able(topic.questions[name], asked.get(name, 0))), None
    )


def meet_chart(topic: Topic, person: Person) -> End:
    """The same person and the fixed chart, which is sure of whatever it says."""
    heard: dict[str, list[Reading]] = {}

    def ask(question: Question) -> Reading:
        said = person.answer(question, heard.setdefault(question.id, []))
        heard[question.id].append(said)
        return said

    end = follow_chart(topic, ask)
    if end.fastening is None:
        return End("person", end.questions, None, False, loss=_loss(topic, person, "person", end.questions))
    right = remedy_of(end.fastening) == remedy_of(person.fastening)
    kind = "right" if right else "wrong"
    return End(kind, end.questions, 1.0, right, True, loss=_loss(topic, person, kind, end.questions))


def simulate(
    topic: Topic,
    people: int,
    seed: int,
    profile: str = "household",
    shares: Mapping[str, float] | None = None,
    wheels: Wheels | None = None,
) -> dict[str, Report]:
    """Meet `people` drawn with `seed`: {"planner": …, "chart": …}. Raises UsageError on an unknown profile."""
    drawn = [draw_person(topic, number, seed, profile_named(profile), shares, wheels) for number in range(people)]
    return {
        "planner": report([meet_planner(topic, person) for person in drawn]),
        "chart": report([meet_chart(topic, person) for person in drawn]),
    }


def report(ends: list[End]) -> Report:
    """Sum up how conversations ended."""
    kinds = Counter(end.kind for end in ends)
    share = {kind: kinds[kind] / len(ends) for kind in ("right", "wrong", "person", "look_alike", "unfinished")}
    questions = np.array([end.questions for end in ends])
    confidence = [end.confidence for end in ends if end.confidence is not None]
    correct = [float(end.correct) for end in ends if end.confidence is not None]
    surest = [end.kind == "right" for end in ends if end.surest]
    return Report(
        **share,
        mean_questions=float(questions.mean()),
        p95_questions=float(np.percentile(questions, 95)),
        brier=brier(confidence, correct),
        calibration_error=expected_calibration_error(confidence, correct) if confidence else float("nan"),
        surest=len(surest) / len(ends),
        surest_right=float(np.mean(surest)) if surest else float("nan"),
        follow_ups=float(np.mean([end.follow_ups for end in ends])),
        mean_loss=float(np.mean([end.loss for end in ends])),
    )
