"""The end of a conversation in blocks, at a glance.

Rules of this file:
- the first message of an outcome is read at a glance (`MOST_WORDS`, `MOST_CHARACTERS`), in this order: a short echo,
  what it is and how sure, one line of warning, the remover and which way it loosens, the shop's note, the code, what
  can be asked next;
- all the rest is told when it is asked for (`at_hand`), and stands on the card and in the note;
- what somebody told that speaks against the answer is no reason for it, and is said to be looked at once more.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import datetime

from triagebot.conversation.blocks import (
    Advice,
    Band,
    Block,
    CaseCode,
    Choice,
    Direction,
    Finding,
    Hazard,
    Offers,
    Picture,
    Reasons,
    Remark,
    SeparatingCheck,
    Understood,
    WhatNext,
)
from triagebot.conversation.case import Case
from triagebot.conversation.events import Concluded, Stepped
from triagebot.conversation.guide import Guide
from triagebot.conversation.machine import latest_choices
from triagebot.conversation.policy import NextStep, obstacles, ranked
from triagebot.conversation.reply import Result, length_of
from triagebot.conversation.second_look import outweighed
from triagebot.conversation.shop_offers import note_links, remover, within_reach
from triagebot.conversation.telling_apart import odds, separating_check
from triagebot.conversation.wording import all_said
from triagebot.identify import Decision
from triagebot.shop import NoteLink, notes_for
from triagebot.topics import Fastening, Referral, Texts, remedy_of
from triagebot.topics.schema import ShopReferral

#: The outcomes that name what somebody has.
NAMED = ("answer", "look-alike")
#: How long the first message of an outcome is at most, with what is offered and without links.
MOST_WORDS, MOST_CHARACTERS = 120, 900
#: Of how many words an echo is that stands before an outcome.
MOST_ECHOED = 8
#: What can be asked next, by outcome.
ANSWERED = ("steps", "cautions", "why", "needs", "price", "refit", "buying", "shop")
TWO_KINDS = ("how-to-tell", "cautions", "why", "shop")
FOR_A_PERSON = ("shop", "why", "cautions")
ASKED_NEXT = {"answer": ANSWERED, "look-alike": TWO_KINDS, "person": FOR_A_PERSON}
#: What a sentence takes that says who answers.
_GREETING_WORDS, _GREETING_CHARACTERS = 12, 80
#: What is left of it for the address of the card.
_CARD_WORDS, _CARD_CHARACTERS = 6, 120
#: Who speaks from now on is said before all else.
_WHO_SPEAKS = "handover-"
#: What is said of what is known, at length.
_LONG = ("welcome-back", "known-already")
_GRAVITY = {"warning": 0, "caution": 1, "notice": 2}


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
    ids = [caution for fastening in fastenings for caution in fastening.cautions]
    ids += added_cautions(guide, latest_choices(case.now.readings), fastenings)
    steps = guide.topic.catalogue.steps
    return sorted(dict.fromkeys(ids), key=lambda caution: steps.index(guide.topic.cautions[caution].step))


def added_cautions(guide: Guide, latest: Mapping[str, str], fastenings: Sequence[Fastening]) -> list[str]:
    """The cautions that answers add to these fastenings, or to whatever it may be where there are none."""
    removers = [guide.topic.removers[fastening.remover] for fastening in fastenings if fastening.remover]
    traits = {trait for remover in removers for trait in remover.traits}
    found = [
        row.caution
        for row in guide.topic.flow.extra_cautions
        if latest.get(row.question) == row.choice and (not row.traits or not fastenings or traits & set(row.traits))
    ]
    return list(dict.fromkeys(found))


def fit_for(guide: Guide, texts: Texts, case: Case, fastenings: Sequence[Fastening]) -> tuple[Block, ...]:
    """What an answer asks of the tool itself, next to the tool: on a solid axle it must be a deep one."""
    added = added_cautions(guide, latest_choices(case.now.readings), fastenings)
    return tuple(Advice(texts(f"caution-{each}.tool"), each) for each in added if texts.has(f"caution-{each}", "tool"))


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


def hazards(guide: Guide, texts: Texts, cautions: Sequence[str], *, short: bool = False) -> tuple[Hazard, ...]:
    """Cautions as they are told, each with its signal word and its step; or in `short`, without the step."""
    found = []
    for row in (guide.topic.cautions[caution] for caution in cautions):
        step = "" if short else texts(f"step-{row.step}")
        text = shortest(texts, f"caution-{row.id}") if short else texts(f"caution-{row.id}")
        found.append(Hazard(row.signal, texts(f"signal-{row.signal}"), step, text, row.id))
    return tuple(found)


def because(guide: Guide, texts: Texts, case: Case) -> str:
    """All that the person told, clause by clause; empty when nothing was."""
    return all_said(guide, texts, case.now.readings)


def reasons(guide: Guide, texts: Texts, case: Case, step: NextStep, *, only_against: bool = False) -> Iterator[Block]:
    """Why: what the person told that is evidence, and what of it the rest outweighed; or that alone."""
    evidence = [r for r in case.now.readings if guide.topic.questions[r.question].purpose == "identify"]
    against = outweighed(guide.topic, step.decision, evidence)
    if not only_against and (clauses := all_said(guide, texts, [r for r in evidence if r not in against])):
        yield Reasons(texts("because", reasons=clauses))
    if clauses := all_said(guide, texts, against):
        yield Reasons(texts("against.short" if only_against else "against", reasons=clauses))


def answer(guide: Guide, texts: Texts, case: Case, step: NextStep, now: datetime) -> tuple[tuple[Block, ...], Result]:
    """The answer at a glance, and its outcome in ids."""
    (fastening,) = leading(guide, step, step.decision)
    assert fastening.remover is not None
    cautions = cautions_for(guide, case, [fastening])
    links = notes(guide, case, [fastening])
    sure = certainty(guide, step)
    against = tuple(reasons(guide, texts, case, step, only_against=True))
    blocks: tuple[Block, ...] = (
        Finding(texts(f"glance-{sure}", fastening=at_a_glance(texts, fastening)), sure, (fastening.id,)),
        *gravest(guide, texts, cautions),
        remover(guide, texts, fastening.remover),
        *fit_for(guide, texts, case, [fastening]),
        Direction(shortest(texts, f"direction-{fastening.direction}"), fastening.direction),
        *note_links(texts, links[:1], "note-head"),
        *case_code(texts, case),
        *against,
        *yet_to_know(guide, texts, step, case),
        *pictured([fastening]),
        Offers(offers(texts, ANSWERED)),
    )
    return blocks, Result(fastening.id, fastening.remover, tuple(cautions), links)


def look_alike(
    guide: Guide, texts: Texts, case: Case, step: NextStep, now: datetime
) -> tuple[tuple[Block, ...], Result]:
    """Two kinds still fit: both at a glance, with the check that separates them."""
    fastenings = leading(guide, step, step.decision)
    cautions = cautions_for(guide, case, fastenings)
    links = notes(guide, case, fastenings)
    tools = [remover(guide, texts, str(fastening.remover), alone=False) for fastening in fastenings]
    check = separating_check(guide, texts, fastenings, case.now.readings, short=True)
    blocks: tuple[Block, ...] = (
        Finding(two_kinds(texts, fastenings), "two", tuple(f.id for f in fastenings)),
        *gravest(guide, texts, cautions, many="glance-cautions-person"),
        *tools,
        *fit_for(guide, texts, case, fastenings),
        SeparatingCheck(texts("two-apart", odds=odds(guide, texts, step), check=check)),
        *case_code(texts, case),
        *reasons(guide, texts, case, step, only_against=True),
        WhatNext(texts("what-next-look-alike"), "what-next-look-alike"),
        *pictured(fastenings),
        Offers(offers(texts, TWO_KINDS)),
    )
    return blocks, Result(None, None, tuple(cautions), links)


def two_kinds(texts: Texts, fastenings: Sequence[Fastening]) -> str:
    """Which two kinds fit, the likelier first."""
    first, second = (texts(f"fastening-{fastening.id}.short") for fastening in fastenings)
    return texts("glance-two", first=first, second=second)


def pictured(fastenings: Sequence[Fastening]) -> tuple[Block, ...]:
    """What shows the fastenings that an outcome names."""
    ids = "+".join(fastening.id for fastening in fastenings)
    return (Picture(f"fastening:{ids}" if len(fastenings) == 1 else f"look-alikes:{ids}"),)


def person(guide: Guide, texts: Texts, case: Case, step: NextStep, now: datetime) -> tuple[tuple[Block, ...], Result]:
    """A person must look: why, the gravest hazard, what to do meanwhile, how and when somebody can be reached."""
    (fastening,) = leading(guide, step, Decision("person", (), 0.0))
    referral = _referral(guide, case)
    known = case.now.reason in ("no-remover", "mistaken", "stuck")
    chosen = isinstance(referral, ShopReferral)  # nothing is broken: the shop would rather do it
    cautions = cautions_for(guide, case, [fastening] if known else [])
    if referral is not None:
        cautions = list(dict.fromkeys([*cautions, referral.caution]))
    links = notes(guide, case, [fastening] if known else [unknown(guide)])
    refers = f"referral-{referral.question}-{referral.choice}" if referral else ""
    next_text = "what-next-bike" if chosen else "what-next-person"
    blocks: tuple[Block, ...] = (
        Finding(
            texts(_why_a_person(texts, case), fastening=at_a_glance(texts, fastening)),
            "person",
            (fastening.id,) if known else (),
        ),
        *(gravest(guide, texts, cautions, steps=False) if case.now.reason != "stuck" else ()),
        *((Advice(texts(refers), refers),) if refers else ()),
        *_warned_off(texts, fastening if case.now.reason == "no-remover" else None),
        within_reach(guide, texts, now),
        *note_links(texts, links[:1], "note-head"),
        *case_code(texts, case),
        WhatNext(texts(next_text), next_text),
        Offers(offers(texts, FOR_A_PERSON)),
    )
    return blocks, Result(fastening.id if known else None, None, tuple(cautions), links)


def first_of_all(outcome: tuple[Block, ...], before: Sequence[Block]) -> tuple[Block, ...]:
    """The outcome goes before what else is said in its turn, but for who speaks from now on and a short echo. A longer
    one is left out, since "why" tells the same, and so is what else is long where it could not be read at a glance."""
    ends = tuple(block for block in outcome if isinstance(block, Picture | Offers))
    glance = tuple(block for block in outcome if not isinstance(block, Picture | Offers))
    speaker = tuple(b for b in before if isinstance(b, Remark) and b.about.startswith(_WHO_SPEAKS))
    echoes = tuple(block for block in before if isinstance(block, Understood))
    rest = tuple(block for block in before if block not in speaker and not isinstance(block, Understood))
    head = (*speaker, *(echoes if length_of(echoes)[0] <= MOST_ECHOED else ()), *glance)
    words, characters = length_of((*head, *rest, *ends))
    if words > MOST_WORDS - _CARD_WORDS or characters > MOST_CHARACTERS - _CARD_CHARACTERS:
        rest = tuple(b for b in rest if not (isinstance(b, Remark) and b.about in _LONG))
        head = (*speaker, *glance)
    return (*head, *rest, *ends)


def has_room_for_a_greeting(blocks: Sequence[Block]) -> bool:
    """Whether the first message of an outcome stays as short as it has to be with a sentence before it."""
    words, characters = length_of(tuple(blocks))
    return (
        words + _GREETING_WORDS <= MOST_WORDS - _CARD_WORDS
        and characters + _GREETING_CHARACTERS <= MOST_CHARACTERS - _CARD_CHARACTERS
    )


# --- parts of it ------------------------------------------------------------------------------------------------------


def at_a_glance(texts: Texts, fastening: Fastening) -> str:
    """A fastening in as few words as a mechanic says it in."""
    return shortest(texts, f"fastening-{fastening.id}", "glance")


def shortest(texts: Texts, name: str, attribute: str = "short") -> str:
    """A text's short form, or itself where it has none."""
    return texts(f"{name}.{attribute}" if texts.has(name, attribute) else name)


