"""A case that a mentor opened for a rider who is elsewhere: who said what, and how each of the two is spoken to.

Rules of this file:
- such a case says so in its second event, and every answer in it says who gave it: the rider or the mentor;
- while the rider does not write to us, each question comes to the mentor twice: as blocks to send on as they are, with
  its choices, its picture and all that is said before it, and as a question to them; an outcome comes as a summary;
- a step of the work comes twice as well: to send on, and what the mentor should look out for;
- once the rider writes to us, questions go to the rider; the mentor reads what was said, and what is asked next;
- who said what is told where both have said something.
"""

from collections.abc import Sequence
from dataclasses import replace

from triagebot.conversation.blocks import (
    Block,
    CardLink,
    CaseCode,
    Finding,
    Forward,
    Hazard,
    HowTo,
    Needs,
    Offers,
    Picture,
    Reasons,
    Remark,
    SeparatingCheck,
    Step,
    Tool,
    Understood,
)
from triagebot.conversation.case import HELPING, Case
from triagebot.conversation.events import Answered, Asked, Event, Opened, Remarked, Spoke
from triagebot.conversation.guide import Guide
from triagebot.conversation.outcome import NAMED, cautions_for, certainty, hazards, leading, notes
from triagebot.conversation.policy import NextStep
from triagebot.conversation.reply import Reply, told
from triagebot.conversation.scene import Scene
from triagebot.conversation.shop_offers import note_links, reach, refitting
from triagebot.conversation.telling_apart import separating_check
from triagebot.conversation.understood import Fact
from triagebot.conversation.wording import all_said, echo, how_to
from triagebot.identify import CountReading, SizeReading
from triagebot.topics import Fastening, Texts

#: Who gave an answer, as `Answered.by` says it.
MENTOR, RIDER = "mentor", "rider"
#: What was asked about the conversation itself: only the one who was asked may answer.
_ASKED = frozenset({"forget", "language"})
#: So much of what somebody wrote is told to the other.
_QUOTED = 200


def helping(case: Case) -> Remarked:
    """The second event of a case that is opened for somebody else."""
    return Remarked(case.opened, HELPING)


def labelled(events: Sequence[Event], by: str) -> tuple[Event, ...]:
    """New events, with who gave the answers among them, and who was asked what."""
    return tuple(_labelled(event, by) for event in events)


def _labelled(event: Event, by: str) -> Event:
    if isinstance(event, Answered):
        return replace(event, by=by)
    return replace(event, text=by) if isinstance(event, Remarked) and event.what in _ASKED else event


def asked_of(case: Case) -> str:
    """Who is being asked, the mentor or the rider, about being forgotten or their language; "" when nobody is."""
    what = case.now.confirming
    if what not in _ASKED:
        return ""
    return next(event.text for event in reversed(case.events) if isinstance(event, Remarked) and event.what == what)


def is_news(events: Sequence[Event]) -> bool:
    """Whether these events are news for the other of the two: small talk is not."""
    return any(not isinstance(event, Opened | Remarked | Spoke) for event in events)


def last_number(case: Case) -> str:
    """The question of the number that was said last, if nothing else was said since, or that is being asked back; ""
    where the last answer had no number or more than one."""
    if case.now.puzzle is not None:
        return case.now.puzzle.question or ""
    last = next((event for event in reversed(case.events) if not isinstance(event, Asked | Remarked)), None)
    facts = last.facts if isinstance(last, Answered) else ()
    asked = {fact.reading.question for fact in facts if isinstance(fact.reading, CountReading | SizeReading)}
    return next(iter(asked)) if len(asked) == 1 else ""


# --- who said what ------------------------------------------------------------------------------------------------


def who_said(guide: Guide, texts: Texts, case: Case, *, to: str = "") -> str:
    """What is in force, by who said it; empty unless both have said something. `to` the rider: in words for them."""
    given: dict[str, list[Fact]] = {}
    by = {id(fact): event.by for event in case.events if isinstance(event, Answered) for fact in event.facts}
    for fact in case.now.facts:
        given.setdefault(by[id(fact)], []).append(fact)
    clauses = {who: all_said(guide, texts, [fact.reading for fact in given.get(who, ())]) for who in (RIDER, MENTOR)}
    if not all(clauses.values()):
        return ""
    name = "mentor-forward-said" if to == RIDER else "mentor-said"
    return "\n".join(texts(f"{name}-{who}", clauses=each) for who, each in clauses.items())


