"""Helping a rider who is elsewhere: a case is opened for them, they may join it, and each of the two is told what the
other does.

Rules of this room:
- anybody may help: a person who says so opens a case and gives it a name; several at once are told apart by it;
- a mentor invites the rider with a code that works once and for a while (`participant`); the rider is told who sees
  what, and takes part with their own yes and not before, within `ASKED_FOR`;
- as long as the rider is reached, questions go to the rider and the mentor hears about every turn; else the mentor gets
  each question to send on;
- what was asked of one of the two (to be forgotten, say) the other does not answer;
- a person who leaves takes no part any more; with the rider who wants to be forgotten their case goes, with the mentor
  only those in which no rider takes part. The other one is told.
"""

from dataclasses import replace
from datetime import datetime, timedelta
from typing import TYPE_CHECKING

from triagebot.cases.change_channel import ToOthers
from triagebot.cases.loaded import LoadedCase, unfolded
from triagebot.conversation import Case, Guide, Message, Reply
from triagebot.conversation.blocks import Remark
from triagebot.conversation.events import Concluded, Remarked
from triagebot.conversation.mentoring import MENTOR, RIDER, copy, instead_of, is_news, to_mentor, to_rider
from triagebot.errors import StoreError
from triagebot.helping.participant import Participant
from triagebot.helping.riders import case_of, consent, left_alone, listed, opened
from triagebot.helping.seats import (
    At,
    Here,
    Made,
    Seat,
    Spoken,
    answer,
    called,
    is_at,
    pressed_elsewhere,
    reached_of,
    seat_of,
)
from triagebot.helping.words import mentor_words, opens, text_of
from triagebot.messages.codes import JOIN_CODE, named_code, secret_among
from triagebot.messages.message import Commanded, Content, Pressed
from triagebot.shop import fold

if TYPE_CHECKING:
    from triagebot.store import Transaction
    from triagebot.store.parties import Party

#: For how long a person who brought a code may say yes.
ASKED_FOR = timedelta(days=1)


def attend(here: Here, held: LoadedCase | None, content: Content | Message) -> At | Spoken:
    """What is about helping is answered; all else is told where it belongs."""
    words, text = mentor_words(here.language), text_of(content)
    if (code := secret_among(text, JOIN_CODE)) is not None:
        return _brought(here, held, code)
    if (by_code := _by_code(here, named_code(text, here.language))) is not None:
        return by_code
    if (name := opens(words, content, text)) is not None:
        return opened(here, name)
    if isinstance(content, Pressed) and (held is None or content.case != held.case.code):
        held = pressed_elsewhere(here.tx, here.lookup_hash, content) or held
    seat = seat_of(here.tx, held, here.lookup_hash)
    if held is None or seat is None:
        asked = words.commands.get(fold(text)) == "cases"
        told = _back_to_helping(here) if asked else None
        return At(held, None, content) if told is None else told
    participant = Participant(here, held, seat, words)
    match seat.party.role:
        case "invited":
            return participant.asked(content, text)
        case "mentor":
            return participant.helped(content, text)
        case _:
            return participant.joined(content, text)


def share(
    guide: Guide, tx: "Transaction", seat: Seat, made: Made, reply: Reply, content: Content | Message
) -> tuple[Reply, tuple[ToOthers, ...]]:
    """What somebody is answered in a case that was opened for somebody else, and what the other one is told."""
    case, news = made.case, is_news(made.events)
    texts = guide.language(case.language).texts
    if any(isinstance(event, Remarked) and event.what == "help" for event in made.events):
        more = texts("mentor-help" if seat.by == MENTOR else "mentor-consent-help")
        reply = reply.before_question(Remark(more, "mentor-help"))
    ended = any(isinstance(event, Concluded) and event.outcome != "stopped" for event in made.events)
    if seat.by == MENTOR:
        riders = reached_of(tx, seat.party.case)
        reached_riders = [party for party in seat.of("person") if party.person in riders]
        for_them = instead_of(guide, made.before, case, made.understood, to_rider(guide, case, reply), MENTOR, to=RIDER)
        told = [ToOthers(rider.person, case, for_them) for rider in reached_riders if news]
        name, joined = called(texts, seat.party), bool(reached_riders)
        own = to_mentor(guide, case, name, reply, joined=joined, ended=ended, news=news)
        own = instead_of(guide, made.before, case, made.understood, own, MENTOR, to=MENTOR)
        first = "mentor-switched" if seat.moved else "mentor-wheel"
        if seat.moved or joined or own.question is None:  # else the question names it
            own = own.first(Remark(texts(first, name=name), first))
        return own, tuple(told)
    if not news:
        return reply, ()
    reply = instead_of(guide, made.before, case, made.understood, reply, RIDER, to=RIDER)
    for mentor in seat.of("mentor"):
        if not is_at(tx, mentor):
            _heard(tx, mentor, case.touched)
    wrote = _wrote(guide, made.before, content)
    copies = [
        ToOthers(
            mentor.person,
            case,
            copy(guide, case, called(texts, mentor), wrote, reply, ended=ended),
            aside=not is_at(tx, mentor),
        )
        for mentor in seat.of("mentor")
    ]
    return reply, tuple(copies)


