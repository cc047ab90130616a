"""One look after another at what happened in the bot's rooms.

Decided here and nowhere else:
- a look changes nothing that the next one relies on but what is in its `place`: looking again from an old place shows
  the same again;
- the first look, and each after the keys had to be read anew, learns all rooms and open invitations from the beginning;
- a room that was upgraded is followed as soon as the bot is let in;
- what cannot be read is told once, and kept until its key is there.
"""

import asyncio
import json
import logging
import secrets
from collections import OrderedDict
from collections.abc import Awaitable, Callable, Collection, Iterator, Mapping
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime
from typing import Any

from triagebot.channels.matrix.backfill import missing
from triagebot.channels.matrix.events import Reader
from triagebot.channels.matrix.http import Denied, Line, MatrixAway, MatrixRefused, path_of
from triagebot.channels.matrix.keys import Keys
from triagebot.channels.matrix.rooms import (
    Invite,
    Locked,
    Look,
    Raw,
    Standing,
    came_in,
    content_of,
    invited,
    kept,
    mapping,
    predecessor,
    room_of,
    standing,
    tombstone,
    while_inside,
)
from triagebot.channels.matrix.seen import Room, Seen

log = logging.getLogger(__name__)

#: Seconds that the server holds a look open while nothing happens, and what it gets beyond that to answer.
POLL, GRACE = 30.0, 15.0
#: Seconds for learning all rooms.
ARRIVAL = 180.0
#: Events of a room in one answer; of how many messages it is known whose they are.
TIMELINE, REMEMBERED = 100, 5000

_NOTHING = {"not_types": ["*"]}


def _filter(**timeline: Any) -> str:
    room = {"timeline": timeline, "state": {"lazy_load_members": False}}
    wanted = {
        "presence": _NOTHING,
        "account_data": _NOTHING,
        "room": {**room, "ephemeral": _NOTHING, "account_data": _NOTHING},
    }
    return json.dumps(wanted, separators=(",", ":"))


_NEXT = _filter(limit=TIMELINE)


def _first() -> str:
    """Servers answer the same first request with the same answer for minutes, however old it is by then: so no two of
    ours are the same. (Nobody has such a name.)"""
    return _filter(limit=1, not_senders=[f"@{secrets.token_hex(8)}:nowhere.invalid"])


@dataclass(frozen=True, slots=True)
class _Arrival:
    """What there was when the bot came: `opened` says for which reading of the keys."""

    opened: int
    since: str
    rooms: tuple[str, ...]
    invites: tuple[Invite, ...]


@dataclass(slots=True)
class _News:
    """What one look has found so far, in the order of each room. `claims`: new rooms, and which one each says that it
    has taken the place of; `tombs`: old rooms, and who says that they have moved."""

    rooms: dict[str, str]
    followers: dict[str, str]
    events: list[tuple[str, Raw]] = field(default_factory=list)
    invites: list[Invite] = field(default_factory=list)
    gone: list[str] = field(default_factory=list)
    moved: list[tuple[str, str]] = field(default_factory=list)
    claims: dict[str, str] = field(default_factory=dict)
    tombs: dict[str, str] = field(default_factory=dict)


