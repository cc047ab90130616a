"""What the staff do with one case: look at it, take it on, give it back, let it sleep, close it.

Everything that changes a case is written down, with who did it.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import datetime
from typing import TYPE_CHECKING

from triagebot.cases.cards import photos_of
from triagebot.cases.change_channel import ToOthers, reached
from triagebot.cases.loaded import rows_of, unfolded
from triagebot.cases.outdated import open_and_touched, touched
from triagebot.cases.thread import thread_of
from triagebot.conversation import Case, look
from triagebot.conversation.events import Closed
from triagebot.conversation.reply import told
from triagebot.counter.answering import say
from triagebot.counter.asked_back import MOST_OFFERED, ask_back
from triagebot.counter.bench_answer import apart
from triagebot.counter.bikes import about_the_bike, guide_to
from triagebot.counter.bikes import closed as bike_done
from triagebot.counter.bikes import opened_again as bike_open
from triagebot.counter.case_summary import counter_lines
from triagebot.counter.closing import Outcome, outcome_said
from triagebot.counter.notes import note, noted
from triagebot.counter.queue import MOST_LISTED, last_words
from triagebot.counter.times import MOST, awake
from triagebot.counter.work import Attended, Work, answer
from triagebot.identify import belief
from triagebot.shop import fold
from triagebot.store.photos import Photos as PhotosKept
from triagebot.store.post import Post
from triagebot.store.staff import Deed, Staff

if TYPE_CHECKING:
    from triagebot.store import StoredCase

#: A kind with a smaller share than this by what a case says is out of the question.
UNHEARD_OF = 0.001
#: What a member's standing has of a closing that was asked about.
ASKED_SURE = "asked-sure"
#: So many of the last words are shown with a case.
LAST_WORDS = 4


# --- looking ------------------------------------------------------------------------------------------------------


def at_the_counter(work: Work, code: str) -> Attended | None:
    """Everything about a case that somebody at the counter needs; None for one that is not there."""
    stored = work.tx.case_by_code(code)
    return None if stored is None else _show(work, stored, "")


def _show(work: Work, stored: "StoredCase", rest: str) -> Attended:
    case = unfolded(stored).case
    known = [*known_here(work, stored, case), *_last_words(work, stored.id, case)]
    photos = photos_of(work.tx, stored.id)
    return answer(
        "\n".join(counter_lines(guide_to(work, stored.id), work.texts, case, photos, work.now, work.when, known))
    )


def known_here(work: Work, stored: "StoredCase", case: Case) -> list[str]:
    """What the staff know of a case themselves: what it was closed with, and who has it."""
    ticket = work.tickets.of(stored.id)
    state = ""
    if ticket is not None and ticket.open:
        asleep = work.when(ticket.until) if ticket.until is not None else ""
        state = work.texts("staff-case-state", state=ticket.state, name=work.name_of(ticket.holder), until=asleep)
    closed = _closing_words(work, case.closed) if case.closed is not None else ""
    other = touched(work.guide, case, work.now)
    was = work.texts("staff-case-was", names=_kinds(work, other.named)) if other is not None else ""
    return [was, closed, state, *about_the_bike(work, stored.id), *noted(work, stored.id)]


def _last_words(work: Work, number: int, case: Case) -> list[str]:
    """What was said last, by both."""
    return [
        work.texts("staff-case-words", at=work.when(words.at), name=words.name or "none", text=words.text)
        for words in thread_of(work.tx, number, case)[-LAST_WORDS:]
    ]


def touched_cases(work: Work) -> str:
    """Every open case that today's edition would answer otherwise."""
    found = list(open_and_touched(work.tx, work.guide, work.now))
    rows = [work.texts("staff-touched-head", count=len(found))]
    for each in found[:MOST_LISTED]:
        before, after = (_kinds(work, names) for names in (each.named, each.now))
        told = {"code": each.case.code, "at": work.when(each.case.touched), "before": before, "after": after}
        rows.append(work.texts("staff-touched-row", **told))
    if len(found) > MOST_LISTED:
        rows.append(work.texts("staff-queue-more", count=len(found) - MOST_LISTED))
    return "\n".join(rows)


def _kinds(work: Work, names: tuple[str, ...]) -> str:
    """Fastenings in few words; one that the topic has no more by its id."""
    texts = work.texts
    short = [texts(f"fastening-{each}.short") if texts.has(f"fastening-{each}", "short") else each for each in names]
    return apart(texts, short) or texts("staff-touched-nothing")


def _history(work: Work, stored: "StoredCase", rest: str) -> Attended:
    deeds = Staff(work.tx).deeds(stored.id)
    if not deeds:
        return answer(work.texts("staff-history-none", code=stored.code))
    rows = [work.texts("staff-history-head", code=stored.code)]
    rows += [
        work.texts("staff-history-row", at=work.when(deed.at), name=deed.name, what=_deed_words(work, deed))
        for deed in deeds
    ]
    return answer("\n".join(rows))


