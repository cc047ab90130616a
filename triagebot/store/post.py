"""Inbox and outbox, and where channels reach people, read and written inside one transaction.

Decided here and nowhere else: the states of a message, and how it gets from one to the next. Everything personal is
encrypted on its way in and decrypted on its way out; conversations and keys are lookup hashes already.

    inbox    waiting -> done          a turn was taken on it (most are done in the transaction that receives them)
             waiting -> aside         it failed too often; its text stays for the person who looks into it
    outbox   waiting -> sending       committed before the attempt; what a crash leaves so is unknown
             sending -> sent          with the platform's receipt
             sending -> waiting       it is tried again, not before a moment
             sending, waiting -> failed   never tried again; the reason says why
"""

from collections.abc import Collection, Mapping
from contextlib import suppress
from datetime import datetime
from functools import cache
from typing import Any

from sqlalchemy import ColumnElement, and_, bindparam, case, delete, func, insert, literal, or_, select, update

from triagebot.store.database import Prepared
from triagebot.store.encryption import DecryptionError
from triagebot.store.engines import insert_into
from triagebot.store.forgetting import NOBODY, drop
from triagebot.store.message_rows import Correspondent, Found, InboxRow, OutboxRow
from triagebot.store.tables import conversations, inbox, keys, outbox, parties, pictures, positions
from triagebot.store.transactions import View

_WAITS = select(inbox.c.id).where(inbox.c.conversation == bindparam("who"), inbox.c.state == "waiting").limit(1)
_OLDEST_IN = (
    select(inbox.c.id, inbox.c.body, inbox.c.attempts)
    .where(inbox.c.conversation == bindparam("who"), inbox.c.state == "waiting")
    .order_by(inbox.c.id)
    .limit(1)
)
_SETTLE = (
    update(inbox)
    .where(inbox.c.id == bindparam("number"))
    .values(state=bindparam("to"), attempts=bindparam("tries"), reason=bindparam("why"))
)
_UNDER_WAY = (
    select(outbox.c.id)
    .where(outbox.c.conversation == bindparam("who"), or_(outbox.c.state == "waiting", outbox.c.state == "sending"))
    .limit(1)
)
_ONE = select(literal(1).label("one")).subquery()
_FOUND = Prepared(
    select(
        _WAITS.scalar_subquery().label("waits"),
        _UNDER_WAY.scalar_subquery().label("under_way"),
        *(conversations.c.channel, conversations.c.address, conversations.c.live, conversations.c.gone_at),
        *(outbox.c.body, outbox.c.receipt),
    ).select_from(
        _ONE.outerjoin(conversations, conversations.c.id == bindparam("who")).outerjoin(
            outbox, outbox.c.id == conversations.c.live
        )
    ),
    of=("who",),
)
_NEXT_OUT = Prepared(
    select(outbox, conversations.c.address)
    .join_from(outbox, conversations, outbox.c.conversation == conversations.c.id, isouter=True)
    .where(outbox.c.conversation == bindparam("who"), outbox.c.state == "waiting")
    .order_by(outbox.c.id)
    .limit(2),
    of=("who",),
)
_is_it = outbox.c.id == bindparam("number")
_theirs = outbox.c.conversation == bindparam("who")
_OUT = Prepared(select(outbox.c.body, outbox.c.receipt).where(_is_it, _theirs), of=("who",))
_SENDING = Prepared(
    update(outbox).where(_is_it, _theirs).values(state="sending", attempts=outbox.c.attempts + 1), of=("who",)
)
_SENT = Prepared(
    update(outbox).where(_is_it, _theirs).values(state="sent", receipt=bindparam("got"), reason=""), of=("who",)
)
#: The one is sent, and the one behind it is being sent, if it waits there still.
_SENT_AND_NEXT = Prepared(
    update(outbox)
    .where(
        or_(
            and_(_is_it, _theirs),
            and_(outbox.c.id == bindparam("next"), outbox.c.state == "waiting", _theirs),
        )
    )
    .values(
        state=case((_is_it, "sent"), else_="sending"),
        attempts=outbox.c.attempts + case((_is_it, 0), else_=1),
        receipt=case((_is_it, bindparam("got")), else_=outbox.c.receipt),
        reason=case((_is_it, ""), else_=outbox.c.reason),
    )
    .returning(outbox.c.id),
    of=("who",),
)
_PUT_BACK = (
    update(outbox)
    .where(outbox.c.id == bindparam("number"))
    .values(state="waiting", not_before=bindparam("at"), reason=bindparam("why"))
)
_FAILED = (
    update(outbox)
    .where(outbox.c.id == bindparam("number"))
    .values(state="failed", reason=bindparam("why"))
    .returning(outbox.c.conversation, outbox.c.body)
)
_PUT_OUT = Prepared(
    insert(outbox).returning(outbox.c.id),
    [column.name for column in outbox.c if column is not outbox.c.id],
    of=("conversation",),
)
_LIVE = Prepared(
    update(conversations).where(conversations.c.id == bindparam("who")).values(live=bindparam("row")), of=("who",)
)
_GONE = update(conversations).where(conversations.c.id == bindparam("who")).values(gone_at=bindparam("at"))


