"""Simulated people who speak: their words go through the whole conversation, and what it took is compared with what
they meant.

Rules of this file:
- a person answers exactly as `people.Person.answer` says; what was not taken they say again in other words, and after
  `PATIENCE` times, or when told that it cannot be, they look again;
- a question asked back is answered truthfully by what they meant;
- a reading that they did not mean is misread, but what follows from an answer and is true of their wheel is not;
- obstacles are drawn apart from each other, so that a cable at the axle may come without a motor: what is taken of one
  from an answer about something else is not judged.
"""

from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import asdict, dataclass, field
from datetime import UTC, datetime, timedelta
from itertools import count
from pathlib import Path
from tempfile import TemporaryDirectory

from triagebot.conversation import Case, Guide, Message, Reply, greet, open_case, turn
from triagebot.conversation.case import Answered, Asked, Concluded, Puzzled
from triagebot.conversation.policy import next_step
from triagebot.identify import ChoiceReading, CountReading, Reading, SizeReading, UnsureReading, belief
from triagebot.study.misread import Misreading, agrees, in_short, unasked_command
from triagebot.study.people import Person, draw_person, profile_named
from triagebot.study.simulate import End, Report, end_of, report, unable
from triagebot.study.speaking import USUAL, Manner, Saying, Speaker
from triagebot.study.wheels import Wheels
from triagebot.topics import Speech, remedy_of

#: A conversation with more messages than this is counted as unfinished.
LONGEST = 60
#: How often somebody says the same again in other words before they look again.
PATIENCE = 2
#: How near (mm) a length must be to the true one that somebody says yes to it when another unit is proposed.
NEAR = 4.0

_BEGIN = datetime(2026, 3, 2, 10, tzinfo=UTC)

#: Somebody's way to the bot: a message in (None: they arrive), the case and the reply out.
Channel = Callable[[Message | None], tuple[Case, Reply]]


@dataclass(frozen=True, slots=True)
class Talk:
    """A whole conversation: how it ended, how many messages it took, how often something was asked back."""

    end: End
    messages: int
    asked_back: int
    misread: tuple[Misreading, ...]
    case: Case


@dataclass(frozen=True, slots=True)
class SpokenReport(Report):
    """`misread`: of the messages, the share from which something was taken that was not meant. `asked_back` and
    `messages`: the mean number a person. What is asked back costs as much as a question in `mean_loss`."""

    misread: float
    asked_back: float
    messages: float


def spoken_report(talks: Sequence[Talk]) -> SpokenReport:
    """Sum up conversations. Raises ValueError when there are none."""
    if not talks:
        raise ValueError("nobody spoke")
    messages = sum(talk.messages for talk in talks)
    return SpokenReport(
        **asdict(report([talk.end for talk in talks])),
        misread=sum(len(talk.misread) for talk in talks) / max(messages, 1),
        asked_back=sum(talk.asked_back for talk in talks) / len(talks),
        messages=messages / len(talks),
    )


def speak(
    guide: Guide,
    speech: Speech,
    language: str,
    people: int,
    seed: int,
    profile: str = "household",
    shares: Mapping[str, float] | None = None,
    wheels: Wheels | None = None,
    *,
    manner: Manner = USUAL,
    delivered: bool = False,
) -> list[Talk]:
    """Let the people of `simulate` speak; `delivered`: through the delivery of JSON lines and a store that is thrown
    away. Raises UsageError on an unknown profile."""
    kind = profile_named(profile)
    with _delivered(guide, language) if delivered else _straight(guide, language) as channels:
        drawn = (draw_person(guide.topic, n, seed, kind, shares, wheels) for n in range(people))
        return [converse(Speaker(person, guide, speech, manner), next(channels)) for person in drawn]


def converse(speaker: Speaker, channel: Channel) -> Talk:
    """One person's whole conversation."""
    case, reply = channel(None)
    talker = _Talker(speaker, case, reply)
    while talker.messages < LONGEST and (saying := talker.next_saying()) is not None:
        talker.hear(saying, *channel(Message(saying.text)))
    return talker.talk()


# --- ways to the bot ------------------------------------------------------------------------------------------------


