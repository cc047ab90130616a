"""What the staff say, and who is staff: read anew at every message, inside the transaction that answers it.

Decided here and nowhere else:
- somebody is staff who wrote a code that counts, themselves, in private, in a message of their own that was not
  corrected afterwards; all else that looks like one is answered as any other text is;
- the staff are at the bench: what they write is a command, a tool's name or a line of what they see, and opens no case;
  while they try it out as a customer would, all but the word that ends it goes where a customer's goes;
- what concerns themselves goes there, too: being forgotten, privacy, language, and buttons of a case of their own;
- a message that was corrected or forwarded is read as any other, and does nothing that is written down.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from functools import partial
from typing import TYPE_CHECKING

from triagebot.cases.loaded import Memory
from triagebot.cases.photo_places import of_a_message
from triagebot.cases.tickets import TRYING
from triagebot.conversation import Guide
from triagebot.conversation.housekeeping import YES_NO
from triagebot.counter.answered import answered, is_chance, not_understood, tool_served
from triagebot.counter.answering import canned
from triagebot.counter.asked_back import OFFERED, ask_back, pressed, taken
from triagebot.counter.bench_enquiry import as_customers_ask
from triagebot.counter.bench_line import (
    Line,
    chosen,
    continued,
    is_shorthand,
    line_json,
    line_of,
    read_line,
    stops,
)
from triagebot.counter.bench_question import asked, in_the_notes
from triagebot.counter.bench_reply import settle, wheel_put_right
from triagebot.counter.bike_commands import away
from triagebot.counter.bike_lines import open_line
from triagebot.counter.bike_orders import also_ordered, photographed
from triagebot.counter.bike_questions import bike_meant
from triagebot.counter.brought import about_case, code_brought, pointed_at
from triagebot.counter.case_commands import CASEWORK, at_the_counter, claim_next, touched_cases
from triagebot.counter.duty import back_on_duty, off_between, off_duty
from triagebot.counter.heard import hear, without_long_runs
from triagebot.counter.help import hello, more, tried_out, welcome
from triagebot.counter.invitations import redeem
from triagebot.counter.lending import at_home
from triagebot.counter.lending_changes import corrected, undo
from triagebot.counter.lending_commands import brought_back, lent_out
from triagebot.counter.login import send_link
from triagebot.counter.meant_cases import to_whom
from triagebot.counter.meant_line import (
    a_wheel,
    asked_plainly,
    done,
    guessed,
    is_new_tool,
    means_another,
    meant,
    needs_reading,
    of_the_desk,
    speaks_of_loans,
)
from triagebot.counter.queue import queue
from triagebot.counter.request_commands import which_request
from triagebot.counter.said_of_tools import is_of_tools
from triagebot.counter.short_line import declined, short_line
from triagebot.counter.small_talk import small_talk
from triagebot.counter.today import todays
from triagebot.counter.told_tool import told_of, with_names
from triagebot.counter.tool_commands import TOOLWORK
from triagebot.counter.tool_lookup import tell_tools, told_first, tools_named, without_ending
from triagebot.counter.words import Order, staff_words
from triagebot.counter.work import Attended, Work, answer, looks_like_a_code, named_case
from triagebot.messages.message import Arrived, Chose, Commanded, Content, Edited, Incoming, Pressed, Said, Sent
from triagebot.shop import fold
from triagebot.store.loans import Loans
from triagebot.store.staff import Staff
from triagebot.topics import Texts

if TYPE_CHECKING:
    from triagebot.store import Transaction

#: What was told of a wheel is gone on with for so long.
ONE_WHEEL = timedelta(minutes=10)

#: Commands about themselves, which a member gives as anybody does.
_OWN = frozenset({"privacy", "export", "language", "forget", "erase", "keep", "move", "stay"})


@dataclass(frozen=True, eq=False)
class Counter:
    """`clock` gives aware times; `memory` is that of the delivery's cases."""

    guide: Guide
    clock: Callable[[], datetime]
    memory: Memory

    def attend(self, tx: "Transaction", lookup_hash: str, incoming: Incoming, content: Content) -> Attended | None:
        """What one of the staff is answered; None for what is no business of theirs, and for everybody else."""
        if not incoming.private:
            return None
        now, code = self.clock(), code_brought(incoming, content)
        texts = self.guide.language(incoming.language).texts
        joined = (
            redeem(tx, lookup_hash, code, now, lambda role: texts(f"staff-called-{role}")) if code is not None else None
        )
        if joined is not None:
            return answer(welcome(self.guide, texts, joined, Loans(tx).counts()))
        work = self.work(tx, lookup_hash, texts)
        if work is None:
            return None
        work = replace(work, about=about_case(tx, lookup_hash, incoming))
        if work.member.standing.get(TRYING):
            return self._tried(work, content)
        if self._their_own(tx, lookup_hash, incoming.language, content):
            return None
        return self._at_the_bench(work, content, forwarded=incoming.forwarded)

    def work(self, tx: "Transaction", lookup_hash: str, texts: Texts) -> Work | None:
        """What it takes to answer one of the staff; None for everybody else."""
        member = Staff(tx).member(lookup_hash)
        if member is None:
            return None
        Loans(tx).over(self.clock())
        guide = at_home(self.guide, Loans(tx).counts())
        return Work(tx, guide, self.guide.shop, member, texts, staff_words(texts.language), self.clock())

    # --- as a customer would ----------------------------------------------------------------------------------------

    def _tried(self, work: Work, content: Content) -> Attended | None:
        order = work.words.order(content.text) if isinstance(content, Said) else None
        if order is None or order.command != "done" or order.rest:
            return None
        Staff(work.tx).stand(work.member, {})
        return answer(work.texts("staff-tried"))

    def _their_own(self, tx: "Transaction", lookup_hash: str, language: str, content: Content) -> bool:
        """Whether it is about themselves and not about work."""
        match content:
            case Chose():
                return True
            case Commanded(command):
                return command in _OWN
            case Pressed(case):
                return bool(case)
            case Said(text):
                if self.guide.language(language).words.alone.get(fold(text)) in _OWN:
                    return True
                held = self.memory.current(tx, lookup_hash)
                return held is not None and held.case.now.confirming in YES_NO
            case _:
                return False

    # --- at the bench -----------------------------------------------------------------------------------------------

    def _at_the_bench(self, work: Work, content: Content, *, forwarded: bool) -> Attended:
        match content:
            case Said(text):
                text = without_long_runs(text)
                told = None if forwarded else answered(work, text)
                return told or told_of(work, text, self._said(work, text, only_reads=forwarded))
            case Edited(text):
                return self._said(work, text, only_reads=True)
            case Pressed(turn=turn, choice=choice):
                return self._pressed(work, turn, choice)
            case Arrived(code=code) if code:
                return at_the_counter(work, code) or answer(work.texts("staff-no-case", code=code))
            case Sent():
                return self._sent(work, content, forwarded=forwarded)
            case Commanded("help") | Arrived():
                return answer(hello(work))
            case _:
                return self._clear(work, "")

    def _sent(self, work: Work, sent: Sent, *, forwarded: bool) -> Attended:
        """A photo that answers a message about a case, or whose words go to a customer, goes to them as well."""
        photos = of_a_message(sent) if sent.what == "photo" and not forwarded else ()
        told = answered(work, sent.note, photos) if photos else None
        if told is not None:
            return told
        kept = photographed(work, sent.what, sent.note) if not forwarded else None
        work = replace(work, photos=photos)
        made = self._said(work, sent.note, only_reads=forwarded) if sent.note.strip() else None
        if made is not None and made.photos:
            return made
        return kept(made) if kept is not None else made or answer(work.texts("staff-words-only"))

    def _said(self, work: Work, text: str, *, only_reads: bool = False, settled: bool = False) -> Attended:
        """`settled`: the line is what another one came to, and means what its words say."""
        text = without_long_runs(text)
        if (made := pointed_at(work, text)) is not None:
            return made
        named = with_names(work, text)
        if isinstance(named, Attended):
            return named
        text = named
        if not only_reads:
            if (made := self._at_once(work, text, settled=settled)) is not None:
                return made
            work = self._without_offer(work)
        whole = (order := work.words.order(text)) is not None and not order.rest
        if not whole and not settled and (reply := asked_plainly(work, self._open_line(work), text)) is not None:
            return Attended(reply)
        if (
            not whole
            and not settled
            and of_the_desk(work, text)
            and (made := self._meant(work, text, only_reads=only_reads)) is not None
        ):
            return made
        text = work.words.first_mended(text)
        if (reply := asked(work, self._open_line(work), text)) is not None:
            return Attended(reply)
        order = work.words.order(text)
        if order is not None:
            ordered = self._ordered(work, order, text, only_reads=only_reads, settled=settled)
            if ordered is not None:
                return ordered
        tools = tools_named(work.guide, work.texts, work.words, text, exactly=True)
        if tools:
            return tool_served(work, tools, text)
        if not only_reads and (back := brought_back(work, text)) is not None:
            return back
        if not settled and (made := self._meant(work, text, only_reads=only_reads)) is not None:
            return made
        if (reply := in_the_notes(work, self._open_line(work), text)) is not None:
            return Attended(reply)
        if (
            is_of_tools(work.words, text)
            and not stops(self.guide, work.texts.language, text)
            and not a_wheel(work, text)
        ):
            return self._guessed(work, text, only_reads=only_reads)
        return self._line(work, text, only_reads=only_reads)

    def _at_once(self, work: Work, text: str, *, settled: bool) -> Attended | None:
        """What takes something up that was offered or done before, or speaks of a bike by its name; and small talk."""
        if (no := declined(work, text)) is not None:
            return no
        if (line := taken(work, text)) is not None:
            return self._taken(work, line)
        fresh = self._without_offer(work)
        before = self._open_line(fresh)
        made = off_between(fresh, text) or wheel_put_right(fresh, self.guide, before, text) or corrected(fresh, text)
        made = made or short_line(fresh, before, text)
        return made if made is not None or settled else bike_meant(fresh, text)

    def _meant(self, work: Work, text: str, *, only_reads: bool) -> Attended | None:
        """What a line comes to that is no command as it stands."""
        return meant(work, self._open_line(work), text, partial(self._said, work, settled=True), only_reads=only_reads)

    def _taken(self, work: Work, lines: str) -> Attended:
        """What comes of what they were offered."""
        fresh = self._without_offer(work)
        return done(lines.splitlines(), lambda line: self._said(fresh, line))

    @staticmethod
    def _without_offer(work: Work) -> Work:
        """The same, for a member who is offered nothing any more."""
        standing = {name: each for name, each in work.member.standing.items() if name != OFFERED}
        return replace(work, member=replace(work.member, standing=standing))

    def _ordered(
        self, work: Work, order: Order, text: str, *, only_reads: bool, settled: bool = False
    ) -> Attended | None:
        """What comes of a command; None where the words only look like one."""
        whole = _WHOLE.get(order.command) if not order.rest else None
        if whole is not None:
            made = answer(work.texts("staff-corrected")) if only_reads else whole(self, work, text)
            if made is not None:
                return made
        if order.rest and order.command in ("tools", "fits") and speaks_of_loans(work, text):
            return self._meant(work, text, only_reads=only_reads)
        if order.rest and order.command in ("tools", "fits"):
            return self._looked_up(work, order, text, only_reads=only_reads)
        if order.rest and not settled and self._says_more(work, order, text):
            made = self._meant(work, text, only_reads=only_reads)
            if made is not None:
                return made
        if order.rest and order.command in TOOLWORK:
            return answer(work.texts("staff-corrected")) if only_reads else TOOLWORK[order.command](work, order.rest)
        if (made := also_ordered(work, order, text, only_reads=only_reads)) is not None:
            return made
        casework = CASEWORK.get(order.command)
        if casework is None:
            return None
        if order.command == "tell" and named_case(work.tx, order.rest) is None:
            return None if only_reads else to_whom(work, order.rest)
        found = work.case_of(order.rest)
        if found is None:
            seen = read_line(self.guide, work.texts.language, text).facts if order.rest else ()
            return None if seen and not looks_like_a_code(order.rest) else answer(work.which_case(order, text))
        if only_reads and casework.writes:
            return answer(work.texts("staff-corrected"))
        return casework.do(work, *found)

    @staticmethod
    def _says_more(work: Work, order: Order, text: str) -> bool:
        """Whether a line that begins with a command may mean more than that command, or another one."""
        if order.command in TOOLWORK:
            return needs_reading(work, order, text)
        if order.command == "new-bike":
            return is_new_tool(work, hear(work, text))
        return order.command in _UNLESS_SAID_OTHERWISE and means_another(work, order, text)

    def _looked_up(self, work: Work, order: Order, text: str, *, only_reads: bool) -> Attended | None:
        guide, texts = work.guide, work.texts
        name = without_ending(work.words, told_first(work.words, order.rest).strip(" ?!."))
        tools = tools_named(guide, texts, work.words, name)
        line = continued(Line(), read_line(guide, texts.language, name))
        if order.command == "tools" and line.facts:
            return Attended(tell_tools(guide, texts, line))
        if len(tools) != 1 and (reply := as_customers_ask(work, text, surely=True, only="what-is")) is not None:
            return Attended(reply)
        if tools:
            return tool_served(work, tools, name)
        if line.facts and is_shorthand(guide, texts.language, name):
            return self._line(work, name)
        made = None if line.facts else self._meant(work, text, only_reads=only_reads)
        return made or (None if line.facts else tool_served(work, tools, name))

    def _guessed(self, work: Work, text: str, *, only_reads: bool) -> Attended:
        """What a line may mean that nothing came of; else how lines are written."""
        run = partial(self._said, work, settled=True)
        made = None if only_reads else guessed(work, self._open_line(work), text, run)
        return made or small_talk(work, text) or answer(not_understood(work))

    def _line(self, work: Work, text: str, *, only_reads: bool = False) -> Attended:
        before = self._open_line(work)
        seen = read_line(self.guide, work.texts.language, text, before.question)
        if (not seen.facts and seen.puzzle is None) or is_chance(seen, text):
            return self._guessed(work, text, only_reads=only_reads)
        return settle(work, self.guide, before, seen, text)

    def _pressed(self, work: Work, turn: int, choice: str) -> Attended:
        if (taken_line := pressed(work, choice)) is not None:
            return self._taken(work, taken_line)
        before = self._open_line(work)
        seen = chosen(self.guide, before, choice) if turn == before.number else None
        if seen is None:
            return answer(work.texts("staff-old-button"))
        return settle(work, self.guide, before, seen, choice)

    def _open_line(self, work: Work) -> Line:
        """What was told of the wheel that they are at; only its number once that is long ago."""
        standing = work.member.standing
        line = line_of(standing.get("line"))
        at = standing.get("at")
        recent = at is not None and work.now - datetime.fromisoformat(at) <= ONE_WHEEL
        return open_line(work, line if recent else Line(number=line.number))

    def _clear(self, work: Work, text: str) -> Attended:
        """Nothing more about this wheel; a bike on the stand is put away."""
        if work.on_the_stand() is not None:
            return away(work, "")
        line = self._open_line(work)
        nexts = work.words.of_the_queue.get(f"{fold(text)} one") == "claim-next"
        if nexts and not line.facts and work.tickets.waiting():
            return ask_back(work, ["claim next"])
        Staff(work.tx).stand(work.member, {"line": line_json(Line(number=line.number), work.now)})
        return answer(work.texts("staff-cleared", waiting=work.tickets.waiting()))


