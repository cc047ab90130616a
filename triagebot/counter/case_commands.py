"""What the staff do with one case: look at it, take it on, give it back, let it sleep, close it, answer its person.

Rules of this file:
- which case is meant: the one whose code is said, however it is written; without a code the only one that they have;
- a case is worked on by the member who has it, and by the owner; one that nobody has by anybody;
- everything that changes a case is written down, with who did it.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import datetime
from typing import TYPE_CHECKING

from triagebot.cases.cards import photos_of
from triagebot.cases.change_channel import ToOthers, reached
from triagebot.cases.loaded import rows_of, unfolded
from triagebot.cases.outdated import open_and_touched, touched
from triagebot.conversation import Case, Guide, Reply, look
from triagebot.conversation.events import Closed
from triagebot.conversation.reply import told
from triagebot.counter.bench_answer import apart
from triagebot.counter.case_summary import counter_text, reason_words, shown_time
from triagebot.counter.closing import outcome_said
from triagebot.counter.times import until
from triagebot.counter.words import Order, StaffWords
from triagebot.messages.codes import read_code
from triagebot.messages.incoming import Arrived
from triagebot.shop import Shop, fold
from triagebot.store.photos import Photos as PhotosKept
from triagebot.store.post import Post
from triagebot.store.staff import Deed, Member, Staff, Ticket, Tickets
from triagebot.topics import Texts

if TYPE_CHECKING:
    from triagebot.store import StoredCase, Transaction

#: So many cases are listed at once.
MOST_LISTED = 12
#: A code is written in so many words at most.
_CODE_WORDS = 3


@dataclass(frozen=True, slots=True)
class Attended:
    """What one of the staff is answered. `turn` goes with the buttons of the reply; `answered` is what a message was
    understood to say. `to_others` is said to others. With `instead`, that is taken as if they had said it, as a
    customer, and `before` stands in front of what they are told then. `sleeps`: something sleeps from now on."""

    reply: Reply | None
    turn: int = 0
    answered: str = ""
    to_others: tuple[ToOthers, ...] = ()
    before: str = ""
    instead: Arrived | None = None
    sleeps: bool = False


@dataclass(frozen=True, slots=True)
class Work:
    """One message of one member: everything that it takes to answer it. `guide` is to the shop as it hangs there now,
    without what was lent out; `shop` has all of it."""

    tx: "Transaction"
    guide: Guide
    shop: Shop
    member: Member
    texts: Texts
    words: StaffWords
    now: datetime

    @property
    def tickets(self) -> Tickets:
        return Tickets(self.tx)

    def case_of(self, rest: str) -> "tuple[StoredCase, str] | None":
        """The case that is meant, and what is said about it; None where that is not clear."""
        found = named_case(self.tx, rest)
        if found is not None or looks_like_a_code(rest):
            return found
        mine = self.tickets.held_by(self.member.person)
        stored = self.tx.case(mine[0].case) if len(mine) == 1 else None
        return None if stored is None else (stored, rest)

    def which_case(self, order: Order, text: str) -> str:
        """What is said where it is not clear which case is meant."""
        first = order.rest.split()[0] if order.rest.split() else ""
        if looks_like_a_code(order.rest):
            return self.texts("staff-no-case", code=first.upper())
        return self.texts("staff-which-case", command=text.split(maxsplit=1)[0].lower())

    def when(self, moment: datetime) -> str:
        """A moment as the shop's clock shows it; with its day if that is not today."""
        return shown_time(self.guide, self.texts, moment, self.now)

    def name_of(self, lookup_hash: str | None) -> str:
        member = Staff(self.tx).member(lookup_hash) if lookup_hash is not None else None
        return member.name if member is not None else "?"

    def did(self, deed: str, case: int | None, **told: object) -> None:
        Staff(self.tx).did(self.member, deed, self.now, case, **told)

    def may(self, ticket: Ticket | None) -> bool:
        """Whether this member may do something with a case that somebody may have."""
        free = ticket is None or ticket.holder in (None, self.member.person) or not ticket.open
        return free or self.member.role == "owner"


def answer(text: str) -> Attended:
    """Nothing but words."""
    return Attended(_words(text))


def _words(text: str) -> Reply:
    return told(text)


def named_case(tx: "Transaction", text: str) -> "tuple[StoredCase, str] | None":
    """The case whose code a text begins with, and what stands behind the code."""
    words = text.split()
    for length in range(min(_CODE_WORDS, len(words)), 0, -1):
        code = read_code(" ".join(words[:length]))
        stored = tx.case_by_code(code) if code is not None else None
        if stored is not None:
            return stored, " ".join(words[length:])
    return None


