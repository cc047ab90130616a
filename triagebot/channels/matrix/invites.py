"""Who may invite the bot into a room, and how often.

- The people of the bot's own server, or those that the settings name: a whole server, one person, or everybody (`*`).
- So many of one person and of everybody at once, and as many again in ten minutes (`EACH`, `ALL`).
- All others are declined at once, and logged in one line a server, which names nobody.
"""

import time
from collections.abc import Callable

from triagebot.channels.polling import RecentlyLogged
from triagebot.rates import Buckets, Rate

#: How often one person may invite the bot, and everybody together; so many people are remembered.
EACH, ALL, MOST = Rate(5, 5 / 600), Rate(60, 60 / 600), 1000


def server_of(user: str) -> str:
    return user.partition(":")[2]


class Invitations:
    """`own` is the bot's user id; `allow` what the settings name, its own server if they name nothing."""

    def __init__(self, own: str, allow: tuple[str, ...] = (), clock: Callable[[], float] = time.monotonic) -> None:
        self._allow = frozenset(allow or (server_of(own),))
        self._each, self._all = Buckets(EACH, MOST, clock), Buckets(ALL, 1, clock)
        self._logged = RecentlyLogged(clock)

    def allowed(self, inviter: str) -> bool:
        """Whether the inviter is allowed."""
        return not self._allow.isdisjoint(("*", inviter, server_of(inviter)))

    def declined(self, inviter: str) -> str:
        """Why the bot declines this invitation; "" if it accepts, and counts, it."""
        if not self.allowed(inviter):
            return f"people of {server_of(inviter) or 'no server'} may not, see TRIAGEBOT_MATRIX_ALLOW"
        if self._each.wait(inviter) or self._all.wait(""):
            return "too many in a short time"
        return ""

    def to_log(self, inviter: str, why: str) -> bool:
        """Whether it is time to log that such invitations are declined."""
        return self._logged.due(f"{server_of(inviter)} {why}")
