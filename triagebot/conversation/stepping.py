"""Somebody is led through the work: what they say at a step, and what comes of it.

Rules of this file:
- what is said here is about the work before anything else (`reports`); "done" leads on, "back" one step back, "stop"
  out of it; what went before is found again when they come back;
- what goes wrong gets what helps, in order of least harm, `MOST_TRIES` times at most; then it is the shop's, and so is
  anything that broke, at once. After something to try, and where a step has to be sure (`confirm`), only plain success
  leads on: "ok" and "next" are asked about, once;
- who got stuck there and asks for the steps comes back to that step, but not where something broke;
- what else is said of the wheel here is evidence like any other and may change the answer; but nothing here says how it
  spun before the tool was on ("it's not moving at all", "it moved more").
"""

from dataclasses import replace
from typing import cast

from triagebot.conversation import at_hand, steps
from triagebot.conversation.blocks import Step
from triagebot.conversation.events import Concluded, LeftSteps, Stepped
from triagebot.conversation.reports import Report, report, told_of
from triagebot.conversation.scene import Scene
from triagebot.conversation.taking import note, take
from triagebot.conversation.understanding import phrasebook, understand
from triagebot.conversation.understood import Fact, Meaning
from triagebot.conversation.wording import either
from triagebot.identify import ChoiceReading
from triagebot.topics import EXITS, TROUBLES, Exit, Trouble

#: What is noted when somebody was asked how it is now.
AND_NOW = "and-now"
#: How often something is tried at one step.
MOST_TRIES = 2
#: Questions that nobody answers while a tool is on.
_NOT_NOW = frozenset({"spin", "drive", "wheel"})
#: Questions whose answer in numbers somebody may correct at a step.
_IN_NUMBERS = frozenset({"count", "size"})
#: Trouble in which it is enough to say what is right: nothing was tried that could be tried in vain.
_ONLY_TOLD = frozenset({"wrong-way", "left-on", "noise", "fell-out"})
#: Trouble that must not happen twice at a step where force is used.
_NEVER_TWICE = frozenset({"slips", "whip-slips"})


def begin(scene: Scene, meant: Meaning, text: str) -> None:
    """Lead somebody through the work, from where they left it; or say the step again at which they are."""
    scene.remark("steps", text)
    now = scene.case.now
    on = steps.way(scene.guide, scene.case) if now.outcome == "answer" or now.reason == "stuck" else None
    if broke(scene):
        scene.say("steps-stuck-still", code=scene.case.code)
        scene.offer_more()
    elif on is None:
        at_hand.without_steps(scene)
    elif scene.case.now.at("guided") is not None:
        scene.tell_step()
    else:
        left = steps.left_at(scene.guide, scene.case, on)
        if left:
            scene.say("steps-resumed")
        go_to(scene, on, left)


def broke(scene: Scene) -> bool:
    """Whether the work ended because something broke."""
    stuck = steps.stuck_at(scene.guide, scene.case) if scene.case.now.reason == "stuck" else None
    return stuck is not None and stuck[0] == "broke"


def go_to(scene: Scene, on: steps.Way, place: int, exit: str = "") -> None:
    step = on.rows[place].id
    scene.fire("step", lambda state: Stepped(scene.at, on.procedure, step, state, exit))


def read(scene: Scene, text: str, choice: str | None) -> bool:
    """What is said at a step; False for what is about something else."""
    on = steps.way(scene.guide, scene.case)
    if scene.case.now.places[-1].kind != "guided" or on is None:
        return False
    if choice is not None:
        return _obeyed(scene, on, choice, choice)
    words = scene.guide.language(scene.case.language).words
    book = phrasebook(scene.case.language, "said")
    exactly = book.exactly(text, words)
    if (exactly in ("done", "onward") and _waits(scene)) or (exactly == "onward" and _is_to_be_sure(scene, on)):
        _ask_how_it_is(scene, on, text)
        return True
    if exactly is not None and _obeyed(scene, on, exactly, text):
        return True
    told = report(text, on.row, scene.case.language, words)
    if told is not None and told.what == "nothing-moves" and (ahead := _tool_is_on(scene, on, text)) is not None:
        on = ahead
    if told is not None and reported(scene, on, told, text):
        return True
    if _evidence(scene, text):
        return True
    within = book.anywhere(text, words)
    return within is not None and _obeyed(scene, on, within, text)