class Looker:
    """Looks for one bot. `enter_again` gives the password anew, or is None; `join` goes into a room."""

    def __init__(
        self,
        line: Line,
        keys: Keys,
        reader: Reader,
        bridges: Collection[str],
        enter_again: Callable[[], Awaitable[None]] | None,
        join: Callable[[str, str], Awaitable[bool]],
    ) -> None:
        self.standing = Standing()
        self._line, self._keys, self._reader, self._bridges = line, keys, reader, bridges
        self._enter_again, self._join = enter_again, join
        self._arrival: _Arrival | None = None
        self._arriving = asyncio.Lock()
        self._told = -1  # the arrival whose invitations were told
        self._unfollowed = True
        self._ours: OrderedDict[str, bool] = OrderedDict()

    def room(self, room: str) -> Room | None:
        """A room that the bot is in, as it stands now."""
        known = self._keys.rooms.get(room)
        return None if known is None else self._as_it_stands(room, self.standing.rooms)

    def _as_it_stands(self, room: str, firsts: Mapping[str, str]) -> Room:
        known = self._keys.rooms.get(room)
        users, encrypted = (known.users, known.encrypted) if known is not None else ({}, False)
        first = firsts.get(room) or self.standing.rooms.get(room, room)
        return room_of(room, first, users, encrypted, self._reader.user, self._bridges)

    async def look(self, place: str | None) -> Look:
        """What happened since a place, held while nothing does; from now on if there is none.

        Raises MatrixAway, MatrixRefused, StoreError; the place stays good then.
        """
        before = standing(place)
        arrival = await self.arrived()
        if not before.since:
            self.standing = Standing(arrival.since, {room: room for room in arrival.rooms})
            return Look(self.standing.place())  # invitations come next: nothing is begun before there is a place
        first = self._told != arrival.opened
        self.standing, found = await self._look(before, arrival.invites if first else (), 0.0 if first else POLL)
        self._told = arrival.opened
        return found

    async def _look(self, before: Standing, open_invites: Collection[Invite], wait: float) -> tuple[Standing, Look]:
        given = await self._sync(before.since, _NEXT, wait)
        self._keys.take(given)
        self._keys.part_with_absent(given)
        news = _News(dict(before.rooms), dict(before.followers))
        for room, info in _infos(given, "join"):
            await self._hear(news, before, room, info, left=False)
        for new, old in news.claims.items():
            if old and news.followers.get(old) == new:  # both rooms say so
                news.rooms[new] = news.rooms.get(old, old)
                news.moved.append((old, new))
        for room, info in _infos(given, "leave"):
            await self._hear(news, before, room, info, left=True)
        news.invites += self._invites(given)
        known = {invite.room for invite in news.invites}
        news.invites += [each for each in open_invites if each.room not in known and each.room not in news.rooms]
        after = Standing(str(given["next_batch"]), news.rooms, news.followers, before.locked)
        await self._follow(after, news)
        seen, locked = self._read(before, news)
        after = replace(after, locked=locked)
        answered = [await self._answered(each) for each in seen]
        return after, Look(after.place(), tuple(answered), tuple(news.invites), tuple(news.gone), tuple(news.moved))

    def _invites(self, given: Mapping[str, Any]) -> Iterator[Invite]:
        for room, info in _infos(given, "invite"):
            if (invite := invited(room, _events(info.get("invite_state")), self._reader.user)) is not None:
                yield invite

    async def _hear(self, news: _News, before: Standing, room: str, info: Mapping[str, Any], left: bool) -> None:
        """One room's news, without gaps."""
        part = info.get("timeline")
        timeline, state = _events(part), _events(info.get("state"))
        inside = room in before.rooms
        if left and not inside:
            return  # an invitation that came to nothing
        start = part.get("prev_batch") if isinstance(part, dict) and part.get("limited") else None
        if isinstance(start, str) and (inside or not any(came_in(raw, self._reader.user) for raw in timeline)):
            joined = "" if inside else self._reader.user
            timeline = await missing(self._line, room, start, before.since, joined) + timeline
        news.events += [(room, raw) for raw in while_inside(timeline, inside, self._reader.user)]
        if left:
            del news.rooms[room]
            news.gone.append(room)
            return
        if not inside:
            news.rooms[room] = room
            news.claims[room] = predecessor([*state, *timeline])
        if (found := tombstone([*state, *timeline])) is not None and room not in news.followers:
            news.followers[room], news.tombs[room] = found

    async def _follow(self, after: Standing, news: _News) -> None:
        """Into the rooms that have taken the place of others, as far as the bot is let in."""
        calls = {invite.room for invite in news.invites}
        for old, new in after.awaited():
            if not (self._unfollowed or old in news.tombs or new in calls):
                continue
            _, _, server = news.tombs.get(old, "").partition(":")
            try:
                came = await self._join(new, server)
            except MatrixAway:
                self._unfollowed = True
                return
            if came:
                news.invites = [invite for invite in news.invites if invite.room != new]
        self._unfollowed = False

    def _read(self, before: Standing, news: _News) -> tuple[list[Seen], tuple[Locked, ...]]:
        """What was said, and what of it cannot be read (yet)."""
        now = datetime.now(UTC)
        seen, locked, heard = [], [], set()
        for old in before.locked:
            if old.room not in news.rooms:
                continue
            clear = self._keys.open(old.room, old.raw)
            if clear is None:
                locked.append(old)
            elif (found := self._seen(news, old.room, clear, now)) is not None:
                seen.append(found)
            heard.add(old.raw.get("event_id"))
        for room, raw in news.events:
            if raw.get("event_id") in heard:
                continue
            heard.add(raw.get("event_id"))
            if raw.get("type") != "m.room.encrypted":
                clear = raw
            elif raw.get("sender") == self._reader.user or "ciphertext" not in content_of(raw):
                continue
            elif (clear := self._keys.open(room, raw)) is None:
                if (found := self._seen(news, room, raw, now, locked=True)) is not None:
                    locked.append(Locked(room, _lean(raw)))
                    seen.append(found)
                continue
            if (found := self._seen(news, room, clear, now)) is not None:
                seen.append(found)
        return seen, kept(locked, now)

    def _seen(self, news: _News, room: str, raw: Raw, now: datetime, locked: bool = False) -> Seen | None:
        known = self._keys.rooms.get(room)
        sender = known.users.get(raw.get("sender")) if known is not None else None
        name = sender.display_name if sender is not None else ""
        value = self._as_it_stands(room, news.rooms)
        return (self._reader.locked if locked else self._reader.read)(raw, value, name or "", now)

    async def _answered(self, seen: Seen) -> Seen:
        """With it, whether it answers something of ours."""
        if not seen.answers or (seen.room.direct and not seen.thread):
            return seen
        if seen.answers not in self._ours:
            path = path_of("rooms", seen.room.id, "event", seen.answers)
            try:
                given = await self._line.ask("GET", path)
            except Denied:
                given = {}
            self.remember(seen.answers, given.get("sender") == self._reader.user)
        return replace(seen, answers_us=self._ours[seen.answers])

    def remember(self, event: str, ours: bool) -> None:
        self._ours[event] = ours
        while len(self._ours) > REMEMBERED:
            self._ours.popitem(last=False)

    async def arrived(self) -> _Arrival:
        """All rooms are known with their members. Raises MatrixAway, MatrixRefused, StoreError."""
        async with self._arriving:
            if self._arrival is None or self._arrival.opened != self._keys.opened:
                given = await self._sync("", _first(), 0.0)
                self._keys.take(given)
                self._arrival = _Arrival(
                    self._keys.opened,
                    str(given["next_batch"]),
                    tuple(room for room, _ in _infos(given, "join")),
                    tuple(self._invites(given)),
                )
                self._unfollowed = True
            return self._arrival

    async def _sync(self, since: str, wanted: str, wait: float) -> dict[str, Any]:
        query = {"filter": wanted, "timeout": str(int(wait * 1000)), "set_presence": "offline"}
        if since:
            query["since"] = since
        for again in (False, True):
            try:
                given = await self._line.ask("GET", path_of("sync", **query), within=wait + GRACE if since else ARRIVAL)
            except Denied as error:
                if not error.logged_out:
                    raise MatrixAway(f"the server refuses to tell the news ({error})", seconds=5.0) from None
                if again or not error.softly or self._enter_again is None:
                    raise MatrixRefused(
                        f"matrix: the homeserver has logged {self._reader.user} out; start again to log in with the "
                        "password, or give a new access token"
                    ) from None
                log.warning("matrix: the homeserver wants the password again")
                await self._enter_again()
            else:
                if not isinstance(given.get("next_batch"), str):
                    raise MatrixAway("the server's news are no news")
                return given
        raise AssertionError("unreachable")


def _infos(given: Mapping[str, Any], section: str) -> Iterator[tuple[str, dict[str, Any]]]:
    """The rooms of a section of an answer."""
    found = mapping(given, "rooms", section)
    yield from ((room, info) for room, info in found.items() if isinstance(info, dict))


def _events(part: Any) -> list[Raw]:
    events = part.get("events") if isinstance(part, Mapping) else None
    return [raw for raw in events if isinstance(raw, dict)] if isinstance(events, list) else []


def _lean(raw: Raw) -> dict[str, Any]:
    """An event without what the server adds."""
    return {name: value for name, value in raw.items() if name not in ("unsigned", "age", "room_id", "user_id")}
