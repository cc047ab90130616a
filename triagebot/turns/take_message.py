"""Takes one message of one person through its steps, inside a transaction that somebody else commits.

Rules of this file, for every channel alike:
- `STEPS` are taken in their order; a step gives on what it was given with what it adds, or ends the message;
- all that can fail on what somebody said is done before anything is written;
- a message changes the case that is current when its turn comes (`plan` says how);
- the same press twice changes nothing and says nothing; so does a further part of an album;
- a turn that reaches an outcome gives a link to the case's card, if people can reach the pages;
- a turn that ends with a person opens the case's ticket, and hands the case over where there are staff; while a person
  has it, what comes in answers and corrects nothing, and gets no reply as a rule.
"""

import logging
from collections.abc import Callable
from dataclasses import replace
from functools import reduce
from typing import TYPE_CHECKING, Any

from triagebot.cases import change_channel
from triagebot.cases.change_channel import ToOthers
from triagebot.cases.loaded import LoadedCase, continued, rows_of, unfolded
from triagebot.conversation import Message, Result, answers_plainly, follow
from triagebot.conversation.blocks import CardLink, Remark
from triagebot.conversation.case import ASKED
from triagebot.conversation.events import Concluded, Handed, Remarked
from triagebot.conversation.housekeeping import EXPORT
from triagebot.conversation.mentoring import labelled
from triagebot.conversation.reply import plain, told
from triagebot.conversation.visiting import ASKS, CALENDAR, CANCELLED
from triagebot.helping import mentoring
from triagebot.helping.seats import Here, Made, Spoken
from triagebot.helping.words import asks_about_helping
from triagebot.messages.codes import named_code
from triagebot.messages.message import Arrived, Beside, Content, Pressed, Said, Sent
from triagebot.store import StoreConflict
from triagebot.turns.in_hand import InHand, Taken, Turns
from triagebot.turns.newcomers import ask_whose_wheel_it_is
from triagebot.turns.plan import after, as_stored, plan, pressed_again, where_it_stands

if TYPE_CHECKING:
    from triagebot.store import Transaction

log = logging.getLogger(__name__)

#: How often another code is tried when one is in use already.
_CODES = 5


def take(
    turns: Turns, tx: "Transaction", lookup_hash: str, person: str, content: Content | Message, language: str,
    key: str | None, beside: Beside | None = None,
) -> Taken:  # fmt: skip
    """One message, one turn. `lookup_hash` is that of `person`; `key` is kept with the events, to find them again.

    A `Message` is that of a person who has just been shown the open question, and whose choice belongs to that.

    Raises StoreError when the case cannot be read, StoreConflict when it was continued elsewhere meanwhile.
    """
    at = InHand(
        turns=turns, tx=tx, lookup_hash=lookup_hash, person=person, content=content, language=language, key=key,
        beside=beside,
    )  # fmt: skip
    for step in STEPS:
        given = step(at)
        if isinstance(given, Taken):
            return _remembered(at, given)
        at = given
    said = at.reply if at.reply.blocks else None
    return _remembered(at, Taken(at.outcome, at.case, said, at.understood, at.number, at.to_others, at.staff, at.shown))


# --- before the turn ----------------------------------------------------------------------------------------------


def find_case(at: InHand) -> InHand:
    """The case that is current, or the one that a person goes back to by its code."""
    chosen = _chosen(at, at.content.code) if isinstance(at.content, Arrived) else None
    before = chosen or at.turns.memory.current(at.tx, at.lookup_hash)
    said = at.content.text if isinstance(at.content, Said) else ""
    return replace(at, before=before, plain=before is not None and answers_plainly(at.turns.guide, before.case, said))


def leave_a_program_alone(at: InHand) -> InHand | Taken:
    """The bot's own words count for nothing when they come back. After a few, or a flood, it says that it stops."""
    words, turns = at.words, at.turns
    typed = isinstance(at.content, Said)
    verdict = turns.loops.judged(at.lookup_hash, words, turns.clock(), typed=typed, place=at.place) if words else ""
    case = at.before.case if at.before is not None else None
    if not verdict or (verdict == "echo" and case is None):
        return at
    if verdict == "echo" and case is not None:
        return Taken("unheard", case, where_it_stands(turns.guide, case, turns.clock()))
    if verdict == "silent":
        return Taken("unheard", case, None)
    log.warning("%s: nothing more is said for a while to what seems to be a program", at.lookup_hash[:8])
    texts = turns.guide.language(at.language if case is None else case.language).texts
    return Taken("unheard", case, told(texts("loop-stopped"), "stopped", about="loop-stopped"))


