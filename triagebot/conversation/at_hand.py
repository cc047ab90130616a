"""What is told when it is asked for, once an outcome stands: the tool, cautions, why, what else is needed, and so on.

Rules of this file:
- each is short, and comes from the catalogue and the shop's folder in the words that the outcome uses;
- nothing of it changes the case: the outcome stands, and what else can be asked is offered again;
- before there is an outcome, that is said, and the open question stays.
"""

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from typing import cast

from triagebot.conversation import mentoring, outcome, steps
from triagebot.conversation.blocks import Advice, Block, Direction, Hazard, Needs, Reasons, Remark, SeparatingCheck
from triagebot.conversation.case import Case
from triagebot.conversation.edition import catch_up
from triagebot.conversation.events import Remarked
from triagebot.conversation.guide import Guide
from triagebot.conversation.policy import plausible
from triagebot.conversation.scene import Scene
from triagebot.conversation.shop_offers import (
    also_needed,
    also_needed_of,
    note_links,
    offer,
    parts,
    reach,
    refitting,
    remover,
    services,
    services_of_a_person,
)
from triagebot.conversation.telling_apart import (
    declared_check,
    odds,
    separating_check,
    telling_question,
    what_would_change,
)
from triagebot.conversation.understanding import Setting, Words, phrasebook, understand
from triagebot.conversation.understood import Command, Meaning
from triagebot.conversation.wording import listing
from triagebot.identify import ChoiceReading, CountReading, Decision, UnsureReading
from triagebot.shop.parts import SPROCKETS
from triagebot.topics import REMOVER, Fastening

#: Commands that are about an outcome.
ABOUT_IT = frozenset({"tool", "cautions", "needs", "price", "refit", "buying", "shop", "how-to-tell"})

#: Commands that give way to what is asked about the outcome, as does a message that is none.
_GIVES_WAY = frozenset({None, "how", "why", "help", "resume", "left", "said"})

#: What `misplaced` says of "done" where nothing was to be done.
DONE = "too-early-done"


def asked_exactly(scene: Scene, text: str) -> Command | None:
    """What a whole message asks for about the outcome that stands."""
    if not _stands(scene):
        return None
    return _of_it(scene, phrasebook(scene.case.language, "asked").exactly(text, _words(scene)), text)


def asked_within(scene: Scene, meant: Meaning, text: str) -> Command | None:
    """What a longer message asks for about the outcome that stands, where it says nothing else."""
    if not _stands(scene) or meant.puzzles or meant.mentions or meant.command not in _GIVES_WAY:
        return None
    return _of_it(scene, phrasebook(scene.case.language, "asked").anywhere(text, _words(scene)), text)


def _of_it(scene: Scene, asked: str | None, text: str) -> Command | None:
    """What is asked, if it can be told of the outcome that stands. "What now?" leads nobody who is stuck back to
    work."""
    next_one = phrasebook(scene.case.language, "said").exactly(text, _words(scene)) in ("done", "onward", "what-to-do")
    again = ("steps",) if scene.case.now.reason == "stuck" and not next_one else ()
    told = ("tool", *again, *outcome.ASKED_NEXT[str(scene.case.now.outcome)])
    if asked in outcome.ANSWERED and asked not in ("steps", *told) and scene.case.now.outcome == "person":
        return cast(Command, asked)
    if asked == "steps" and asked not in told and scene.case.now.outcome == "person":
        asked = "shop"  # "what do I do now?"
    return cast(Command, asked) if asked in told else None


def recounted(scene: Scene, meant: Meaning, text: str, setting: Setting) -> Meaning | None:
    """A number that is another one after all ("there are 12 after all"), though no question is open: what was counted
    last is what it is about. None for any other message."""
    counted = [
        fact.reading.question
        for fact in scene.case.now.facts
        if scene.guide.topic.questions[fact.reading.question].kind == "count"
    ]
    if not _stands(scene) or not counted or meant.facts or meant.puzzles:
        return None
    if phrasebook(scene.case.language, "recounted").anywhere(text, _words(scene)) is None:
        return None
    again = understand(text, replace(setting, open_question=counted[-1]))
    facts = tuple(replace(fact, corrects=True) for fact in again.facts if fact.reading.question == counted[-1])
    return replace(again, facts=facts) if facts else None