def _tool_is_on(scene: Scene, on: steps.Way, text: str) -> steps.Way | None:
    """The way at the step that takes force, to which somebody has gone on by themselves: "it fits, but it won't move"
    while the wheel comes out. None where it is not so."""
    words = scene.guide.language(scene.case.language).words
    place = next((n for n, row in enumerate(on.rows) if n > on.place and "moved" in row.ends), None)
    if place is None or "seated" not in told_of(text, scene.case.language, words):
        return None
    go_to(scene, on, place)
    scene.blocks.clear()
    return replace(on, place=place)


def only_of_the_work(scene: Scene, meant: Meaning) -> Meaning:
    """What a message means that was not about a step: at one, nothing in it says how the wheel spins, and only numbers
    are asked about."""
    if scene.case.now.places[-1].kind != "guided":
        return meant
    facts = tuple(fact for fact in meant.facts if fact.reading.question not in _NOT_NOW)
    puzzles = tuple(puzzle for puzzle in meant.puzzles if puzzle.question in _IN_NUMBERS)
    mentions = tuple(each for each in meant.mentions if each not in _NOT_NOW)
    return replace(meant, facts=facts, puzzles=puzzles, mentions=mentions)


def cannot_say(scene: Scene, text: str) -> bool:
    """At a step, to what nothing else answers: what can be said there, and who can be asked. False elsewhere."""
    on = steps.way(scene.guide, scene.case)
    if scene.case.now.places[-1].kind != "guided" or on is None:
        return False
    scene.remark("not-understood", text)
    exits: list[Exit] = ["done", *on.row.exits]
    labels = [f"“{steps.label(scene.texts, on, each)}”" for each in exits]
    name = "steps-cannot-say" if scene.case.missed % 2 else "steps-cannot-say.second"
    if len(labels) == 1:
        name = "steps-cannot-say.alone"
    scene.say(name, exits=either(scene.texts, labels))
    scene.offer_more()
    return True


# --- what was reported ------------------------------------------------------------------------------------------------


def reported(scene: Scene, on: steps.Way, told: Report, text: str) -> bool:
    """Do what a report calls for; False where it does not concern the step."""
    if told.hurt:
        scene.remark("hurt", text)
        scene.say("steps-hurt")
        if told.what == "hurt":
            scene.offer_more()
            return True
    if told.asked and told.what in ("broke", *TROUBLES):
        return told.what not in ("broke", "cable") and _tell_what_helps(scene, on, cast(Trouble, told.what), text)
    if told.asked and told.what == "on":  # "how does it go back on?"
        return False
    if told.what == "left-on" and "seated" in on.row.ends and _evidence(scene, text):  # "it has nuts on the axle"
        return True
    if told.what in _ONLY_TOLD:
        return _tell_what_helps(scene, on, cast(Trouble, told.what), text)
    if told.what == "broke" or told.what in TROUBLES:
        twice = told.again and told.what in _NEVER_TWICE and "moved" in on.row.ends
        _trouble(scene, on, cast(Exit, told.what), twice=twice)
    elif told.what == "calm" and "?" in text:
        return False  # what is asked beside it is what matters
    elif told.what == "done" and not told.asked:
        if _stands_with(scene, on, text):
            done(scene, on)
    else:
        _of_another_step(scene, on, told, text)
    return True


