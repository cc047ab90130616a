"""What somebody sees in a room, as one small value an event."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any

import nio

#: What counts as a message; everything else in `Person.seen` is something that happened.
MESSAGES = frozenset({"m.text", "m.notice", "m.emote", "m.image", "m.file", "m.audio", "m.video"})


@dataclass(frozen=True)
class Heard:
    """One event as its reader sees it.

    `kind` is the msgtype of a message, else the event's type; of things that are no events: `typing` (body: "yes" or
    "no"), `read` (event_id: what was read), `invite`; and `undecryptable`. `body` is a message's plain text, a
    reaction's key, a member's new membership, a tombstone's new room, a redaction's victim.
    An edit carries the new text in `body` and `html`, and in `replaces` the event that it stands for.
    `tx` is the transaction id of one's own sends, and nothing for others'.
    """

    event_id: str
    room: str
    sender: str
    kind: str
    body: str = ""
    html: str | None = None
    relates_to: Mapping[str, Any] = field(default_factory=dict)
    replaces: str | None = None
    encrypted: bool = False
    tx: str | None = None
    mentions: tuple[str, ...] = ()
    about: str = ""
    content: Mapping[str, Any] = field(default_factory=dict, repr=False, compare=False)

    @property
    def is_message(self) -> bool:
        """A message in its own right, no edit of one."""
        return self.kind in MESSAGES and self.replaces is None

    @property
    def in_words(self) -> bool:
        """Says something in words: a text, or a picture with its caption."""
        return self.kind in ("m.text", "m.notice") or (self.kind == "m.image" and self.html is not None)

    @property
    def thread(self) -> str | None:
        return self.relates_to.get("event_id") if self.relates_to.get("rel_type") == "m.thread" else None

    @property
    def reply_to(self) -> str | None:
        return _mapping(self.relates_to.get("m.in_reply_to")).get("event_id")


def _mapping(value: Any) -> Mapping[str, Any]:
    return value if isinstance(value, Mapping) else {}


def from_event(room: str, event: nio.Event | nio.BadEvent | nio.UnknownBadEvent) -> Heard:
    """An event of a timeline. Whatever is broken in it is shown as it is, for a reader must see that too."""
    source = event.source
    content = _mapping(source.get("content"))
    kind = "undecryptable" if isinstance(event, nio.MegolmEvent) else str(source.get("type"))
    shown = content
    relates_to = _mapping(content.get("m.relates_to"))
    replaces = relates_to.get("event_id") if relates_to.get("rel_type") == "m.replace" else None
    body, html, about = "", None, ""
    if kind == "m.room.message":
        shown = _mapping(content.get("m.new_content", content)) if replaces else content
        kind, body, html = shown.get("msgtype", ""), shown.get("body", ""), shown.get("formatted_body")
    elif kind == "m.reaction":
        body, about = relates_to.get("key", ""), relates_to.get("event_id", "")
    elif kind == "m.room.redaction":
        body = about = source.get("redacts") or content.get("redacts", "")
    elif kind == "m.room.member":
        body, about = content.get("membership", ""), source.get("state_key", "")
    elif kind == "m.room.tombstone":
        body = content.get("replacement_room", "")
    return Heard(
        event_id=source.get("event_id", ""),
        room=room,
        sender=source.get("sender", ""),
        kind=kind,
        body=body,
        html=html,
        relates_to=relates_to,
        replaces=replaces,
        encrypted=bool(getattr(event, "decrypted", False)),
        tx=_mapping(source.get("unsigned")).get("transaction_id"),
        mentions=tuple(_mapping(shown.get("m.mentions")).get("user_ids", ())),
        about=about,
        content=shown,
    )


def from_ephemeral(room: str, event: nio.EphemeralEvent, typing_before: frozenset[str]) -> Iterator[Heard]:
    """Who began and who ceased to type; who read what."""
    if isinstance(event, nio.TypingNoticeEvent):
        now = frozenset(event.users)
        yield from (Heard("", room, user, "typing", "yes") for user in sorted(now - typing_before))
        yield from (Heard("", room, user, "typing", "no") for user in sorted(typing_before - now))
    elif isinstance(event, nio.ReceiptEvent):
        for receipt in event.receipts:
            kind = "read" if receipt.receipt_type == "m.read" else str(receipt.receipt_type)
            yield Heard(receipt.event_id, room, receipt.user_id, kind, about=receipt.thread_id or "")