def hinted(scene: Scene, meant: Meaning, text: str) -> Meaning | None:
    """What answers in a word what the outcome said it would like to know ("nuts"), or what tells two kinds apart. None
    for any other message; the choices were not shown, so a number picks none."""
    if not _stands(scene) or meant.facts or meant.puzzles or meant.command is not None:
        return None
    if scene.case.now.outcome == "look-alike":
        pair = outcome.leading(scene.guide, scene.decide(), scene.decide().decision)
        apart = declared_check(scene.guide, pair) or telling_question(scene.guide, pair)
        setting = replace(scene.guide.setting(scene.case.language, apart), choices=(), labels=())
        told = tuple(f for f in understand(text, setting).facts if f.reading.question == apart)
        if told and not any(isinstance(fact.reading, UnsureReading) for fact in told):
            return Meaning(facts=told)
    for question in outcome.hints(scene.guide, scene.texts, scene.decide(), scene.case):
        setting = replace(scene.guide.setting(scene.case.language, question), choices=(), labels=())
        facts = understand(text, setting).facts
        known = tuple(f for f in facts if f.reading.question == question and isinstance(f.reading, ChoiceReading))
        if known:
            return Meaning(facts=known)
    return None


def misplaced(scene: Scene, text: str) -> str | None:
    """The text for what is said at a moment when there is nothing of the sort to say ("done" before anything was), once
    in a row. None for any other message."""
    now = scene.case.now
    if now.puzzle is not None or (now.outcome is None) == (now.question is None):
        return None
    table = "too-early" if now.outcome is None else "afterwards"
    said = phrasebook(scene.case.language, table).exactly(text, _words(scene))
    last = next((event for event in reversed(scene.case.events) if isinstance(event, Remarked)), None)
    name = f"too-early-{said}" if now.outcome is None else f"afterwards-{said}"
    return None if said is None or (last is not None and last.what == name) else name


def afterwards(scene: Scene, text: str) -> bool:
    """Whether a message is said as if something were open still, where an outcome stands: it asks nothing."""
    return _stands(scene) and phrasebook(scene.case.language, "afterwards").exactly(text, _words(scene)) is not None


def _stands(scene: Scene) -> bool:
    """Whether there is an outcome to ask about, and nothing else that the message would answer."""
    now = scene.case.now
    return now.outcome in outcome.ASKED_NEXT and now.puzzle is None and now.question is None


def _words(scene: Scene) -> Words:
    return scene.guide.language(scene.case.language).words


def named(scene: Scene) -> Sequence[Fastening]:
    """The fastenings that the outcome names: none before there is one, or where a person must look."""
    step = scene.decide()
    if scene.case.now.outcome in outcome.NAMED and step.decision.kind in outcome.NAMED:
        return outcome.leading(scene.guide, step, step.decision)
    if scene.case.now.outcome == "person" and scene.case.now.reason in ("no-remover", "stuck"):
        return outcome.leading(scene.guide, step, Decision("person", (), 0.0))
    return ()


def obey(scene: Scene, meant: Meaning, text: str) -> None:
    """Tell what was asked for."""
    asked = str(meant.command)
    scene.remark(asked, text)
    found = named(scene)
    blocks = tuple(_TOLD[asked](scene, found))
    if blocks:
        scene.tell(*blocks)
    else:
        scene.say("not-yet" if scene.case.now.outcome is None else "nothing-of-that")
    if scene.case.now.outcome is None:
        scene.stand_still()
    else:
        scene.offer_more(asked)


