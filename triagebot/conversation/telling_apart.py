"""What tells one fastening from another: the finding that would change an answer, the check for two that look alike.

Rules of this file: how much likelier one of two is, is said as so many times in so many. Only a fastening that fits and
is common can change an answer. The check that the catalogue declares goes first, else the easiest question that tells
the two apart nearly as well as any.
"""

from collections.abc import Sequence

from triagebot.conversation.guide import Guide
from triagebot.conversation.policy import NextStep
from triagebot.conversation.wording import said
from triagebot.identify import BoundReading, ChoiceReading, CountReading, Reading, SizeReading, UnsureReading
from triagebot.topics import Fastening, Question, Texts, TrueSize, remedy_of

#: A question is as good as the best one if it tells two fastenings apart at least this share as well.
_NEARLY = 0.8

#: From which share of the two on the likelier one is said to be it so often: half-way between what stands there.
_ODDS = (
    (0.925, "nineteen-in-twenty"),
    (0.85, "nine-in-ten"),
    (0.733, "four-in-five"),
    (0.583, "two-in-three"),
    (0.0, "even"),
)


def odds(guide: Guide, texts: Texts, step: NextStep) -> str:
    """How much likelier the first of the two that an outcome names is than the second, in words."""
    shares = guide.topic.model.by_remedy(step.shares)
    first, second = (float(shares[place]) for place in step.decision.remedies)
    share = first / (first + second)
    return texts(f"odds-{next(name for least, name in _ODDS if share >= least)}")


def what_would_change(guide: Guide, texts: Texts, step: NextStep, fastening: Fastening) -> str:
    """The finding that would speak for another remedy, and for which: one that fits and is common. Empty where there
    is none."""
    model, topic = guide.topic.model, guide.topic
    ranked = sorted(zip(step.shares * model.prior, model.fastenings, strict=True), reverse=True)
    others = [
        topic.fastenings[other] for _, other in ranked if remedy_of(topic.fastenings[other]) != remedy_of(fastening)
    ]
    for rival in (other for other in others if not other.broad):
        question = declared_check(guide, [fastening, rival]) or telling_question(guide, [fastening, rival])
        finding = typical_finding(topic.questions[question], rival)
        if finding is not None:
            clause, name = said(guide, texts, finding), texts(f"fastening-{rival.id}")
            return texts("would-change", finding=clause, rival=name)
    return ""


def typical_finding(question: Question, fastening: Fastening) -> Reading | None:
    """What somebody most likely finds who has this fastening; None where the catalogue does not say."""
    truth = fastening.answers.get(question.id)
    if truth is None:
        return None
    if isinstance(truth, TrueSize):
        if truth.mm is not None:
            return SizeReading(question.id, truth.mm, truth.tolerance)
        return BoundReading(question.id, truth.low, truth.high)
    likeliest = truth if isinstance(truth, str) else max(truth, key=lambda value: truth[value])
    if question.kind == "count":
        return CountReading(question.id, int(likeliest), int(likeliest))
    return ChoiceReading(question.id, likeliest)


def separating_check(
    guide: Guide, texts: Texts, fastenings: Sequence[Fastening], told: Sequence[Reading] = (), *, short: bool = False
) -> str:
    """The declared check of a look-alike pair, other than the try by hand if that was `told` already; else the question
    that tells the two apart best, and how to check it."""
    declared = declared_check(guide, fastenings)
    name = f"look-alike-{declared}" if declared is not None else f"question-{telling_question(guide, fastenings)}"
    tools = {reading.question for reading in told if guide.topic.questions[reading.question].needs_tool}
    tried = any(not isinstance(reading, UnsureReading) and reading.question in tools for reading in told)
    variant = "short" if short else "" if declared is not None else "how"
    variant = "tried" if tried and texts.has(name, "tried") else variant
    return texts(f"{name}.{variant}" if variant and texts.has(name, variant) else name)


def declared_check(guide: Guide, fastenings: Sequence[Fastening]) -> str | None:
    """The question that the catalogue declares to separate this pair of look-alikes."""
    pair = {fastening.id for fastening in fastenings}
    return next((row.check for row in guide.topic.catalogue.look_alikes if pair == set(row.fastenings)), None)


def telling_question(guide: Guide, fastenings: Sequence[Fastening]) -> str:
    """The easiest question that tells two fastenings apart nearly as well as any (total variation of their answers), of
    those that this shop can put; one about the fitting itself, if there is such a one, and one that takes no tool."""
    topic, model = guide.topic, guide.topic.model
    first, second = (model.fastenings.index(fastening.id) for fastening in fastenings)
    distances = {}
    for question, table in model.tables.items():
        if question not in guide.barred:
            rows = table.answers([])
            distances[question] = float(abs(rows[first] - rows[second]).sum())
    good = [question for question, distance in distances.items() if distance >= _NEARLY * max(distances.values())]
    sights = [question for question in good if question in topic.flow.outcomes.sights]
    return min(sights or good, key=lambda question: (topic.questions[question].needs_tool, model.prices[question]))