def attend_to_helping(at: InHand) -> InHand | Taken:
    """What is about helping somebody elsewhere is answered; all else goes to the case that it belongs to."""
    mine = at.before is not None and not at.before.case.for_a_rider
    spoken = at.content.bare if isinstance(at.content, Said) else at.content
    elsewhere = isinstance(at.content, Pressed) and (at.before is None or at.content.case != at.before.case.code)
    if (mine or at.before is None) and not elsewhere and (at.plain or not asks_about_helping(spoken, at.language)):
        return at
    turns = at.turns
    here = Here(
        turns.guide, turns.clock(), turns.fresh, turns.links, at.tx, at.lookup_hash, at.person, at.language
    )  # fmt: skip
    made = mentoring.attend(here, at.before, spoken if asks_about_helping(spoken, at.language) else at.content)
    if isinstance(made, Spoken):
        return Taken("applied", made.case, made.reply, number=made.number, to_others=made.to_others)
    return replace(at, before=made.held, content=made.content, seat=made.seat)


def answer_the_code_of_another_case(at: InHand) -> InHand | Taken:
    """A case that the person takes part in is gone on with; that of others is asked for."""
    code = at.content.code or None if isinstance(at.content, Arrived) else None
    if isinstance(at.content, Said) and not at.plain:
        code = named_code(at.content.text, at.language)
    if code is None or (at.before is not None and at.before.case.code == code):
        return at
    now, guide = at.turns.clock(), at.turns.guide
    if (chosen := _chosen(at, code)) is not None:
        return Taken("applied", chosen.case, where_it_stands(guide, chosen.case, now), number=chosen.number)
    channel = at.person.partition(":")[0]
    asks = not at.turns.guesses.wait(at.lookup_hash)
    asked = change_channel.ask(at.tx, guide, code, at.lookup_hash, channel, now) if asks else ()
    if isinstance(at.content, Arrived):
        return replace(at, to_others=asked)
    if at.before is not None:
        reply = where_it_stands(guide, at.before.case, now, "move-asked")
        return Taken("applied", at.before.case, reply, number=at.before.number, to_others=asked)
    words = told(guide.language(at.language).texts("move-asked"), about="move-asked")
    return Taken("applied", None, words, to_others=asked)


def pass_over_repeats(at: InHand) -> InHand | Taken:
    """The same press twice, and a further part of an album that says nothing."""
    content, before = at.content, at.before
    if before is not None and isinstance(content, Pressed) and pressed_again(before, content):
        return Taken("double", before.case, None)
    if before is not None and isinstance(content, Sent) and content.album in before.albums and not content.note.strip():
        return Taken("added", before.case, None, number=before.number)
    return at


# --- the turn -----------------------------------------------------------------------------------------------------


def plan_the_turn(at: InHand) -> InHand:
    """What the message does to the case, with the tools that hang in the shop now and are kept for nobody else; in a
    case that was opened for somebody else, with who said it."""
    from triagebot.counter.lending import at_home  # late: both need the database library
    from triagebot.store.loans import Loans

    turns = at.turns
    away = Loans(at.tx).away(turns.clock(), at.before.number if at.before is not None else 0)
    guide = at_home(turns.guide, away) if away else turns.guide
    made = plan(guide, turns.fresh, at.before, at.content, at.language, turns.clock())
    at = replace(
        at, case=made.case, reply=made.reply, events=made.events, understood=made.understood, outcome=made.outcome,
        new=made.new,
    )  # fmt: skip
    if at.seat is None or at.new:
        return at
    events = labelled(at.events, at.seat.by)
    past = at.case.events[: len(at.case.events) - len(events)]
    return replace(at, events=events, case=replace(at.case, events=(*past, *events)))


def refuse_more_photos(at: InHand) -> InHand:
    """Of a case that has all the photos it may have, no further one is said to be kept."""
    content, before = at.content, at.before
    if before is None or at.new or not (isinstance(content, Sent) and content.what == "photo" and content.files):
        return at
    from triagebot.store import photos  # late: it needs the database library

    if photos.Photos(at.tx).count(before.number) < photos.MOST_OF_A_CASE:
        return at
    name = "sent-photo-too-many"
    refused = Remark(at.turns.guide.language(at.case.language).texts(name, count=photos.MOST_OF_A_CASE), name)
    kept = tuple(b for b in at.reply.blocks if not (isinstance(b, Remark) and b.about == "sent-photo"))
    return replace(at, reply=replace(at.reply, blocks=(refused, *kept)))