def _deed_words(work: Work, deed: Deed) -> str:
    name, told = f"staff-deed-{deed.what}", dict(deed.told)
    if deed.what == "closed":
        told = {"what": _outcome_words(work, told["fastening"], told["fitted"])}
    if deed.what == "snoozed":
        told = {"until": work.when(datetime.fromisoformat(told["until"]))}
    return work.texts(name, **told) if work.texts.has(name) else work.texts("staff-deed-other", what=deed.what)


def _photos(work: Work, stored: "StoredCase", rest: str) -> Attended:
    """The photos of a case, each a message of its own behind the answer."""
    lookup_hash = work.member.person
    kept = PhotosKept(work.tx).kept_of(stored.id)
    if not kept or Post(work.tx).found(lookup_hash).reached is None:
        return answer(work.texts("staff-photos-elsewhere" if kept else "staff-photos-none", code=stored.code))
    each = tuple(
        ToOthers(
            lookup_hash, None, told(work.texts("staff-photo", code=stored.code, number=number, count=len(kept))),
            aside=True, language=work.texts.language, beside={"photo": photo},
        )
        for number, photo in enumerate(kept, 1)
    )  # fmt: skip
    return replace(answer(work.texts("staff-photos", code=stored.code, count=len(kept))), to_others=each)


# --- having it ----------------------------------------------------------------------------------------------------


def claim(work: Work, stored: "StoredCase", rest: str) -> Attended:
    """A member takes a case on, and reads what its person wrote last."""
    ticket = work.tickets.of(stored.id)
    if ticket is None or not ticket.open:
        work.tickets.open(stored.id, "staff", work.now)
    elif ticket.holder == work.member.person:
        woken = work.tickets.wake(stored.id)
        return answer(work.texts("staff-claimed" if woken else "staff-claimed-already", code=stored.code, said="none"))
    if not work.tickets.claim(stored.id, work.member.person):
        holder = work.tickets.of(stored.id)
        name = work.name_of(holder.holder if holder is not None else None)
        return answer(work.texts("staff-claimed-other", name=name, code=stored.code))
    work.did("claimed", stored.id)
    said = last_words(work, stored.id, unfolded(stored).case)
    return answer(work.texts("staff-claimed", code=stored.code, said=said or "none"))


def claim_next(work: Work) -> Attended | None:
    """The case that has waited longest, of those that nobody has; None where the message answers one about a case."""
    if work.about:
        return None
    waiting = next((ticket for ticket in work.tickets.queue() if ticket.state == "waiting"), None)
    stored = work.tx.case(waiting.case) if waiting is not None else None
    return answer(work.texts("staff-queue-empty")) if stored is None else claim(work, stored, "")


def release(work: Work, stored: "StoredCase", rest: str) -> Attended:
    ticket = work.tickets.of(stored.id)
    if ticket is None or ticket.holder is None or not ticket.open:
        return answer(work.texts("staff-not-held", code=stored.code))
    if not work.may(ticket):
        return answer(work.texts("staff-not-yours", name=work.name_of(ticket.holder), code=stored.code))
    work.tickets.release(stored.id)
    work.did("released", stored.id)
    return answer(work.texts("staff-released", code=stored.code))


def _snooze(work: Work, stored: "StoredCase", rest: str) -> Attended:
    moment = awake(work.words, rest, work.now, work.guide.shop.hours)
    if moment is None:
        return answer(work.texts("staff-when", code=stored.code))
    ticket = work.tickets.of(stored.id)
    if ticket is not None and ticket.holder not in (None, work.member.person) and ticket.open:
        return answer(work.texts("staff-not-yours", name=work.name_of(ticket.holder), code=stored.code))
    if ticket is None or not ticket.open:
        work.tickets.open(stored.id, "staff", work.now)
    work.tickets.snooze(stored.id, work.member.person, moment)
    work.did("snoozed", stored.id, until=moment.isoformat())
    when = work.when(moment) if moment < work.now + MOST else "none"
    return replace(answer(work.texts("staff-snoozed", code=stored.code, until=when)), sleeps=True)


# --- ending it ----------------------------------------------------------------------------------------------------


def _close(work: Work, stored: "StoredCase", rest: str) -> Attended:
    said = outcome_said(work.guide, work.texts, work.words, rest)
    if said.could_be:
        names = [work.texts(f"fastening-{each}.short") for each in said.could_be[:MOST_OFFERED]]
        fitted = {True: " fitted", False: " did not fit", None: ""}[said.fitted]
        lines = [f"close {stored.code} {name}{fitted}" for name in names]
        return ask_back(work, lines, labels=names, text=work.texts("staff-close-which", said=rest))
    if said.unknown:
        return answer(work.texts("staff-close-unknown", said=said.unknown))
    return close_as(work, stored, said, rest)


