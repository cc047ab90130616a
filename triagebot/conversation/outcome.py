"""The end of a conversation in words: what it is and why, cautions first, the remover, and all that goes with it.

Decided here and nowhere else:
- the order of the parts: what it is and why, cautions, the remover and how it turns, putting it back, what to know
  next, notes, the other way out, what happens next. For a person: why, what to do meanwhile, how to get hold of one;
- cautions stand before the tool line, in the order of the steps at which their hazards arise (contract: in words, with
  signal word, in the same message);
- which finding would change an answer: one that tells it from a fastening with another remedy that fits and is common;
- what somebody told that speaks against the answer is no reason for it, and is said to be looked at once more.
"""

from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import datetime
from decimal import Decimal

from babel.dates import format_date, format_time
from babel.numbers import format_currency

from triagebot.conversation.case import Case, Concluded
from triagebot.conversation.guide import Guide
from triagebot.conversation.policy import Step, latest_choices, ranked
from triagebot.conversation.reply import (
    Advice,
    Band,
    Block,
    CaseCode,
    Direction,
    Finding,
    Hazard,
    Needs,
    NoteLinks,
    Picture,
    Reach,
    Reasons,
    Remark,
    Result,
    SeparatingCheck,
    Services,
    WhatNext,
)
from triagebot.conversation.reply import Step as WorkStep
from triagebot.conversation.reply import Tool as ToolBlock
from triagebot.conversation.wording import habits, number, said, told
from triagebot.identify import BoundReading, ChoiceReading, CountReading, Decision, Reading, SizeReading, odd_one_out
from triagebot.shop import NoteLink, Service, Tool, notes_for
from triagebot.topics import Fastening, Question, Texts, TrueSize, remedy_of
from triagebot.topics.schema import ShopReferral

#: A question is as good as the best one if it tells two fastenings apart at least this share as well.
_NEARLY = 0.8
#: The outcomes that name what somebody has.
NAMED = ("answer", "look-alike")


def leading(guide: Guide, step: Step, decision: Decision) -> list[Fastening]:
    """The likeliest fastening of each remedy that the decision names; without one, the likeliest of all."""
    model = guide.topic.model
    fastenings = [guide.topic.fastenings[name] for name in ranked(model, step.shares)]
    if not decision.remedies:
        return fastenings[:1]
    wanted = [model.remedies[place] for place in decision.remedies]
    return [next(f for f in fastenings if remedy_of(f) == remedy) for remedy in wanted]


def cautions_for(guide: Guide, case: Case, fastenings: Sequence[Fastening]) -> list[str]:
    """Caution ids in the order of their steps: those of the fastenings and those that answers add."""
    latest = latest_choices(case.now.readings)
    ids = [caution for fastening in fastenings for caution in fastening.cautions]
    ids += [row.caution for row in guide.topic.flow.extra_cautions if latest.get(row.question) == row.choice]
    steps = guide.topic.catalogue.steps
    return sorted(dict.fromkeys(ids), key=lambda caution: steps.index(guide.topic.cautions[caution].step))


def notes(guide: Guide, case: Case, fastenings: Sequence[Fastening]) -> tuple[NoteLink, ...]:
    """The shop's procedure notes for these fastenings, each once."""
    found = [
        note
        for fastening in fastenings
        for note in notes_for(
            guide.shop, fastening.id, answers=latest_choices(case.now.readings), language=case.language
        )
    ]
    return tuple(dict.fromkeys(found))


def case_code(texts: Texts, case: Case) -> tuple[Block, ...]:
    """The code to read aloud; nothing for a case that is not kept."""
    return (CaseCode(texts("case-code", code=case.code), case.code),) if case.code else ()


def afterwards(texts: Texts, case: Case) -> Remark:
    """What is said once a case has its outcome: in short where it stands, and what somebody may say. A person who was
    waiting for the shop waits no more once staff have closed the case, until something new comes of it."""
    over = case.closed is not None and case.now.outcome == "person"
    anew = over and any(isinstance(e, Concluded) and e.at > case.closed.at for e in case.events)  # type: ignore[union-attr]
    name = "after-closed" if over and not anew else f"after-{case.now.outcome}"
    return Remark(texts(name, code=case.code), name)


def hazards(guide: Guide, texts: Texts, cautions: Sequence[str]) -> tuple[Hazard, ...]:
    """Cautions as they are told, each with its signal word and its step."""
    rows = (guide.topic.cautions[caution] for caution in cautions)
    return tuple(
        Hazard(row.signal, texts(f"signal-{row.signal}"), texts(f"step-{row.step}"), texts(f"caution-{row.id}"), row.id)
        for row in rows
    )


