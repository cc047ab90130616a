"""An event of a room as a `Seen`. Pure: no look-ups, no requests, no decryption.

- Bots must not answer notices, so they are left out, as is what another triagebot says, and what a redaction emptied.
- Fields of a wrong type count as missing.
- A reply's quoted fallback is no part of what somebody wrote, nor is the name of a file.
- The bot is mentioned by the list that clients send, by a link to it, or by its name in the text.
"""

import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

from triagebot.channels.matrix.rooms import Raw, content_of, is_join, mapping, sent_at
from triagebot.channels.matrix.seen import OURS, Kind, Room, Seen

#: Message types, and what kind of thing each is.
_MESSAGES: Mapping[str, tuple[Kind, str]] = {
    "m.text": ("words", ""),
    "m.emote": ("words", ""),
    "m.image": ("picture", "photo"),
    "m.audio": ("thing", "audio"),
    "m.video": ("thing", "video"),
    "m.file": ("thing", "document"),
    "m.location": ("thing", "location"),
}
#: Other events that count as a message.
_OTHERS: Mapping[str, str] = {
    "m.sticker": "sticker",
    "m.poll.start": "poll",
    "org.matrix.msc3381.poll.start": "poll",
    "m.beacon_info": "location",
    "org.matrix.msc3672.beacon_info": "location",
}
#: Message types that are no message to anybody.
_HOUSEKEEPING = ("m.notice", "m.server_notice", "m.key.verification.")

_VOICE = ("org.matrix.msc3245.voice", "m.voice")
_QUOTED = re.compile(r"\A(?:> [^\n]*\n|>\n)+\n?")


@dataclass(frozen=True, slots=True)
class EventReader:
    """`user` and `name`: the bot's own."""

    user: str
    name: str

    def read(self, raw: Raw, room: Room, sender_name: str, now: datetime) -> Seen | None:
        """An event in clear; None for one that does not matter. `answers_us` is left to the caller."""
        seen = self._placed(raw, room, sender_name, now)
        if seen is None:
            return None
        content, relation = content_of(raw), mapping(raw, "content", "m.relates_to")
        match raw.get("type"):
            case "m.reaction":
                about, key = relation.get("event_id"), relation.get("key")
                if isinstance(about, str) and isinstance(key, str):
                    return replace(seen, kind="reaction", text=key, about=about)
                return None
            case "m.room.redaction":
                gone = raw.get("redacts") or content.get("redacts")  # which of them depends on the room's version
                return replace(seen, kind="redaction", about=gone) if isinstance(gone, str) else None
            case "m.room.message":
                return self._message(seen, content, relation)
            case "m.room.member":
                return replace(seen, kind="joined") if is_join(raw, seen.sender) else None
            case str(kind) if kind in _OTHERS and "state_key" not in raw and content:
                return replace(seen, what=_OTHERS[kind])
        return None

    def undecryptable(self, raw: Raw, room: Room, sender_name: str, now: datetime) -> Seen | None:
        """An event whose key is missing. What it answers is in clear even so."""
        seen = self._placed(raw, room, sender_name, now)
        return None if seen is None else replace(seen, kind="undecryptable", what=session_of(raw))

    def _placed(self, raw: Raw, room: Room, sender_name: str, now: datetime) -> Seen | None:
        """Who sent it, in which thread, in reply to what. None for the bot's own."""
        sender, event = raw.get("sender"), raw.get("event_id")
        if not isinstance(sender, str) or not isinstance(event, str) or sender == self.user:
            return None
        relation = mapping(raw, "content", "m.relates_to")
        thread = relation.get("event_id") if relation.get("rel_type") == "m.thread" else None
        answers = mapping(relation, "m.in_reply_to").get("event_id")
        if thread is not None and relation.get("is_falling_back") is True:
            answers = None  # only there for clients that know no threads
        return Seen(
            "thing",
            event,
            room,
            sender,
            sent_at(raw, now),
            name=sender_name,
            thread=thread if isinstance(thread, str) else "",
            answers=answers if isinstance(answers, str) else "",
        )

    def _message(self, seen: Seen, content: Mapping[str, Any], relation: Mapping[str, Any]) -> Seen | None:
        replaced = relation.get("event_id") if relation.get("rel_type") == "m.replace" else None
        if isinstance(replaced, str):
            content = mapping(content, "m.new_content")
        kind = content.get("msgtype")
        if not isinstance(kind, str) or kind.startswith(_HOUSEKEEPING) or OURS in content:
            return None
        text = _text(content, quoted=bool(seen.answers) and replaced is None)
        found, what = _MESSAGES.get(kind, ("thing", "unknown"))
        if what == "audio" and any(name in content for name in _VOICE):
            what = "voice"
        if found != "words":
            text = _caption(content, text)
        seen = replace(seen, kind=found, what=what, text=text, mentions_us=self._mentioned(content, text))
        seen = replace(seen, mentions_others=any(user != self.user for user in mentions(content)))
        if isinstance(replaced, str):
            return replace(seen, kind="correction", about=replaced)
        if found == "picture":
            file = _file(content)
            return replace(seen, file=file) if file else replace(seen, kind="thing")
        return seen

    def _mentioned(self, content: Mapping[str, Any], text: str) -> bool:
        if self.user in mentions(content):
            return True
        if self.user in text or f"matrix.to/#/{self.user}" in str(content.get("formatted_body", "")):
            return True
        names = (self.name, self.user.removeprefix("@").partition(":")[0])
        return any(name and re.search(rf"(?<!\w){re.escape(name)}(?!\w)", text, re.IGNORECASE) for name in names)


def mentions(content: Mapping[str, Any]) -> list[Any]:
    """Whom a message mentions, by the list that clients send."""
    users = mapping(content, "m.mentions").get("user_ids")
    return users if isinstance(users, list) else []


def session_of(raw: Raw) -> str:
    """Which key an encrypted event needs."""
    session = content_of(raw).get("session_id")
    return session if isinstance(session, str) else ""


def _text(content: Mapping[str, Any], quoted: bool) -> str:
    body = content.get("body")
    if not isinstance(body, str):
        return ""
    return _QUOTED.sub("", body, count=1) if quoted else body


def _caption(content: Mapping[str, Any], text: str) -> str:
    """What somebody wrote with a file. The body is the file's name unless `filename` gives another."""
    named = content.get("filename")
    return text if isinstance(named, str) and named != text else ""


def _file(content: Mapping[str, Any]) -> dict[str, Any]:
    """Where a picture is, as `fetch` takes it; nothing if the event does not say."""
    encrypted = content.get("file")
    if isinstance(encrypted, Mapping):
        return {name: encrypted[name] for name in ("url", "key", "iv", "hashes", "v") if name in encrypted}
    url = content.get("url")
    return {"url": url} if isinstance(url, str) else {}
