"""What the delivery counts, for the monitoring (Prometheus' text format)."""

from collections.abc import Iterator

from prometheus_client.core import CounterMetricFamily
from prometheus_client.registry import Collector, CollectorRegistry

from triagebot.delivery.counts import Counts
from triagebot.store.retention import KINDS

WORDS = {
    "received": "Messages and presses received",
    "duplicates": "Messages that came a second time under their key",
    "passed_over": "Messages of a flood, which were not read",
    "stale": "Presses of a message whose question was no longer open",
    "doubles": "Presses that were taken already",
    "failed_turns": "Attempts at a turn that failed",
    "set_aside": "Messages set aside after too many failures",
    "sent": "Messages that went out",
    "retried": "Attempts to send that are to be made again",
    "refused": "Messages that a platform will never take",
    "gone": "Conversations in which nobody can be reached any more",
    "unknown": "Messages that were being sent when the process ended",
    "repeated": "Messages sent once more after a crash",
    "photos_kept": "Photos fetched and kept",
    "photos_lost": "Photos that could not be had",
}
TIDIED = "Rows deleted since they were kept for as long as they may be"


class DeliveryMetrics(Collector):
    """The counts of one delivery, as they stand when they are asked for."""

    def __init__(self, counts: Counts) -> None:
        self._counts = counts

    def collect(self) -> Iterator[CounterMetricFamily]:
        for name, words in WORDS.items():
            yield CounterMetricFamily(f"triagebot_{name}", words, value=getattr(self._counts, name))
        tidied = CounterMetricFamily("triagebot_tidied", TIDIED, labels=["kind"])
        for kind, count in sorted({**dict.fromkeys(KINDS, 0), **self._counts.tidied}.items()):
            tidied.add_metric([kind], count)
        yield tidied


def registry_of(counts: Counts, *others: Collector) -> CollectorRegistry:
    registry = CollectorRegistry()
    for collector in (DeliveryMetrics(counts), *others):
        registry.register(collector)
    return registry