def because(guide: Guide, texts: Texts, case: Case) -> str:
    """All that the person told, clause by clause; empty when nothing was."""
    return told(guide, texts, case.now.readings)


def known_so_far(guide: Guide, texts: Texts, case: Case) -> tuple[Block, ...]:
    """All that the person told, as what is known so far."""
    clauses = because(guide, texts, case)
    return (Reasons(texts("known-so-far", reasons=clauses)),) if clauses else ()


def reasons(guide: Guide, texts: Texts, case: Case) -> Iterator[Block]:
    """Why: what the person told that is evidence, and what of it does not fit the rest."""
    evidence = [r for r in case.now.readings if guide.topic.questions[r.question].purpose == "identify"]
    odd = odd_one_out(guide.topic.model, evidence)
    for name, fits in (("because", True), ("against", False)):
        if clauses := told(guide, texts, [r for r in evidence if (r.question != odd) == fits]):
            yield Reasons(texts(name, reasons=clauses))


def answer(guide: Guide, texts: Texts, case: Case, step: Step, now: datetime) -> tuple[tuple[Block, ...], Result]:
    """The whole answer, and its outcome in ids."""
    (fastening,) = leading(guide, step, step.decision)
    assert fastening.remover is not None
    cautions = cautions_for(guide, case, [fastening])
    links = notes(guide, case, [fastening])
    share = float(guide.topic.model.by_remedy(step.shares)[step.decision.remedies[0]])
    sure = band(guide, share)
    blocks: tuple[Block, ...] = (
        Finding(texts(f"found-{sure}", fastening=texts(f"fastening-{fastening.id}")), sure, (fastening.id,)),
        *reasons(guide, texts, case),
        *would_change(guide, texts, step, fastening),
        *hazards(guide, texts, cautions),
        remover(guide, texts, fastening.remover),
        Direction(texts(f"direction-{fastening.direction}"), fastening.direction),
        *also_needed(guide, texts, fastening),
        *refitting(guide, texts, fastening),
        *(Advice(texts(f"advice-{advice}"), advice) for advice in fastening.advice),
        *note_links(texts, links),
        *services(guide, texts, fastening),
        *case_code(texts, case),
        WhatNext(texts("what-next"), "what-next"),
        *pictured([fastening]),
    )
    return blocks, Result(fastening.id, fastening.remover, tuple(cautions), links)


def look_alike(guide: Guide, texts: Texts, case: Case, step: Step, now: datetime) -> tuple[tuple[Block, ...], Result]:
    """Two kinds still fit: both, with the check that separates them."""
    fastenings = leading(guide, step, step.decision)
    cautions = cautions_for(guide, case, fastenings)
    links = notes(guide, case, fastenings)
    names = [texts(f"fastening-{fastening.id}") for fastening in fastenings]
    tools = [remover(guide, texts, str(fastening.remover)) for fastening in fastenings]
    blocks: tuple[Block, ...] = (
        Finding(texts("found-two", first=names[0], second=names[1]), "two", tuple(f.id for f in fastenings)),
        *reasons(guide, texts, case),
        SeparatingCheck(texts("separating-check", check=separating_check(guide, texts, fastenings))),
        *hazards(guide, texts, cautions),
        *(
            replace(tool, text=texts("look-alike-row", fastening=name, tool=tool.text), listed=True)
            for name, tool in zip(names, tools, strict=True)
        ),
        *note_links(texts, links),
        *services(guide, texts, fastenings[0]),
        *case_code(texts, case),
        WhatNext(texts("what-next-look-alike"), "what-next-look-alike"),
        *pictured(fastenings),
    )
    return blocks, Result(None, None, tuple(cautions), links)


def pictured(fastenings: Sequence[Fastening]) -> tuple[Block, ...]:
    """What shows the fastenings that an outcome names."""
    ids = "+".join(fastening.id for fastening in fastenings)
    return (Picture(f"fastening:{ids}" if len(fastenings) == 1 else f"look-alikes:{ids}"),)


def would_change(guide: Guide, texts: Texts, step: Step, fastening: Fastening) -> tuple[Block, ...]:
    """What finding would speak for another remedy, as a reason."""
    text = what_would_change(guide, texts, step, fastening)
    return (Reasons(text),) if text else ()