_WHOLE: dict[str, Callable[[Counter, Work, str], Attended | None]] = {
    "help": lambda counter, work, text: answer(hello(work)),
    "queue": lambda counter, work, text: answer(queue(work)),
    "claim": lambda counter, work, text: claim_next(work),
    "claim-next": lambda counter, work, text: claim_next(work),
    "link-me": lambda counter, work, text: send_link(work),
    "more": lambda counter, work, text: answer(more(work)),
    "off-duty": lambda counter, work, text: off_duty(work),
    "on-duty": lambda counter, work, text: back_on_duty(work),
    "canned": lambda counter, work, text: canned(work),
    "accept": lambda counter, work, text: which_request(work, "yes", text),
    "refuse": lambda counter, work, text: which_request(work, "no", text),
    "mine": lambda counter, work, text: answer(queue(work, mine=True)),
    "out": lambda counter, work, text: lent_out(work),
    "undo": lambda counter, work, text: undo(work),
    "lend": lambda counter, work, text: lent_out(work),
    "returned": lambda counter, work, text: lent_out(work),
    "today": lambda counter, work, text: todays(work),
    "touched": lambda counter, work, text: answer(touched_cases(work)),
    "try": lambda counter, work, text: tried_out(work),
    "done": Counter._clear,
    "clear": Counter._clear,
    "new-bike": Counter._clear,
}

#: Words that a case's code makes mean something else: "park CODE till they answer", "open CODE again".
_UNLESS_SAID_OTHERWISE = ("away", "case", "claim", "photos", "close", "snooze")
