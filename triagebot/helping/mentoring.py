"""Helping a rider who is elsewhere: a case is opened for them, they may join it, and each of the two is told what the
other does.

Decided here and nowhere else:
- anybody may help: who says so opens a case and gives it a name; several at once are told apart by it;
- who helps invites the rider with a code that works once and for a while (`helping`); the rider is told who sees what,
  and takes part with their own yes and not before, within `ASKED_FOR`;
- as long as the rider is reached, questions go to the rider and the helper is told of every turn; else the helper gets
  each question to send on;
- what was asked of one of the two (to be forgotten, say) the other does not answer;
- whoever leaves takes no part any more; with the rider who wants to be forgotten their case goes, with the helper only
  those that no rider takes part in. The other one is told.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import TYPE_CHECKING

from triagebot.cases.change_channel import Elsewhere, code_said
from triagebot.cases.loaded import LoadedCase, rows_of, unfolded
from triagebot.conversation import (
    Case,
    Choice,
    Guide,
    Message,
    Reply,
    follow,
    look,
    open_case,
    turn,
)
from triagebot.conversation.case import Concluded, Remarked
from triagebot.conversation.mentoring import (
    MENTOR,
    RIDER,
    copy,
    from_helper,
    helping,
    is_news,
    to_mentor,
)
from triagebot.conversation.reply import Offers, Question, Remark, told
from triagebot.errors import StoreError
from triagebot.helping.participant import DECLINE, JOIN, Bench
from triagebot.helping.seats import (
    At,
    Made,
    Seat,
    Spoken,
    answer,
    called,
    is_at,
    pressed_elsewhere,
    reached_of,
    seat_of,
    text_of,
)
from triagebot.helping.words import MentorWords, cleaned, free, mentor_words, opens, read_code
from triagebot.messages.incoming import Commanded, Content, Pressed
from triagebot.shop import fold
from triagebot.store import StoreConflict
from triagebot.topics import Texts

if TYPE_CHECKING:
    from triagebot.store import Transaction
    from triagebot.store.parties import Party

#: For how long whoever brought a code may say yes.
ASKED_FOR = timedelta(days=1)
#: How often another case code is tried when one is in use already.
_CODES = 5


#: The addresses that lead in with a code, for somebody who is reached by the channel of that name the best one first.
Links = Callable[[str, str], Sequence[str]]


def no_links(code: str, channel: str) -> Sequence[str]:
    """Where no address leads in."""
    return ()


@dataclass(frozen=True, eq=False)
class Mentoring:
    """`clock` gives aware times; `fresh` makes case codes."""

    guide: Guide
    clock: Callable[[], datetime]
    fresh: Callable[[], str]
    links: Links

    def attend(
        self,
        tx: "Transaction",
        mark: str,
        person: str,
        held: LoadedCase | None,
        content: Content | Message,
        language: str,
    ) -> At | Spoken:
        """Whatever is about helping is answered; all else is told where it belongs."""
        words, text = mentor_words(language), text_of(content)
        if (code := read_code(text)) is not None:
            return self._brought(tx, mark, held, code, language)
        if (named := self._by_code(tx, mark, person, words, code_said(text))) is not None:
            return named
        if (name := opens(words, content, text)) is not None:
            return self._open(tx, mark, person, name, language)
        if isinstance(content, Pressed) and (held is None or content.case != held.case.code):
            held = pressed_elsewhere(tx, mark, content) or held
        seat = seat_of(tx, held, mark)
        if held is None or seat is None:
            listed = words.commands.get(fold(text)) == "cases"
            told = self._back_to_helping(tx, mark, person, words) if listed else None
            return At(held, None, content) if told is None else told
        bench = Bench(self, tx, held, seat, words, person)
        match seat.party.role:
            case "invited":
                return bench.asked(content, text)
            case "mentor":
                return bench.helped(content, text)
            case _:
                return bench.joined(content, text)

    def share(
        self,
        tx: "Transaction",
        seat: Seat,
        made: Made,
        reply: Reply,
        content: Content | Message,
    ) -> tuple[Reply, tuple[Elsewhere, ...]]:
        """What somebody is answered in a case that was opened for somebody else, and what the other one is told."""
        case, guide, news = made.case, self.guide, is_news(made.events)
        if any(isinstance(event, Remarked) and event.what == "help" for event in made.events):
            more = self.texts(case.language)("mentor-help" if seat.by == MENTOR else "mentor-consent-help")
            reply = reply.before_question(Remark(more))
        ended = any(isinstance(event, Concluded) and event.outcome != "stopped" for event in made.events)
        if seat.by == MENTOR:
            riders = reached_of(tx, seat.party.case)
            reached_riders = [party for party in seat.of("person") if party.person in riders]
            told = [Elsewhere(rider.person, case, from_helper(guide, case, reply)) for rider in reached_riders if news]
            name, joined = called(self.texts(case.language), seat.party), bool(reached_riders)
            own = to_mentor(guide, case, name, reply, joined=joined, ended=ended, news=news)
            return own, tuple(told)
        if not news:
            return reply, ()
        texts, wrote = self.texts(case.language), _wrote(guide, made.before, content)
        copies = [
            Elsewhere(
                mentor.person,
                case,
                copy(guide, case, called(texts, mentor), wrote, reply, ended=ended),
                aside=not is_at(tx, mentor),
            )
            for mentor in seat.of("mentor")
        ]
        return reply, tuple(copies)

    def forgetting(self, tx: "Transaction", mark: str) -> tuple[Elsewhere, ...]:
        """What others are told when somebody is forgotten, gathered before anything is deleted. A case that cannot be
        read keeps nobody from being forgotten."""
        from triagebot.store.parties import Parties  # late, as above

        told: list[Elsewhere] = []
        for party in Parties(tx).parts(mark):
            seat = Seat(party, tuple(each for each in Parties(tx).all_of(party.case) if each.person != mark))
            if not seat.shared or party.role == "invited":
                continue
            case = _readable(tx, party.case)
            language = case.language if case is not None else self.guide.shop.language
            texts = self.texts(language)
            if seat.by == RIDER:
                gone = [
                    (mentor.person, texts("mentor-forgot", name=called(texts, mentor))) for mentor in seat.of("mentor")
                ]
                told += [Elsewhere(who, None, answer(words), language=language) for who, words in gone]
            elif case is not None and not seat.of("mentor"):
                told += [Elsewhere(rider.person, case, self._left_alone(case)) for rider in seat.of("person")]
        return tuple(told)

    def _left_alone(self, case: Case) -> Reply:
        texts, reply = self.texts(case.language), look(self.guide, case, self.clock())
        ended = case.now.outcome not in (None, "stopped")
        stands = () if ended else reply.said
        left = Remark(texts("mentor-from-helper-left"), "mentor-from-helper-left")
        return replace(reply, blocks=(left, *stands, *reply.of(Question, Offers)))

    # --- opening and joining ----------------------------------------------------------------------------------------

    def _open(self, tx: "Transaction", mark: str, person: str, name: str, language: str) -> Spoken:
        from triagebot.store.parties import Parties, Party  # late, as above

        now = self.clock()
        for attempt in range(_CODES):
            begun = open_case(self.guide, self.fresh(), language, now)
            case = follow(begun, helping(begun))
            try:
                number = tx.open_case(person, case.code, case.topic, case.opened, "mentor")
                break
            except StoreConflict:
                if attempt == _CODES - 1:
                    raise
        tx.append(number, 0, rows_of(case.events, {}))
        party = Party(number, case.code, mark, "mentor")
        held = LoadedCase(number, case)
        if name:
            return self.named(tx, held, party, name)
        Parties(tx).change(party)
        return Spoken(case, answer(self.texts(language)("mentor-name-it")), number)

    def named(self, tx: "Transaction", held: LoadedCase, party: "Party", name: str) -> Spoken:
        """The case gets its name, and the first question is put."""
        from triagebot.store.parties import Parties  # late, as above

        texts = self.texts(held.case.language)
        named = replace(party, name=free(cleaned(name), Parties(tx).helped(party.person), party.case))
        Parties(tx).change(named)
        taken = turn(self.guide, held.case, Message(choice="resume"), self.clock())
        tx.append(held.number, len(held.case.events), rows_of(taken.events, {}))
        reply = to_mentor(self.guide, taken.case, named.name, taken.reply, joined=False, ended=False)
        opened = Remark(texts("mentor-opened", name=named.name), "mentor-opened")
        return Spoken(taken.case, reply.first(opened), held.number)

    def _brought(self, tx: "Transaction", mark: str, held: LoadedCase | None, code: str, language: str) -> Spoken:
        """Somebody brings a code: they are asked whether they want to join."""
        from triagebot.store.grants import Grants  # late, as above
        from triagebot.store.parties import Parties, Party

        grants, parties, now = Grants(tx), Parties(tx), self.clock()
        grant = grants.find("invite", code, now)
        here = held.case if held is not None else None
        if grant is None or grant.case_id is None:
            return Spoken(here, answer(self.texts(language)("mentor-code-over")))
        stored = tx.case(grant.case_id)
        assert stored is not None, "a grant goes with its case"
        own = parties.of(stored.id, mark)
        if own is not None and own.role != "invited":
            text = "mentor-code-own" if own.role == "mentor" else "mentor-code-joined"
            return Spoken(here, answer(self.texts(language)(text)))
        grants.take("invite", code, now)
        parties.join(Party(stored.id, stored.code, mark, "invited", until=now + ASKED_FOR))
        case = unfolded(stored).case
        return Spoken(case, self.consent(case), stored.id)

    def consent(self, case: Case) -> Reply:
        """Who sees what, and whether that is all right."""
        texts = self.texts(case.language)
        offers = (Choice(JOIN, texts("mentor-consent-yes")), Choice(DECLINE, texts("mentor-consent-no")))
        words = texts("mentor-consent", shop=self.guide.shop.name)
        return told(words, offers=offers)

    def _by_code(
        self, tx: "Transaction", mark: str, person: str, words: MentorWords, code: str | None
    ) -> Spoken | None:
        """A case that somebody helps with, or did until they put it away, by its code."""
        from triagebot.store.parties import Parties  # late, as above

        stored = tx.case_by_code(code) if code is not None else None
        own = Parties(tx).of(stored.id, mark) if stored is not None else None
        if stored is None or own is None or own.role != "mentor":
            return None
        Parties(tx).change(replace(own, away=False))
        held = unfolded(stored)
        seat = seat_of(tx, held, mark)
        assert seat is not None, "whoever helps takes part"
        return Bench(self, tx, held, seat, words, person).at(seat.party)

    # --- several cases ----------------------------------------------------------------------------------------------

    def _back_to_helping(self, tx: "Transaction", mark: str, person: str, words: MentorWords) -> Spoken | None:
        """Somebody who is at a case of their own asks for those whom they help: the names of these count from now on.
        None for whoever helps nobody."""
        from triagebot.store.parties import Parties  # late, as above

        for party in Parties(tx).helped(mark)[:1]:
            tx.join(party.case, mark, "mentor")
            stored = tx.case(party.case)
            assert stored is not None, "a party goes with its case"
            case = unfolded(stored).case
            return Spoken(case, answer(self.cases(tx, mark, case.language) or ""), party.case)
        return None

    def cases(self, tx: "Transaction", mark: str, language: str) -> str | None:
        """The cases that somebody helps with, a line each; None for whoever never helped."""
        from triagebot.store.parties import Parties  # late, as above

        helped, texts = Parties(tx).helped(mark), self.texts(language)
        if not helped:
            return None
        rows = []
        for party in helped:
            stored = tx.case(party.case)
            assert stored is not None, "a party goes with its case"
            stands = self._stands(texts, unfolded(stored).case)
            rows.append(texts("mentor-cases-row", name=called(texts, party), code=party.code, stands=stands))
        return "\n".join([texts("mentor-cases-head"), *rows, texts("mentor-cases-foot")])

    def _stands(self, texts: Texts, case: Case) -> str:
        if case.now.outcome is not None:
            return texts(f"mentor-stands-{case.now.outcome}")
        if case.now.question is None:
            return texts("mentor-stands-begun")
        return texts("mentor-stands-asked", question=texts(f"question-{case.now.question}.name"))

    def texts(self, language: str) -> Texts:
        return self.guide.language(language).texts


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
