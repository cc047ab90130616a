"""The numbers of groups: a group that grows gets another one, and keeps its first as the name of what it has here.

Rules of this file:
- where a message goes is kept under the group's first number, and sent to its present one;
- a group that moved is followed from the first sign of it on, and after every start: the numbers are kept with how far
  the channel has read.
"""

import logging
from collections.abc import Callable, Mapping
from typing import Any

log = logging.getLogger(__name__)


class Groups:
    """`room` is the number of the staff's as it is set up, 0 for none; `keep` is told that there is news to keep."""

    def __init__(self, room: int = 0, keep: Callable[[], None] = lambda: None) -> None:
        self._room = room
        self._keep = keep
        #: The first number of each group that moved, by all that it had later; its present one, by the first.
        self._first: dict[int, int] = {}
        self._now: dict[int, int] = {}
        #: As it is kept.
        self.kept: dict[str, int] = {}

    def first(self, chat: int) -> int:
        return self._first.get(chat, chat)

    def now(self, chat: int) -> int:
        return self._now.get(self.first(chat), chat)

    def is_room(self, chat: int) -> bool:
        """Whether this is the room of the staff, by any number that it has had."""
        return self._room != 0 and self.first(chat) == self.first(self._room)

    def moved(self, old: int, new: int) -> bool:
        """A group has another number; gives whether that is news."""
        if old == new or self._first.get(new) == self.first(old):
            return False
        room = self.is_room(old)
        self._note(new, self.first(old))
        log.warning(
            "telegram: the group %d is called %d from now on; what goes there follows%s",
            old,
            new,
            ", and it stays the staff's room (telegram_staff_room may say either)" if room else "",
        )
        self._keep()
        return True

    def _note(self, later: int, first: int) -> None:
        self._first[later] = self.kept[str(later)] = first
        self._now[first] = later

    def read(self, kept: Mapping[str, Any]) -> None:
        for later, first in kept.items():
            self._note(int(later), int(first))