def forget_the_person(at: InHand) -> InHand | Taken:
    """Deletes everything where the turn says so; what is given back is the last that there was."""
    if not at.remarked("erase"):
        return at
    from triagebot.store.forgetting import own_cases, take_back_messages  # late: they need the database library

    tx, hand_over = at.tx, at.turns.hand_over
    others_told = mentoring.forgetting(at.turns.guide, tx, at.lookup_hash, at.turns.clock())
    own = own_cases(tx, at.lookup_hash)
    others = take_back_messages(tx, at.lookup_hash, own)
    room = hand_over.forgotten(tx, own) if hand_over is not None else ()
    tx.forget(at.person)
    for each in (at.lookup_hash, *others):
        at.turns.memory.drop(tx, each)
    at.turns.loops.forget(at.lookup_hash)
    reply = replace(at.reply, status="stopped", result=Result(), candidates=())
    return Taken("forgotten", at.case, reply, to_others=(*others_told, *room))


def refuse_a_late_yes(at: InHand) -> InHand:
    """A yes to somebody who does not wait for it any more lets nobody in."""
    before, now = at.before, at.turns.clock()
    if before is None or not at.remarked("moved") or change_channel.waiting(at.tx, before.number, now):
        return at
    made = after(at.turns.guide, before.case, change_channel.too_late(at.events), now, "move-over")
    return replace(at, case=made.case, reply=made.reply, events=made.events, understood=made.understood)


def hand_over(at: InHand) -> InHand:
    """A person of the shop has the case from now on, where the turn ends with one and there are staff."""
    if (hand_over := at.turns.hand_over) is None or not _ends_with_a_person(at):
        return at
    more = hand_over.hands_over(at.tx, at.lookup_hash, at.case)
    return replace(at, case=reduce(follow, more, at.case), events=(*at.events, *more)) if more else at


def write_events(at: InHand) -> InHand:
    """The events are in the store, and the case is remembered. A new case whose code is in use is begun again."""
    tx, beside = at.tx, _beside(at)
    if at.new:
        at = _opened(at)
        held = LoadedCase(at.number, at.case)
        tx.append(at.number, 0, rows_of(at.events, beside))
    else:
        assert at.before is not None, "a turn without a case begins one"
        held = at.before
        at = replace(at, number=held.number)
        tx.append(at.number, len(held.case.events), rows_of(at.events, beside))
    at.turns.memory.keep(tx, at.lookup_hash, continued(held, at.case, at.events, beside))
    return at


# --- what others see of it ----------------------------------------------------------------------------------------


def ask_the_staff(at: InHand) -> InHand:
    """What the turn asks the staff for is taken down, if there is a place, and told to them; what only the store knows
    is told to those who ask for it."""
    if at.remarked(ASKED, CALENDAR, EXPORT):
        from triagebot.turns.told_beside import told_beside  # late: it needs the database library

        at = told_beside(at)
    asked = [each for each in at.events if isinstance(each, Remarked) and each.what in (*ASKS.values(), CANCELLED)]
    if not asked:
        return at
    from triagebot.counter.requests import put  # the same

    last, turns = asked[-1], at.turns
    reply, told = put(at.tx, turns.guide, at.number, at.case, last, at.reply, at.lookup_hash, turns.clock())
    return replace(at, reply=reply, to_others=(*at.to_others, *told))


def offer_the_card(at: InHand) -> InHand:
    """A link to the case's card, where an outcome has just been reached and people can reach the pages."""
    reached, address = at.case.now.outcome, at.turns.guide.address
    if address is None or reached in (None, "stopped", at.before.case.now.outcome if at.before is not None else None):
        return at
    from triagebot.cases.cards import LASTS, card_link  # late: it needs the database library

    url = card_link(at.tx, at.number, address, at.turns.clock())
    line = at.turns.guide.language(at.case.language).texts("card-offer", url=url, days=LASTS.days)
    return replace(at, reply=at.reply.before_question(CardLink(line, url)))


def share_with_mentor_and_rider(at: InHand) -> InHand:
    """In a case that was opened for somebody else, each of the two is told what the other does, but for what is kept of
    one of them."""
    if at.seat is None or at.before is None or at.new or at.remarked(EXPORT):
        return at
    made = Made(at.before.case, at.case, at.events, at.understood)
    reply, told = mentoring.share(at.turns.guide, at.tx, at.seat, made, at.reply, at.content)
    return replace(at, reply=reply, to_others=(*at.to_others, *told))


