"""What those who watch see of all branches at once: the same rows and figures, each with the branch that it is of."""

import asyncio
from collections.abc import Iterator, Mapping
from dataclasses import replace

from prometheus_client.core import Metric
from prometheus_client.registry import Collector, CollectorRegistry

from triagebot.keeping.rows import Row
from triagebot.keeping.watch import Watch


class WatchOfAll:
    """Of several branches, by name."""

    def __init__(self, watches: Mapping[str, Watch]) -> None:
        self._watches = watches

    def healthy(self) -> list[Row]:
        return [row for name, watch in self._watches.items() for row in _of(name, watch.healthy())]

    async def ready(self) -> list[Row]:
        found = await asyncio.gather(*(watch.ready() for watch in self._watches.values()))
        return [row for name, rows in zip(self._watches, found, strict=True) for row in _of(name, rows)]


def _of(branch: str, rows: list[Row]) -> list[Row]:
    return [replace(row, what=f"{branch} {row.what}") for row in rows]


class _OfAll(Collector):
    """The figures of several registries, with a label for the branch."""

    def __init__(self, registries: Mapping[str, CollectorRegistry]) -> None:
        self._registries = registries

    def describe(self) -> Iterator[Metric]:
        """Without asking any database."""
        return iter(())

    def collect(self) -> Iterator[Metric]:
        families: dict[str, Metric] = {}
        for branch, registry in self._registries.items():
            for found in registry.collect():
                family = families.setdefault(found.name, Metric(found.name, found.documentation, found.type))
                for sample in found.samples:
                    family.samples.append(sample._replace(labels={"branch": branch, **sample.labels}))
        yield from families.values()


def registry_of_all(registries: Mapping[str, CollectorRegistry]) -> CollectorRegistry:
    """What /metrics shows of several branches, by name."""
    registry = CollectorRegistry()
    registry.register(_OfAll(registries))
    return registry
