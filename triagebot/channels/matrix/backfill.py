"""Back-fill: what a sync left out of a room's timeline is read backwards, page by page, until nothing is missing.

The server ends it where the last sync ended. In a room that the bot has only just joined it ends at the join, since the
bot may read nothing before that.
"""

import logging
from typing import Any

from triagebot.channels.matrix.http import Denied, HttpClient, path_of
from triagebot.channels.matrix.rooms import Raw, is_join

log = logging.getLogger(__name__)

#: Events a page, and pages: of more than a hundred thousand messages in one room the oldest are passed over.
PAGE, MOST_PAGES = 100, 1000


async def backfill(http: HttpClient, room: str, before: str, since: str, joined: str = "") -> list[Raw]:
    """The events of a room between two places in its history, oldest first. The join of `joined` ends it as well.

    Raises MatrixAway. Where the bot may no longer read the room, gives what it could read.
    """
    found: list[Raw] = []
    for _ in range(MOST_PAGES):
        path = path_of("rooms", room, "messages", dir="b", limit=str(PAGE), to=since, **{"from": before})
        try:
            given: dict[str, Any] = await http.request("GET", path)
        except Denied as error:
            log.warning("matrix: a room's history cannot be read (%s)", error)
            break
        chunk = [raw for raw in given.get("chunk") or () if isinstance(raw, dict)]
        for raw in chunk:
            found.append(raw)
            if joined and is_join(raw, joined):
                return found[::-1]
        end = given.get("end")
        if not chunk or not isinstance(end, str) or end == before:
            break
        before = end
    else:
        log.warning("matrix: a room has more new messages than can be read; the oldest are passed over")
    return found[::-1]
