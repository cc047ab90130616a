"""A case as somebody at the counter reads it, on a phone: what it is, who told what, what was ruled out, what to fetch.

All of it comes out of the case's card, so that what the staff read and what the person holds never disagree.
"""

from collections.abc import Callable, Iterator, Sequence
from datetime import datetime

from babel.dates import format_datetime

from triagebot.cases.cards import Card, card_of
from triagebot.conversation import Case, Guide, NextStep
from triagebot.conversation.edition import catch_up
from triagebot.conversation.events import Concluded
from triagebot.conversation.outcome import leading
from triagebot.conversation.scene import Scene
from triagebot.conversation.steps import stuck_at
from triagebot.conversation.wording import habits, said
from triagebot.counter.bench_answer import apart, likely, percent, where
from triagebot.identify import ChoiceReading
from triagebot.topics import Texts

#: So many kinds that something ruled out are named.
MOST_NAMED = 3


def counter_text(
    guide: Guide,
    texts: Texts,
    case: Case,
    photos: int,
    now: datetime,
    when: Callable[[datetime], str],
    known: list[str],
) -> str:
    """All of it, as `counter_lines` has it."""
    return "\n".join(counter_lines(guide, texts, case, photos, now, when, known))


def counter_lines(
    guide: Guide,
    texts: Texts,
    case: Case,
    photos: int,
    now: datetime,
    when: Callable[[datetime], str],
    known: list[str],
) -> tuple[str, ...]:
    """`when` shows a moment; `known` is what the staff know of it themselves: who has it, what it was closed with."""
    card = card_of(guide, texts, case, photos, now)
    scene = Scene(guide, case, now)
    catch_up(scene)
    step = scene.decide()
    parts = [
        texts("staff-case", code=card.code, opened=when(card.opened), found=_found(guide, texts, card, case)),
        *known,
        _likely(guide, texts, step),
        *_told(texts, card),
        *(texts("staff-case-out", clause=out.clause, names=_some(texts, out.kinds)) for out in card.ruled_out),
        texts("staff-case-check", check=card.check) if card.check else "",
        texts("staff-case-photos", photos=card.photos) if card.photos else "",
        _fetch(guide, texts, card, step),
        _edition(texts, card, _ended(case), when),
    ]
    return tuple(part for part in parts if part)


def shown_time(guide: Guide, texts: Texts, moment: datetime, now: datetime) -> str:
    """A moment as the shop's clock shows it; with its day if that is not today."""
    zone = guide.shop.zone
    same = moment.astimezone(zone).date() == now.astimezone(zone).date()
    pattern = "HH:mm" if same else "EEE d MMM HH:mm"
    return str(format_datetime(moment, pattern, tzinfo=zone, locale=habits(texts)))


def reason_words(guide: Guide, texts: Texts, case: Case, reason: str) -> str:
    """Why a person must look, in few words: the answer that it was, where it was one."""
    if reason == "referral":
        referring = {(row.question, row.choice) for row in guide.topic.flow.referrals}
        for reading in reversed(case.now.readings):
            if isinstance(reading, ChoiceReading) and (reading.question, reading.choice) in referring:
                return said(guide, texts, reading)
    if reason == "stuck" and (at := stuck_at(guide, case)) is not None:
        exit, times, number, count = at
        return texts("staff-stuck-at", said=texts(f"exit-{exit}"), times=times, number=number, count=count)
    return texts(f"staff-reason-{reason}")


def _found(guide: Guide, texts: Texts, card: Card, case: Case) -> str:
    names = [texts(f"fastening-{fastening.id}.short") for fastening in card.fastenings]
    reason = reason_words(guide, texts, case, case.now.reason or "doubt")
    status: str = card.status
    if status == "question" and _ended(case) is not None:  # today's edition would ask on
        status = "person" if case.now.outcome == "person" else "older"
    return texts("staff-found", status=status, names=apart(texts, names), reason=reason)


def _told(texts: Texts, card: Card) -> Iterator[str]:
    """Who told what, and what of it does not fit the rest."""
    for by in dict.fromkeys(told.by for told in card.told):
        clauses = [told.clause for told in card.told if told.by == by]
        yield texts("staff-case-told", by=by, clauses=apart(texts, clauses))
    odd = [told.clause for told in card.told if told.odd]
    if odd:
        yield texts("staff-case-odd", clauses=apart(texts, odd))


def _likely(guide: Guide, texts: Texts, step: NextStep) -> str:
    rows = [
        texts("staff-case-share", fastening=texts(f"fastening-{row.id}.short"), share=percent(guide, texts, step, row))
        for row in likely(guide, step)
    ]
    return texts("staff-case-likely", names=apart(texts, rows))


def _some(texts: Texts, names: Sequence[str]) -> str:
    """The first of many names, and how many more there are."""
    if len(names) <= MOST_NAMED + 1:
        return apart(texts, names)
    return texts("staff-case-out-more", names=apart(texts, names[:MOST_NAMED]), count=len(names) - MOST_NAMED)


def _fetch(guide: Guide, texts: Texts, card: Card, step: NextStep) -> str:
    """The tools for what the case came to; for what it would come to, where a person was asked for."""
    named = card.fastenings or (leading(guide, step, step.decision) if step.decision.kind == "answer" else ())
    wanted = [f.remover for f in named if f.remover is not None]
    wanted += [accessory for f in named if f.remover is not None for accessory in f.accessories]
    tools = [guide.shop.tool_for(name) for name in dict.fromkeys(wanted)]
    rows = [texts("staff-fetch-row", **where(tool)) for tool in tools if tool is not None and tool.count]
    return texts("staff-case-fetch", tools=apart(texts, rows)) if rows else ""


def _ended(case: Case) -> datetime | None:
    """When the case reached the outcome that it has; None where it has none."""
    if case.now.outcome in (None, "stopped"):
        return None
    return next((e.at for e in reversed(case.events) if isinstance(e, Concluded) and e.outcome != "stopped"), None)


def _edition(texts: Texts, card: Card, at: datetime | None, when: Callable[[datetime], str]) -> str:
    if at is None:
        return ""
    same = card.edition == card.edition_now
    name = "staff-case-edition" if same else "staff-case-edition-old"
    return texts(name, at=when(at), edition=card.edition, now=card.edition_now)