def gravest(
    guide: Guide, texts: Texts, cautions: Sequence[str], *, steps: bool = True, many: str = ""
) -> tuple[Hazard, ...]:
    """One line for all cautions: the gravest, and in the text `many` how many more there are and where they are told.
    Without `steps` it says how to avoid what it warns of."""
    rows = [guide.topic.cautions[caution] for caution in cautions]
    if not rows:
        return ()
    first = min(rows, key=lambda row: _GRAVITY[row.signal])
    said = shortest(texts, f"caution-{first.id}", "glance" if steps else "short")
    many = many or ("glance-cautions" if steps else "glance-cautions-person")
    text = texts(many, text=said, more=len(rows) - 1)
    return (Hazard(first.signal, texts(f"signal-{first.signal}"), "", text, first.id),)


def share_of(guide: Guide, step: NextStep) -> float:
    """How probable the remedy is that an answer names."""
    return float(guide.topic.model.by_remedy(step.shares)[step.decision.remedies[0]])


def sureness(guide: Guide, step: NextStep) -> Band:
    """How sure an outcome is that names one or two kinds."""
    return "two" if len(step.decision.remedies) > 1 else certainty(guide, step)


def offers(texts: Texts, ids: Iterable[str]) -> tuple[Choice, ...]:
    """What can be asked next, each by its button."""
    return tuple(Choice(each, texts(f"press-{each}")) for each in ids)


