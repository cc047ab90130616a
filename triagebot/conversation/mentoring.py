"""A case that somebody opened for a rider who is elsewhere: who said what, and how each of the two is spoken to.

Decided here and nowhere else:
- such a case says so in its second event, and every answer in it says who gave it: the rider, or whoever helps them;
- while the rider does not write to us, each question comes to the helper twice: as a text to forward as it is, with its
  choices, its picture and all that is said before it, and as what to look out for; an outcome comes as a summary;
- once the rider writes to us, questions go to the rider; the helper reads what was said, and what is asked next;
- who said what is told where both have said something.
"""

from collections.abc import Sequence
from dataclasses import replace

from triagebot.conversation.case import Answered, Asked, Case, Event, Opened, Remarked, Spoke
from triagebot.conversation.guide import Guide
from triagebot.conversation.outcome import (
    NAMED,
    band,
    caution_lines,
    cautions_for,
    leading,
    note_lines,
    notes,
    reach,
    refitting,
    separating_check,
)
from triagebot.conversation.policy import Step
from triagebot.conversation.reply import Reply, Result, Shown
from triagebot.conversation.scene import Scene
from triagebot.conversation.understood import Fact
from triagebot.conversation.wording import how_to, listing, said, told
from triagebot.identify import Decision
from triagebot.topics import Fastening, Texts

#: Who gave an answer, as `Answered.by` says it.
MENTOR, RIDER = "mentor", "rider"
#: What the second event of such a case says.
_HELPING = "helping"
#: What was asked about the conversation itself, and only whoever was asked may say yes to.
_ASKED = frozenset({"forget", "language"})
#: So much of what somebody wrote is told to the other.
_QUOTED = 200


def helping(case: Case) -> Remarked:
    """The second event of a case that is opened for somebody else."""
    return Remarked(case.opened, _HELPING)


def for_somebody_else(case: Case) -> bool:
    """Whether a case was opened by somebody who helps."""
    second = case.events[1] if len(case.events) > 1 else None
    return isinstance(second, Remarked) and second.what == _HELPING


def labelled(events: Sequence[Event], by: str) -> tuple[Event, ...]:
    """New events, with who gave the answers among them, and who was asked what."""
    return tuple(_labelled(event, by) for event in events)


def _labelled(event: Event, by: str) -> Event:
    if isinstance(event, Answered):
        return replace(event, by=by)
    return replace(event, text=by) if isinstance(event, Remarked) and event.what in _ASKED else event


def asked_of(case: Case) -> str:
    """Who was asked last whether they want to be forgotten, or which language they speak; "" when nobody was."""
    last = next((event for event in reversed(case.events) if not isinstance(event, Asked)), None)
    return last.text if isinstance(last, Remarked) and last.what in _ASKED else ""


def is_news(events: Sequence[Event]) -> bool:
    """Whether the other one is told of a turn that made these events: small talk is nobody else's business."""
    return any(not isinstance(event, Opened | Remarked | Spoke) for event in events)


# --- who said what ------------------------------------------------------------------------------------------------


def who_said(guide: Guide, texts: Texts, case: Case, *, to: str = "") -> str:
    """What is in force, by who said it; empty unless both have said something. `to` the rider: in words for them."""
    given: dict[str, list[Fact]] = {}
    by = {id(fact): event.by for event in case.events if isinstance(event, Answered) for fact in event.facts}
    for fact in case.now.facts:
        given.setdefault(by[id(fact)], []).append(fact)
    clauses = {who: told(guide, texts, [fact.reading for fact in given.get(who, ())]) for who in (RIDER, MENTOR)}
    if not all(clauses.values()):
        return ""
    name = "mentor-forward-said" if to == RIDER else "mentor-said"
    return "\n".join(texts(f"{name}-{who}", clauses=each) for who, each in clauses.items())


# --- how the helper is spoken to ----------------------------------------------------------------------------------


def to_mentor(
    guide: Guide,
    case: Case,
    name: str,
    reply: Reply,
    understood: Sequence[Fact] = (),
    *,
    joined: bool,
    ended: bool,
    news: bool = True,
) -> Reply:
    """A reply as the helper gets it, who said what was `understood`. `joined`: the rider is asked directly; `ended`: an
    outcome was just reached. Without `news` the question was sent on already."""
    texts, question = guide.language(case.language).texts, reply.question
    echo, rest = _apart(guide, texts, reply.text, understood)
    if ended:  # the outcome at length is the rider's
        card = next((each for each in reply.text.split("\n\n") if f"{guide.address}/card/" in each), "")
        has = f"{found(guide, case)} {texts('mentor-rider-has-it')}" if joined else found(guide, case)
        reply = replace(reply, text=_paragraphs(echo if understood else "", has, card), picture=None)
    if joined:
        asked = texts("mentor-asked-next", question=question.text) if question is not None else ""
        return replace(reply, text=_paragraphs(reply.text, asked), question=None)
    if question is None:
        asks_back = case.now.puzzle is not None or case.now.picking
        on = _paragraphs(*rest) if understood and not asks_back else ""
        return replace(reply, forward=summary(guide, case) if ended else on)
    how = how_to(texts, question.id)
    checks = how in reply.text  # whoever asks how to check it asks for the rider
    if not news and not checks:
        return replace(reply, question=replace(question, text=texts("mentor-what-back", name=name), picture=None))
    lead = (summary(guide, case), texts("one-more-thing")) if ended else tuple(rest)
    return replace(
        reply,
        text=_paragraphs(echo if rest and not ended else reply.text, "" if checks else texts("mentor-hint", hint=how)),
        question=replace(question, text=texts("mentor-what-back", name=name), picture=None),
        forward=how if checks else _paragraphs(*lead, to_forward(texts, question)),
        shown_forward=None if checks else question.picture,
    )


