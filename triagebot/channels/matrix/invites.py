"""Who may call the bot into a room, and how often.

Decided here and nowhere else:
- the people of the bot's own server, or those that the settings name: a whole server, one person, or everybody (`*`);
- not more than EACH invitations of one person and ALL of everybody in SPAN seconds;
- what is not followed is declined at once, and told in one line a server, which names nobody.
"""

import time
from collections import defaultdict, deque
from collections.abc import Callable

from triagebot.channels.polling import Told

#: So many invitations, in so many seconds.
EACH, ALL, SPAN = 5, 60, 600.0


def server_of(user: str) -> str:
    return user.partition(":")[2]


class Invitations:
    """`own` is the bot's own user id; `allow` what the settings name, its own server if that is nothing."""

    def __init__(self, own: str, allow: tuple[str, ...] = (), clock: Callable[[], float] = time.monotonic) -> None:
        self._allow = frozenset(allow or (server_of(own),))
        self._clock = clock
        self._latest: defaultdict[str, deque[float]] = defaultdict(deque)
        self._told = Told(clock)

    def welcome(self, inviter: str) -> bool:
        """Whether somebody is one of those who may."""
        return not self._allow.isdisjoint(("*", inviter, server_of(inviter)))

    def declined(self, inviter: str) -> str:
        """Why this invitation is declined; "" if it is followed, and counts."""
        if not self.welcome(inviter):
            return f"people of {server_of(inviter) or 'no server'} may not, see TRIAGEBOT_MATRIX_ALLOW"
        now = self._clock()
        for who in [who for who, times in self._latest.items() if times[-1] < now - SPAN]:
            del self._latest[who]
        for times in self._latest.values():
            while times[0] < now - SPAN:
                times.popleft()
        mine, everybodys = self._latest.get(inviter, ()), sum(len(times) for times in self._latest.values())
        if len(mine) >= EACH or everybodys >= ALL:
            return "too many in a short time"
        self._latest[inviter].append(now)
        return ""

    def to_tell(self, inviter: str, why: str) -> bool:
        """Whether it is time to tell that such invitations are declined."""
        return self._told.due(f"{server_of(inviter)} {why}")
