"""How much a bot may say: the platform's public limits, as buckets that fill by themselves.

About one message a second in a chat, thirty a second by a bot, twenty a minute in a group. The platform publishes no
sizes of bursts; those here are settable like the rest.
"""

import math
from dataclasses import dataclass, field


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """Messages a second, and how many may come at once after a rest; edits count only where `edits` says so."""

    on: bool = False
    chat_rate: float = 1.0
    chat_burst: int = 3
    bot_rate: float = 30.0
    bot_burst: int = 30
    group_rate: float = 20 / 60
    group_burst: int = 20
    edits: bool = False


@dataclass(slots=True)
class _Bucket:
    left: float
    at: float

    def wait(self, rate: float, burst: int, now: float) -> float:
        """Seconds until there is room for one more."""
        self.left = min(float(burst), self.left + (now - self.at) * rate)
        self.at = now
        return 0.0 if self.left >= 1 - 1e-9 else (1 - self.left) / rate


@dataclass
class Flood:
    limits: Limits = Limits()
    _buckets: dict[tuple[int, int, str], _Bucket] = field(default_factory=dict)

    def count(self, bot: int, chat: int, now: float, *, is_group: bool, is_edit: bool) -> int:
        """Takes one message's room; 0, or the whole seconds after which to try again, and then nothing was taken."""
        limits = self.limits
        if not limits.on or (is_edit and not limits.edits):
            return 0
        wanted = [(0, limits.bot_rate, limits.bot_burst, "all"), (chat, limits.chat_rate, limits.chat_burst, "chat")]
        if is_group:
            wanted.append((chat, limits.group_rate, limits.group_burst, "group"))
        buckets = []
        longest = 0.0
        for where, rate, burst, name in wanted:
            bucket = self._buckets.setdefault((bot, where, name), _Bucket(burst, now))
            longest = max(longest, bucket.wait(rate, burst, now))
            buckets.append(bucket)
        if longest > 0:
            return max(1, math.ceil(longest))
        for bucket in buckets:
            bucket.left -= 1
        return 0
