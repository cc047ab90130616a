"""What one message does to a case: the events that come to it, and the reply. Nothing is written here.

Rules of this file, for every channel alike:
- a press counts if its message shows the case as it stands. Any other press changes nothing, and gets the open question
  once more;
- a corrected message is taken as if it had been right at once, for the questions that it had answered;
- what is no text is answered in one sentence, and its caption like a text;
- a person without a case gets one: what they said counts at once, and all else is greeted;
- a case has `MOST_EVENTS` at most: somebody who writes to a full one gets another, and is told so.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from functools import reduce
from typing import TYPE_CHECKING

from triagebot.cases.loaded import LoadedCase
from triagebot.conversation import (
    Case,
    Event,
    Fact,
    Guide,
    Message,
    Reply,
    Turn,
    follow,
    greet,
    look,
    open_case,
    turn,
)
from triagebot.conversation.blocks import Offers, Picture, Question, Remark
from triagebot.conversation.events import Asked, Spoke, Withdrew
from triagebot.conversation.events import Remarked as Noted
from triagebot.conversation.outcome import afterwards
from triagebot.conversation.reply import told
from triagebot.conversation.wording import listing, said
from triagebot.identify import Reading
from triagebot.messages.message import Arrived, Chose, Commanded, Content, Edited, Pressed, Said, Sent, turn_number
from triagebot.turns.in_hand import Outcome, Taken, Turns

if TYPE_CHECKING:
    from triagebot.store import Transaction

#: A case with so many events goes no further, and the next message begins another one (a judgement: some fifty times a
#: long conversation, and still folded in a tenth of a second).
MOST_EVENTS = 2_000
#: What is said to something that is no text and no photo, by what it is.
_ANSWERED: Mapping[str, str] = {"undecryptable": "sent-undecryptable"}


@dataclass(frozen=True, slots=True)
class Plan:
    """What a message is going to do to a case: the events that come to it, and what is said."""

    case: Case
    reply: Reply
    events: tuple[Event, ...]
    understood: tuple[Fact, ...] = ()
    outcome: Outcome = "applied"
    new: bool = False


def plan(
    guide: Guide,
    fresh: Callable[[], str],
    before: LoadedCase | None,
    content: Content | Message,
    language: str,
    now: datetime,
) -> Plan:
    """What a message does. `fresh` makes the code of a new case, which speaks this `language` unless the message asks
    for another."""
    if before is not None and len(before.case.events) >= MOST_EVENTS:
        full = before.case
        begun = plan(guide, fresh, None, content, full.language, now)
        texts = guide.language(begun.case.language).texts
        return replace(begun, reply=begun.reply.first(Remark(texts("case-full", code=full.code), "case-full")))
    if isinstance(content, Arrived):
        arrived, first = _arrived(guide, fresh, before, content, language, now), _brought_in_vain(before, content)
        texts = guide.language(arrived.case.language).texts
        told = (Remark(texts(first), first),) if first else ()
        return replace(arrived, reply=arrived.reply.before_question(*told))
    if before is None:
        return _first(guide, fresh, content, language, now)
    return _next(guide, before, content, now)


def _arrived(
    guide: Guide, fresh: Callable[[], str], before: LoadedCase | None, content: Arrived, language: str, now: datetime
) -> Plan:
    """Somebody comes in."""
    if before is not None and not content.new:
        if before.case.handed:
            return Plan(before.case, where_it_stands(guide, before.case, now), ())
        if before.case.now.outcome in (None, "stopped"):
            return _made(turn(guide, before.case, Message(choice="resume"), now))
    if before is not None and content.code == before.case.code:
        return Plan(before.case, where_it_stands(guide, before.case, now), ())
    return _welcome(guide, fresh, language, now)


def _brought_in_vain(before: LoadedCase | None, content: Arrived) -> str:
    """What is said of a code that somebody brought, where it opens nothing."""
    if content.code and (before is None or before.case.code != content.code):
        return "move-asked"
    return "code-unknown" if content.secret else ""


def where_it_stands(guide: Guide, case: Case, now: datetime, first: str = "") -> Reply:
    """Where a case stands, after a `first` sentence; what it ended with is not told at length again."""
    reply, texts = look(guide, case, now), guide.language(case.language).texts
    if case.now.outcome not in (None, "stopped") and not case.handed:
        reply = replace(reply, blocks=(afterwards(texts, case), *reply.of(Question, Offers)))
    if first == "stale-press":  # it stands right above, with its picture
        bare = (replace(each, picture=None) if isinstance(each, Question) else each for each in reply.blocks)
        reply = replace(reply, blocks=tuple(bare))
    return reply.without(Picture).first(*((Remark(texts(first), first),) if first else ()))


def after(guide: Guide, case: Case, events: tuple[Event, ...], now: datetime, first: str) -> Plan:
    """These events, and where the case stands then, after a `first` sentence."""
    case = reduce(follow, events, case)
    return Plan(case, where_it_stands(guide, case, now, first), events)


def as_stored(press: Pressed) -> str:
    """A press as it is kept with what came of it."""
    return f"{press.turn}:{press.choice}"


def pressed_again(before: LoadedCase, press: Pressed) -> bool:
    """Whether this press was taken already. One that changes nothing, as "how do I check?", may be meant again once
    something else has been said."""
    if press.case != before.case.code or as_stored(press) not in before.presses:
        return False
    return press.turn != turn_number(before.case) or before.last_press == as_stored(press)


def answered(turns: Turns, taken: Taken) -> str:
    """What a message was understood to say to the question that was shown, for the message that showed it."""
    told = [fact.reading for fact in taken.understood if fact.reading.question == taken.shown]
    if taken.case is None or not told:
        return ""
    texts = turns.guide.language(taken.case.language).texts
    return listing(texts, [said(turns.guide, texts, reading) for reading in told])


def set_aside(turns: Turns, tx: "Transaction", lookup_hash: str, language: str) -> tuple[Case | None, Reply]:
    """What is said when a message was set aside: that, and the open question if it can still be found."""
    try:
        held = turns.memory.current(tx, lookup_hash)
        if held is not None:
            return held.case, where_it_stands(turns.guide, held.case, turns.clock(), "set-aside")
    except Exception:  # whatever kept the message from being taken may keep its case from being read
        held = None
    return None, told(turns.guide.language(language).texts("set-aside"), "person", about="set-aside")


def _first(
    guide: Guide, fresh: Callable[[], str], content: Content | Message, language: str, now: datetime
) -> Plan:  # fmt: skip
    """A person without a case: what they said counts at once; whatever else it was, they are greeted."""
    if isinstance(content, Message) and content.language:
        language = content.language
    if isinstance(content, Sent):  # the question that is shown with the thanks must have been put
        welcome = _welcome(guide, fresh, language, now)
        made = _next(guide, LoadedCase(0, welcome.case), content, now)
        return replace(made, events=made.case.events, new=True, reply=made.reply.first(*welcome.reply.said))
    if isinstance(content, Message | Said | Edited | Commanded):
        begun = LoadedCase(0, open_case(guide, fresh(), language, now))
        made = _next(guide, begun, content, now)
        return replace(made, events=made.case.events, new=True)
    spoken = content.language if isinstance(content, Chose) else language
    welcome = _welcome(guide, fresh, spoken, now)
    return replace(welcome, outcome="stale" if isinstance(content, Pressed) else "applied")


def _welcome(guide: Guide, fresh: Callable[[], str], language: str, now: datetime) -> Plan:
    greeted = greet(guide, open_case(guide, fresh(), language, now), now)
    return Plan(greeted.case, greeted.reply, greeted.case.events, new=True)


def _next(guide: Guide, before: LoadedCase, content: Content | Message, now: datetime) -> Plan:
    case = before.case
    match content:
        case Message():
            return _made(turn(guide, case, content, now))
        case Said(text):
            return _made(turn(guide, case, Message(text), now))
        case Commanded(command):
            return _made(turn(guide, case, Message(choice=command), now))
        case Pressed() if content.case == case.code and content.turn == turn_number(case):
            return _made(turn(guide, case, Message(choice=content.choice), now))
        case Pressed():
            return Plan(case, where_it_stands(guide, case, now, "stale-press"), (), outcome="stale")
        case Edited(text) if not text.strip():
            return _take_back(guide, case, before.messages.get(content.of, ()), now)
        case Edited(text) if case.handed:
            return _made(turn(guide, case, Message(text), now))
        case Edited(text):
            return _correct(guide, case, before.messages.get(content.of, ()), text, now)
        case Sent() if content.album in before.albums:
            return _made(turn(guide, case, Message(content.note), now))
        case Sent():
            return _sent(guide, case, content, now)
        case Chose(language):
            known = language in guide.spoken and language != case.language
            return after(guide, case, (Spoke(now, language),) if known else (), now, "")
        case _:
            raise AssertionError(f"no turn is taken on {content!r}")


def _correct(guide: Guide, case: Case, questions: Sequence[str], text: str, now: datetime) -> Plan:
    """The answers of the message are withdrawn and its first question is open again when the new text is read."""
    in_force = {fact.reading.question for fact in case.now.facts}
    states = {state.question: state.id for state in guide.topic.flow.states if state.question}
    wrong = [question for question in questions if question in in_force and question in states]
    events: list[Event] = [Withdrew(now, question) for question in wrong]
    events += [Asked(now, question, states[question]) for question in wrong[:1]]
    made = _made(turn(guide, reduce(follow, events, case), Message(text), now))
    if wrong and _told(made.case, wrong) == _told(case, wrong):  # only its spelling was mended
        return Plan(case, Reply((), "question"), (), outcome="double")
    return replace(made, events=(*events, *made.events))


def _take_back(guide: Guide, case: Case, questions: Sequence[str], now: datetime) -> Plan:
    """The answers of a message that is gone are withdrawn, and the first of its questions is open again."""
    told, states = _told(case, questions), {state.question: state.id for state in guide.topic.flow.states}
    if case.handed or not told:
        return Plan(case, Reply((), "question"), (), outcome="double")
    texts = guide.language(case.language).texts
    first = next(iter(told))
    events: tuple[Event, ...] = (*(Withdrew(now, each) for each in told), Asked(now, first, states[first]))
    gone = texts("back-done", clauses=listing(texts, [said(guide, texts, each) for each in told.values()]))
    made = after(guide, case, events, now, "")
    return replace(made, reply=made.reply.first(Remark(gone, "back-done")))


def _told(case: Case, questions: Sequence[str]) -> dict[str, Reading]:
    """What is in force of these questions."""
    return {fact.reading.question: fact.reading for fact in case.now.facts if fact.reading.question in questions}


def _sent(guide: Guide, case: Case, content: Sent, now: datetime) -> Plan:
    """A photo is kept for the person who will look; all else only gets a word. Somebody who has a person already is
    told nothing but what cannot be passed on."""
    remarked = Noted(now, content.what)
    first = "sent-photo" if content.what == "photo" and content.files else _ANSWERED.get(content.what, "sent-other")
    if case.handed:
        first = "" if content.what == "photo" else _ANSWERED.get(content.what, "handover-cannot-pass")
    said = (Remark(guide.language(case.language).texts(first), first),) if first else ()
    if not content.note.strip():
        if case.handed:
            return Plan(follow(case, remarked), Reply(said, "person"), (remarked,))
        return after(guide, case, (remarked,), now, first)
    made = _made(turn(guide, follow(case, remarked), Message(content.note), now))
    if content.what == "photo" and _says_nothing(made):  # "here it is", "my wheel": the picture is what is said
        return after(guide, case, (remarked,), now, first)
    return replace(made, events=(remarked, *made.events), reply=made.reply.first(*said))


def _says_nothing(made: Plan) -> bool:
    """Whether nothing came of a caption."""
    noted = {event.what for event in made.events if isinstance(event, Noted)}
    return not made.understood and bool(noted & {"not-understood", "greeting"})


def _made(taken: Turn) -> Plan:
    return Plan(taken.case, taken.reply, taken.events, taken.understood)