def instead_of(
    guide: Guide, before: Case, after: Case, understood: Sequence[Fact], reply: Reply, speaker: str, *, to: str
) -> Reply:
    """A reply whose echo says who had said what is replaced, where that was not the `speaker`. `to` reads it."""
    texts = guide.language(before.language).texts
    by = {id(fact): event.by for event in before.events if isinstance(event, Answered) for fact in event.facts}
    new = {fact.reading.question for fact in understood}
    stays = {fact.reading for fact in after.now.facts}
    replaced = [f for f in before.now.facts if f.reading.question in new and f.reading not in stays]
    others = {by.get(id(fact), "") for fact in replaced} & {MENTOR, RIDER} - {speaker}
    heard = next(iter(reply.of(Understood)), None)
    if not others or not isinstance(heard, Understood):
        return reply
    (who,) = others
    clauses = all_said(guide, texts, [fact.reading for fact in replaced])
    said = echo(guide, texts, before, understood)
    earlier = texts("mentor-instead-of", who="you" if who == to else who, clauses=clauses)
    text = f"{said} {earlier}"
    return replace(reply, blocks=tuple(replace(heard, text=text) if each is heard else each for each in reply.blocks))


# --- how the mentor is spoken to ----------------------------------------------------------------------------------


def to_mentor(
    guide: Guide, case: Case, name: str, reply: Reply, *, joined: bool, ended: bool, news: bool = True
) -> Reply:
    """A reply as the mentor gets it. `joined`: the rider is asked directly; `ended`: an outcome was just reached.
    Without `news` the question was sent on already."""
    texts, question, said = guide.language(case.language).texts, reply.question, reply.said
    heard, because = _up_to_the_echo(reply)
    beside: tuple[Block, ...] = (*reply.of(Offers), *reply.of(Picture))
    if ended:  # the outcome at length is the rider's
        has = (_remark(texts, "mentor-rider-has-it"),) if joined else ()
        said = (*reply.of(Understood), *_finding(guide, case), *has, *reply.of(CardLink))
        beside = reply.of(Offers)
    if joined:
        asked = (_remark(texts, "mentor-asked-next", question=question.text),) if question is not None else ()
        return replace(reply, blocks=(*said, *asked, *beside))
    if question is None and not ended and (at := reply.of(Step)):
        on = reply.of(Hazard, Step)
        rest = tuple(block for block in said if block not in on)
        name = "mentor-watch" if at[0].watch else "mentor-watch-help"
        watch = _remark(texts, name, watch=at[0].watch)
        rest = tuple(block for block in rest if not isinstance(block, Picture))
        return replace(reply, blocks=(*rest, watch, Forward(on, reply.picture), *reply.of(Offers)))
    if question is None:
        asks_back = case.now.puzzle is not None or case.now.picking
        on = summary(guide, case) if ended else because if reply.of(Understood) and not asks_back else ()
        return replace(reply, blocks=(*said, *((Forward(on),) if on else ()), *beside))
    back = replace(question, text=texts("mentor-what-back", name=name), picture=None)
    checks = tuple(block for block in reply.of(HowTo) if block.question == question.id)  # asked for the rider
    if not news and not checks:
        return replace(reply, blocks=(*said, back, *beside))
    if because and not ended:
        said = heard
    if checks:
        return replace(reply, blocks=(*said, Forward(checks), back, *beside))
    lead = (*summary(guide, case), _remark(texts, "one-more-thing")) if ended else because
    forward = Forward((*lead, question, _remark(texts, "mentor-forward-unsure")), question.picture)
    hint = _remark(texts, "mentor-hint", hint=how_to(texts, question.id))
    return replace(reply, blocks=(*said, hint, forward, back, *beside))


def _up_to_the_echo(reply: Reply) -> tuple[tuple[Block, ...], tuple[Block, ...]]:
    """What is said up to the echo of what the mentor said, and what is said because of that: warnings, how the wheel
    comes out."""
    said = reply.said
    end = next((place for place, block in enumerate(said, 1) if isinstance(block, Understood)), None)
    return (said, reply.of(Hazard)) if end is None else (said[:end], said[end:])