def close_as(work: Work, stored: "StoredCase", said: Outcome, rest: str) -> Attended:
    """Closes a case with what it really was; `rest` is how that was said."""
    ticket = work.tickets.of(stored.id)
    if not work.may(ticket):
        holder = ticket.holder if ticket is not None else None
        return answer(work.texts("staff-not-yours", name=work.name_of(holder), code=stored.code))
    if not said.said:
        return answer(work.texts("staff-close-how", code=stored.code))
    held = unfolded(stored)
    known = _contradicts(work, held.case, said.fastening)
    if known and not _said_again(work, stored, rest):
        what = work.texts(f"fastening-{said.fastening}.short")
        return answer(work.texts("staff-close-sure", code=stored.code, known=known, said=what))
    fastening = said.fastening
    if fastening is None and said.fitted:  # the remover that was named fitted, so it was what was named
        reply = look(work.guide, held.case, work.now)
        fastening = reply.result.fastening
    event = Closed(work.now, fastening, said.fitted, work.member.name, sure=bool(known))
    work.tx.append(stored.id, len(held.case.events), rows_of((event,), {}))
    work.tickets.close(stored.id)
    what = _outcome_words(work, fastening, said.fitted)
    work.did("closed", stored.id, fastening=fastening, fitted=said.fitted)
    bike_done(work, stored.id)
    was = held.case.closed
    before = _outcome_words(work, was.fastening, was.fitted) if was is not None else ""
    before = before if before != what else ""
    closed = answer(work.texts("staff-closed", code=stored.code, what=what, before=before or "none"))
    return replace(closed, closed=stored.id, to_others=_told_closed(work, stored, held.case))


def _contradicts(work: Work, case: Case, fastening: str | None) -> str:
    """What the case says, where what it is closed with is out of the question by that; "" where it is not."""
    model = work.guide.topic.model
    if fastening is None or not case.now.readings or fastening not in model.fastenings:
        return ""
    shares = belief(model, case.now.readings)
    if float(shares[model.fastenings.index(fastening)]) >= UNHEARD_OF:
        return ""
    best = max(range(len(shares)), key=lambda place: shares[place])
    return work.texts(f"fastening-{model.fastenings[best]}.short")


def _said_again(work: Work, stored: "StoredCase", rest: str) -> bool:
    """Whether this member said the same of this case just before; else it is remembered."""
    asked = [stored.id, fold(rest)]
    if work.member.standing.get(ASKED_SURE) == asked:
        return True
    Staff(work.tx).stand(work.member, {**work.member.standing, ASKED_SURE: asked})
    return False


def reopen(work: Work, stored: "StoredCase", rest: str) -> Attended:
    """A case that was closed is open again, and theirs."""
    ticket = work.tickets.of(stored.id)
    if ticket is not None and ticket.open:
        return answer(work.texts("staff-not-closed", code=stored.code))
    bike_open(work, stored.id)
    work.tickets.open(stored.id, "staff", work.now)
    work.tickets.claim(stored.id, work.member.person)
    work.did("reopened", stored.id)
    return answer(work.texts("staff-reopened", code=stored.code))


def _told_closed(work: Work, stored: "StoredCase", case: Case) -> tuple[ToOthers, ...]:
    """Whose case it is hears that the bot is back, where a person had it: they were told that what they write goes to
    that person."""
    if not case.handed:
        return ()
    texts = work.guide.language(case.language).texts
    words = told(
        texts("handover-case-closed", name=work.member.name, shop=work.guide.shop.name), about="handover-case-closed"
    )
    return tuple(
        ToOthers(each, None, words, aside=True, language=case.language) for each in reached(work.tx, stored.id)
    )


def _outcome_words(work: Work, fastening: str | None, fitted: bool | None) -> str:
    texts = work.texts
    known = fastening is not None and texts.has(f"fastening-{fastening}", "short")
    was = texts("staff-was", fastening=texts(f"fastening-{fastening}.short")) if known else ""
    text = {True: "staff-fitted-yes", False: "staff-fitted-no", None: "staff-fitted-untried"}[fitted]
    return f"{was or texts('staff-was-unknown')} {texts(text)}"


def _closing_words(work: Work, closed: Closed) -> str:
    return work.texts("staff-case-closed", name=closed.by, what=_outcome_words(work, closed.fastening, closed.fitted))


# --- all of them ------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Casework:
    """A command about a case, and whether it writes something down."""

    do: "Callable[[Work, StoredCase, str], Attended]"
    writes: bool = True


CASEWORK: dict[str, Casework] = {
    "case": Casework(_show, writes=False),
    "history": Casework(_history, writes=False),
    "photos": Casework(_photos, writes=False),
    "claim": Casework(claim),
    "release": Casework(release),
    "snooze": Casework(_snooze),
    "close": Casework(_close),
    "reopen": Casework(reopen),
    "note": Casework(note),
    "say": Casework(say),
    "tell": Casework(say),
}
