"""Who may invite the bot into a room, and how often.

- The people of the bot's own server, or those that the settings name: a whole server, one person, or everybody (`*`).
- So many of one person and of one server at once, and as many again in ten minutes (`EACH`, `SERVER`): whatever some
  people do, those of other servers are none the worse for it, and a server takes many of them.
- All others are declined at once. The person who invited is told why; the log has one line for each server,
  which names nobody.
"""

import time
from collections.abc import Callable
from dataclasses import dataclass

from triagebot.channels.polling import RecentlyLogged
from triagebot.rates import Buckets, Rate

#: How often one person may invite the bot, and the people of one server; so many of either are remembered.
EACH, SERVER, MOST = Rate(5, 5 / 600), Rate(300, 300 / 600), 1000


@dataclass(frozen=True, slots=True)
class Declined:
    """Why an invitation is declined: for the log, and the id of what the inviter is told."""

    why: str
    told: str


def server_of(user: str) -> str:
    return user.partition(":")[2]


class Invitations:
    """`own` is the bot's user id; `allow` what the settings name, its own server if they name nothing."""

    def __init__(self, own: str, allow: tuple[str, ...] = (), clock: Callable[[], float] = time.monotonic) -> None:
        self._allow = frozenset(allow or (server_of(own),))
        self._each, self._servers = Buckets(EACH, MOST, clock), Buckets(SERVER, MOST, clock)
        self._logged, self._told = RecentlyLogged(clock), RecentlyLogged(clock)

    def allowed(self, inviter: str) -> bool:
        """Whether the inviter is allowed."""
        return not self._allow.isdisjoint(("*", inviter, server_of(inviter)))

    def declined(self, inviter: str) -> Declined | None:
        """Why the bot declines this invitation; None if it accepts, and counts, it."""
        if not self.allowed(inviter):
            server = server_of(inviter) or "no server"
            return Declined(f"people of {server} may not, see TRIAGEBOT_MATRIX_ALLOW", "matrix-declined")
        if self._each.wait(inviter) or self._servers.wait(server_of(inviter)):
            return Declined("too many in a short time", "matrix-declined-often")
        return None

    def to_log(self, inviter: str, why: str) -> bool:
        """Whether it is time to log that such invitations are declined."""
        return self._logged.due(f"{server_of(inviter)} {why}")

    def to_tell(self, inviter: str) -> bool:
        """Whether it is time to tell somebody so in a room that they share with the bot."""
        return self._told.due(inviter)
