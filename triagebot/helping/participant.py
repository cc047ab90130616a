"""One message of one who takes part in a case that was opened for somebody else: mentor, rider, or asked to join.

Rules of this file:
- a person who brought a code is asked until they say yes or no, and for `mentoring.ASKED_FOR` at most;
- a case has no name at first, and what its mentor writes next is its name;
- a mentor goes on with another case by its name alone, and says something there with the name and a colon before it
  (`which_wheel` says what is asked about); a command may name a case, before it or behind it;
- what was asked of one of the two is not answered by what the other one says.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import timedelta
from functools import partial
from typing import TYPE_CHECKING

from babel.dates import format_datetime

from triagebot.cases.change_channel import ToOthers
from triagebot.cases.loaded import LoadedCase, rows_of, unfolded
from triagebot.conversation import Case, Message, Reply, follow, look
from triagebot.conversation.blocks import Block, Forward, Offers, Question, Remark
from triagebot.conversation.events import Asked, Remarked
from triagebot.conversation.mentoring import MENTOR, asked_of, last_number, summary, to_mentor
from triagebot.conversation.outcome import afterwards
from triagebot.conversation.reply import told
from triagebot.conversation.wording import habits
from triagebot.helping.riders import DECLINE, JOIN, case_of, consent, left_alone, listed, named, renamed
from triagebot.helping.seats import (
    At,
    Here,
    Seat,
    Spoken,
    answer,
    called,
    choice_of,
    is_at,
    reached_of,
    seat_of,
)
from triagebot.helping.which_wheel import ask, may_be_for, meant, quiet_now, says_something
from triagebot.helping.words import ALIKE, LONGEST_NAME, MentorWords, cleaned, command_of, without
from triagebot.messages.codes import JOIN_CODE, fresh_secret, grouped
from triagebot.messages.message import Arrived, Commanded, Content, Said
from triagebot.shop import fold
from triagebot.topics import Texts

if TYPE_CHECKING:
    from triagebot.store.parties import Party

#: For how long a code works.
INVITED_FOR = timedelta(days=2)


@dataclass(frozen=True, eq=False)
class Participant:
    """One message of one who takes part in a case that was opened for somebody else."""

    here: Here
    held: LoadedCase
    seat: Seat
    words: MentorWords

    @property
    def texts(self) -> Texts:
        return self.here.texts(self.held.case.language)

    # --- who was asked whether to join ------------------------------------------------------------------------------

    def asked(self, content: Content | Message, text: str) -> At | Spoken:
        parties, party, case = self.here.parties, self.seat.party, self.held.case
        if party.until is not None and party.until <= self.here.now:
            parties.leave(party)
            return self._again(content)
        choice = choice_of(content, case)
        if choice == JOIN or self.words.agrees(text):
            parties.change(replace(party, role="person", until=None))
            event = Remarked(self.here.now, "joined")
            self.here.tx.append(self.held.number, len(case.events), rows_of((event,), {}))
            case = follow(case, event)
            return self._came(case)
        if (
            choice == DECLINE
            or self.words.declines(text)
            or (isinstance(content, Commanded) and content.command != "help")
        ):
            parties.leave(party)
            return self._went("mentor-consent-refused", "mentor-refused")
        reply = told(self.texts("mentor-consent-again"), offers=consent(self.here.guide, case).offers)
        return Spoken(case, reply, self.held.number)

    def _again(self, content: Content | Message) -> At | Spoken:
        """They are where they were before they were asked."""
        lookup_hash, before = self.seat.party.person, self.here.tx.current_version(self.seat.party.person)
        stored = self.here.tx.case(before[0]) if before is not None else None
        held = unfolded(stored) if stored is not None else None
        return At(held, seat_of(self.here.tx, held, lookup_hash), content)

    def _came(self, case: Case) -> Spoken:
        """The rider joined: they are asked from here, and the mentor is told."""
        reply = look(self.here.guide, case, self.here.now)
        reply = reply.first(Remark(self.texts("mentor-consent-given"), "mentor-consent-given"))
        return Spoken(case, reply, self.held.number, self._to_mentors("mentor-joined", case))

    def _went(self, own: str, others: str) -> Spoken:
        """The rider takes no part: they and the mentor are told in these words."""
        told = self._to_mentors(others, self.held.case)
        return Spoken(None, answer(self.texts(own)), self.held.number, told)

    def _to_mentors(self, text: str, case: Case) -> tuple[ToOthers, ...]:
        others = []
        for mentor in self.seat.of("mentor"):
            name, aside = called(self.texts, mentor), not is_at(self.here.tx, mentor)
            first = Remark(self.texts(text, name=name), text)
            goes_on = text == "mentor-left" and not aside
            reply = self._to_go_on(case, name).first(first) if goes_on else told(first.text, about=text)
            others.append(ToOthers(mentor.person, case, reply, aside=aside))
        return tuple(others)

    def _to_go_on(self, case: Case, name: str) -> Reply:
        """What the mentor goes on with, alone again."""
        reply = look(self.here.guide, case, self.here.now)
        reply = reply if case.now.outcome in (None, "stopped") else replace(reply, blocks=reply.of(Question, Offers))
        return to_mentor(self.here.guide, case, name, reply, joined=False, ended=False)

    # --- the rider --------------------------------------------------------------------------------------------------

    def joined(self, content: Content | Message, text: str) -> At | Spoken:
        if choice_of(content, self.held.case) in (JOIN, DECLINE):
            return self._where(self.texts("mentor-code-joined"))
        if self.words.commands.get(fold(text)) == "summary":
            reply = look(self.here.guide, self.held.case, self.here.now)
            blocks = (*summary(self.here.guide, self.held.case), *reply.of(Question, Offers))
            return Spoken(self.held.case, replace(reply, blocks=blocks), self.held.number)
        if fold(text) in self.words.leave:
            self.here.parties.leave(self.seat.party)
            return self._went("mentor-consent-left", "mentor-left")
        return self._apart(content)

    def _where(self, first: str) -> Spoken:
        """Where the case stands, in words for the person who asks."""
        case, name = self.held.case, called(self.texts, self.seat.party)
        reply = look(self.here.guide, case, self.here.now)
        ended = case.now.outcome not in (None, "stopped")
        stands = (afterwards(self.texts, case),) if ended else reply.said
        reply = replace(reply, blocks=(*stands, *reply.of(Question, Offers)))
        if self.seat.by == MENTOR:
            joined = bool(
                reached_of(self.here.tx, self.held.number) & {party.person for party in self.seat.of("person")}
            )
            reply = to_mentor(self.here.guide, case, name, reply, joined=joined, ended=False)
        return Spoken(case, reply.first(Remark(first)), self.held.number)

    def _apart(self, content: Content | Message) -> At:
        """What the other one was asked is not answered with this message."""
        case, seat = self.held.case, self.seat
        if not seat.shared or asked_of(case) in ("", seat.by):
            return At(self.held, seat, content)
        event = Remarked(self.here.now, "meanwhile")
        self.here.tx.append(self.held.number, len(case.events), rows_of((event,), {}))
        return At(replace(self.held, case=follow(case, event)), seat, content)

    # --- the mentor -------------------------------------------------------------------------------------------------

    def helped(self, content: Content | Message, text: str) -> At | Spoken:
        if self.seat.party.pending and (resolved := self._resolved(content, text)) is not None:
            return resolved
        ordered = self._ordered(text)
        if self.seat.party.away:
            return ordered if ordered is not None and self._elsewhere_too(text) else At(None, None, content)
        if not self.seat.party.name:
            return self._nameless(content, text) if ordered is None or not self._elsewhere_too(text) else ordered
        if ordered is not None:
            return ordered
        return self._answered(content, text)

    def _answered(self, content: Content | Message, text: str) -> At | Spoken:
        """What is said about a wheel: this one, or another one that is named or asked about."""
        here, party = self.here, self.seat.party
        named = self._to_another(text) if text else None
        if named is None and text and isinstance(content, Said | Message):
            other = may_be_for(here, party, text, self.words)
            there = case_of(here.tx, other).case if other is not None else None
            if other is not None and there and says_something(here.guide, text, here.now, self.held.case, there):
                named = ask(here, self.held, party, other, text)
        quiet_now(here, party.person)
        return named or self._corrected(text) or self._apart(content)

    def _corrected(self, text: str) -> At | None:
        """ "no it is 20": the number that was said last is another one."""
        number, question = self.words.corrected(text), last_number(self.held.case)
        state = next((each.id for each in self.here.guide.topic.flow.states if each.question == question), None)
        if not number or not question or state is None:
            return None
        event = Asked(self.here.now, question, state)
        self.here.tx.append(self.held.number, len(self.held.case.events), rows_of((event,), {}))
        held = replace(self.held, case=follow(self.held.case, event))
        return replace(self, held=held)._apart(Said(number))

    def _resolved(self, content: Content | Message, text: str) -> At | Spoken | None:
        """What comes of the answer to which wheel was meant; None for what does not answer that."""
        party = self.seat.party
        parties = {each.case: each for each in self.here.parties.helped(party.person)}
        other, said = parties.get(party.pending_for), Said(party.pending)
        party = replace(party, pending="", pending_for=0)
        self.here.parties.change(party)
        which = meant(choice_of(content, self.held.case), text, party, other, self.words) if other else None
        if which is None:
            return None
        quiet_now(self.here, party.person)
        if which.case == party.case:
            return replace(self, seat=replace(self.seat, party=party))._apart(said)
        return self._moved(which)._apart(said)

    def _elsewhere_too(self, text: str) -> bool:
        """Whether a message is about the other cases, whatever this one is like."""
        command, _ = command_of(self.words, text)
        return command in ("cases", "switch")

    def _nameless(self, content: Content | Message, text: str) -> At | Spoken:
        if isinstance(content, Arrived) and (content.new or content.code):
            return self._apart(content)
        if fold(text) in self.words.not_meant or (isinstance(content, Commanded) and content.command == "stop"):
            self.here.parties.drop(self.held.number)
            return Spoken(None, answer(self.texts("mentor-not-meant")))
        if not cleaned(text):
            return Spoken(self.held.case, answer(self.texts("mentor-name-it")), self.held.number)
        return named(self.here, self.held, self.seat.party, text)

    def _ordered(self, text: str) -> Spoken | None:
        """What comes of a command; None where the words only look like one."""
        command, rest = command_of(self.words, text)
        if command == "rename" and (other := self._renames(rest)) is not None:
            return other
        if command is None or (rest and command in _ALONE):
            return self._about_another(command, rest) or self._name_first(text)
        return _ORDERS[command](self, rest)

    def _about_another(self, command: str | None, rest: str) -> Spoken | None:
        """ "summary blue": what is ordered of a case by its name, whichever they are at."""
        found = self._called_so(rest, loosely=True) if command in _ALONE[1:] else []
        return _ORDERS[str(command)](self._beside(found[0]), "") if len(found) == 1 else None

    def _name_first(self, text: str) -> Spoken | None:
        """ "blue summary": the same with the name before it."""
        said = text.split()
        for place in range(1, len(said)):
            command = self.words.commands.get(fold(" ".join(said[place:])))
            if command in _ALONE[1:]:
                return self._about_another(command, " ".join(said[:place]))
        return None

    def _renames(self, rest: str) -> Spoken | None:
        """ "rename blue to red": a case by its name; None where nothing is called so."""
        head, to, name = rest.partition(" to ")
        found = self._called_so(head, loosely=True) if to else []
        return self._beside(found[0])._rename(name) if len(found) == 1 else None

    def _beside(self, party: "Party") -> "Participant":
        """The same at another case, without going there."""
        held = case_of(self.here.tx, party)
        seat = seat_of(self.here.tx, held, party.person)
        assert seat is not None, "a mentor takes part"
        return replace(self, held=held, seat=seat)

    def _cases(self, rest: str) -> Spoken:
        rows = listed(self.here, self.held.case.language) or self.texts("mentor-cases-none")
        return Spoken(self.held.case, answer(rows), self.held.number)

    def _switch(self, rest: str) -> Spoken | None:
        if not rest:
            return None
        found = self._called_so(rest, loosely=True)
        if len(found) == 1:
            return self.at(found[0])
        names = self.texts("list-between").join(f"“{called(self.texts, party)}”" for party in found)
        if not found:
            return None
        return Spoken(self.held.case, answer(self.texts("mentor-which", names=names)), self.held.number)

    def _invite(self, rest: str) -> Spoken:
        from triagebot.store.grants import Grants  # late, as above

        texts, now, case, guide = self.texts, self.here.now, self.held.case, self.here.guide
        Grants(self.here.tx).end_all("invite", self.held.number, now)
        until = now + INVITED_FOR
        fresh = partial(fresh_secret, JOIN_CODE)
        code = grouped(Grants(self.here.tx).issue("invite", self.held.number, {}, now, until, fresh))
        links = self.here.links(code, self.here.person.partition(":")[0])
        at = format_datetime(until.astimezone(guide.shop.zone), "EEEE HH:mm", locale=habits(texts))
        invitation = texts(
            "mentor-forward-invite", shop=guide.shop.name, link=links[0] if links else "none", code=code, until=at
        )
        reply = answer(texts("mentor-invited", name=called(texts, self.seat.party)))
        return Spoken(case, _sends_on(reply, Remark(invitation, "mentor-forward-invite")), self.held.number)

    def _rename(self, rest: str) -> Spoken:
        name = cleaned(rest)
        if not name:
            return Spoken(self.held.case, answer(self.texts("mentor-rename-how")), self.held.number)
        party = renamed(self.here, self.seat.party, name)
        return Spoken(self.held.case, answer(self.texts("mentor-renamed", name=party.name)), self.held.number)

    def _finish(self, rest: str) -> Spoken:
        party, case = self.seat.party, self.held.case
        at_it = is_at(self.here.tx, party)
        self.here.parties.change(replace(party, away=True))
        after, away = self.here.tx.current_version(party.person), replace(party, away=True)
        now = self.here.parties.of(after[0], party.person) if after is not None else None
        goes_on = now is not None and now.role == "mentor" and not now.away
        reply = told(self.texts("mentor-finished", name=called(self.texts, away), code=case.code))
        if now is not None and goes_on and at_it:
            switched = Remark(self.texts("mentor-switched", name=called(self.texts, now)), "mentor-switched")
            reply = replace(reply, blocks=(*reply.blocks, switched))
        return Spoken(case, _sends_on(reply, *summary(self.here.guide, case)), self.held.number, self._alone())

    def _alone(self) -> tuple[ToOthers, ...]:
        """The riders who are there are told, and may go on alone."""
        reached, case = reached_of(self.here.tx, self.held.number), self.held.case
        reply = left_alone(self.here.guide, case, self.here.now, "mentor-from-mentor-finished")
        return tuple(ToOthers(each.person, case, reply) for each in self.seat.of("person") if each.person in reached)

    def _summary(self, rest: str) -> Spoken:
        case = self.held.case
        reply = answer(self.texts("mentor-summary", name=called(self.texts, self.seat.party)))
        return Spoken(case, _sends_on(reply, *summary(self.here.guide, case)), self.held.number)

    def _to_another(self, text: str) -> At | Spoken | None:
        """Another case by its name alone, or by its name with something to say there behind a colon."""
        head, colon, tail = text.partition(":")
        found = self._called_so(head, loosely=bool(colon))
        if len(found) != 1:
            return None
        if not (colon and tail.strip()):
            return self.at(found[0])
        return self._moved(found[0])._apart(Said(tail.strip()))

    def at(self, party: "Party") -> Spoken:
        """They go on with this case, and are told where it stands."""
        other = self._moved(party)
        if not party.name:
            return Spoken(other.held.case, answer(self.texts("mentor-name-it")), party.case)
        return other._where(self.texts("mentor-switched", name=party.name))

    def _moved(self, party: "Party") -> "Participant":
        self.here.tx.join(party.case, party.person, "mentor")
        other = self._beside(party)
        return replace(other, seat=replace(other.seat, moved=party.case != self.seat.party.case))

    def _called_so(self, said: str, *, loosely: bool) -> "list[Party]":
        """The cases that are called what somebody says, or nearly: several only if they are equally so. Loosely, some
        of the words of a name will do."""
        from rapidfuzz import fuzz

        wanted = without(self.words.articles, fold(said))
        if not wanted or len(wanted) > 2 * LONGEST_NAME:
            return []
        likeness = fuzz.token_set_ratio if loosely else fuzz.ratio
        alike = [
            (likeness(wanted, without(self.words.articles, fold(party.name))), party)
            for party in self.here.parties.helped(self.seat.party.person)
            if party.name
        ]
        best = max((score for score, _ in alike), default=0.0)
        return [party for score, party in alike if score == best] if best >= ALIKE else []


def _sends_on(reply: Reply, *blocks: Block) -> Reply:
    """A reply with these blocks to be sent on."""
    return replace(reply, blocks=(*reply.blocks, Forward(blocks)))


#: Commands with nothing behind them but the name of a case, and the first not even that.
_ALONE = ("cases", "finish", "summary", "invite")

_ORDERS: dict[str, Callable[[Participant, str], Spoken | None]] = {
    "cases": Participant._cases,
    "switch": Participant._switch,
    "invite": Participant._invite,
    "rename": Participant._rename,
    "finish": Participant._finish,
    "summary": Participant._summary,
}
