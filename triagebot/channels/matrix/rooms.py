"""Where the bot stands: how far it has read, in which rooms it is, which of them came from which, what it cannot read.

Decided here and nowhere else:
- all of that travels in one text, the `place`, which is kept together with what was read: so a crash finds each message
  either read, or still to be read, and what waits for its key is not forgotten;
- what of a room's events the bot may see: those after it came in, until it goes;
- a room is direct when the bot and one person are in it, whoever else a bridge may need there;
- a room that was upgraded keeps the first name it had; the new one counts as its follower only if it says so itself;
- how much of what cannot be read is kept: the latest, for some days.
"""

import json
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from typing import Any

from triagebot.channels.matrix.seen import Room, Seen

#: What cannot be read is kept for so long, and so many, of so many characters in all.
KEPT_FOR, MOST_KEPT, MOST_CHARACTERS = timedelta(days=7), 200, 500_000

Raw = Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class Invite:
    """Somebody wants the bot to come in; `direct` if they mean a room for two."""

    room: str
    inviter: str
    direct: bool


@dataclass(frozen=True, slots=True)
class Look:
    """What one look brought. `place` is where the next one begins, once all of this is kept.

    `gone`: rooms that the bot has left, or was put out of. `moved`: rooms, and what they were upgraded to; the bot is
    in the new one.
    """

    place: str
    seen: tuple[Seen, ...] = ()
    invites: tuple[Invite, ...] = ()
    gone: tuple[str, ...] = ()
    moved: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True, slots=True)
class Locked:
    """An event that cannot be read, as it came."""

    room: str
    raw: Raw


@dataclass(frozen=True, slots=True)
class Standing:
    """`since`: up to where the server's news were read. `rooms`: those the bot is in, with the first name of each.
    `followers`: the room that took the place of another, as that one's tombstone says."""

    since: str = ""
    rooms: Mapping[str, str] = field(default_factory=dict)
    followers: Mapping[str, str] = field(default_factory=dict)
    locked: tuple[Locked, ...] = ()

    def place(self) -> str:
        locked = [[each.room, dict(each.raw)] for each in self.locked]
        kept = {"since": self.since, "rooms": dict(self.rooms), "followers": dict(self.followers), "locked": locked}
        return json.dumps(kept, separators=(",", ":"))

    def latest(self, room: str) -> str:
        """The room that a room has become, as far as the bot is in that one."""
        seen = {room}
        while (follower := self.followers.get(room)) is not None and follower in self.rooms and follower not in seen:
            seen.add(follower)
            room = follower
        return room

    def awaited(self) -> tuple[tuple[str, str], ...]:
        """Old and new rooms of moves that the bot could not follow yet."""
        return tuple((old, new) for old, new in self.followers.items() if old in self.rooms and new not in self.rooms)


def standing(place: str | None) -> Standing:
    """What `Standing.place` wrote; of what it cannot have written, nothing is used."""
    if not place:
        return Standing()
    kept = json.loads(place)
    locked = tuple(Locked(room, raw) for room, raw in kept.get("locked", ()))
    return Standing(kept.get("since", ""), kept.get("rooms", {}), kept.get("followers", {}), locked)


def kept(locked: Iterable[Locked], now: datetime) -> tuple[Locked, ...]:
    """Those that are kept on."""
    oldest = (now - KEPT_FOR).timestamp() * 1000
    left, found = MOST_CHARACTERS, []
    for each in reversed([one for one in locked if stamp(one.raw) >= oldest][-MOST_KEPT:]):
        left -= len(json.dumps(each.raw))
        if left < 0:
            break
        found.append(each)
    return tuple(reversed(found))


def stamp(raw: Raw) -> int:
    """When an event was sent, by its server's clock (ms)."""
    told = raw.get("origin_server_ts")
    return told if isinstance(told, int) and told >= 0 else 0


def moment(raw: Raw, now: datetime) -> datetime:
    """The same, but not in the future."""
    try:
        return min(now, datetime.fromtimestamp(stamp(raw) / 1000, UTC))
    except (OverflowError, ValueError, OSError):
        return now


def room_of(room: str, first: str, users: Collection[str], encrypted: bool, me: str, bridges: Collection[str]) -> Room:
    people = [user for user in users if user != me and user not in bridges]
    return Room(room, first, len(people) == 1, encrypted)


# --- what a room's events say about the bot itself ----------------------------------------------------------------


def mapping(given: Mapping[str, Any], *path: str) -> dict[str, Any]:
    """The object at a path in what a server sent; an empty one where there is none."""
    found: Any = given
    for part in path:
        found = found.get(part) if isinstance(found, Mapping) else None
    return dict(found) if isinstance(found, Mapping) else {}


def content_of(raw: Raw) -> Mapping[str, Any]:
    content = raw.get("content")
    return content if isinstance(content, Mapping) else {}


def membership(raw: Raw, user: str) -> str:
    """What an event makes of somebody: `join`, `leave` …; "" if it is about something else."""
    if raw.get("type") != "m.room.member" or raw.get("state_key") != user:
        return ""
    return str(content_of(raw).get("membership", ""))


def came_in(raw: Raw, user: str) -> bool:
    """Whether somebody joins by this, and does not merely change how they are called."""
    if membership(raw, user) != "join":
        return False
    unsigned = raw.get("unsigned")
    before = unsigned.get("prev_content") if isinstance(unsigned, Mapping) else None
    return not (isinstance(before, Mapping) and before.get("membership") == "join")


def while_inside(events: Sequence[Raw], inside: bool, user: str) -> Iterator[Raw]:
    """The events that somebody may see, who was `inside` before the first. Of somebody who was not, the last join
    counts: what comes before it may be from an earlier visit, and was seen then."""
    if not inside:
        joins = [number for number, raw in enumerate(events) if came_in(raw, user)]
        events = events[joins[-1] :] if joins else ()
    for raw in events:
        if came_in(raw, user):
            inside = True
        elif membership(raw, user) in ("leave", "ban"):
            inside = False
        if inside:
            yield raw


def tombstone(events: Iterable[Raw]) -> tuple[str, str] | None:
    """The room that takes the place of one with these events, and who says so."""
    found = None
    for raw in events:
        if raw.get("type") == "m.room.tombstone" and raw.get("state_key") == "":
            new = content_of(raw).get("replacement_room")
            found = (new, str(raw.get("sender", ""))) if isinstance(new, str) and new.startswith("!") else None
    return found


def predecessor(events: Iterable[Raw]) -> str:
    """The room that one with these events says it has taken the place of; "" for none."""
    for raw in events:
        if raw.get("type") == "m.room.create" and raw.get("state_key") == "":
            before = content_of(raw).get("predecessor")
            if isinstance(before, Mapping):
                return str(before.get("room_id", ""))
    return ""


def invited(room: str, state: Iterable[Raw], me: str) -> Invite | None:
    """The invitation that the stripped state of a room holds."""
    for raw in state:
        if membership(raw, me) == "invite":
            return Invite(room, str(raw.get("sender", "")), content_of(raw).get("is_direct") is True)
    return None