def yet_to_know(guide: Guide, texts: Texts, step: NextStep, case: Case, part: str = "later") -> tuple[Block, ...]:
    """What would change what is needed, where nobody has said it yet: "nuts on the axle?"; in the words of another
    `part` where there are some."""
    names = [f"question-{question}" for question in hints(guide, texts, step, case)[:1]]
    return tuple(WhatNext(texts(f"{name}.{part if texts.has(name, part) else 'later'}"), name) for name in names)


def hints(guide: Guide, texts: Texts, step: NextStep, case: Case) -> list[str]:
    """The questions about what is needed that are hinted at, and not asked, while nobody has answered them."""
    if step.decision.kind not in NAMED:
        return []
    open_ones = obstacles(guide.topic, step.decision, case.now.readings, case.now.mentioned, guide.barred)
    return [question for question in open_ones if texts.has(f"question-{question}", "later")]


def _warned_off(texts: Texts, fastening: Fastening | None) -> tuple[Block, ...]:
    """What to leave alone until a person has looked."""
    advice = fastening.advice[:1] if fastening is not None else ()
    return tuple(Advice(texts(f"advice-{each}"), each) for each in advice)


def brought_in(guide: Guide, case: Case, step: NextStep) -> Fastening:
    """What the shop most likely gets to see, to say what it does about that: the likeliest kind where it is damaged,
    else what nobody has recognised."""
    damaged = is_stopped(guide, case)
    return leading(guide, step, Decision("person", (), 0.0))[0] if damaged else unknown(guide)


