"""Case cards: a link that shows a case to the person who holds it, and what stands on the card.

Rules of this file:
- how long a card counts (`LASTS`), and what its address is below that of the pages;
- what stands on it and where that comes from: the outcome as the conversation would tell it today, out of the same
  functions, so that card and answer never disagree; a tool that would not be named today is not on the card;
- what counts as ruled out: what keeps less than the flow's `plausible`, each by the one thing told that speaks most
  against it beside the likeliest; what is rare and nothing more is not called ruled out.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from math import log
from typing import TYPE_CHECKING

from triagebot.conversation import Case, Guide, edition, edition_of
from triagebot.conversation.edition import catch_up
from triagebot.conversation.events import Answered, Concluded
from triagebot.conversation.outcome import NAMED, band, leading
from triagebot.conversation.policy import NextStep, plausible
from triagebot.conversation.reply import Status, plain_of
from triagebot.conversation.scene import Scene
from triagebot.conversation.second_look import outweighed, unlike
from triagebot.conversation.shop_offers import reach, services, services_of_a_person
from triagebot.conversation.steps import written_out
from triagebot.conversation.telling_apart import separating_check, what_would_change
from triagebot.conversation.wording import said
from triagebot.identify import ChoiceReading, Decision, Reading, UnsureReading
from triagebot.identify.information import Array
from triagebot.shop import NoteLink
from triagebot.store.grants import Grants
from triagebot.store.photos import Photos
from triagebot.topics import Fastening, Texts

if TYPE_CHECKING:
    from triagebot.store import Transaction, View

LASTS = timedelta(days=14)
#: Something told rules a fastening out if it is so many times as likely with the likeliest one.
_TELLING = 3.0


@dataclass(frozen=True, slots=True)
class Statement:
    """One thing that was told: what it is about, what was said, by whom and when; whether it does not fit the rest."""

    about: str
    clause: str
    by: str
    at: datetime
    odd: bool


@dataclass(frozen=True, slots=True)
class RuledOut:
    """The kinds that something told speaks against."""

    clause: str
    kinds: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Caution:
    """`kind` is warning, caution or notice, `signal` the word for it; `step` is when it matters."""

    kind: str
    signal: str
    step: str
    text: str


@dataclass(frozen=True, slots=True)
class CardStep:
    """A step of the work, with the cautions that belong to it."""

    text: str
    cautions: tuple[Caution, ...]


@dataclass(frozen=True, slots=True)
class Card:
    """What stands on a card, in one language. What does not apply is empty.

    `fastenings` are those that the outcome names: one for an answer, two look-alikes, those of a person's case that is
    known. `edition` answered the case `at`; `edition_now` is what the card was worked out with.
    """

    code: str
    aloud: tuple[str, ...]
    status: Status
    found: str
    fastenings: tuple[Fastening, ...]
    told: tuple[Statement, ...]
    would_change: str
    check: str
    ruled_out: tuple[RuledOut, ...]
    possible: tuple[str, ...]
    cautions: tuple[Caution, ...]
    steps: tuple[CardStep, ...]
    advice: tuple[str, ...]
    notes: tuple[NoteLink, ...]
    services: str
    reach: str
    photos: int
    opened: datetime
    at: datetime | None
    edition: str
    edition_now: str


# --- the link -----------------------------------------------------------------------------------------------------


def card_link(tx: "Transaction", number: int, address: str, now: datetime) -> str:
    """The address of a new card of the case with this number; `address` is that of the pages, without a slash."""
    return card_address(address, Grants(tx).issue("card", number, {}, now, now + LASTS))


def card_address(address: str, secret: str) -> str:
    """Where the card with this secret is."""
    return f"{address}/card/{secret}"


def card_behind(view: "View", secret: str, now: datetime) -> tuple[int, datetime] | None:
    """The number of the case whose card a secret shows, and until when it does; None for one that shows none, for
    whatever reason."""
    grant = Grants(view).find("card", secret, now)
    return None if grant is None or grant.case_id is None else (grant.case_id, grant.until)


def take_back(tx: "Transaction", secret: str, now: datetime) -> bool:
    """A person who holds a card takes it back, with every other card of the case; gives whether it still counted."""
    shown = card_behind(tx, secret, now)
    return shown is not None and Grants(tx).end_all("card", shown[0], now) > 0


# --- what stands on it --------------------------------------------------------------------------------------------


def card_of(guide: Guide, texts: Texts, case: Case, photos: int, now: datetime) -> Card:
    """The card of a case as it stands, in the language of `texts`. `photos`: how many were sent."""
    scene = Scene(guide, case, now)
    catch_up(scene)
    told = scene.case.now.outcome not in (None, "stopped")
    if told:
        scene.tell_outcome()
    standing, step = scene.case.now, scene.decide()
    status: Status = (standing.outcome or "question") if told else "question"
    fastenings: list[Fastening] = []
    if status in NAMED or (status == "person" and standing.reason in ("no-remover", "mistaken", "stuck")):
        decision = step.decision if status != "person" else Decision("person", (), 0.0)
        fastenings = leading(guide, step, decision)
    named = fastenings or leading(guide, step, Decision("person", (), 0.0))
    concluded = _concluded(case)
    return Card(
        code=case.code,
        aloud=tuple(texts(f"card-aloud.{_letter(c)}") for c in case.code if texts.has("card-aloud", _letter(c))),
        status=status,
        found=_found(guide, texts, scene, fastenings, status),
        fastenings=tuple(fastenings),
        told=tuple(_told(guide, texts, scene.case, step, fastenings)),
        would_change=what_would_change(guide, texts, step, fastenings[0]) if status == "answer" else "",
        check=separating_check(guide, texts, fastenings) if status == "look-alike" else "",
        ruled_out=tuple(_ruled_out(guide, texts, standing.readings, step.shares, named[0])),
        possible=tuple(_possible(guide, texts, step.shares, fastenings)),
        cautions=tuple(
            Caution(
                row.signal,
                texts(f"signal-{row.signal}"),
                texts(f"step-{row.step}"),
                texts(f"caution-{row.id}"),
            )
            for row in (guide.topic.cautions[name] for name in scene.result.cautions)
        ),
        steps=tuple(_steps(guide, texts, scene.case)) if status == "answer" else (),
        advice=tuple(_advice(texts, step, fastenings if status != "question" else ())),
        notes=scene.result.notes,
        services=(
            plain_of(
                services(guide, texts, fastenings[0])
                if status in NAMED
                else services_of_a_person(guide, texts, named[0])
            )
        ),
        reach=plain_of([reach(guide, texts, now)]),
        photos=photos,
        opened=case.opened,
        at=concluded.at if concluded is not None and told else None,
        edition=edition_of(case),
        edition_now=edition(guide.topic.digest),
    )


def photos_of(view: "View", number: int) -> int:
    """How many photos of a case there are or may still come."""
    return Photos(view).count(number)


def _steps(guide: Guide, texts: Texts, case: Case) -> Iterator[CardStep]:
    for text, hazards in written_out(guide, texts, case):
        yield CardStep(text, tuple(Caution(row.signal, row.word, row.step, row.text) for row in hazards))


def _letter(character: str) -> str:
    """The name of a letter's or digit's text: an attribute cannot begin with a digit."""
    return f"n{character}" if character.isdigit() else character


def _concluded(case: Case) -> Concluded | None:
    ends = [event for event in case.events if isinstance(event, Concluded) and event.outcome != "stopped"]
    return ends[-1] if ends else None


def _found(guide: Guide, texts: Texts, scene: Scene, fastenings: Sequence[Fastening], status: Status) -> str:
    names = [texts(f"fastening-{fastening.id}") for fastening in fastenings]
    match status:
        case "answer":
            step = scene.decide()
            share = float(guide.topic.model.by_remedy(step.shares)[step.decision.remedies[0]])
            return texts(f"found-{band(guide, share)}", fastening=names[0])
        case "look-alike":
            return texts("found-two", first=names[0], second=names[1])
        case "person":
            reason = scene.case.now.reason or "doubt"
            if reason == "asked":
                return texts("card-asked")
            return texts(f"person-{reason}", fastening=names[0] if names else "")
    return texts("card-open")


def _advice(texts: Texts, step: NextStep, fastenings: Sequence[Fastening]) -> Iterator[str]:
    if step.referral is not None:
        yield texts(f"referral-{step.referral.question}-{step.referral.choice}")
    for name in dict.fromkeys(name for fastening in fastenings for name in fastening.advice):
        yield texts(f"advice-{name}")


def _told(
    guide: Guide, texts: Texts, case: Case, step: NextStep, fastenings: Sequence[Fastening]
) -> Iterator[Statement]:
    """What is in force, in the order of the flow's questions. What does not fit the `fastenings` that are named is odd,
    as the answer says it; until something is named, it may as well be what is rare."""
    given = {id(fact): event for event in case.events if isinstance(event, Answered) for fact in event.facts}
    facts = case.now.facts
    evidence = [f.reading for f in facts if guide.topic.questions[f.reading.question].purpose == "identify"]
    against: list[Reading] = []
    if fastenings and step.decision.remedies:
        against = outweighed(guide.topic, step.decision, evidence)
    elif fastenings:
        against = unlike(guide.topic, fastenings[0].id, evidence)
    for question in guide.topic.questions:
        for fact in (fact for fact in facts if fact.reading.question == question):
            event = given[id(fact)]
            by = f"card-by-{event.by}"
            yield Statement(
                about=texts(f"question-{question}.name"),
                clause=said(guide, texts, fact.reading),
                by=texts(by if texts.has(by) else "card-by-other"),
                at=event.at,
                odd=fact.reading in against,
            )


def _possible(guide: Guide, texts: Texts, shares: Array, named: Sequence[Fastening]) -> Iterator[str]:
    """What else keeps `plausible` or more, likeliest first."""
    for name in plausible(guide.topic.model, shares):
        if guide.topic.fastenings[name] not in named:
            yield texts(f"fastening-{name}.short")


def _ruled_out(
    guide: Guide, texts: Texts, readings: Sequence[Reading], shares: Array, likeliest: Fastening
) -> Iterator[RuledOut]:
    """In the order of the flow's questions, by the reading that speaks most against each."""
    model = guide.topic.model
    groups: dict[str, list[Reading]] = {}
    for reading in readings:
        if reading.question in model.tables and not isinstance(reading, UnsureReading):
            groups.setdefault(reading.question, []).append(reading)
    logs = {question: model.tables[question].likelihood(group) for question, group in groups.items()}
    first = model.fastenings.index(likeliest.id)
    against: dict[str, list[str]] = {}
    for place, name in enumerate(model.fastenings):
        if shares[place] >= model.plausible or guide.topic.fastenings[name].broad or place == first:
            continue
        weights = {q: log(float(row[first])) - log(max(float(row[place]), 1e-300)) for q, row in logs.items()}
        question = max(weights, key=lambda q: weights[q], default=None)
        if question is not None and weights[question] >= log(_TELLING):
            against.setdefault(question, []).append(texts(f"fastening-{name}.short"))
    for question in guide.topic.questions:
        if question in against:
            # Where an answer changed when it was asked for again, the last one tells it best.
            affirmed = [r for r in groups[question] if not (isinstance(r, ChoiceReading) and r.denied)]
            yield RuledOut(said(guide, texts, (affirmed or groups[question])[-1]), tuple(against[question]))