def let_in_who_waits(at: InHand) -> InHand:
    """A yes lets in the people who wait to go on with the case on another channel."""
    if not at.remarked("moved", "stayed"):
        return at
    now = at.turns.clock()
    here = change_channel.let_in(at.tx, at.number, at.events, now)
    told = tuple(ToOthers(each, at.case, where_it_stands(at.turns.guide, at.case, now, "moved-here")) for each in here)
    return replace(at, to_others=(*at.to_others, *told)) if told else at


def open_the_ticket(at: InHand) -> InHand:
    """The case's ticket is opened where a person must look, whatever the reason, unless a member tries it out; and
    woken where it sleeps, which the member is told who has it."""
    if not at.events:
        return at
    from triagebot.cases.tickets import told_awake, tries_it_out  # late: they need the database library
    from triagebot.store.staff import Staff, Tickets

    tickets = Tickets(at.tx)
    if _ends_with_a_person(at) and not tries_it_out(Staff(at.tx).member(at.lookup_hash)):
        tickets.open(at.number, at.case.now.reason or "doubt", at.turns.clock())
    if not tickets.wake(at.number):
        return at
    ticket = tickets.of(at.number)
    return replace(at, staff=told_awake(at.tx, at.turns.guide, ticket, at.case.code, "staff-awake-wrote"))


def tell_the_staff(at: InHand) -> InHand:
    """Tells the staff about the turn, in their room or in private, and the person about the hand-over; without a room
    also that their words have been passed on."""
    hand_over = at.turns.hand_over
    had = at.before is not None and at.before.case.handed and not at.new
    handed = any(isinstance(event, Handed) for event in at.events)
    if hand_over is None or not (hand_over.rooms or had or handed or at.case.handed):
        return at
    reply = hand_over.telling(at.case, at.reply) if handed else at.reply
    if had and at.case.handed and not reply.blocks and not hand_over.rooms:
        assert at.before is not None, "a person had it before"
        passed_on = hand_over.members.acknowledged(at.tx, at.number, at.before.case)
        reply = told(passed_on, "person", about="handover-passed-on") if passed_on else reply
    others = hand_over.after(at.tx, at.number, at.lookup_hash, had, at.case, at.events, at.content)
    return replace(at, reply=reply, to_others=(*at.to_others, *others))


#: One message, from top to bottom.
STEPS: tuple[Callable[[InHand], InHand | Taken], ...] = (
    find_case,
    leave_a_program_alone,
    ask_whose_wheel_it_is,
    attend_to_helping,
    answer_the_code_of_another_case,
    pass_over_repeats,
    plan_the_turn,
    refuse_more_photos,
    forget_the_person,
    refuse_a_late_yes,
    hand_over,
    write_events,
    ask_the_staff,
    offer_the_card,
    share_with_mentor_and_rider,
    let_in_who_waits,
    open_the_ticket,
    tell_the_staff,
)


# --- beside the steps ---------------------------------------------------------------------------------------------


def _remembered(at: InHand, taken: Taken) -> Taken:
    """What is said, to notice it when it comes back."""
    heard = bool(at.words) or isinstance(at.content, Arrived)
    if taken.reply is not None and heard and taken.outcome != "forgotten":
        said = plain(taken.reply)
        at.tx.after_commit.append(lambda: at.turns.loops.said(at.lookup_hash, said, at.place))
    return taken


def _ends_with_a_person(at: InHand) -> bool:
    return any(isinstance(event, Concluded) and event.outcome == "person" for event in at.events)


def _chosen(at: InHand, code: str) -> LoadedCase | None:
    """The case that somebody goes back to by its code, if they take part in it."""
    stored = at.tx.case_by_code(code) if code else None
    if stored is None or at.lookup_hash not in at.tx.parties(stored.id):
        return None
    at.tx.join(stored.id, at.lookup_hash, "person")
    return unfolded(stored)


def _opened(at: InHand) -> InHand:
    """The new case has a number in the store."""
    for attempt in range(_CODES):
        try:
            return replace(at, number=at.tx.open_case(at.person, at.case.code, at.case.topic, at.case.opened))
        except StoreConflict:
            if attempt == _CODES - 1:
                raise
            at = hand_over(plan_the_turn(at))  # the same with another code
    raise AssertionError("unreachable")


def _beside(at: InHand) -> dict[str, Any]:
    """What is kept with the events of a message."""
    beside: dict[str, Any] = {} if at.key is None else {"message": at.key}
    if isinstance(at.content, Pressed):
        beside["press"] = as_stored(at.content)
    if isinstance(at.content, Sent) and at.content.album:
        beside["album"] = at.content.album
    return beside
