"""Somebody is led through the work: what they say at a step, and what comes of it.

Rules of this file:
- "done" leads on, "back" one step back, "stop" out of it; what went before is found again when they come back;
- what goes wrong gets what helps, in order of least harm, `MOST_TRIES` times at most; then it is the shop's, and so is
  anything that broke, at once;
- who got stuck there and asks for the steps comes back to that step;
- what is said of the wheel here is evidence like any other and may change the answer; but nothing here says how it spun
  before the tool was on ("it's not moving at all").
"""

from typing import cast

from triagebot.conversation import at_hand, steps
from triagebot.conversation.blocks import Needs
from triagebot.conversation.events import Concluded, LeftSteps, Stepped
from triagebot.conversation.scene import Scene
from triagebot.conversation.shop_offers import also_needed_of, remover
from triagebot.conversation.taking import take
from triagebot.conversation.understanding import phrasebook, understand
from triagebot.conversation.understood import Fact, Meaning
from triagebot.identify import ChoiceReading
from triagebot.topics import EXITS, REMOVER, Exit, Trouble

#: How often something is tried at one step.
MOST_TRIES = 2
#: Questions that nobody answers while a tool is on.
_NOT_NOW = frozenset({"spin", "drive", "wheel"})
_TROUBLES: tuple[Trouble, ...] = ("does-not-go-in", "slips", "nothing-moves")


def begin(scene: Scene, meant: Meaning, text: str) -> None:
    """Lead somebody through the work, from where they left it; or say the step again at which they are."""
    scene.remark("steps", text)
    now = scene.case.now
    on = steps.way(scene.guide, scene.case) if now.outcome == "answer" or now.reason == "stuck" else None
    if on is None:
        at_hand.without_steps(scene)
    elif scene.case.now.at("guided") is not None:
        scene.tell_step()
    else:
        left = _left_at(scene, on)
        if left:
            scene.say("steps-resumed")
        _go_to(scene, on, left)


def _left_at(scene: Scene, on: steps.Way) -> int:
    """The place of the step at which these steps were left and not finished; 0 where they were not begun."""
    place = 0
    ids = [row.id for row in on.rows]
    for event in scene.case.events:
        if isinstance(event, Stepped) and event.procedure == on.procedure and event.step in ids:
            place = ids.index(event.step)
        elif isinstance(event, LeftSteps) and event.finished:
            place = 0
    return place


def _go_to(scene: Scene, on: steps.Way, place: int, exit: str = "") -> None:
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
    if exactly is not None and _obeyed(scene, on, exactly, text):
        return True
    if _evidence(scene, text):
        return True
    within = book.anywhere(text, words)
    return within is not None and _obeyed(scene, on, within, text)


def _obeyed(scene: Scene, on: steps.Way, said: str, text: str) -> bool:
    if said == "back":
        _go_to(scene, on, max(0, on.place - 1), "back")
    elif said == "again":  # "again" after something was tried: it went wrong once more
        _again(scene, on, text)
    elif said == "done":
        _done(scene, on)
    elif said == "stop":
        scene.fire("leave", lambda state: LeftSteps(scene.at, state), scene.case.now.without({"guided"}).state)
        scene.say("steps-left", code=scene.case.code)
        scene.offer_more()
    elif said == "hurt":
        scene.remark(said, text)
        scene.say("steps-hurt")
        scene.offer_more()
    elif said == "do-not-have":
        scene.remark(said, text)
        _where_it_is(scene, on)
    elif said in EXITS:
        _trouble(scene, on, said)
    else:
        return False
    return True


def _done(scene: Scene, on: steps.Way) -> None:
    if on.place + 1 < len(on.rows):
        _go_to(scene, on, on.place + 1, "done")
        return
    beneath = scene.case.now.without({"guided"}).state
    scene.fire("leave", lambda state: LeftSteps(scene.at, state, finished=True), beneath)
    scene.say("steps-finished")
    scene.offer_more("steps")


def _again(scene: Scene, on: steps.Way, text: str) -> None:
    guided = scene.case.now.at("guided")
    last = next((e for e in reversed(scene.case.events) if isinstance(e, Stepped)), None)
    if guided is not None and guided.tried and last is not None and last.exit in _TROUBLES:
        _trouble(scene, on, cast(Exit, last.exit))
    else:
        scene.remark("again", text)
        scene.tell_step()


def _trouble(scene: Scene, on: steps.Way, exit: Exit) -> None:
    """What helps, or the shop where nothing is left that does."""
    guided = scene.case.now.at("guided")
    tried = guided.tried if guided is not None else ()
    trouble = cast(Trouble, exit)
    helps = [each for each in on.row.exits.get(trouble, ()) if each not in tried]
    told = {q: choice for q, choice in on.row.evidence.get(trouble, {}).items() if _of_this_tool(scene, on, q)}
    if told and len(tried) == 1:  # dirt is the commonest reason, and cleaned away by now
        take(scene, tuple(Fact(ChoiceReading(q, choice), exit) for q, choice in told.items()), (), exit)
        if scene.case.now.places[-1].kind != "guided":
            return
    if helps and len(tried) < MOST_TRIES:
        event = lambda state: Stepped(scene.at, on.procedure, on.row.id, state, exit, helps[0])  # noqa: E731
        scene.fire("trouble", event)
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


def _where_it_is(scene: Scene, on: steps.Way) -> None:
    """Where what a step needs is to be had."""
    rows = []
    if REMOVER in on.row.needs:
        tool = remover(scene.guide, scene.texts, str(on.fastening.remover))
        plainly, values = scene.texts(f"remover-{tool.remover}"), {"name": tool.name, "hangs": tool.hangs}
        rows.append(scene.texts("accessory-here", accessory=plainly, **values) if tool.name else plainly)
    rows += also_needed_of(scene.guide, scene.texts, [each for each in on.row.needs if each != REMOVER])
    scene.tell(Needs(scene.texts("steps-needs"), tuple(rows)))
    scene.offer_more()


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
    if scene.case.now.places[-1].kind == "guided":
        scene.tell_step()
    return True
