"""The bot's position: how far it has read, its rooms, which of them were upgraded to which, what it cannot decrypt yet.

Decided here and nowhere else:
- All of that is one text, the `place`, which is kept together with what was read: so after a crash each message is
  either read or still to be read, and what waits for its key is not forgotten.
- The bot may see a room's events from its join until it leaves.
- A room is direct when the bot and one person are in it, the person who else a bridge may need there.
- A room that was upgraded keeps its first id; the new one counts as its follower only if it names the old one, too.
- Of what cannot be decrypted the latest is kept, for some days.
"""

import json
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from typing import Any

from triagebot.channels.matrix.seen import Room, Seen

#: How long, how many, and how many characters in all of what cannot be decrypted are kept.
KEPT_FOR, MOST_KEPT, MOST_CHARACTERS = timedelta(days=7), 200, 500_000

Raw = Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class Invite:
    """An invitation; `direct` if the inviter means a room for two."""

    room: str
    inviter: str
    direct: bool


@dataclass(frozen=True, slots=True)
class SyncResult:
    """What one sync brought. `place` is where the next one begins, once all of this is kept.

    `gone`: rooms that the bot left or was removed from. `moved`: rooms that were upgraded, and to which; the bot is in
    the new ones. `powers`: in some room, who may do what has changed.
    """

    place: str
    seen: tuple[Seen, ...] = ()
    invites: tuple[Invite, ...] = ()
    gone: tuple[str, ...] = ()
    moved: tuple[tuple[str, str], ...] = ()
    powers: bool = False


@dataclass(frozen=True, slots=True)
class Undecryptable:
    """An event that cannot be decrypted yet, as it came."""

    room: str
    raw: Raw


@dataclass(frozen=True, slots=True)
class Position:
    """`since`: up to where the server's syncs were read. `rooms`: those the bot is in, with the first id of each.
    `followers`: the room that replaces another, as that one's tombstone says."""

    since: str = ""
    rooms: Mapping[str, str] = field(default_factory=dict)
    followers: Mapping[str, str] = field(default_factory=dict)
    undecryptable: tuple[Undecryptable, ...] = ()

    def place(self) -> str:
        kept = {
            "since": self.since,
            "rooms": dict(self.rooms),
            "followers": dict(self.followers),
            "locked": [[each.room, dict(each.raw)] for each in self.undecryptable],  # as it has always been kept
        }
        return json.dumps(kept, separators=(",", ":"))

    def latest(self, room: str) -> str:
        """The room that a room was upgraded to, if the bot is in that one."""
        seen = {room}
        while (follower := self.followers.get(room)) is not None and follower in self.rooms and follower not in seen:
            seen.add(follower)
            room = follower
        return room

    def awaited(self) -> tuple[tuple[str, str], ...]:
        """Old and new rooms of upgrades that the bot could not follow yet."""
        return tuple((old, new) for old, new in self.followers.items() if old in self.rooms and new not in self.rooms)


def position(place: str | None) -> Position:
    """What `Position.place` wrote; the beginning for None."""
    if not place:
        return Position()
    kept = json.loads(place)
    undecryptable = tuple(Undecryptable(room, raw) for room, raw in kept.get("locked", ()))
    return Position(kept.get("since", ""), kept.get("rooms", {}), kept.get("followers", {}), undecryptable)


def still_kept(undecryptable: Iterable[Undecryptable], now: datetime) -> tuple[Undecryptable, ...]:
    """Those that are still kept."""
    oldest = (now - KEPT_FOR).timestamp() * 1000
    left, found = MOST_CHARACTERS, []
    for each in reversed([one for one in undecryptable if sent_ms(one.raw) >= oldest][-MOST_KEPT:]):
        left -= len(json.dumps(each.raw))
        if left < 0:
            break
        found.append(each)
    return tuple(reversed(found))


def sent_ms(raw: Raw) -> int:
    """When its server says that an event was sent (ms)."""
    told = raw.get("origin_server_ts")
    return told if isinstance(told, int) and told >= 0 else 0


def sent_at(raw: Raw, now: datetime) -> datetime:
    """The same, but never in the future."""
    try:
        return min(now, datetime.fromtimestamp(sent_ms(raw) / 1000, UTC))
    except (OverflowError, ValueError, OSError):
        return now


def room_of(
    room: str, first: str, users: Collection[str], encrypted: bool, me: str, bridges: Collection[str],
    invited: Collection[str] = (),
) -> Room:  # fmt: skip
    """`users` are those who are in it, and those who are `invited`."""
    people = [user for user in users if user != me and user not in bridges]
    inside = [user for user in people if user not in invited]
    return Room(room, first, len(people) == 1, encrypted, inside[0] if len(inside) == 1 else "")


# --- what a room's events say ---------------------------------------------------------------------------------------


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
    """The membership that an event gives to somebody: `join`, `leave` …; "" if it is about something else."""
    if raw.get("type") != "m.room.member" or raw.get("state_key") != user:
        return ""
    return str(content_of(raw).get("membership", ""))


def is_join(raw: Raw, user: str) -> bool:
    """Whether somebody joins by this event, and does not merely change their display name."""
    if membership(raw, user) != "join":
        return False
    unsigned = raw.get("unsigned")
    before = unsigned.get("prev_content") if isinstance(unsigned, Mapping) else None
    return not (isinstance(before, Mapping) and before.get("membership") == "join")


def while_inside(events: Sequence[Raw], inside: bool, user: str) -> Iterator[Raw]:
    """The events that somebody may see who was `inside` before the first. For anybody else the last join counts: what
    comes before it may be from an earlier visit, and was seen then."""
    if not inside:
        joins = [number for number, raw in enumerate(events) if is_join(raw, user)]
        events = events[joins[-1] :] if joins else ()
    for raw in events:
        if is_join(raw, user):
            inside = True
        elif membership(raw, user) in ("leave", "ban"):
            inside = False
        if inside:
            yield raw


def tombstone(events: Iterable[Raw]) -> tuple[str, str] | None:
    """The room that replaces the one with these events, and who says so."""
    found = None
    for raw in events:
        if raw.get("type") == "m.room.tombstone" and raw.get("state_key") == "":
            new = content_of(raw).get("replacement_room")
            found = (new, str(raw.get("sender", ""))) if isinstance(new, str) and new.startswith("!") else None
    return found


def predecessor(events: Iterable[Raw]) -> str:
    """The room that the one with these events says it replaces; "" for none."""
    for raw in events:
        if raw.get("type") == "m.room.create" and raw.get("state_key") == "":
            before = content_of(raw).get("predecessor")
            if isinstance(before, Mapping):
                return str(before.get("room_id", ""))
    return ""


def lacks_power(levels: Raw, user: str, kind: str) -> bool:
    """Whether these power levels keep somebody from sending an event of this kind."""
    own = mapping(levels, "users").get(user, levels.get("users_default", 0))
    needed = mapping(levels, "events").get(kind, levels.get("events_default", 0))
    return isinstance(own, int) and isinstance(needed, int) and own < needed


def invited(room: str, state: Iterable[Raw], me: str) -> Invite | None:
    """The invitation in the stripped state of a room."""
    for raw in state:
        if membership(raw, me) == "invite":
            return Invite(room, str(raw.get("sender", "")), content_of(raw).get("is_direct") is True)
    return None
