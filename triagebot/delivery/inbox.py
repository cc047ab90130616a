"""From inbox to outbox: the jobs that take messages in, each inside a transaction of the writer's.

Rules of this file:
- a message is received once its row is committed, not before; a key that was received before changes nothing;
- while an older message of a conversation waits for another try, every later one waits behind it;
- the inbox row, the case's events and what goes out are written in the same transaction;
- what is to be sent on to somebody else is a message of its own;
- a number put under a message is a press of the choice that this message lists under it;
- the staff are answered at the counter, and everybody else by a turn; what is said in the staff's room is taken in the
  conversation of the case that it is about, or not at all (see `handover.from_staff`);
- what concerns nothing in its conversation (such a number under anything else) is as if it had not come: it gets no
  reply, and its key may come again, with another conversation;
- a message on which a turn fails `TRIES` times is set aside, with the kind and the place of the error as the reason;
  the person is told, and the messages behind it are taken.
"""

import logging
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from functools import partial
from typing import TYPE_CHECKING, Any, Literal, Protocol, runtime_checkable

from triagebot.cases.change_channel import ToOthers
from triagebot.cases.photo_places import sent_by_a_customer
from triagebot.cases.tickets import ToStaff
from triagebot.conversation import Case, Reply
from triagebot.conversation.blocks import Remark
from triagebot.counter.staff_message import Counter
from triagebot.counter.work import Attended
from triagebot.delivery.counts import Counts, short
from triagebot.delivery.photos import picture_in, without_picture
from triagebot.handover.from_staff import FromTheRoom
from triagebot.messages import Channel, Content, Edited, Incoming, Pressed, Reacted, Said, Sent
from triagebot.messages.codes import STAFF_CODE
from triagebot.messages.message import asks, body_of, forward_of, from_json, pressed_under, to_json, with_words
from triagebot.store.forgetting import forget_messages
from triagebot.store.history import shown, took
from triagebot.store.message_rows import Correspondent, Found, OutboxRow
from triagebot.store.photos import MOST_OF_A_CASE, Photos
from triagebot.store.post import Post
from triagebot.store.staff import Staff
from triagebot.turns import Outcome, Turns, answered, set_aside, take

if TYPE_CHECKING:
    from triagebot.store import Transaction

log = logging.getLogger(__name__)

TRIES = 3


@runtime_checkable
class AnswersFirst(Channel, Protocol):
    """A channel on which a message that was answered is changed once the answer is out: nobody waits for the change."""

    @property
    def answers_first(self) -> bool:
        """Whether this one is such."""


@dataclass(frozen=True, slots=True)
class Received:
    """What came of a message that was received: `waiting` for its turn, a `duplicate`, `ignored` since it concerns
    nothing of ours, or what its turn did.

    The `reply` goes out by itself; a channel that answers at once (a page) may show it.
    """

    outcome: Outcome | Literal["waiting", "duplicate", "ignored"]
    case: Case | None = None
    reply: Reply | None = None


