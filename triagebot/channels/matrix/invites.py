"""Who may invite the bot into a room, and how often.

- The people of the bot's own server, or those that the settings name: a whole server, one person, or everybody (`*`).
- At most EACH invitations of one person and ALL of everybody in SPAN seconds.
- All others are declined at once, and logged in one line a server, which names nobody.
"""

import time
from collections import defaultdict, deque
from collections.abc import Callable

from triagebot.channels.polling import RecentlyLogged

#: So many invitations, in so many seconds.
EACH, ALL, SPAN = 5, 60, 600.0


def server_of(user: str) -> str:
    return user.partition(":")[2]


class Invitations:
    """`own` is the bot's user id; `allow` what the settings name, its own server if they name nothing."""

    def __init__(self, own: str, allow: tuple[str, ...] = (), clock: Callable[[], float] = time.monotonic) -> None:
        self._allow = frozenset(allow or (server_of(own),))
        self._clock = clock
        self._latest: defaultdict[str, deque[float]] = defaultdict(deque)
        self._logged = RecentlyLogged(clock)

    def allowed(self, inviter: str) -> bool:
        """Whether the inviter is allowed."""
        return not self._allow.isdisjoint(("*", inviter, server_of(inviter)))

    def declined(self, inviter: str) -> str:
        """Why the bot declines this invitation; "" if it accepts, and counts, it."""
        if not self.allowed(inviter):
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

    def to_log(self, inviter: str, why: str) -> bool:
        """Whether it is time to log that such invitations are declined."""
        return self._logged.due(f"{server_of(inviter)} {why}")
