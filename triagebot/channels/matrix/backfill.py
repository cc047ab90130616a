"""What the server left out of a room's news is read backwards, page by page, until nothing is missing.

Decided here and nowhere else: how far back that goes. The server itself ends it where the last look ended; in a room
that the bot has only just joined it ends at the join, since nothing before that is the bot's to read.
"""

import logging
from typing import Any

from triagebot.channels.matrix.http import Denied, Line, path_of
from triagebot.channels.matrix.rooms import Raw, came_in

log = logging.getLogger(__name__)

#: Events a page, and pages: more than a hundred thousand messages in one room are not caught up with.
PAGE, MOST_PAGES = 100, 1000


async def missing(line: Line, room: str, before: str, since: str, joined: str = "") -> list[Raw]:
    """The events of a room between two places in its history, oldest first. `joined`: whose join ends it as well.

    Raises MatrixAway. Where the bot may no longer read the room, what it could read is all there is.
    """
    found: list[Raw] = []
    for _ in range(MOST_PAGES):
        path = path_of("rooms", room, "messages", dir="b", limit=str(PAGE), to=since, **{"from": before})
        try:
            given: dict[str, Any] = await line.ask("GET", path)
        except Denied as error:
            log.warning("matrix: a room's history cannot be read (%s)", error)
            break
        chunk = [raw for raw in given.get("chunk") or () if isinstance(raw, dict)]
        for raw in chunk:
            found.append(raw)
            if joined and came_in(raw, joined):
                return found[::-1]
        end = given.get("end")
        if not chunk or not isinstance(end, str) or end == before:
            break
        before = end
    else:
        log.warning("matrix: a room has more news than can be caught up with; the oldest are passed over")
    return found[::-1]