def _stands_with(scene: Scene, on: steps.Way, text: str) -> bool:
    """Note what a success report also says of the wheel ("wing nuts, they are off"); True if the answer stays the same.
    Where it is not, the new one is told."""
    meant = understand(text, scene.guide.setting(scene.case.language, None))
    told = tuple(fact for fact in meant.facts if fact.reading.question not in _NOT_NOW)
    facts = tuple(fact for fact in told if fact.reading not in scene.case.now.readings)
    if not facts:
        return True
    note(scene, facts, (), text)
    stands = steps.way(scene.guide, scene.case)
    if stands is not None and stands.fastening == on.fastening:
        return True
    scene.leave_steps()
    scene.go_on(lead=scene.texts("changed-answer"))
    return False


def _tell_what_helps(scene: Scene, on: steps.Way, trouble: Trouble, text: str) -> bool:
    """Say what helps first, without counting it as tried; the step itself to who has just heard it."""
    _, helps = on.helps(trouble)
    if not helps:
        return False
    last = scene.case.events[-1]
    heard = getattr(last, "what", "") == trouble
    scene.remark(trouble, text)
    if heard:
        scene.tell_step()
    else:
        scene.tell(Step(scene.texts(f"help-{helps[0]}"), f"help-{helps[0]}"))
        scene.offer_more()
    return True


def _of_another_step(scene: Scene, on: steps.Way, told: Report, text: str) -> None:
    """What ends another step, or is asked about this one: on to where that leads where it is plain, else how one sees
    that this step is done."""
    scene.remark(told.what, text)
    name = f"procedure-{on.procedure}-{on.row.id}"
    if told.what == "parts-off" and not told.asked:
        off = next((n for n, row in enumerate(on.rows) if n > on.place and "parts-off" in row.ends), None)
        if off is not None:
            go_to(scene, on, min(off + 1, len(on.rows) - 1), "done")
            return
    if told.what == "off" and not told.asked and "slips" in on.row.exits:
        scene.say("steps-what-came")
        scene.offer_more()
    elif (told.asked or (told.what == "moved" and "seated" in on.row.ends)) and scene.texts.has(name, "check"):
        scene.say(f"{name}.check")
        scene.offer_more()
    elif not told.asked and not on.row.exits and _next_ends(on, told.what):
        done(scene, on)
    else:
        if not told.asked:
            scene.say("steps-good")
        scene.tell_step()


def _next_ends(on: steps.Way, what: str) -> bool:
    return on.place + 1 < len(on.rows) and what in on.rows[on.place + 1].ends


def _waits(scene: Scene) -> bool:
    """Whether something was told to try at this step, and it is not known yet what came of it."""
    last = scene.case.events[-1]
    return isinstance(last, Stepped) and bool(last.helped)


def _is_to_be_sure(scene: Scene, on: steps.Way) -> bool:
    """Whether the step must be known to be done, and was not asked about just now."""
    last = scene.case.events[-1]
    return on.row.confirm and getattr(last, "what", "") != AND_NOW


def _ask_how_it_is(scene: Scene, on: steps.Way, text: str) -> None:
    """ "Ok" may mean that it was heard, or done, or that it helped."""
    scene.remark(AND_NOW, text)
    if not on.row.exits:
        named = scene.texts.has(f"procedure-{on.procedure}-{on.row.id}", "done")
        said = "steps-and-now.alone" if named else "steps-and-now.plain"
        scene.say(said, done=f"“{steps.label(scene.texts, on, 'done')}”")
        scene.offer_more()
        return
    last = next((each.exit for each in reversed(scene.case.events) if isinstance(each, Stepped)), "")
    trouble = cast(Exit, last if last in on.row.exits else next(iter(on.row.exits), "broke"))
    labels = [f"“{steps.label(scene.texts, on, each)}”" for each in ("done", trouble)]
    scene.say("steps-and-now", done=labels[0], trouble=labels[1])
    scene.offer_more()