def _apart(guide: Guide, texts: Texts, text: str, understood: Sequence[Fact]) -> tuple[str, list[str]]:
    """The echo of what the helper said, and what is said because of it: warnings, how the wheel comes out."""
    paragraphs = text.split("\n\n")
    clauses = [said(guide, texts, fact.reading) for fact in understood]
    begins = texts("understood", clauses=listing(texts, clauses)) if clauses else ""
    place = next((place for place, each in enumerate(paragraphs) if begins and each.startswith(begins)), None)
    if place is None:
        signals = tuple(f"{texts(f'signal-{row.signal}')} (" for row in guide.topic.cautions.values())
        return text, [each for each in paragraphs if each.startswith(signals)]
    return "\n\n".join(paragraphs[: place + 1]), paragraphs[place + 1 :]


def to_forward(texts: Texts, question: Shown) -> str:
    """A question in words for the rider."""
    rows = [f"{number}. {choice.label}" for number, choice in enumerate(question.choices, 1)]
    return _paragraphs("\n".join([question.text, *rows]), texts("mentor-forward-unsure"))


def copy(guide: Guide, case: Case, name: str, wrote: str, reply: Reply, *, ended: bool) -> Reply:
    """What the helper reads of a turn of the rider's. `wrote` is what the rider wrote or pressed."""
    texts = guide.language(case.language).texts
    rows = [texts("mentor-copy", name=name, said=wrote.strip()[:_QUOTED])]
    if ended:
        rows += [found(guide, case), texts("mentor-summary-offer")]
    if reply.question is not None:
        rows.append(texts("mentor-asked-next", question=reply.question.text))
    return Reply("\n".join(filter(None, rows)), reply.status, None, Result(), ())


def from_helper(guide: Guide, case: Case, reply: Reply) -> Reply:
    """What the rider reads of a turn of the helper's."""
    texts = guide.language(case.language).texts
    return replace(reply, text=f"{texts('mentor-from-helper')} {reply.text}".rstrip())


# --- what comes of it ---------------------------------------------------------------------------------------------


def found(guide: Guide, case: Case) -> str:
    """What came of a case, in a sentence; empty while nothing has."""
    texts = guide.language(case.language).texts
    named, step = _named(guide, case)
    if case.now.outcome == "answer":
        share = float(guide.topic.model.by_remedy(step.shares)[step.decision.remedies[0]])
        return texts(f"found-{band(guide, share)}", fastening=texts(f"fastening-{named[0].id}"))
    if case.now.outcome == "look-alike":
        return texts("found-two", first=texts(f"fastening-{named[0].id}"), second=texts(f"fastening-{named[1].id}"))
    return texts(f"mentor-found-{case.now.outcome}") if case.now.outcome == "person" else ""


def summary(guide: Guide, case: Case) -> str:
    """All that the rider needs, to send on: what it is, cautions, the remover, which way it turns, how it goes back,
    the notes. Before there is an outcome: what is known."""
    texts = guide.language(case.language).texts
    all_told = told(guide, texts, case.now.readings)
    known = who_said(guide, texts, case, to=RIDER) or (texts("mentor-known", clauses=all_told) if all_told else "")
    code = texts("mentor-code", code=case.code, shop=guide.shop.name)
    if case.now.outcome not in (*NAMED, "person"):
        return _paragraphs(texts("mentor-summary-open"), known, code)
    if case.now.outcome == "person":
        return _paragraphs(found(guide, case), known, reach(guide, texts, case.touched), code)
    named, _ = _named(guide, case)
    removers = [
        texts(
            "mentor-remover",
            tool=texts(f"remover-{row.remover}"),
            direction=texts(f"direction-{row.direction}"),
        )
        if len(named) == 1
        else texts(
            "mentor-remover-if",
            fastening=texts(f"fastening-{row.id}.short"),
            tool=texts(f"remover-{row.remover}"),
            direction=texts(f"direction-{row.direction}"),
        )
        for row in named
    ]
    needed = [
        texts("accessory-line", accessory=texts(f"accessory-{accessory}"))
        for accessory in dict.fromkeys(accessory for row in named for accessory in row.accessories)
    ]
    check = separating_check(guide, texts, named) if len(named) > 1 else ""
    return _paragraphs(
        found(guide, case),
        known,
        texts("separating-check", check=check) if check else "",
        caution_lines(guide, texts, cautions_for(guide, case, named)),
        "\n".join(removers),
        "\n".join([texts("also-needed"), *needed]) if needed else "",
        refitting(guide, texts, named[0]) if len(named) == 1 else "",
        note_lines(texts, notes(guide, case, named)),
        code,
    )


def _named(guide: Guide, case: Case) -> tuple[list[Fastening], Step]:
    step = Scene(guide, case, case.touched).decide()
    decision = step.decision if case.now.outcome in NAMED else Decision("person", (), 0.0)
    return leading(guide, step, decision), step


def _paragraphs(*parts: str) -> str:
    return "\n\n".join(part for part in parts if part)