def is_stopped(guide: Guide, case: Case) -> bool:
    """Whether the work was stopped, since something is damaged or nothing more helps: another try does harm."""
    if case.now.outcome != "person":
        return False
    damaged = case.now.reason == "referral" and not isinstance(_referral(guide, case), ShopReferral)
    return damaged or case.now.reason == "stuck"


def _why_a_person(texts: Texts, case: Case) -> str:
    """The text that says why a person must look; at a step, by what went wrong there."""
    wrong = next((event.exit for event in reversed(case.events) if isinstance(event, Stepped)), "")
    if case.now.reason == "stuck" and wrong and texts.has("person-stuck", wrong):
        return f"person-stuck.{wrong}"
    return f"person-{case.now.reason or 'doubt'}"


def _referral(guide: Guide, case: Case) -> Referral | None:
    """The answer that sends somebody to the shop, where that is why a person must look."""
    latest = latest_choices(case.now.readings) if case.now.reason == "referral" else {}
    return next((r for r in guide.topic.flow.referrals if latest.get(r.question) == r.choice), None)


def unknown(guide: Guide) -> Fastening:
    """What stands for everything that is not listed."""
    return next(f for f in guide.topic.catalogue.fastenings if f.broad)


def certainty(guide: Guide, step: NextStep) -> Band:
    """How sure an answer is said to be: not at all where what it rests on was not seen, and not quite where nothing
    told speaks against its look-alike."""
    said = "likely" if step.unseen else band(guide, share_of(guide, step))
    return "fairly-sure" if said == "sure" and step.alike else said


def band(guide: Guide, share: float) -> Band:
    """Which of the three bands of certainty a probability falls in."""
    bands = guide.topic.flow.outcomes.bands
    return "sure" if share >= bands.sure else "fairly-sure" if share >= bands.fairly_sure else "likely"