def why(scene: Scene, meant: Meaning, text: str) -> None:
    """How sure it is and why, with what would change it; before there is an outcome, what is known so far."""
    scene.remark("why", text)
    guide, texts, step = scene.guide, scene.texts, scene.decide()
    found = named(scene) if scene.case.now.outcome in outcome.NAMED else ()
    by_whom = mentoring.who_said(guide, texts, scene.case)
    if found:
        if len(found) == 1:
            sure = outcome.certainty(guide, step)
            scene.say(f"how-sure-{sure}")
        scene.tell(*((Reasons(by_whom),) if by_whom else ()), *outcome.reasons(guide, texts, scene.case, step))
        if len(found) == 1 and (change := what_would_change(guide, texts, step, found[0])):
            scene.tell(Reasons(change))
        scene.offer_more("why")
        return
    known = outcome.because(guide, texts, scene.case)
    about = next((each for each in meant.mentions if texts.has(f"question-{each}", "why")), scene.case.now.question)
    reason = f"question-{about}.why"
    if meant.command == "why" and scene.case.now.outcome is None and texts.has(reason):
        scene.tell(Remark(texts(reason), "reason"))
        if not (known or by_whom):
            scene.stand_still()
            return
    scene.tell(Reasons(by_whom or (texts("known-so-far", reasons=known) if known else texts("known-nothing"))))
    likely = plausible(guide.topic.model, step.shares)[:3]
    names = [texts(f"fastening-{fastening}.short") for fastening in likely]
    if names and scene.case.now.outcome is None:
        scene.say("still-possible", names=listing(texts, names))
    if scene.case.now.outcome is None:
        scene.stand_still()
    else:
        scene.offer_more("why")


def everything(guide: Guide, case: Case) -> tuple[Block, ...]:
    """All that can be asked about the outcome that a case has, at length, with the steps of the work."""
    scene = Scene(guide, case, case.touched)
    catch_up(scene)
    scene.settle()
    found = named(scene)
    if not _stands(scene):
        return ()
    told: list[Block] = []
    for tell in _TOLD.values():
        told.extend(tell(scene, found))
    written = steps.written_out(guide, scene.texts, scene.case) if scene.case.now.outcome == "answer" else ()
    for text, hazards in written:
        told += [*hazards, Remark(text)]
    return (*outcome.reasons(guide, scene.texts, scene.case, scene.decide()), *told)


# --- what each tells ----------------------------------------------------------------------------------------------


def _tool(scene: Scene, found: Sequence[Fastening]) -> Iterator[Block]:
    """What it is called here, where it hangs, which way it turns; to somebody who is stuck, that it is ours by now."""
    stuck = scene.case.now.outcome == "person" and scene.case.now.reason == "stuck"
    if stuck:
        yield Remark(scene.texts("steps-stuck-still", code=scene.case.code), "steps-stuck-still")
    for fastening in found:
        if fastening.remover is None:
            continue
        tool = remover(scene.guide, scene.texts, fastening.remover)
        direction = scene.texts(f"direction-{fastening.direction}")
        if tool.name:
            yield replace(tool, text=scene.texts("tool-line", name=tool.name, hangs=tool.hangs))
        else:
            yield tool
        if not stuck:
            yield Direction(direction, fastening.direction)


def without_steps(scene: Scene) -> None:
    """Where nobody has written the steps down: the cautions, and the notes that say how it is done."""
    if scene.case.now.outcome is None:
        scene.say("not-yet")
        scene.stand_still()
        return
    found = named(scene)
    scene.tell(*_cautions(scene, found))
    scene.tell(*note_links(scene.texts, outcome.notes(scene.guide, scene.case, found)))
    scene.offer_more("steps")


def _cautions(scene: Scene, found: Sequence[Fastening]) -> Iterator[Hazard]:
    _, result = scene.told()
    yield from outcome.hazards(scene.guide, scene.texts, result.cautions)


def _needs(scene: Scene, found: Sequence[Fastening]) -> Iterator[Block]:
    for fastening in found[:1]:
        yield from also_needed(scene.guide, scene.texts, fastening)
        yield from outcome.yet_to_know(scene.guide, scene.texts, scene.decide(), scene.case)