def what_would_change(guide: Guide, texts: Texts, step: Step, fastening: Fastening) -> str:
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


def separating_check(guide: Guide, texts: Texts, fastenings: Sequence[Fastening]) -> str:
    """The declared check of a look-alike pair; else how to check the question that tells the two apart best."""
    declared = declared_check(guide, fastenings)
    if declared is not None:
        return texts(f"look-alike-{declared}")
    return texts(f"question-{telling_question(guide, fastenings)}.how")


def declared_check(guide: Guide, fastenings: Sequence[Fastening]) -> str | None:
    """The question that the catalogue declares to separate this pair of look-alikes."""
    pair = {fastening.id for fastening in fastenings}
    return next((row.check for row in guide.topic.catalogue.look_alikes if pair == set(row.fastenings)), None)


def telling_question(guide: Guide, fastenings: Sequence[Fastening]) -> str:
    """The easiest question that tells two fastenings apart nearly as well as any (total variation of their answers), of
    those that this shop can put; one about the fitting itself, if there is such a one."""
    topic, model = guide.topic, guide.topic.model
    first, second = (model.fastenings.index(fastening.id) for fastening in fastenings)
    distances = {}
    for question, table in model.tables.items():
        if question not in guide.barred:
            rows = table.answers([])
            distances[question] = float(abs(rows[first] - rows[second]).sum())
    good = [question for question, distance in distances.items() if distance >= _NEARLY * max(distances.values())]
    sights = [question for question in good if question in topic.flow.outcomes.sights]
    return min(sights or good, key=lambda question: model.prices[question])


def person(guide: Guide, texts: Texts, case: Case, step: Step, now: datetime) -> tuple[tuple[Block, ...], Result]:
    """A person must look: why, what is known, when and how somebody can be reached."""
    (fastening,) = leading(guide, step, Decision("person", (), 0.0))
    latest = latest_choices(case.now.readings)
    referral = next((r for r in guide.topic.flow.referrals if latest.get(r.question) == r.choice), None)
    damaged = case.now.reason == "referral"
    if not damaged:
        referral = None
    known = case.now.reason == "no-remover"
    chosen = isinstance(referral, ShopReferral)  # nothing is broken: the shop would rather do it
    cautions = cautions_for(guide, case, [fastening] if known else [])
    if referral is not None:
        cautions = list(dict.fromkeys([*cautions, referral.caution]))
    links = notes(guide, case, [fastening] if known else [_unknown(guide)])
    reason, refers = case.now.reason or "doubt", f"referral-{referral.question}-{referral.choice}" if referral else ""
    offered = fastening if known or (damaged and not chosen) else _unknown(guide)
    next_text = "what-next-bike" if chosen else "what-next-person"
    blocks: tuple[Block, ...] = (
        Finding(
            texts(f"person-{reason}", fastening=texts(f"fastening-{fastening.id}")),
            "person",
            (fastening.id,) if known else (),
        ),
        *((Advice(texts(refers), refers),) if refers else ()),
        *known_so_far(guide, texts, case),
        *hazards(guide, texts, cautions),
        *(Advice(texts(f"advice-{advice}"), advice) for advice in (fastening.advice if known else ())),
        Reach(tuple(reach(guide, texts, now).split("\n"))),
        *services_of_a_person(guide, texts, offered),
        *note_links(texts, links),
        *case_code(texts, case),
        WhatNext(texts(next_text), next_text),
    )
    return blocks, Result(fastening.id if known else None, None, tuple(cautions), links)


def _unknown(guide: Guide) -> Fastening:
    """What stands for everything that is not listed."""
    return next(f for f in guide.topic.catalogue.fastenings if f.broad)


def band(guide: Guide, share: float) -> Band:
    """Which of the three bands of certainty a probability falls in."""
    bands = guide.topic.flow.outcomes.bands
    return "sure" if share >= bands.sure else "fairly-sure" if share >= bands.fairly_sure else "likely"


def remover(guide: Guide, texts: Texts, kind: str) -> ToolBlock:
    """The remover in plain words, then as this shop calls it and where it hangs."""
    tool, plainly = guide.shop.tool_for(kind), texts(f"remover-{kind}")
    if tool is None or tool.count == 0:
        return ToolBlock(texts("tool-not-here", tool=plainly), kind)
    words = texts("tool-here", tool=plainly, name=tool.name, hangs=tool.hangs, offer=offer(guide, texts, tool))
    return ToolBlock(words, kind, tool.name, tool.hangs)


