"""The staff's rooms, as they are set up."""

import json
from typing import TYPE_CHECKING

from triagebot.handover import StaffRoom
from triagebot.settings import Settings

if TYPE_CHECKING:
    from triagebot.store import Store


def rooms_of(
    settings: Settings, store: "Store", *, on_telegram: bool = True, on_matrix: bool = True
) -> tuple[StaffRoom, ...]:
    """The staff's rooms that are set up, on the channels that are served."""
    rooms = []
    if settings.telegram_staff_room is not None and on_telegram:
        rooms.append(StaffRoom("telegram", {"chat": _first_number(settings.telegram_staff_room, store)}))
    if settings.matrix_staff_room is not None and on_matrix:
        rooms.append(StaffRoom("matrix", {"room": settings.matrix_staff_room}))
    return tuple(rooms)


def _first_number(group: int, store: "Store") -> int:
    """What a group of Telegram's was called before it grew (see `telegram.groups`): its cases lie under that."""
    from triagebot.store.post import Post  # late: it needs the database library

    with store.read() as view:
        place = Post(view).place("telegram")
    return int(json.loads(place or "{}").get("first", {}).get(str(group), group))