def _price(scene: Scene, found: Sequence[Fastening]) -> Iterator[Block]:
    """What the tool costs to borrow or buy, and what the shop asks for doing it."""
    guide, texts = scene.guide, scene.texts
    for fastening in found:
        tool = guide.shop.tool_for(str(fastening.remover)) if fastening.remover else None
        if tool is not None and tool.count:
            yield Remark(texts("tool-offer", name=tool.name, offer=offer(guide, texts, tool)), "tool-offer")
    yield from _services(scene, found)


def _refit(scene: Scene, found: Sequence[Fastening]) -> Iterator[Block]:
    """How it goes back, what to beware of there first."""
    cautions = scene.guide.topic.cautions
    for fastening in found if len(found) == 1 else ():
        rows = [each for each in fastening.cautions if cautions[each].step == scene.guide.topic.catalogue.steps[-1]]
        yield from outcome.hazards(scene.guide, scene.texts, rows)
        yield from refitting(scene.guide, scene.texts, fastening)


def buying(scene: Scene, found: Sequence[Fastening]) -> Iterator[Block]:
    """What replaces it: what the shop has, then what to look out for."""
    for fastening in found[:1]:
        yield from parts(scene.guide, scene.texts, fastening, sprockets_told(scene))
    wanted = scene.guide.topic.catalogue.buying
    ids = dict.fromkeys(each for fastening in found for each in fastening.advice if each in wanted)
    yield from (Advice(scene.texts(f"advice-{each}"), each) for each in ids)


def sprockets_told(scene: Scene) -> int | None:
    """How many sprockets there are, where one number was told."""
    counts = [r for r in scene.case.now.readings if isinstance(r, CountReading) and r.question == SPROCKETS]
    told = {count.low for count in counts if count.low == count.high}
    return next(iter(told)) if len(told) == 1 else None


def _shop(scene: Scene, found: Sequence[Fastening]) -> Iterator[Block]:
    """What the shop does, and how to reach it."""
    yield from _services(scene, found)
    yield reach(scene.guide, scene.texts, scene.at)
    yield from outcome.case_code(scene.texts, scene.case)


def _services(scene: Scene, found: Sequence[Fastening]) -> Sequence[Block]:
    if scene.case.now.outcome in outcome.NAMED and found:
        return services(scene.guide, scene.texts, found[0])
    if scene.case.now.outcome is None:
        return ()
    seen = found[0] if found else outcome.brought_in(scene.guide, scene.case, scene.decide())
    return services_of_a_person(scene.guide, scene.texts, seen)


def _how_to_tell(scene: Scene, found: Sequence[Fastening]) -> Iterator[Block]:
    if len(found) > 1:
        likelier = odds(scene.guide, scene.texts, scene.decide())
        yield Reasons(f"{outcome.two_kinds(scene.texts, found)} {likelier}")
        check = separating_check(scene.guide, scene.texts, found, scene.case.now.readings)
        yield SeparatingCheck(scene.texts("separating-check", check=check))


_TOLD: Mapping[str, Callable[[Scene, Sequence[Fastening]], Iterable[Block]]] = {
    "tool": _tool,
    "cautions": _cautions,
    "needs": _needs,
    "price": _price,
    "refit": _refit,
    "buying": buying,
    "shop": _shop,
    "how-to-tell": _how_to_tell,
}


def where_it_is(scene: Scene, on: steps.Way) -> None:
    """Where what a step needs is to be had."""
    rows = []
    if REMOVER in on.row.needs:
        tool = remover(scene.guide, scene.texts, str(on.fastening.remover))
        plainly, values = scene.texts(f"remover-{tool.remover}"), {"name": tool.name, "hangs": tool.hangs}
        rows.append(scene.texts("accessory-here", accessory=plainly, **values) if tool.name else plainly)
    rows += also_needed_of(scene.guide, scene.texts, [each for each in on.row.needs if each != REMOVER])
    if rows:
        scene.tell(Needs(scene.texts("steps-needs"), tuple(rows)))
    else:
        scene.say("steps-needs-nothing")
    scene.offer_more()
