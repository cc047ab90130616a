"""From the staff's room: what is said there in answer to the bot goes to whose case it is.

Rules of this file:
- only an answer counts (the channel says what is one), and only that of somebody who is staff at that moment; all else
  that is said there stays there, and nothing of it is kept; a member who says it in a case's own thread is told so,
  once in `HINTED` there;
- an answer goes out under the member's name as the shop knows it, whatever they are called on the platform;
- a member who answers a case that nobody has takes it on, and the bot keeps quiet in it from then on;
- a correction, somebody else's words and what is neither text nor photo are not passed on, and the member is told;
- so is a member who answers a case that is closed; nothing reaches its person then.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from typing import TYPE_CHECKING, Any

from triagebot.cases.change_channel import ToOthers, reached
from triagebot.cases.loaded import rows_of, unfolded
from triagebot.cases.photo_places import of_a_message, sent_by
from triagebot.conversation import Case, Event, Guide
from triagebot.conversation.case import follow
from triagebot.conversation.events import Handed
from triagebot.conversation.handing import BOT, give_back
from triagebot.conversation.scene import Scene
from triagebot.counter.answering import unreachable
from triagebot.handover.to_staff import HandOver
from triagebot.messages.message import Edited, Incoming, Said, Sent
from triagebot.shop import fold
from triagebot.store.history import took
from triagebot.store.staff import Member, Staff, Tickets, thread_hash

if TYPE_CHECKING:
    from triagebot.store import StoredCase, Transaction


@dataclass(frozen=True, slots=True)
class Answered:
    """What comes of something that was said in the room: what is told to whom, and photos of a case that are to be
    fetched from a channel."""

    to_others: tuple[ToOthers, ...] = ()
    case: int = 0
    photos: tuple[Mapping[str, Any], ...] = ()


#: Members talk among themselves in a thread, too, and are not told at every message that it stayed there.
HINTED = timedelta(minutes=30)


@dataclass(frozen=True, eq=False)
class FromTheRoom:
    """Called from the writer's thread. `clock` gives aware times; `hinted` is when a hint was given last, by case."""

    guide: Guide
    clock: Callable[[], datetime]
    hand_over: HandOver
    hinted: dict[int, datetime] = field(default_factory=dict)

    def placed(self, tx: "Transaction", incoming: Incoming) -> Incoming | None:
        """What was said in the room, in the conversation of the case that it is about; None for what stays there."""
        stored = self._case(tx, incoming)
        if stored is None or self._member(tx, incoming) is None:
            return None
        assert incoming.room is not None, "only what is said in the room is placed"
        if not incoming.room.answers and not self._hints(tx, stored.id):
            return None
        placed = replace(incoming, conversation=f"room/{stored.code}")
        if isinstance(incoming.content, Edited):
            of = tx.cipher.lookup_hash("key", incoming.channel, incoming.content.of)
            if not took(tx, incoming.channel, of, tx.lookup_hash(f"{incoming.channel}:{placed.conversation}")):
                return None  # what it corrects was not passed on
        return placed

    def attend(self, tx: "Transaction", incoming: Incoming) -> Answered:
        """What comes of an answer of a member's. Raises StoreError when the case cannot be read."""
        stored, member = self._case(tx, incoming), self._member(tx, incoming)
        if stored is None or member is None:  # left, or it was deleted, while this waited
            return Answered()
        under = incoming.address.get("reply")

        def told(text: str) -> Answered:
            return Answered((self.hand_over.letter(tx, stored.id, stored.code, text, under=under),))

        content = incoming.content
        assert incoming.room is not None, "only what is said in the room comes here"
        if not incoming.room.answers:
            self.hinted[stored.id] = self.clock()
            channel = self.hand_over.lies_on(tx, stored.code)
            return told(self.hand_over.worded(f"handover-room-hint-{channel}", "handover-room-hint"))
        if isinstance(content, Edited):
            return told("handover-edited")
        if incoming.forwarded:
            return told("handover-forwarded")
        ticket = Tickets(tx).of(stored.id)
        if ticket is None or not ticket.open:
            return told("handover-closed")
        if isinstance(content, Said) and self._gives_back(content.text):
            return self._back(tx, stored, member, under)
        text = content.text if isinstance(content, Said) else content.note if isinstance(content, Sent) else ""
        sent = content if isinstance(content, Sent) and content.what == "photo" and content.files else None
        if not text.strip() and sent is None:
            return told("handover-words-only")
        return self._pass(tx, stored, member, text.strip(), under, sent)

    # --- whose it is, and what it is about ----------------------------------------------------------------------------

    def _member(self, tx: "Transaction", incoming: Incoming) -> Member | None:
        assert incoming.room is not None
        return Staff(tx).member(tx.lookup_hash(f"{incoming.channel}:{incoming.room.who}"))

    def _case(self, tx: "Transaction", incoming: Incoming) -> "StoredCase | None":
        room = incoming.room
        assert room is not None
        ticket = Tickets(tx).in_thread(thread_hash(tx, incoming.channel, room.place)) if room.place else None
        if ticket is not None:
            return tx.case(ticket.case)
        stored = tx.case_by_code(room.code) if room.code else None
        return stored if stored is not None and Tickets(tx).of(stored.id) is not None else None

    def _hints(self, tx: "Transaction", case: int) -> bool:
        """Whether it is time to say, in the thread of a case that waits for an answer, how one is given."""
        ticket, last = Tickets(tx).of(case), self.hinted.get(case)
        return ticket is not None and ticket.open and (last is None or self.clock() - last >= HINTED)

    def _gives_back(self, text: str) -> bool:
        """Whether it is the word that gives a case back to the bot, in any language that is spoken."""
        bare = fold(text).strip(" .!")
        return any(self.guide.language(each).words.alone.get(bare) == BOT for each in self.guide.spoken)

    # --- what comes of it -----------------------------------------------------------------------------------------

    def _pass(
        self, tx: "Transaction", stored: "StoredCase", member: Member, text: str, under: object, sent: Sent | None
    ) -> Answered:  # fmt: skip
        held = unfolded(stored)
        case, now = held.case, self.clock()
        if unreachable(tx, stored.id):
            return Answered((self.hand_over.letter(tx, stored.id, case.code, "handover-unreachable", under=under),))
        Tickets(tx).claim(stored.id, member.person)
        Staff(tx).did(member, "answered", now, stored.id, text=text, photos=len(sent.files) if sent else 0)
        more: tuple[str, ...] = ()
        if not case.handed:
            case = self._append(tx, stored, case, Handed(now))
            more = (self.guide.language(case.language).texts("handover-taken"),)
        if sent is not None:  # words go with the photo
            by = {"by": member.name, "under": under}
            return Answered((), stored.id, sent_by(of_a_message(sent), by, text, takes=bool(more)))
        place, text_id = {"under": under}, "staff-from-person"
        return Answered(
            self.hand_over.to_person(
                tx, stored, case, text_id, member.name, place, more=more, takes=bool(more), text=text
            )
        )

    def _back(self, tx: "Transaction", stored: "StoredCase", member: Member, under: object) -> Answered:
        """The bot goes on, and says so to whose case it is, with the open question."""
        case, now = unfolded(stored).case, self.clock()
        if not case.handed:
            return Answered((self.hand_over.letter(tx, stored.id, case.code, "handover-not-handed", under=under),))
        scene = Scene(self.guide, case, now)
        give_back(scene, member.name)
        turn = scene.turn()
        self._append(tx, stored, case, *turn.events)
        Staff(tx).did(member, "handed-back", now, stored.id)
        told = tuple(ToOthers(lookup_hash, turn.case, turn.reply) for lookup_hash in reached(tx, stored.id))
        here = self.hand_over.letter(tx, stored.id, case.code, "handover-handed-back", under=under)
        return Answered((*told, here, *self.hand_over.named(tx, stored.id, turn.case, turn.events)))

    @staticmethod
    def _append(tx: "Transaction", stored: "StoredCase", case: Case, *events: Event) -> Case:
        tx.append(stored.id, len(case.events), rows_of(events, {}))
        for event in events:
            case = follow(case, event)
        return case
