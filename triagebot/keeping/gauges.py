"""What stands just now, for the monitoring (Prometheus' text format): what waits and was set aside, by channel, and how
long ago each platform answered. What has happened so far is counted by `delivery.metrics`.

A database that cannot be read gives no figures of what waits, and `triagebot_database_readable` 0: go by that.
"""

from collections.abc import Iterator
from datetime import UTC, datetime
from typing import TYPE_CHECKING

from prometheus_client.core import GaugeMetricFamily
from prometheus_client.registry import Collector

from triagebot.errors import StoreError

if TYPE_CHECKING:
    from triagebot.keeping.watch import Watch

WORDS = {
    "triagebot_backlog": "Messages that wait for their turn (in) or to be sent (out)",
    "triagebot_oldest_waiting_seconds": "Age of the oldest of them, 0 when none waits",
    "triagebot_set_aside": "Messages that were set aside, or never sent",
    "triagebot_platform_reached_seconds": "Seconds since the platform last answered",
    "triagebot_database_readable": "1 if what waits could be read, else 0",
    "triagebot_healthy": "1 if /health says that all is well, else 0",
}
_BY_CHANNEL = ("triagebot_backlog", "triagebot_oldest_waiting_seconds", "triagebot_set_aside")


class Gauges(Collector):
    """Reads the database each time, so it is to be asked in a thread."""

    def __init__(self, watch: "Watch") -> None:
        self._watch = watch

    def describe(self) -> Iterator[GaugeMetricFamily]:
        """Without asking the database, which may not be there yet."""
        yield from (GaugeMetricFamily(name, words) for name, words in WORDS.items())

    def collect(self) -> Iterator[GaugeMetricFamily]:
        try:
            found = self._watch.backlogs()
        except StoreError:
            yield _plain("triagebot_database_readable", 0)
        else:
            yield _plain("triagebot_database_readable", 1)
            now = datetime.now(UTC)
            by_channel = {name: GaugeMetricFamily(name, WORDS[name], labels=("channel", "way")) for name in _BY_CHANNEL}
            for each in found:
                age = 0.0 if each.oldest is None else max(0.0, (now - each.oldest).total_seconds())
                for family, value in zip(by_channel.values(), (each.waiting, age, each.aside), strict=True):
                    family.add_metric((each.channel, each.way), value)
            yield from by_channel.values()
        yield _plain("triagebot_healthy", int(all(row.well for row in self._watch.healthy())))
        name = "triagebot_platform_reached_seconds"
        reached = GaugeMetricFamily(name, WORDS[name], labels=("channel",))
        for channel, ago in self._watch.reached().items():
            reached.add_metric((channel,), float("inf") if ago is None else ago)
        yield reached


def _plain(name: str, value: float) -> GaugeMetricFamily:
    return GaugeMetricFamily(name, WORDS[name], value=value)