@cache
def _receiving(dialect: str) -> Prepared:
    """The number of a message; nothing when it was received before."""
    new = insert_into(inbox, dialect).on_conflict_do_nothing().returning(inbox.c.id)
    return Prepared(new, [column.name for column in inbox.c if column is not inbox.c.id], of=("conversation",))


@cache
def _reaching(dialect: str) -> Prepared:
    """Somebody is reached somewhere from now on."""
    new = insert_into(conversations, dialect)
    reached = {"address": new.excluded.address, "gone_at": None}
    new = new.on_conflict_do_update(index_elements=["id"], set_=reached)
    return Prepared(new, [column.name for column in conversations.c], of=("id",))


class Post:
    """The delivery's tables, inside the transaction (or, for looking only, the view) that is given."""

    def __init__(self, tx: View) -> None:
        self.view = tx
        self.connection = tx.connection
        self.cipher = tx.cipher

    # --- what comes in ------------------------------------------------------------------------------------------

    def receive(
        self, channel: str, key: str, conversation: str, at: datetime, state: str, body: Mapping[str, Any] | None
    ) -> int | None:
        """Takes a message in; gives its number, or None when it was received before."""
        row = {
            "channel": channel,
            "key": key,
            "conversation": conversation,
            "received_at": at,
            "state": state,
            "body": None if body is None else self.cipher.of_person(conversation).encrypt_json(body),
            "attempts": 0,
            "reason": "",
        }
        number: int | None = _receiving(self.connection.dialect.name).value(self.connection, row)
        return number

    def waits(self, conversation: str) -> bool:
        """Whether a message of this conversation waits for another try."""
        return self.connection.scalar(_WAITS, {"who": conversation}) is not None

    def oldest(self, conversation: str) -> InboxRow | None:
        """The oldest message of this conversation that waits."""
        row = self.connection.execute(_OLDEST_IN, {"who": conversation}).first()
        return None if row is None else InboxRow(row.id, self.cipher.decrypt_json(row.body), row.attempts)

    def tries(self, conversation: str) -> tuple[int, int] | None:
        """The number of the oldest message that waits, and how often it was tried, without opening it."""
        row = self.connection.execute(_OLDEST_IN, {"who": conversation}).first()
        return None if row is None else (row.id, row.attempts)

    def tried(self, number: int, attempts: int, reason: str, *, aside: bool) -> None:
        """A try failed: the message goes on waiting, or is set aside."""
        to = "aside" if aside else "waiting"
        self.connection.execute(_SETTLE, {"number": number, "to": to, "tries": attempts, "why": reason})

    def done(self, number: int, attempts: int) -> None:
        """A turn was taken on a message that had waited; its text is in the case now, and nowhere else."""
        self.connection.execute(_SETTLE, {"number": number, "to": "done", "tries": attempts, "why": ""})
        self.connection.execute(update(inbox).where(inbox.c.id == number).values(body=None))

    def waiting(self, *, tried: bool = False) -> tuple[str, ...]:
        """The conversations in which messages wait; or some that were `tried` already."""
        found = (
            select(inbox.c.conversation).where(inbox.c.state == "waiting", inbox.c.attempts >= int(tried)).distinct()
        )
        return tuple(self.connection.scalars(found))

    # --- whom it goes to ----------------------------------------------------------------------------------------

    def found(self, conversation: str) -> Found:
        """What a message finds in its conversation."""
        row = _FOUND.first(self.connection, {"who": conversation})
        who = None
        if row.channel is not None:
            shown = None if row.receipt is None else (row.body, row.receipt)
            who = Correspondent(
                row.channel, self.cipher.decrypt_json(row.address), row.live, row.gone_at is not None, shown
            )
        return Found(row.waits is not None, row.under_way is None, who)

    def set_address(self, conversation: str, channel: str, address: Mapping[str, Any]) -> None:
        """Says where somebody new is reached, or somebody known is reached from now on."""
        closed = self.cipher.of_person(conversation).encrypt_json(address)
        row = {"id": conversation, "channel": channel, "address": closed, "live": None, "gone_at": None}
        _reaching(self.connection.dialect.name).change(self.connection, row)

    def gone(self, conversation: str, at: datetime, reason: str) -> list[dict[str, Any]]:
        """Nobody is reached there any more: nothing that waits is tried again. Gives the bodies of these messages.

        A person who was about to be told that they are forgotten is forgotten.
        """
        self.connection.execute(_GONE, {"who": conversation, "at": at})
        still = (outbox.c.conversation == conversation, outbox.c.state.in_(("waiting", "sending")))
        bodies = [
            self.cipher.decrypt_json(body) for body in self.connection.scalars(select(outbox.c.body).where(*still))
        ]
        self.connection.execute(update(outbox).where(*still).values(state="failed", reason=reason))
        if any(body.get("last") for body in bodies):
            drop(self.view, conversation)
        return bodies

    def out_of_reach(self, since: datetime) -> frozenset[str]:
        """The conversations of which was said, then or before, that nobody can be reached there."""
        return frozenset(self.connection.scalars(select(conversations.c.id).where(conversations.c.gone_at <= since)))

    # --- what goes out ------------------------------------------------------------------------------------------

    def put_out(
        self,
        to: Correspondent,
        conversation: str,
        kind: str,
        body: Mapping[str, Any],
        at: datetime,
        *,
        about: int | None = None,
        sending: bool = False,
    ) -> int:
        """Puts a message out for sending, last in its conversation; gives its number.
        `sending`: it is being sent as soon as this is committed."""
        row = {
            "channel": to.channel,
            "conversation": conversation,
            "kind": kind,
            "about": about,
            "body": self.cipher.of_person(conversation).encrypt_json(body),
            "made_at": at,
            "state": "sending" if sending else "waiting",
            "attempts": int(sending),
            "not_before": None,
            "receipt": None,
            "reason": "",
        }
        return int(_PUT_OUT.value(self.connection, row))

    def set_live(self, conversation: str, number: int | None) -> None:
        """Says which message shows the open question now."""
        _LIVE.change(self.connection, {"who": conversation, "row": number})

    def claim(self, conversation: str, now: datetime | None) -> OutboxRow | float | None:
        """The next message of a conversation, marked as being sent; or how long (s) it has to wait; None at the end.

        With None as the time `now`, nothing has to wait. What would change a message that never went out, or has nobody
        to go to, is passed over.
        """
        while rows := _NEXT_OUT.all(self.connection, {"who": conversation}):
            row = rows[0]
            if now is not None and row.not_before is not None and row.not_before > now:
                return float((row.not_before - now).total_seconds())
            old, receipt = None, None
            if row.about is not None:
                earlier = _OUT.first(self.connection, {"number": row.about, "who": conversation})
                if earlier is not None and earlier.receipt is not None:
                    old, receipt = (
                        self.cipher.decrypt_json(earlier.body),
                        self.cipher.decrypt_json(earlier.receipt),
                    )
            if row.address is None or (row.about is not None and receipt is None):
                self.failed(row.id, "nobody to send it to" if row.address is None else "nothing to change")
                continue
            _SENDING.change(self.connection, {"number": row.id, "who": conversation})
            return OutboxRow(
                id=row.id,
                channel=row.channel,
                conversation=conversation,
                kind=row.kind,
                body=self.cipher.decrypt_json(row.body),
                address=self.cipher.decrypt_json(row.address),
                attempts=row.attempts + 1,
                more=len(rows) > 1,
                about=row.about,
                old=old,
                receipt=receipt,
            )
        return None

    def change(
        self, number: int, who: Correspondent, conversation: str, body: Mapping[str, Any], then: OutboxRow
    ) -> OutboxRow:
        """A change of what shows the open question that is being sent already, and the message behind it."""
        assert who.shown is not None, "what never went out is not changed"
        old, receipt = (self.cipher.decrypt_json(closed) for closed in who.shown)
        return OutboxRow(
            number, who.channel, conversation, "edit", body, who.address, 1, True, who.live, old, receipt, then
        )  # fmt: skip

    def sent(self, number: int, conversation: str, receipt: str) -> None:
        """`receipt` is closed."""
        _SENT.change(self.connection, {"number": number, "who": conversation, "got": receipt})

    def sent_before(self, row: OutboxRow, receipt: str, then: OutboxRow) -> bool:
        """One is sent, and the next is being sent; gives whether it is: nothing may have become of it meanwhile."""
        given = {"number": row.id, "next": then.id, "who": row.conversation, "got": receipt}
        return any(changed.id == then.id for changed in _SENT_AND_NEXT.all(self.connection, given))

    def went_out(
        self, number: int, receipt: Mapping[str, Any], not_of: Collection[str] = ()
    ) -> Mapping[str, Any] | None:
        """Puts down as sent what was being sent, but `not_of` these channels, and nothing else; gives its body."""
        row = self.connection.execute(select(outbox).where(outbox.c.id == number)).first()
        if row is None or row.state != "sending" or row.channel in not_of:
            return None
        self.sent(number, row.conversation, self.cipher.encrypt_json(receipt))
        return {"channel": row.channel, "conversation": row.conversation, **self.cipher.decrypt_json(row.body)}

    def put_back(self, number: int, at: datetime | None, reason: str) -> None:
        self.connection.execute(_PUT_BACK, {"number": number, "at": at, "why": reason})

    def failed(self, number: int, reason: str) -> None:
        """Gives a message up. A person who was to be told by it that they are forgotten is forgotten."""
        row = self.connection.execute(_FAILED, {"number": number, "why": reason}).first()
        with suppress(DecryptionError):
            if row is not None and self.cipher.decrypt_json(row.body).get("last"):
                drop(self.view, row.conversation, number)

    def unknown(self, channel: str) -> tuple[tuple[int, str], ...]:
        """Messages (number, kind) that a crash left while they were being sent."""
        found = select(outbox.c.id, outbox.c.kind).where(outbox.c.channel == channel, outbox.c.state == "sending")
        return tuple((row.id, row.kind) for row in self.connection.execute(found.order_by(outbox.c.id)))

    def unsent(self, channel: str) -> tuple[str, ...]:
        """The conversations of a channel in which messages wait to be sent, the longest waiting first."""
        found = select(outbox.c.conversation).where(outbox.c.channel == channel, outbox.c.state == "waiting")
        found = found.group_by(outbox.c.conversation).order_by(func.min(outbox.c.id))
        return tuple(self.connection.scalars(found))

    # --- what channels note down --------------------------------------------------------------------------------

    def place(self, channel: str) -> str | None:
        """How far a channel has read."""
        encrypted = self.connection.scalar(select(positions.c.place).where(positions.c.channel == channel))
        return None if encrypted is None else str(self.cipher.decrypt_json(encrypted)["place"])

    def read_to(self, channel: str, place: str) -> None:
        """Says how far a channel has read from now on: it brings none of that again."""
        self._drop_read(inbox.c.channel == channel)
        row = {"channel": channel, "place": self.cipher.encrypt_json({"place": place})}
        new = insert_into(positions, self.connection.dialect.name).values(**row)
        self.connection.execute(new.on_conflict_do_update(index_elements=["channel"], set_={"place": row["place"]}))

    def _drop_read(self, *where: ColumnElement[bool]) -> int:
        """Deletes what is left of the messages of people who are forgotten, where no channel can bring them again."""
        count = self.connection.execute(delete(inbox).where(inbox.c.conversation == NOBODY, *where)).rowcount
        self.view.forgot = self.view.forgot or bool(count)
        return count

    def picture(self, channel: str, digest: str) -> str | None:
        """What a channel calls a picture that it has uploaded."""
        which = (pictures.c.channel == channel, pictures.c.digest == digest)
        name: str | None = self.connection.scalar(select(pictures.c.name).where(*which))
        return name

    def uploaded(self, channel: str, digest: str, name: str) -> None:
        """Says what a channel calls a picture from now on."""
        new = insert_into(pictures, self.connection.dialect.name).values(channel=channel, digest=digest, name=name)
        self.connection.execute(new.on_conflict_do_update(index_elements=["channel", "digest"], set_={"name": name}))

    # --- the rest -----------------------------------------------------------------------------------------------

    def move(self, old: str, new: str) -> None:
        """A conversation goes on under another lookup hash, with its cases and everything under way."""
        if self.connection.scalar(select(conversations.c.id).where(conversations.c.id == new)) is not None:
            self.connection.execute(delete(conversations).where(conversations.c.id == old))
        self.connection.execute(update(conversations).where(conversations.c.id == old).values(id=new))
        self.connection.execute(update(parties).where(parties.c.person == old).values(person=new))
        self.connection.execute(update(keys).where(keys.c.person == old).values(person=new))
        for table in (inbox, outbox):
            self.connection.execute(update(table).where(table.c.conversation == old).values(conversation=new))
