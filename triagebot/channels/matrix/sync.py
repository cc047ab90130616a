"""Sync: what happened in the bot's rooms since a place.

Decided here and nowhere else:
- The next sync relies on nothing of this one but its `place`: a sync from an old place shows the same again.
- The first sync, and each after the keys were loaded again, learns all rooms and open invitations from the beginning.
- The bot follows a room that was upgraded as soon as it is let in.
- What cannot be decrypted is told once, and kept until its key is there.
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

from triagebot.channels.matrix.backfill import backfill
from triagebot.channels.matrix.events import EventReader, mentions
from triagebot.channels.matrix.http import Denied, HttpClient, MatrixAway, MatrixRefused, path_of
from triagebot.channels.matrix.keys import Keys
from triagebot.channels.matrix.rooms import (
    Invite,
    Position,
    Raw,
    SyncResult,
    Undecryptable,
    content_of,
    invited,
    is_join,
    mapping,
    position,
    predecessor,
    room_of,
    still_kept,
    tombstone,
    while_inside,
)
from triagebot.channels.matrix.seen import Room, Seen

log = logging.getLogger(__name__)

#: Seconds that the server holds a sync open while nothing happens, and that it gets beyond that to answer.
POLL, GRACE = 30.0, 15.0
#: Seconds for the first sync.
FIRST_SYNC = 180.0
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
    """A server gives the same answer to the same first request for minutes, however old it is by then: so no two of
    ours are the same. (Nobody has such a name.)"""
    return _filter(limit=1, not_senders=[f"@{secrets.token_hex(8)}:nowhere.invalid"])


@dataclass(frozen=True, slots=True)
class _First:
    """What the first sync brought; `reloads` says for which loading of the keys."""

    reloads: int
    since: str
    rooms: tuple[str, ...]
    invites: tuple[Invite, ...]


@dataclass(slots=True)
class _News:
    """What one sync has found so far, in the order of each room. `replaces`: new rooms, and which one each says that it
    replaces; `tombstones`: old rooms, and who says that they were upgraded."""

    rooms: dict[str, str]
    followers: dict[str, str]
    events: list[tuple[str, Raw]] = field(default_factory=list)
    invites: list[Invite] = field(default_factory=list)
    gone: list[str] = field(default_factory=list)
    moved: list[tuple[str, str]] = field(default_factory=list)
    replaces: dict[str, str] = field(default_factory=dict)
    tombstones: dict[str, str] = field(default_factory=dict)
    powers: bool = False


class Syncer:
    """For one bot. `log_in_again` sends the password once more, or is None; `join` joins a room."""

    def __init__(
        self,
        http: HttpClient,
        keys: Keys,
        reader: EventReader,
        bridges: Collection[str],
        log_in_again: Callable[[], Awaitable[None]] | None,
        join: Callable[[str, str], Awaitable[bool]],
    ) -> None:
        self.position = Position()
        self._http, self._keys, self._reader, self._bridges = http, keys, reader, bridges
        self._log_in_again, self._join = log_in_again, join
        self._first: _First | None = None
        self._first_lock = asyncio.Lock()
        self._told = -1  # the first sync whose invitations were told
        self._unfollowed = True
        #: Whom an event of ours was put to, "" for nobody in particular; None for an event that is not ours.
        self._ours: OrderedDict[str, str | None] = OrderedDict()

    def room(self, room: str) -> Room | None:
        """A room that the bot is in, as it is now."""
        known = self._keys.rooms.get(room)
        return None if known is None else self._room_now(room, self.position.rooms)

    def _room_now(self, room: str, firsts: Mapping[str, str]) -> Room:
        known = self._keys.rooms.get(room)
        users, encrypted = (known.users, known.encrypted) if known is not None else ({}, False)
        first = firsts.get(room) or self.position.rooms.get(room, room)
        called = {user for user, member in users.items() if member.invited}
        return room_of(room, first, users, encrypted, self._reader.user, self._bridges, called)

    async def sync(self, place: str | None) -> SyncResult:
        """What happened since a place; waits while nothing does. Without a place, from now on.

        Raises MatrixAway, MatrixRefused, StoreError; the place stays good then.
        """
        before = position(place)
        start = await self.started()
        if not before.since:
            self.position = Position(start.since, {room: room for room in start.rooms})
            return SyncResult(self.position.place())  # invitations come next: nothing is begun before there is a place
        first = self._told != start.reloads
        self.position, found = await self._sync_once(before, start.invites if first else (), 0.0 if first else POLL)
        self._told = start.reloads
        return found

    async def _sync_once(
        self, before: Position, open_invites: Collection[Invite], wait: float
    ) -> tuple[Position, SyncResult]:
        given = await self._request(before.since, _NEXT, wait)
        self._keys.take(given)
        self._keys.drop_absent(given)
        news = _News(dict(before.rooms), dict(before.followers))
        for room, info in _infos(given, "join"):
            await self._take_room(news, before, room, info, left=False)
        for new, old in news.replaces.items():
            if old and news.followers.get(old) == new:  # both rooms say so
                news.rooms[new] = news.rooms.get(old, old)
                news.moved.append((old, new))
        for room, info in _infos(given, "leave"):
            await self._take_room(news, before, room, info, left=True)
        news.invites += self._invites(given)
        known = {invite.room for invite in news.invites}
        news.invites += [each for each in open_invites if each.room not in known and each.room not in news.rooms]
        after = Position(str(given["next_batch"]), news.rooms, news.followers, before.undecryptable)
        await self._follow(after, news)
        seen, undecryptable = self._read(before, news)
        after = replace(after, undecryptable=undecryptable)
        answered = [await self._with_answer(each) for each in seen]
        return after, SyncResult(
            after.place(), tuple(answered), tuple(news.invites), tuple(news.gone), tuple(news.moved), news.powers
        )

    def _invites(self, given: Mapping[str, Any]) -> Iterator[Invite]:
        for room, info in _infos(given, "invite"):
            if (invite := invited(room, _events(info.get("invite_state")), self._reader.user)) is not None:
                yield invite

    async def _take_room(self, news: _News, before: Position, room: str, info: Mapping[str, Any], left: bool) -> None:
        """One room's events, back-filled."""
        part = info.get("timeline")
        timeline, state = _events(part), _events(info.get("state"))
        inside = room in before.rooms
        if left and not inside:
            return  # an invitation that came to nothing
        start = part.get("prev_batch") if isinstance(part, dict) and part.get("limited") else None
        if isinstance(start, str) and (inside or not any(is_join(raw, self._reader.user) for raw in timeline)):
            joined = "" if inside else self._reader.user
            timeline = await backfill(self._http, room, start, before.since, joined) + timeline
        news.events += [(room, raw) for raw in while_inside(timeline, inside, self._reader.user)]
        if left:
            del news.rooms[room]
            news.gone.append(room)
            return
        news.powers |= any(raw.get("type") == "m.room.power_levels" for raw in (*state, *timeline))
        if not inside:
            news.rooms[room] = room
            news.replaces[room] = predecessor([*state, *timeline])
        if (found := tombstone([*state, *timeline])) is not None and room not in news.followers:
            news.followers[room], news.tombstones[room] = found

    async def _follow(self, after: Position, news: _News) -> None:
        """Joins the rooms that replace others, as far as the bot is let in."""
        calls = {invite.room for invite in news.invites}
        for old, new in after.awaited():
            if not (self._unfollowed or old in news.tombstones or new in calls):
                continue
            _, _, server = news.tombstones.get(old, "").partition(":")
            try:
                came = await self._join(new, server)
            except MatrixAway:
                self._unfollowed = True
                return
            if came:
                news.invites = [invite for invite in news.invites if invite.room != new]
        self._unfollowed = False

    def _read(self, before: Position, news: _News) -> tuple[list[Seen], tuple[Undecryptable, ...]]:
        """What was said, and what of it cannot be decrypted (yet)."""
        now = datetime.now(UTC)
        seen, undecryptable, done = [], [], set()
        for old in before.undecryptable:
            if old.room not in news.rooms:
                continue
            clear = self._keys.decrypt(old.room, old.raw)
            if clear is None:
                undecryptable.append(old)
            elif (found := self._seen(news, old.room, clear, now)) is not None:
                seen.append(found)
            done.add(old.raw.get("event_id"))
        for room, raw in news.events:
            if raw.get("event_id") in done:
                continue
            done.add(raw.get("event_id"))
            if raw.get("type") != "m.room.encrypted":
                clear = raw
            elif raw.get("sender") == self._reader.user or "ciphertext" not in content_of(raw):
                continue
            elif (clear := self._keys.decrypt(room, raw)) is None:
                if (found := self._seen(news, room, raw, now, undecryptable=True)) is not None:
                    undecryptable.append(Undecryptable(room, _lean(raw)))
                    seen.append(found)
                continue
            if (found := self._seen(news, room, clear, now)) is not None:
                seen.append(found)
        return seen, still_kept(undecryptable, now)

    def _seen(self, news: _News, room: str, raw: Raw, now: datetime, undecryptable: bool = False) -> Seen | None:
        known = self._keys.rooms.get(room)
        sender = known.users.get(raw.get("sender")) if known is not None else None
        name = sender.display_name if sender is not None else ""
        value = self._room_now(room, news.rooms)
        return (self._reader.undecryptable if undecryptable else self._reader.read)(raw, value, name or "", now)

    async def _with_answer(self, seen: Seen) -> Seen:
        """The same, saying whether it answers something of ours, and whom that was put to."""
        if not seen.answers or (seen.room.direct and not seen.thread):
            return seen
        if seen.answers not in self._ours:
            path = path_of("rooms", seen.room.id, "event", seen.answers)
            try:
                given: Raw = await self._http.request("GET", path)
            except Denied:
                given = {}
            ours = given.get("sender") == self._reader.user
            if ours and given.get("type") == "m.room.encrypted":
                given = self._keys.decrypt(seen.room.id, given) or {}
            self.remember(seen.answers, content_of(given) if ours else None)
        put_to = self._ours[seen.answers]
        known = self._keys.rooms.get(seen.room.id)
        member = known.users.get(put_to) if known is not None and put_to else None
        name = (member.display_name if member is not None else "") or ""
        return replace(seen, answers_us=put_to is not None, put_to=put_to or "", put_to_name=name)

    def remember(self, event: str, content: Raw | None) -> None:
        """What of ours an event says, in clear; None for one that is not ours."""
        put_to = None if content is None else next((each for each in mentions(content) if isinstance(each, str)), "")
        self._ours[event] = put_to
        while len(self._ours) > REMEMBERED:
            self._ours.popitem(last=False)

    async def started(self) -> _First:
        """After this, all rooms are known with their members. Raises MatrixAway, MatrixRefused, StoreError."""
        async with self._first_lock:
            if self._first is None or self._first.reloads != self._keys.reloads:
                given = await self._request("", _first(), 0.0)
                self._keys.take(given)
                self._first = _First(
                    self._keys.reloads,
                    str(given["next_batch"]),
                    tuple(room for room, _ in _infos(given, "join")),
                    tuple(self._invites(given)),
                )
                self._unfollowed = True
            return self._first

    async def _request(self, since: str, wanted: str, wait: float) -> dict[str, Any]:
        query = {"filter": wanted, "timeout": str(int(wait * 1000)), "set_presence": "offline"}
        if since:
            query["since"] = since
        for again in (False, True):
            try:
                given = await self._http.request(
                    "GET", path_of("sync", **query), timeout=wait + GRACE if since else FIRST_SYNC
                )
            except Denied as error:
                if not error.logged_out:
                    raise MatrixAway(f"the server refuses to sync ({error})", seconds=5.0) from None
                if again or not error.soft_logout or self._log_in_again is None:
                    raise MatrixRefused(
                        f"matrix: the homeserver has logged {self._reader.user} out; start again to log in with the "
                        "password, or give a new access token"
                    ) from None
                log.warning("matrix: the homeserver wants the password again")
                await self._log_in_again()
            else:
                if not isinstance(given.get("next_batch"), str):
                    raise MatrixAway("the server's sync has no end")
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