def looks_like_a_code(rest: str) -> bool:
    """Whether somebody meant to write a code there, though no case has it."""
    first = rest.split(maxsplit=1)[0] if rest.split() else ""
    return read_code(first) is not None and (not first.isalpha() or first.isupper())


# --- looking ------------------------------------------------------------------------------------------------------


def at_the_counter(work: Work, code: str) -> Attended | None:
    """Everything about a case that somebody at the counter needs; None for one that is not there."""
    stored = work.tx.case_by_code(code)
    return None if stored is None else _show(work, stored, "")


def _show(work: Work, stored: "StoredCase", rest: str) -> Attended:
    ticket = work.tickets.of(stored.id)
    state = ""
    if ticket is not None and ticket.open:
        asleep = work.when(ticket.until) if ticket.until is not None else ""
        state = work.texts("staff-case-state", state=ticket.state, name=work.name_of(ticket.holder), until=asleep)
    case = unfolded(stored).case
    closed = _closing_words(work, case.closed) if case.closed is not None else ""
    photos = photos_of(work.tx, stored.id)
    other = touched(work.guide, case, work.now)
    was = work.texts("staff-case-was", names=_kinds(work, other.named)) if other is not None else ""
    return answer(counter_text(work.guide, work.texts, case, photos, work.now, work.when, [was, closed, state]))


def queue(work: Work) -> str:
    """Everybody who waits for a person."""
    tickets = work.tickets.queue()
    if not tickets:
        return work.texts("staff-queue-empty")
    rows = [work.texts("staff-queue-head", count=len(tickets))]
    for ticket in tickets[:MOST_LISTED]:
        stored = work.tx.case(ticket.case)
        assert stored is not None, "a ticket goes with its case"
        state = ticket.state if ticket.holder != work.member.person or ticket.state == "snoozed" else "mine"
        asleep = work.when(ticket.until) if ticket.until is not None else ""
        rows.append(
            work.texts(
                "staff-queue-row",
                code=stored.code,
                since=work.when(ticket.opened_at),
                reason=reason_words(work.guide, work.texts, unfolded(stored).case, ticket.reason),
                state=work.texts(f"staff-queue-{state}", name=work.name_of(ticket.holder), until=asleep),
            )
        )
    if len(tickets) > MOST_LISTED:
        rows.append(work.texts("staff-queue-more", count=len(tickets) - MOST_LISTED))
    return "\n".join(rows)


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
    told = tuple(
        ToOthers(
            lookup_hash, None, _words(work.texts("staff-photo", code=stored.code, number=number, count=len(kept))),
            aside=True, language=work.texts.language, beside={"photo": photo},
        )
        for number, photo in enumerate(kept, 1)
    )  # fmt: skip
    return replace(answer(work.texts("staff-photos", code=stored.code, count=len(kept))), to_others=told)


# --- having it ----------------------------------------------------------------------------------------------------


def _claim(work: Work, stored: "StoredCase", rest: str) -> Attended:
    ticket = work.tickets.of(stored.id)
    if ticket is None or not ticket.open:
        work.tickets.open(stored.id, "staff", work.now)
    elif ticket.holder == work.member.person:
        if work.tickets.wake(stored.id):
            return answer(work.texts("staff-claimed", code=stored.code))
        return answer(work.texts("staff-claimed-already", code=stored.code))
    if not work.tickets.claim(stored.id, work.member.person):
        holder = work.tickets.of(stored.id)
        name = work.name_of(holder.holder if holder is not None else None)
        return answer(work.texts("staff-claimed-other", name=name, code=stored.code))
    work.did("claimed", stored.id)
    return answer(work.texts("staff-claimed", code=stored.code))


def _release(work: Work, stored: "StoredCase", rest: str) -> Attended:
    ticket = work.tickets.of(stored.id)
    if ticket is None or ticket.holder is None or not ticket.open:
        return answer(work.texts("staff-not-held", code=stored.code))
    if not work.may(ticket):
        return answer(work.texts("staff-not-yours", name=work.name_of(ticket.holder), code=stored.code))
    work.tickets.release(stored.id)
    work.did("released", stored.id)
    return answer(work.texts("staff-released", code=stored.code))