def offer(guide: Guide, texts: Texts, tool: Tool) -> str:
    """What the shop does with a tool: lends, sells, or keeps it."""
    words = []
    if "lends" in tool.offers:
        words.append(
            texts("offer-lends-deposit", money=money(guide, texts, tool.deposit))
            if tool.deposit
            else texts("offer-lends")
        )
    if "sells" in tool.offers:
        words.append(
            texts("offer-sells-price", money=money(guide, texts, tool.price)) if tool.price else texts("offer-sells")
        )
    return " ".join(words or [texts("offer-shop-use-only")])


def money(guide: Guide, texts: Texts, amount: Decimal) -> str:
    return str(format_currency(amount, guide.shop.currency or "EUR", locale=habits(texts)))


def also_needed(guide: Guide, texts: Texts, fastening: Fastening) -> tuple[Block, ...]:
    """What else is needed, with the shop's own names."""
    rows = []
    for accessory in fastening.accessories:
        tool = guide.shop.tool_for(accessory)
        plain = texts(f"accessory-{accessory}")
        here = tool and texts("accessory-here", accessory=plain, name=tool.name, hangs=tool.hangs)
        rows.append(here or plain)
    return (Needs(texts("also-needed"), tuple(rows)),) if rows else ()


def refitting(guide: Guide, texts: Texts, fastening: Fastening) -> tuple[Block, ...]:
    """How it goes back; the pull at a usual handle is F = T / r."""
    if fastening.refitting is None:
        return ()
    torque, handle = fastening.refitting.torque, guide.topic.catalogue.handle_mm
    values = {}
    if torque is not None:
        values = {
            "torque": number(texts, torque, 1),
            "force": number(texts, torque / (handle / 1000), 0),
            "handle": number(texts, handle, 0),
        }
    name = fastening.refitting.text
    return (WorkStep(texts("refit-line", text=texts(name, **values)), name),)


def note_links(texts: Texts, links: Sequence[NoteLink]) -> tuple[Block, ...]:
    return (NoteLinks(texts("notes-head"), tuple(links)),) if links else ()


def services(guide: Guide, texts: Texts, fastening: Fastening) -> tuple[Block, ...]:
    """The other way out: what the shop does itself, for how much and how long. What is meant for damage is left out,
    unless the shop does nothing else."""
    able = guide.shop.services_for(fastening.id)
    sound = [row for row in able if not row.damaged]
    return _services(guide, texts, "services-head", sound or able)


def services_of_a_person(guide: Guide, texts: Texts, fastening: Fastening) -> tuple[Block, ...]:
    """What the shop does about a fastening that is damaged, or that nobody has recognised."""
    return _services(guide, texts, "services-head-person", guide.shop.services_for(fastening.id, damaged=True))


def _services(guide: Guide, texts: Texts, head: str, offered: Sequence[Service]) -> tuple[Block, ...]:
    rows = [texts("service-line", name=row.name, terms=terms(guide, texts, row)) for row in offered]
    return (Services(texts(head), tuple(rows)),) if rows else ()


def terms(guide: Guide, texts: Texts, service: Service) -> str:
    """Price and time of a service."""
    time = (
        texts("takes-minutes", minutes=service.minutes)
        if service.minutes
        else texts("takes-days", days=service.days or 0)
    )
    price = money(guide, texts, service.price) if service.price is not None else ""
    return texts("service-terms", price=price, time=time) if price else time


def reach(guide: Guide, texts: Texts, now: datetime) -> str:
    """How to get hold of a person, and whether the shop is open now or when it opens next."""
    shop = guide.shop
    local = now.astimezone(shop.zone)
    rows = [shop.contact.person]
    details = [value for value in (shop.contact.phone, shop.contact.e_mail, shop.contact.street) if value]
    if details:
        rows.append(texts("list-between").join(details))
    opening = shop.hours.opening_at(now)
    if opening is not None:
        rows.append(
            texts("open-now", until=format_time(opening.closes.astimezone(shop.zone), "HH:mm", locale=habits(texts)))
        )
    else:
        upcoming = shop.hours.next_opening(now)
        if upcoming is not None:
            opens = upcoming.opens.astimezone(shop.zone)
            day = format_date(opens, "EEEE d MMMM", locale=habits(texts))
            at = format_time(opens, "HH:mm", locale=habits(texts))
            rows.append(
                texts("opens-today", at=at) if opens.date() == local.date() else texts("opens-next", day=day, at=at)
            )
    return "\n".join(rows)