@dataclass(frozen=True, eq=False)
class Inbox:
    """Called from the writer's thread, after the commit: `wake` with a channel and a conversation for which something
    goes out (the message itself if it is handed over), `retry` with a conversation whose oldest message is to be tried
    again, `fetch` with a channel and the number of a photo there. `hands_over` says whether the sender takes messages
    so; it is asked before."""

    turns: Turns
    clock: Callable[[], datetime]
    counts: Counts
    channels: Mapping[str, Channel]
    wake: Callable[[str, str, OutboxRow | None], None]
    retry: Callable[[str], None]
    fetch: Callable[[str, int], None]
    hands_over: "Callable[[Transaction, str], bool]"
    counter: Counter
    sleeps: Callable[[], None]
    room: FromTheRoom | None = None

    def accept(self, incoming: Incoming, tx: "Transaction") -> Received:
        """Receives a message and takes its turn, if nothing waits before it."""
        placed = self._placed(tx, incoming)
        if placed is None:
            return Received("ignored")
        incoming = placed
        post, conversation = Post(tx), tx.lookup_hash(incoming.person)
        if not _concerns(tx, conversation, incoming):
            return Received("ignored")
        found = post.found(conversation)
        if found.waits:
            return self.wait(incoming, conversation, post, tx)
        number = post.receive(incoming.channel, incoming.key_hash(tx.cipher), conversation, self.clock(), "done", None)
        if number is None:
            return self._duplicate(tx)
        self._count(tx, "received")  # before anybody is woken who may ask how many there were
        return self._handle(tx, post, found, incoming, conversation, number)

    def accept_failed(self, incoming: Incoming, reason: str, tx: "Transaction") -> Received:
        """Receives a message on which the turn has failed, so that it is tried again."""
        incoming = self._placed(tx, incoming) or incoming
        post, conversation = Post(tx), tx.lookup_hash(incoming.person)
        behind = post.waits(conversation)
        received = self.wait(incoming, conversation, post, tx)
        tries = post.tries(conversation)
        if received.outcome == "waiting" and tries is not None and not behind:
            number, _ = tries
            post.tried(number, 1, reason, aside=False)
            log.warning("inbox: message %d of %s failed, try 1: %s", number, short(conversation), reason)
            self._count(tx, "failed_turns")
            tx.after_commit.append(partial(self.retry, conversation))
        return received

    def try_oldest(self, conversation: str, tx: "Transaction") -> bool:
        """Takes the turn on the oldest message that waits; gives whether more wait behind it."""
        post = Post(tx)
        waiting = post.oldest(conversation)
        if waiting is None:
            return False
        self._handle(tx, post, post.found(conversation), from_json(waiting.body), conversation, waiting.id)
        post.done(waiting.id, waiting.attempts + 1)
        return post.waits(conversation)

    def failed_again(self, conversation: str, reason: str, tx: "Transaction") -> int:
        """Counts another failed try of the oldest message that waits; gives how many are left, 0 once it is aside."""
        post = Post(tx)
        tries = post.tries(conversation)
        if tries is None:
            return 0
        number, attempts = tries[0], tries[1] + 1
        aside = attempts >= TRIES
        log.warning(
            "inbox: message %d of %s %s, try %d: %s",
            *(number, short(conversation), "set aside" if aside else "failed", attempts, reason),
        )
        if aside:
            self._tell_aside(tx, post, conversation, number)
            self._count(tx, "set_aside")
        post.tried(number, attempts, reason, aside=aside)
        self._count(tx, "failed_turns")
        return TRIES - attempts

    # --- inside ---------------------------------------------------------------------------------------------------

    def _placed(self, tx: "Transaction", incoming: Incoming) -> Incoming | None:
        """A message in its conversation; None for what is said in the staff's room and stays there."""
        if incoming.room is None:
            return incoming
        return self.room.placed(tx, incoming) if self.room is not None else None

    def _in_the_room(self, tx: "Transaction", post: Post, room: FromTheRoom, incoming: Incoming) -> Received:
        """What one of the staff says in their room is told to whom it is for."""
        made = room.attend(tx, incoming)
        if made.photos:
            self._keep_photos(tx, made.case, incoming.channel, made.photos)
        self.tell_others(tx, post, made.to_others)
        return Received("applied")

    def wait(self, incoming: Incoming, conversation: str, post: Post, tx: "Transaction") -> Received:
        key = incoming.key_hash(tx.cipher)
        number = post.receive(incoming.channel, key, conversation, self.clock(), "waiting", to_json(incoming))
        if number is None:
            return self._duplicate(tx)
        self._count(tx, "received")
        return Received("waiting")

    def _duplicate(self, tx: "Transaction") -> Received:
        self._count(tx, "duplicates")
        return Received("duplicate")

    def _handle(
        self, tx: "Transaction", post: Post, found: Found, incoming: Incoming, conversation: str, number: int
    ) -> Received:
        """One turn, and what goes out because of it."""
        if incoming.room is not None and self.room is not None:
            return self._in_the_room(tx, post, self.room, incoming)
        content = incoming.content
        if isinstance(content, Reacted):
            pressed = pressed_under(shown(tx, conversation, content.of), content)
            if pressed is None:
                return Received("ignored")
            content = pressed
        attended, before = self._at_the_counter(tx, conversation, incoming, content), ""
        if attended is not None and attended.reply is not None:
            return self._attended(tx, post, found, incoming, conversation, attended)
        if attended is not None and attended.instead is not None:
            content, before = attended.instead, attended.before
        taken = take(
            self.turns, tx, conversation, incoming.person, content, incoming.language, incoming.key, incoming.beside
        )
        if taken.outcome == "forgotten":
            forget_messages(tx, conversation, number)
        if isinstance(content, Sent) and content.what == "photo" and taken.number:
            files = sent_by_a_customer(taken.case, content, conversation)
            self._keep_photos(tx, taken.number, incoming.channel, files)
        self.tell_staff(tx, post, taken.staff)
        if taken.reply is None:
            if taken.outcome == "double":
                self._count(tx, "doubles")
            if taken.to_others:  # while a person has the case, who writes is told nothing
                self._reached(post, found, incoming, conversation)
                self.tell_others(tx, post, taken.to_others)
            return Received(taken.outcome, taken.case)
        if taken.outcome == "stale":
            self._count(tx, "stale")
        reply = taken.reply.first(Remark(before)) if before else taken.reply
        forgotten = taken.outcome == "forgotten"
        body = body_of(None if forgotten else taken.case, reply, incoming.language)
        if forgotten:
            body["last"] = True  # where they are reached is forgotten with it
        else:
            body = with_words(body, incoming.words)
        aside = isinstance(content, Sent) and not taken.understood
        kind = "notice" if taken.outcome == "stale" or aside else "send"
        found = self._reached(post, found, incoming, conversation)
        self._put_out(
            tx, post, found, conversation, kind, body, answered(self.turns, taken), forward=forward_of(reply, body)
        )
        self.tell_others(tx, post, taken.to_others)
        return Received(taken.outcome, None if forgotten else taken.case, reply)

    def _at_the_counter(
        self, tx: "Transaction", conversation: str, incoming: Incoming, content: Content
    ) -> Attended | None:
        """What one of the staff is answered. What is too short for a code lets nobody in who is none of them."""
        short_of_a_code = isinstance(content, Pressed) or (isinstance(content, Said) and len(content.text) < STAFF_CODE)
        if short_of_a_code and Staff(tx).member(conversation) is None:
            return None
        return self.counter.attend(tx, conversation, incoming, content.bare if isinstance(content, Said) else content)

    def _attended(
        self, tx: "Transaction", post: Post, found: Found, incoming: Incoming, conversation: str, made: Attended
    ) -> Received:
        """What one of the staff is answered goes out, and what others are told because of it."""
        assert made.reply is not None
        body = {**body_of(None, made.reply, incoming.language), "turn": made.turn}
        body = with_words(body, incoming.words)
        found = self._reached(post, found, incoming, conversation)
        self._put_out(tx, post, found, conversation, "send", body, made.answered)
        self.tell_of(tx, post, made, incoming.channel)
        if made.photos_of and isinstance(incoming.content, Sent):
            self._keep_photos(tx, made.photos_of, incoming.channel, incoming.content.files)
        return Received("applied", None, made.reply)

    def tell_of(self, tx: "Transaction", post: Post, made: Attended, channel: str) -> None:
        """Tells others what one of the staff did on a channel; photos that they sent follow."""
        self.tell_others(tx, post, made.to_others)
        if made.photos:  # after the words: one that is there already is put out at once
            self._keep_photos(tx, made.wrote, channel, made.photos)
        if made.closed:
            self.tell_closed(tx, made.closed)
        if made.sleeps:
            tx.after_commit.append(self.sleeps)

    def tell_staff(self, tx: "Transaction", post: Post, staff: Iterable[ToStaff]) -> None:
        for told in staff:
            self._tell(tx, post, told.person, body_of(None, told.reply, told.language), told.reply)

    def tell_others(self, tx: "Transaction", post: Post, to_others: Iterable[ToOthers]) -> None:
        for told in to_others:
            body = {**body_of(told.case, told.reply, told.language), **told.beside}
            self._tell(tx, post, told.person, body, told.reply, aside=told.aside)

    def photo_settled(self, tx: "Transaction", photo: int, *, kept: bool | None) -> None:
        """A photo that came is there, or never will be (its sender hears why), or not just now (None)."""
        if self.room is not None:
            self.tell_others(tx, Post(tx), self.room.hand_over.photo_settled(tx, photo, kept=kept))

    def tell_closed(self, tx: "Transaction", number: int) -> None:
        """A case was closed: its place in the staff's room is told so, and is closed with it."""
        if self.turns.hand_over is not None:
            self.tell_others(tx, Post(tx), self.turns.hand_over.closed(tx, number))

    def undelivered(self, tx: "Transaction", body: Mapping[str, Any]) -> None:
        """A message with this body never went out."""
        if self.room is not None:
            self.tell_others(tx, Post(tx), self.room.hand_over.undelivered(tx, body))

    def _tell(
        self, tx: "Transaction", post: Post, conversation: str, body: Mapping[str, Any], reply: Reply, *,
        aside: bool = False,
    ) -> None:  # fmt: skip
        """Tells somebody, if they can be reached. What is told aside leaves open what is open there."""
        found = post.found(conversation)
        if found.reached is None:
            return
        if aside:
            post.put_out(found.reached, conversation, "send", body, self.clock())
            tx.after_commit.append(partial(self.wake, found.reached.channel, conversation, None))
        else:
            self._put_out(tx, post, found, conversation, "send", body, "", forward=forward_of(reply, body))

    def _keep_photos(self, tx: "Transaction", case: int, channel: str, files: Sequence[Mapping[str, Any]]) -> None:
        for place in files:
            picture = picture_in(place)
            if picture is None:
                number = Photos(tx).sent(case, channel, place, self.clock())
                tx.after_commit.append(partial(self.fetch, channel, number))
            else:
                kept = Photos(tx).handed(case, channel, picture, self.clock(), MOST_OF_A_CASE, without_picture(place))
                self._count(tx, "photos_lost" if kept is None else "photos_kept")
                if kept is not None:
                    self.photo_settled(tx, kept, kept=True)

    def _tell_aside(self, tx: "Transaction", post: Post, conversation: str, number: int) -> None:
        incoming: Incoming | None = None
        try:
            waiting = post.oldest(conversation)
            incoming = from_json(waiting.body) if waiting is not None else None
        except Exception as error:
            log.warning("inbox: message %d cannot be read any more (%s)", number, type(error).__name__)
        found = post.found(conversation)
        if incoming is not None:
            found = self._reached(post, found, incoming, conversation)
        if found.who is not None:
            language = self.turns.guide.shop.language if incoming is None else incoming.language
            case, reply = set_aside(self.turns, tx, conversation, language)
            self._put_out(tx, post, found, conversation, "notice", body_of(case, reply, language), "")

    def _reached(self, post: Post, found: Found, incoming: Incoming, conversation: str) -> Found:
        """Where the person is reached, which is where they wrote from last."""
        who = found.who
        if who is not None and who.address == incoming.address and not who.gone:
            return found
        post.set_address(conversation, incoming.channel, incoming.address)
        if who is None:
            return replace(found, who=Correspondent(incoming.channel, incoming.address, None, gone=False))
        return replace(found, who=replace(who, channel=incoming.channel, address=incoming.address, gone=False))

    def _put_out(
        self, tx: "Transaction", post: Post, found: Found, conversation: str, kind: str, body: Mapping[str, Any],
        answered: str, *, forward: Mapping[str, Any] | None = None,
    ) -> None:  # fmt: skip
        """The message, and before it (or behind it, see `AnswersFirst`) the change of the one that showed the open
        question until now; nothing stands behind the last that somebody is told. What is to be sent on is a message of
        its own behind it all.

        Where nothing else is under way, the first of them is handed to the sender once this is committed: it need not
        be looked for then."""
        who, now = found.who, self.clock()
        assert who is not None, "a message goes to somebody who is reached somewhere"
        channel = self.channels.get(who.channel)
        edits = channel is not None and channel.edits
        changes = edits and who.live is not None
        later = changes and isinstance(channel, AnswersFirst) and channel.answers_first and not body.get("last")
        before = changes and not later
        hand = (
            found.idle
            and forward is None
            and channel is not None
            and (who.shown is not None or not before)
            and self.hands_over(tx, who.channel)
        )
        change: dict[str, Any] = {"answered": answered}
        first = None
        if before:
            first = post.put_out(who, conversation, "edit", change, now, about=who.live, sending=hand)
        number = post.put_out(who, conversation, kind, body, now, sending=hand and first is None)
        if forward is not None:
            post.put_out(who, conversation, "send", forward, now)
        if later:
            post.put_out(who, conversation, "edit", change, now, about=who.live)
        if edits:
            post.set_live(conversation, number if asks(body) else None)
        row = None
        if hand:
            row = OutboxRow(number, who.channel, conversation, kind, body, who.address, attempts=1, more=later)
            if first is not None:
                row = post.change(first, who, conversation, change, row)
        tx.after_commit.append(partial(self.wake, who.channel, conversation, row))

    def _count(self, tx: "Transaction", name: str) -> None:
        counts = self.counts
        tx.after_commit.append(lambda: setattr(counts, name, getattr(counts, name) + 1))


def _concerns(tx: "Transaction", conversation: str, incoming: Incoming) -> bool:
    """Whether a message has to do with anything in its conversation."""
    match incoming.content:
        case Reacted(of=of) as reacted:
            return pressed_under(shown(tx, conversation, of), reacted) is not None
        case Edited(_, of, if_taken=True):
            return took(tx, incoming.channel, tx.cipher.lookup_hash("key", incoming.channel, of), conversation)
        case _:
            return True