def straight(guide: Guide, language: str, code: str = "AAA-001") -> Channel:
    """Turns and nothing besides: no store, no delivery. One person's, a minute from message to message."""
    times = (_BEGIN + timedelta(minutes=n) for n in count())
    case: Case | None = None

    def say(message: Message | None) -> tuple[Case, Reply]:
        nonlocal case
        now = next(times)
        if case is None or message is None:
            done = greet(guide, open_case(guide, code, language, now), now)
        else:
            done = turn(guide, case, message, now)
        case = done.case
        return done.case, done.reply

    return say


@contextmanager
def _straight(guide: Guide, language: str) -> Iterator[Iterator[Channel]]:
    yield (straight(guide, language, f"AAA-{n:03}") for n in count(1))


@contextmanager
def _delivered(guide: Guide, language: str) -> Iterator[Iterator[Channel]]:
    """The client of JSON lines, on a store that is thrown away."""
    from triagebot.delivery import WaitingClient
    from triagebot.store import open_store

    clock = (_BEGIN + timedelta(minutes=n) for n in count())
    codes = (f"AAA-{n:03}" for n in count(1))
    with TemporaryDirectory() as scratch, open_store(Path(scratch) / "data", key_file=Path(scratch) / "key") as store:
        client = WaitingClient(guide, store, clock=lambda: next(clock), fresh=lambda: next(codes))

        def channel(person: str) -> Channel:
            def say(message: Message | None) -> tuple[Case, Reply]:
                heard = client.arrive(person, language) if message is None else client.hear(person, message, language)
                assert heard.case is not None, "the staff do not work through lines"
                return heard.case, heard.reply

            return say

        yield (channel(f"lines:p{n}") for n in count(1))


# --- somebody in conversation ---------------------------------------------------------------------------------------


