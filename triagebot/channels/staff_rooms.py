"""The staff's rooms, as they are set up."""

from triagebot.handover import StaffRoom
from triagebot.settings import Settings


def rooms_of(settings: Settings, *, on_telegram: bool = True, on_matrix: bool = True) -> tuple[StaffRoom, ...]:
    """The staff's rooms that are set up, on the channels that are served."""
    rooms = []
    if settings.telegram_staff_room is not None and on_telegram:
        rooms.append(StaffRoom("telegram", {"chat": settings.telegram_staff_room}))
    if settings.matrix_staff_room is not None and on_matrix:
        rooms.append(StaffRoom("matrix", {"room": settings.matrix_staff_room}))
    return tuple(rooms)
