"""An old case under the topic as it is now.

Rules of this file: answers to questions that still exist are kept, the others are dropped, and the person is told how
many; a question that was open stays open; what was reached is found anew; after a long break the person is told where
the conversation stood.
"""

from datetime import timedelta

from triagebot.conversation import outcome
from triagebot.conversation.events import Adopted
from triagebot.conversation.scene import Scene
from triagebot.conversation.understood import Fact
from triagebot.identify import BoundReading, ChoiceReading, CountReading, SizeReading, UnsureReading
from triagebot.topics import Topic

#: After such a break the person is told where the conversation stood.
LONG_BREAK = timedelta(hours=6)


def catch_up(scene: Scene) -> None:
    """Bring an old case up to the topic as it is now, and say where it stood after a long break."""
    topic, case = scene.guide.topic, scene.case
    if case.digest != topic.digest:
        lost = tuple(dict.fromkeys(f.reading.question for f in case.now.facts if not _still_asked(topic, f)))
        ended = case.now.outcome not in (None, "stopped")
        asking = {state.question: state.id for state in topic.flow.states if state.question}
        question = None if ended or case.now.question not in asking else case.now.question
        state = topic.flow.start if question is None else asking[question]
        scene.add(Adopted(scene.at, topic.digest, lost, question, state))
        if lost:
            scene.say("topic-changed", count=len(lost))
    if scene.at - scene.touched > LONG_BREAK and scene.case.now.facts:
        scene.say("welcome-back", known=outcome.because(scene.guide, scene.texts, scene.case))


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