def copy(guide: Guide, case: Case, name: str, wrote: str, reply: Reply, *, ended: bool) -> Reply:
    """What the mentor reads of a turn of the rider's. `wrote` is what the rider wrote or pressed."""
    texts = guide.language(case.language).texts
    rows = [texts("mentor-copy", name=name, said=wrote.strip()[:_QUOTED])]
    if ended:
        rows += [found(guide, case), texts("mentor-summary-offer")]
    if reply.question is not None:
        rows.append(texts("mentor-asked-next", question=reply.question.text))
    return told("\n".join(filter(None, rows)), reply.status, about="mentor-copy")


def to_rider(guide: Guide, case: Case, reply: Reply) -> Reply:
    """What the rider reads of a turn of the mentor's."""
    return reply.first(_remark(guide.language(case.language).texts, "mentor-from-mentor"))


# --- what comes of it ---------------------------------------------------------------------------------------------


def found(guide: Guide, case: Case) -> str:
    """What came of a case, in a sentence; empty while nothing has."""
    return "".join(block.text for block in _finding(guide, case))


def _finding(guide: Guide, case: Case) -> tuple[Finding, ...]:
    texts = guide.language(case.language).texts
    if case.now.outcome == "person":
        stuck = ".stuck" if case.now.reason == "stuck" else ""
        return (Finding(texts(f"mentor-found-person{stuck}"), "person"),)
    if case.now.outcome not in NAMED:
        return ()
    named, step = _named(guide, case)
    ids, names = tuple(row.id for row in named), [texts(f"fastening-{row.id}") for row in named]
    if case.now.outcome == "look-alike":
        return (Finding(texts("found-two", first=names[0], second=names[1]), "two", ids),)
    sure = certainty(guide, step)
    return (Finding(texts(f"found-{sure}", fastening=names[0]), sure, ids),)


def summary(guide: Guide, case: Case) -> tuple[Block, ...]:
    """All that the rider needs, for them to read: what it is, cautions, the remover, which way it turns, how it goes
    back, the notes. Before there is an outcome: what is known."""
    texts = guide.language(case.language).texts
    all_told = all_said(guide, texts, case.now.readings)
    clauses = who_said(guide, texts, case, to=RIDER) or (texts("mentor-known", clauses=all_told) if all_told else "")
    known = (Reasons(clauses),) if clauses else ()
    code = CaseCode(texts("mentor-code", code=case.code, shop=guide.shop.name), case.code)
    if case.now.outcome not in (*NAMED, "person"):
        return (_remark(texts, "mentor-summary-open"), *known, code)
    if case.now.outcome == "person":
        return (*_finding(guide, case), *known, reach(guide, texts, case.touched), code)
    named, _ = _named(guide, case)
    needed = dict.fromkeys(accessory for row in named for accessory in row.accessories)
    items = tuple(texts(f"accessory-{accessory}") for accessory in needed)
    check = texts("separating-check", check=separating_check(guide, texts, named)) if len(named) > 1 else ""
    return (
        *_finding(guide, case),
        *known,
        *((SeparatingCheck(check),) if check else ()),
        *hazards(guide, texts, cautions_for(guide, case, named)),
        *(_remover(texts, row, alone=len(named) == 1) for row in named),
        *((Needs(texts("also-needed"), items),) if items else ()),
        *(refitting(guide, texts, named[0]) if len(named) == 1 else ()),
        *note_links(texts, notes(guide, case, named)),
        code,
    )


def _remover(texts: Texts, fastening: Fastening, *, alone: bool) -> Tool:
    tool, direction = texts(f"remover-{fastening.remover}"), texts(f"direction-{fastening.direction}")
    if alone:
        return Tool(texts("mentor-remover", tool=tool, direction=direction), str(fastening.remover))
    kind = texts(f"fastening-{fastening.id}.short")
    return Tool(texts("mentor-remover-if", fastening=kind, tool=tool, direction=direction), str(fastening.remover))


def _named(guide: Guide, case: Case) -> tuple[list[Fastening], NextStep]:
    step = Scene(guide, case, case.touched).decide()
    return leading(guide, step, step.decision), step


def _remark(texts: Texts, name: str, **values: object) -> Remark:
    return Remark(texts(name, **values), name)