def forgetting(guide: Guide, tx: "Transaction", lookup_hash: str, now: datetime) -> tuple[ToOthers, ...]:
    """What others are told when somebody is forgotten, gathered before anything is deleted. A case that cannot be read
    keeps nobody from being forgotten."""
    from triagebot.store.parties import Parties  # late: it needs the database library

    told: list[ToOthers] = []
    for party in Parties(tx).parts(lookup_hash):
        seat = Seat(party, tuple(each for each in Parties(tx).all_of(party.case) if each.person != lookup_hash))
        if not seat.shared or party.role == "invited":
            continue
        case = _readable(tx, party.case)
        language = case.language if case is not None else guide.shop.language
        texts = guide.language(language).texts
        if seat.by == RIDER:
            gone = [(mentor.person, texts("mentor-forgot", name=called(texts, mentor))) for mentor in seat.of("mentor")]
            told += [ToOthers(who, None, answer(words), language=language) for who, words in gone]
        elif case is not None and not seat.of("mentor"):
            told += [
                ToOthers(rider.person, case, left_alone(guide, case, now, "mentor-from-mentor-left"))
                for rider in seat.of("person")
            ]
    return tuple(told)


def _brought(here: Here, held: LoadedCase | None, code: str) -> Spoken:
    """Somebody brings a code: they are asked whether they want to join."""
    from triagebot.store.grants import Grants  # late: it needs the database library
    from triagebot.store.parties import Party

    grants, parties = Grants(here.tx), here.parties
    at = held.case if held is not None else None
    grant = grants.find("invite", code, here.now)
    if grant is None or grant.case_id is None:
        return Spoken(at, answer(here.texts()("mentor-code-over")))
    stored = here.tx.case(grant.case_id)
    assert stored is not None, "a grant goes with its case"
    own = parties.of(stored.id, here.lookup_hash)
    if own is not None and own.role != "invited":
        text = "mentor-code-own" if own.role == "mentor" else "mentor-code-joined"
        return Spoken(at, answer(here.texts()(text)))
    grants.take("invite", code, here.now)
    parties.join(Party(stored.id, stored.code, here.lookup_hash, "invited", until=here.now + ASKED_FOR))
    case = unfolded(stored).case
    return Spoken(case, consent(here.guide, case), stored.id)


def _by_code(here: Here, code: str | None) -> Spoken | None:
    """A case that somebody helps with, or did until they put it away, by its code."""
    stored = here.tx.case_by_code(code) if code is not None else None
    own = here.parties.of(stored.id, here.lookup_hash) if stored is not None else None
    if stored is None or own is None or own.role != "mentor":
        return None
    here.parties.change(replace(own, away=False))
    held = unfolded(stored)
    seat = seat_of(here.tx, held, here.lookup_hash)
    assert seat is not None, "a mentor takes part"
    return Participant(here, held, seat, mentor_words(here.language)).at(seat.party)


def _back_to_helping(here: Here) -> Spoken | None:
    """A person who is at a case of their own asks for those whom they help: the names of these count from now on. None
    for a person who helps nobody."""
    for party in here.parties.helped(here.lookup_hash)[:1]:
        here.tx.join(party.case, here.lookup_hash, "mentor")
        case = case_of(here.tx, party).case
        return Spoken(case, answer(listed(here, case.language) or ""), party.case)
    return None


def _heard(tx: "Transaction", mentor: "Party", at: datetime) -> None:
    """A mentor is told something while they are at another case."""
    from triagebot.store.parties import Parties  # late: it needs the database library

    Parties(tx).change(replace(mentor, heard=at))


def _readable(tx: "Transaction", number: int) -> Case | None:
    try:
        stored = tx.case(number)
        return unfolded(stored).case if stored is not None else None
    except StoreError:
        return None


def _wrote(guide: Guide, before: Case, content: Content | Message) -> str:
    """What somebody said, or what stands on the button that they pressed."""
    choice = content.choice if isinstance(content, Pressed | Message) else None
    if isinstance(content, Commanded):
        return content.command
    if choice is None:
        return str(getattr(content, "text", "") or getattr(content, "note", ""))
    texts = guide.language(before.language).texts
    name = f"choice-{before.now.question}-{choice}"
    if texts.has(name):
        return texts(name)
    return texts(f"aside-{choice}") if texts.has(f"aside-{choice}") else choice