@dataclass
class _Talker:
    """A person on the way through a conversation: what they answered so far, and what of it was not taken yet."""

    speaker: Speaker
    case: Case
    reply: Reply
    heard: dict[str, list[Reading]] = field(default_factory=dict)
    #: By question: what was said and not taken, and how often.
    untaken: dict[str, tuple[Reading, int]] = field(default_factory=dict)
    said: Counter[str] = field(default_factory=Counter)
    last: Saying = field(default_factory=lambda: Saying(""))
    strayed: bool = False
    messages: int = 0
    asked_back: int = 0
    misread: list[Misreading] = field(default_factory=list)

    @property
    def person(self) -> Person:
        return self.speaker.person

    def next_saying(self) -> Saying | None:
        """What the person says now; None once nothing is open any more."""
        now = self.case.now
        if now.puzzle is not None and now.puzzle.proposed is not None:
            return self._yes_or_no(now.puzzle.proposed)
        if now.question is None:
            return None
        if not self.strayed and (beside := self.speaker.beside(now.question, self.said[now.question])) is not None:
            self.strayed = True
            return beside
        self.strayed = False
        return self._answer(now.question)

    def hear(self, saying: Saying, case: Case, reply: Reply) -> None:
        """The reply to what was said."""
        events = case.events[len(self.case.events) :]
        taken = [fact.reading for event in events if isinstance(event, Answered) for fact in event.facts]
        wrong = [in_short(reading) for reading in taken if not self._is_meant(reading, saying)]
        wrong += [command for event in events if (command := unasked_command(event))]
        if wrong:
            meant = ", ".join(map(in_short, saying.means))
            self.misread.append(Misreading(self.case.now.question or "", saying.text, meant, ", ".join(wrong)))
        for reading in saying.means:
            if any(each.question == reading.question for each in taken):
                self.untaken.pop(reading.question, None)
        self.asked_back += sum(isinstance(event, Puzzled) for event in events)
        self.messages += 1
        self.last = saying
        self.case, self.reply = case, reply

    def talk(self) -> Talk:
        """The conversation as it ended."""
        return Talk(self._end(), self.messages, self.asked_back, tuple(self.misread), self.case)

    def _answer(self, question: str) -> Saying:
        topic, asks = self.speaker.guide.topic, self.case.now.asks
        ability = unable(topic, self.person, question, asks)
        if ability is not None:
            meant: Reading = ChoiceReading(ability.id, str(self.person.truth[ability.id]))
            self.heard.setdefault(ability.id, []).extend([meant] if asks.get(ability.id) else [])
            return self.speaker.unasked(meant, self._times(ability.id))
        meant = self._meant(question)
        times = self._times(question)
        second = self._second(question) if self.speaker.tells_more(question, times) else None
        saying = self.speaker.answer(meant, self.reply.question, times, second)
        if second is not None and second in saying.means:
            self.heard[second.question] = [second]
            self.untaken[second.question] = (second, 0)
        return saying

    def _times(self, question: str) -> int:
        """How often the person has spoken about a question before."""
        self.said[question] += 1
        return self.said[question] - 1

    def _meant(self, question: str) -> Reading:
        """The answer: what was not taken once more, else a new look."""
        asked = self.speaker.guide.topic.questions[question]
        reading, times = self.untaken.get(question, (None, 0))
        impossible = isinstance(reading, CountReading) and not asked.least <= reading.low <= asked.most
        if reading is None or impossible or times > PATIENCE:
            before = self.heard.setdefault(question, [])
            reading, times = self.person.answer(asked, before), 0
            before.append(reading)
        self.untaken[question] = (reading, times + 1)
        return reading

    def _second(self, question: str) -> Reading | None:
        """Another fact that this person can see and has not told."""
        topic, asks = self.speaker.guide.topic, self.case.now.asks
        known = {*self.heard, *(reading.question for reading in self.case.now.readings), question}
        others = [
            other
            for other in topic.flow.questions
            if other.purpose == "identify" and other.id in self.speaker.speech.unasked and other.id not in known
            if unable(topic, self.person, other.id, asks) is None
        ]
        if not others:
            return None
        rng = self.person.rng(f"{question}/second", self.said[question])
        reading = self.person.answer(others[int(rng.integers(len(others)))], ())
        return None if isinstance(reading, UnsureReading) else reading

    def _yes_or_no(self, proposed: Reading) -> Saying:
        yes = self._is_meant(proposed, self.last) or any(
            self._in_another_unit(proposed, each) for each in self.last.means
        )
        choice = next((each.label for each in self.reply.offers if each.id == ("yes" if yes else "no")), "")
        return Saying(choice or ("yes" if yes else "no"), (proposed,) if yes else self.last.means)

    def _in_another_unit(self, proposed: Reading, meant: Reading) -> bool:
        """Whether somebody who told centimetres or inches as millimetres sees now that this is the length."""
        if not isinstance(proposed, SizeReading) or not isinstance(meant, SizeReading):
            return False
        return meant.mm < NEAR and abs(proposed.mm - float(self.person.truth[meant.question])) <= NEAR

    def _is_meant(self, taken: Reading, saying: Saying) -> bool:
        for meant in saying.means:
            if meant.question == taken.question:
                return agrees(taken, meant)
        if not saying.means or isinstance(taken, UnsureReading):
            return False
        if self.speaker.guide.topic.questions[taken.question].purpose == "obstacle":
            return True
        own = self.heard.get(taken.question)
        return agrees(taken, own[-1]) if own else self._is_true(taken)

    def _is_true(self, taken: Reading) -> bool:
        truth = self.person.truth[taken.question]
        match taken:
            case ChoiceReading():
                return (taken.choice == truth) != taken.denied
            case CountReading():
                return taken.low <= float(truth) <= taken.high
            case SizeReading():
                return abs(taken.mm - float(truth)) <= NEAR
            case _:
                return False

    def _end(self) -> End:
        now, topic = self.case.now, self.speaker.guide.topic
        step = next_step(topic, now.readings, now.asks, now.mentioned, self.speaker.guide.barred | now.settled)
        asked = [event for event in self.case.events if isinstance(event, Asked) and (event.first or not event.still)]
        beside = sum(event.beside for event in asked)
        reached = now.outcome if now.outcome != "stopped" else None
        kind = "unfinished" if reached is None else "person"
        if reached in ("answer", "look-alike"):
            concluded = [
                event for event in self.case.events if isinstance(event, Concluded) and event.outcome == reached
            ]
            named = {remedy_of(topic.fastenings[each]) for each in concluded[-1].named}
            fits = remedy_of(self.person.fastening) in named
            kind = "wrong" if not fits else "right" if reached == "answer" else "look_alike"
        return end_of(
            topic,
            self.person,
            kind,
            belief(topic.model, now.readings),
            len(asked) - beside,
            answered=reached == "answer" and not (step.unseen or step.alike),
            follow_ups=beside,
            asked_back=self.asked_back,
        )
