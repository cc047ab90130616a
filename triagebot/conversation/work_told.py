"""What people say of the work while nobody leads them through it: trouble gets help, and "it moved" leads on."""

from dataclasses import replace

from triagebot.conversation import stepping, steps
from triagebot.conversation.blocks import Advice
from triagebot.conversation.reports import report, told_of
from triagebot.conversation.scene import Scene
from triagebot.conversation.understanding import phrasebook
from triagebot.topics import TROUBLES

#: The question whose wheels have a cable.
_MOTOR = "motor"


def trouble_outside(scene: Scene, text: str) -> bool:
    """Trouble of the work that is told while nobody is led through it: what helps, at its step; or that it is the
    shop's by now. False for anything else."""
    now = scene.case.now
    on = steps.way(scene.guide, scene.case)
    if on is None or now.places[-1].kind != "ended" or (now.outcome != "answer" and now.reason != "stuck"):
        return False
    if scene.guide.shop.note_index.asks(text, scene.case.language):
        return False
    words = scene.guide.language(scene.case.language).words
    ends = "seated" if "seated" in told_of(text, scene.case.language, words) else "moved"
    place = next((n for n, row in enumerate(on.rows) if ends in row.ends), 0)
    told = report(text, on.rows[place], scene.case.language, words)
    if told is not None and told.what == "calm" and stepping.broke(scene):
        scene.say("steps-not-broken")
        stepping.go_to(scene, on, steps.left_at(scene.guide, scene.case, on))
        return True
    if told is None or told.asked or told.what not in ("broke", *TROUBLES):
        return False
    if now.outcome == "person":
        scene.remark("stuck", text)
        scene.say("steps-stuck-still", code=scene.case.code)
        scene.offer_more()
        return True
    stepping.go_to(scene, on, place)
    scene.blocks.clear()
    scene.offers = ()
    there = steps.way(scene.guide, scene.case)
    return there is not None and stepping.reported(scene, there, told, text)


def moved_outside(scene: Scene, text: str) -> bool:
    """ "It moved", told in a word or two behind the answer: on to what comes after that, and no word of how the wheel
    spins. False for anything else."""
    on = steps.way(scene.guide, scene.case)
    if on is None or scene.case.now.places[-1].kind != "ended" or scene.case.now.outcome != "answer":
        return False
    place = next((n for n, row in enumerate(on.rows) if "moved" in row.ends), None)
    words = scene.guide.language(scene.case.language).words
    if place is None or phrasebook(scene.case.language, "moved-outside").exactly(text, words) is None:
        return False
    stepping.go_to(scene, on, place)
    scene.blocks.clear()
    scene.offers = ()
    stepping.done(scene, replace(on, place=place))
    return True


def cable_in_the_way(scene: Scene, text: str) -> bool:
    """The cable of a motor that hinders, told before anybody is led through the work: what is safe, while what was open
    stays open. False for anything else."""
    now = scene.case.now
    told_of_motor = _MOTOR in now.mentioned or any(reading.question == _MOTOR for reading in now.readings)
    words = scene.guide.language(scene.case.language).words
    if now.at("guided") or not told_of_motor or "cable" not in told_of(text, scene.case.language, words):
        return False
    helps = next((each.also["cable"] for each in scene.guide.topic.procedures if "cable" in each.also), ())
    for each in helps[:1]:
        scene.remark("cable", text)
        scene.tell(Advice(scene.texts(f"help-{each}"), f"help-{each}"))
        scene.keep_open()
    return bool(helps)