def _snooze(work: Work, stored: "StoredCase", rest: str) -> Attended:
    moment = until(work.words, rest, work.now, work.guide.shop.hours)
    if moment is None:
        return answer(work.texts("staff-when", code=stored.code))
    ticket = work.tickets.of(stored.id)
    if ticket is not None and ticket.holder not in (None, work.member.person) and ticket.open:
        return answer(work.texts("staff-not-yours", name=work.name_of(ticket.holder), code=stored.code))
    if ticket is None or not ticket.open:
        work.tickets.open(stored.id, "staff", work.now)
    work.tickets.snooze(stored.id, work.member.person, moment)
    work.did("snoozed", stored.id, until=moment.isoformat())
    return replace(answer(work.texts("staff-snoozed", code=stored.code, until=work.when(moment))), sleeps=True)


# --- ending it ----------------------------------------------------------------------------------------------------


def _close(work: Work, stored: "StoredCase", rest: str) -> Attended:
    ticket = work.tickets.of(stored.id)
    if not work.may(ticket):
        holder = ticket.holder if ticket is not None else None
        return answer(work.texts("staff-not-yours", name=work.name_of(holder), code=stored.code))
    said = outcome_said(work.guide, work.texts, work.words, rest)
    if not said.said:
        return answer(work.texts("staff-close-how", code=stored.code))
    if said.could_be:
        names = apart(work.texts, [work.texts(f"fastening-{each}.short") for each in said.could_be])
        return answer(work.texts("staff-close-which", said=rest, names=names))
    if said.unknown:
        return answer(work.texts("staff-close-unknown", said=said.unknown))
    held = unfolded(stored)
    fastening = said.fastening
    if fastening is None and said.fitted:  # the remover that was named fitted, so it was what was named
        reply = look(work.guide, held.case, work.now)
        fastening = reply.result.fastening
    event = Closed(work.now, fastening, said.fitted, work.member.name)
    work.tx.append(stored.id, len(held.case.events), rows_of((event,), {}))
    work.tickets.close(stored.id)
    what = _outcome_words(work, fastening, said.fitted)
    work.did("closed", stored.id, fastening=fastening, fitted=said.fitted)
    return answer(work.texts("staff-closed", code=stored.code, what=what))


def _outcome_words(work: Work, fastening: str | None, fitted: bool | None) -> str:
    texts = work.texts
    known = fastening is not None and texts.has(f"fastening-{fastening}", "short")
    was = texts("staff-was", fastening=texts(f"fastening-{fastening}.short")) if known else ""
    text = {True: "staff-fitted-yes", False: "staff-fitted-no", None: "staff-fitted-untried"}[fitted]
    return f"{was or texts('staff-was-unknown')} {texts(text)}"


def _closing_words(work: Work, closed: Closed) -> str:
    return work.texts("staff-case-closed", name=closed.by, what=_outcome_words(work, closed.fastening, closed.fitted))


# --- answering its person -----------------------------------------------------------------------------------------


def _say(work: Work, stored: "StoredCase", rest: str) -> Attended:
    replies = {fold(row.id): row for row in work.guide.shop.replies}
    row = replies.get(fold(rest))
    if row is None:
        names = apart(work.texts, [each.id for each in work.guide.shop.replies])
        text = work.texts("staff-canned-unknown", name=rest, names=names) if names else work.texts("staff-canned-none")
        return answer(text)
    case = unfolded(stored).case
    text = row.in_language(case.language, work.guide.shop.language)
    told = to_person(work, stored, case, text)
    if not told:
        return answer(work.texts("staff-unreachable", code=stored.code))
    work.did("said", stored.id, id=row.id, text=text)
    return replace(answer(work.texts("staff-said", code=stored.code, text=text)), to_others=told)


def to_person(work: Work, stored: "StoredCase", case: Case, text: str) -> tuple[ToOthers, ...]:
    """What somebody of the staff says to whose case it is, wherever they are reached, with the question that is open;
    nothing where they are reached nowhere."""
    texts = work.guide.language(case.language).texts
    stands = look(work.guide, case, work.now)
    words = texts("staff-from-person", name=work.member.name, shop=work.guide.shop.name, text=text)
    reply = told(words, stands.status, question=stands.question)
    return tuple(ToOthers(lookup_hash, case, reply) for lookup_hash in reached(work.tx, stored.id))


@dataclass(frozen=True, slots=True)
class Casework:
    """A command about a case, and whether it writes something down."""

    do: "Callable[[Work, StoredCase, str], Attended]"
    writes: bool = True


CASEWORK: dict[str, Casework] = {
    "case": Casework(_show, writes=False),
    "history": Casework(_history, writes=False),
    "photos": Casework(_photos, writes=False),
    "claim": Casework(_claim),
    "release": Casework(_release),
    "snooze": Casework(_snooze),
    "close": Casework(_close),
    "say": Casework(_say),
}
