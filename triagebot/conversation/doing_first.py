"""What is said of that which must be done before the open question can be answered ("the wheel's still in", "done")."""

from dataclasses import replace

from triagebot.conversation import at_hand
from triagebot.conversation.machine import needed
from triagebot.conversation.scene import Scene
from triagebot.conversation.understanding import understand
from triagebot.conversation.understood import Fact, Meaning
from triagebot.identify import ChoiceReading
from triagebot.shop import fold


def hindered_by(scene: Scene, pressed: str) -> ChoiceReading | None:
    """What stands in the way of an answer to the open question, by the press that says so."""
    topic, question = scene.guide.topic, scene.case.now.question
    abilities = [topic.questions[name] for name in needed(topic, question)] if question is not None else []
    rows = [(ability.id, choice) for ability in abilities for choice in ability.choices]
    return next((ChoiceReading(*row) for row in rows if pressed == "-".join(row)), None)


def said_as_shown(scene: Scene, text: str) -> ChoiceReading | None:
    """The same in the words of the press, which stand beside the open question."""
    shown = scene.question()
    beside = shown.aside if shown is not None else ()
    pressed = next((choice.id for choice in beside if fold(choice.label) == fold(text)), "")
    return hindered_by(scene, pressed)


def done_first(scene: Scene, meant: Meaning, text: str) -> Meaning:
    """ "Yes", "done", "out": that what was to be done first is done, where the open question carries that and nothing
    else was read."""
    first = scene.case.now.first
    if meant.facts or meant.puzzles or meant.mentions or meant.command not in (None, "yes", "no"):
        return meant
    if at_hand.misplaced(scene, text) == at_hand.DONE:
        able = ChoiceReading(first, scene.guide.topic.questions[first].choices[0])
        return Meaning(facts=(Fact(able, text),))
    told = understand(text, replace(scene.guide.setting(scene.case.language, first), confirming=False))
    return told if told.facts and all(fact.reading.question == first for fact in told.facts) else meant
