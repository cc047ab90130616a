"""Which edition of a topic answered a case, short enough to read aloud; and an old case under a new edition.

An edition covers the topic's files and what the shop has learned, so the same edition gives the same answers to the
same readings. Under a new one, answers to questions that still exist are kept, the others are dropped, and the person
is told how many. A question that was open stays open. What was reached is found anew: where it is the same, it stands
without another word, and somebody who is at a step of the work stays there.
"""

from triagebot.conversation import outcome, steps
from triagebot.conversation.case import Case, Place
from triagebot.conversation.events import Adopted, Concluded, Opened, Restarted, Stepped
from triagebot.conversation.scene import LONG_BREAK, Scene
from triagebot.conversation.understood import Fact
from triagebot.identify import BoundReading, ChoiceReading, CountReading, SizeReading, UnsureReading
from triagebot.topics import Topic

_GROUP = 4


def edition(digest: str) -> str:
    """A digest as people read it: two groups of four, like "3f2a-91bc"."""
    return f"{digest[:_GROUP]}-{digest[_GROUP : 2 * _GROUP]}"


def edition_of(case: Case) -> str:
    """The edition that gave a case its last outcome; before there is one, the edition that it goes by."""
    digest, answered = "", None
    for event in case.events:
        if isinstance(event, Opened | Adopted):
            digest = event.digest
        elif isinstance(event, Concluded):
            answered = digest
        elif isinstance(event, Restarted):
            answered = None
    return edition(answered or digest or case.digest)


def catch_up(scene: Scene) -> None:
    """Bring an old case up to the topic as it is now, and say where it stood after a long break."""
    if scene.case.digest != scene.guide.topic.digest:
        _adopt(scene)
    if scene.at - scene.touched > LONG_BREAK and scene.case.now.facts:
        scene.say("welcome-back", known=outcome.because(scene.guide, scene.texts, scene.case))


def _adopt(scene: Scene) -> None:
    topic, before = scene.guide.topic, scene.case.now
    lost = tuple(dict.fromkeys(f.reading.question for f in before.facts if not _still_asked(topic, f)))
    ended = before.outcome not in (None, "stopped")
    asking = {state.question: state.id for state in topic.flow.states if state.question}
    question = None if ended or before.question not in asking else before.question
    state = topic.flow.start if question is None else asking[question]
    named = named_last(scene.case)
    scene.add(Adopted(scene.at, topic.digest, lost, question, state))
    if lost:
        scene.say("topic-changed", count=len(lost))
    elif ended and before.at("handed") is None:
        _stand_by(scene, named, before.outcome, before.at("guided"))


def _stand_by(scene: Scene, named: tuple[str, ...], reached: str | None, guided: Place | None) -> None:
    """An outcome that an edit leaves as it was stands, and so do the step of the work and what was asked beside it."""
    step, begun = scene.decide(), scene.case.now
    kind = "person" if step.referral is not None else step.decision.kind
    if step.question is not None or kind != reached:
        return
    if kind in outcome.NAMED and named != tuple(row.id for row in outcome.leading(scene.guide, step, step.decision)):
        return
    scene.conclude(step)
    on = steps.way(scene.guide, scene.case) if guided is not None else None
    here = {f"{on.procedure}/{row.id}": row.id for row in on.rows} if on is not None else {}
    if on is not None and guided is not None and guided.what in here:
        for helped in ("", *guided.tried):
            scene.add(Stepped(scene.at, on.procedure, here[guided.what], guided.id, helped=helped))
    if step.referral is None:
        scene.follow_up_on(step, begun)


def named_last(case: Case) -> tuple[str, ...]:
    """The fastenings whose removers a case last named."""
    return next((event.named for event in reversed(case.events) if isinstance(event, Concluded)), ())


def _still_asked(topic: Topic, fact: Fact) -> bool:
    question = topic.questions.get(fact.reading.question)
    match fact.reading:
        case _ if question is None:
            return False
        case ChoiceReading():
            return fact.reading.choice in question.choices
        case CountReading():
            return question.kind == "count"
        case SizeReading() | BoundReading():
            return question.kind == "size" and fact.reading.means in {means.id for means in topic.flow.noise.means}
        case UnsureReading():
            return True
