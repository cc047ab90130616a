"""The end of a conversation in blocks: what it is and why, cautions first, the remover, and all that goes with it.

Rules of this file:
- the order of the blocks: what it is and why, cautions, the remover and how it turns, putting it back, what to know
  next, notes, the other way out, what happens next. For a person: why, what to do meanwhile, how to reach one;
- cautions stand before the remover, in the order of the steps at which their hazards arise, in words with signal word;
- what somebody told that speaks against the answer is no reason for it, and is said to be looked at once more.
"""

from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import datetime

from triagebot.conversation.blocks import (
    Advice,
    Band,
    Block,
    CaseCode,
    Direction,
    Finding,
    Hazard,
    Picture,
    Reasons,
    Remark,
    SeparatingCheck,
    WhatNext,
)
from triagebot.conversation.case import Case
from triagebot.conversation.events import Concluded
from triagebot.conversation.guide import Guide
from triagebot.conversation.policy import NextStep, latest_choices, ranked
from triagebot.conversation.reply import Result
from triagebot.conversation.shop_offers import (
    also_needed,
    note_links,
    reach,
    refitting,
    remover,
    services,
    services_of_a_person,
)
from triagebot.conversation.telling_apart import separating_check, what_would_change
from triagebot.conversation.wording import all_said
from triagebot.identify import Decision, odd_one_out
from triagebot.shop import NoteLink, notes_for
from triagebot.topics import Fastening, Texts, remedy_of
from triagebot.topics.schema import ShopReferral

#: The outcomes that name what somebody has.
NAMED = ("answer", "look-alike")


def leading(guide: Guide, step: NextStep, decision: Decision) -> list[Fastening]:
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
    return all_said(guide, texts, case.now.readings)


def known_so_far(guide: Guide, texts: Texts, case: Case) -> tuple[Block, ...]:
    """All that the person told, as what is known so far."""
    clauses = because(guide, texts, case)
    return (Reasons(texts("known-so-far", reasons=clauses)),) if clauses else ()


def reasons(guide: Guide, texts: Texts, case: Case) -> Iterator[Block]:
    """Why: what the person told that is evidence, and what of it does not fit the rest."""
    evidence = [r for r in case.now.readings if guide.topic.questions[r.question].purpose == "identify"]
    odd = odd_one_out(guide.topic.model, evidence)
    for name, fits in (("because", True), ("against", False)):
        if clauses := all_said(guide, texts, [r for r in evidence if (r.question != odd) == fits]):
            yield Reasons(texts(name, reasons=clauses))


def answer(guide: Guide, texts: Texts, case: Case, step: NextStep, now: datetime) -> tuple[tuple[Block, ...], Result]:
    """The whole answer, and its outcome in ids."""
    (fastening,) = leading(guide, step, step.decision)
    assert fastening.remover is not None
    cautions = cautions_for(guide, case, [fastening])
    links = notes(guide, case, [fastening])
    share = float(guide.topic.model.by_remedy(step.shares)[step.decision.remedies[0]])
    sure = band(guide, share)
    change = what_would_change(guide, texts, step, fastening)
    blocks: tuple[Block, ...] = (
        Finding(texts(f"found-{sure}", fastening=texts(f"fastening-{fastening.id}")), sure, (fastening.id,)),
        *reasons(guide, texts, case),
        *((Reasons(change),) if change else ()),
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


def look_alike(
    guide: Guide, texts: Texts, case: Case, step: NextStep, now: datetime
) -> tuple[tuple[Block, ...], Result]:
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


def person(guide: Guide, texts: Texts, case: Case, step: NextStep, now: datetime) -> tuple[tuple[Block, ...], Result]:
    """A person must look: why, what is known, when and how somebody can be reached."""
    (fastening,) = leading(guide, step, Decision("person", (), 0.0))
    latest = latest_choices(case.now.readings)
    referral = next((r for r in guide.topic.flow.referrals if latest.get(r.question) == r.choice), None)
    referred = case.now.reason == "referral"
    if not referred:
        referral = None
    known = case.now.reason == "no-remover"
    chosen = isinstance(referral, ShopReferral)  # nothing is broken: the shop would rather do it
    cautions = cautions_for(guide, case, [fastening] if known else [])
    if referral is not None:
        cautions = list(dict.fromkeys([*cautions, referral.caution]))
    links = notes(guide, case, [fastening] if known else [_unknown(guide)])
    reason, refers = case.now.reason or "doubt", f"referral-{referral.question}-{referral.choice}" if referral else ""
    offered = fastening if known or (referred and not chosen) else _unknown(guide)
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
        reach(guide, texts, now),
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