def _obeyed(scene: Scene, on: steps.Way, said: str, text: str) -> bool:
    if said == "back":
        go_to(scene, on, max(0, on.place - 1), "back")
    elif said == "again":  # "again" after something was tried: it went wrong once more
        _again(scene, on, text)
    elif said in ("done", "onward"):
        done(scene, on)
    elif said == "stop":
        scene.fire("leave", lambda state: LeftSteps(scene.at, state), scene.case.now.without({"guided"}).state)
        scene.say("steps-left", code=scene.case.code)
        scene.offer_more()
    elif said == "what-to-do":
        scene.remark("again", text)
        scene.tell_step()
    elif said == "no":
        _trouble(scene, on, "does-not-go-in" if "seated" in on.row.ends else "nothing-moves")
    elif said == "do-not-have":
        scene.remark(said, text)
        at_hand.where_it_is(scene, on)
    elif said in EXITS:
        _trouble(scene, on, said)
    else:
        return False
    return True


def done(scene: Scene, on: steps.Way) -> None:
    if on.place + 1 < len(on.rows):
        go_to(scene, on, on.place + 1, "done")
        return
    beneath = scene.case.now.without({"guided"}).state
    scene.fire("leave", lambda state: LeftSteps(scene.at, state, finished=True), beneath)
    scene.say("steps-finished")
    scene.offer_more("steps")


def _again(scene: Scene, on: steps.Way, text: str) -> None:
    guided = scene.case.now.at("guided")
    last = next((e for e in reversed(scene.case.events) if isinstance(e, Stepped)), None)
    if guided is not None and guided.tried and last is not None and last.exit in TROUBLES:
        _trouble(scene, on, cast(Exit, last.exit))
    else:
        scene.remark("again", text)
        scene.tell_step()


def _trouble(scene: Scene, on: steps.Way, exit: Exit, *, twice: bool = False) -> None:
    """What helps, or the shop where nothing is left that does; at once with `twice`."""
    guided = scene.case.now.at("guided")
    trouble = cast(Trouble, exit)
    place, known = on.helps(trouble)
    tried = guided.tried if guided is not None and place == on.place else ()
    helps = [each for each in known if each not in tried]
    told = {q: choice for q, choice in on.tells(trouble, len(tried)).items() if _of_this_tool(scene, on, q)}
    if told:
        take(scene, tuple(Fact(ChoiceReading(q, choice), exit) for q, choice in told.items()), (), exit)
        if scene.case.now.places[-1].kind != "guided":
            return
    if helps and len(tried) < MOST_TRIES and not twice:
        step = on.rows[place].id
        scene.fire("trouble", lambda state: Stepped(scene.at, on.procedure, step, state, exit, helps[0]))
        return
    scene.add(Stepped(scene.at, on.procedure, on.row.id, scene.case.now.state, exit))
    scene.decide()
    scene.fire("person", lambda state: Concluded(scene.at, "person", state, "stuck"))
    scene.tell_outcome()


def _of_this_tool(scene: Scene, on: steps.Way, question: str) -> bool:
    """Whether a question is about the remover at hand: the try of one by hand says nothing of its look-alike's."""
    topic = scene.guide.topic
    tried = {topic.fastenings[p.fastenings[0]].remover for p in topic.catalogue.look_alikes if p.by_hand == question}
    return not tried or on.fastening.remover in tried


def _evidence(scene: Scene, text: str) -> bool:
    """What a message says of the wheel, and the step again where the answer stands."""
    setting = scene.guide.setting(scene.case.language, None)
    meant = understand(text, setting)
    meant = at_hand.recounted(scene, meant, text, setting) or at_hand.hinted(scene, meant, text) or meant
    named = meant.mentions[:1] if not meant.facts else ()
    for question in named:  # "it's rounded off": what is named is what it is about
        meant = understand(text, scene.guide.setting(scene.case.language, question))
    facts = tuple(fact for fact in meant.facts if fact.reading.question not in _NOT_NOW)
    if not facts:
        return False
    take(scene, facts, (), text)
    if scene.case.now.places[-1].kind == "guided" and not any(isinstance(block, Step) for block in scene.blocks):
        scene.tell_step()
    return True
