"""Deletes what was kept for as long as it may be while the delivery goes on, a few rows at a time."""

import asyncio
from collections.abc import Awaitable, Callable, Mapping
from datetime import datetime, timedelta
from typing import TYPE_CHECKING, Any

from triagebot.delivery.counts import Counts
from triagebot.store.retention import due, unkeyed

if TYPE_CHECKING:
    from triagebot.store import Store


async def tidied(
    store: "Store", do: Callable[..., Awaitable[Any]], counts: Counts, kept: Mapping[str, timedelta], now: datetime
) -> dict[str, int]:
    """Gives how many rows of each kind were deleted, and counts them. What is due is looked for in a thread, and
    deleted by `do`, the writer. A store from before people had keys is given them first."""
    older = unkeyed(store)
    while (make_keys := await asyncio.to_thread(next, older, None)) is not None:
        await do(make_keys)
    removed: dict[str, int] = {}
    jobs = due(store, kept, now)
    while (job := await asyncio.to_thread(next, jobs, None)) is not None:
        count = await do(job)
        removed[job.kind] = removed.get(job.kind, 0) + count
        counts.tidied[job.kind] = counts.tidied.get(job.kind, 0) + count
    await asyncio.to_thread(store.note_forgotten)
    await asyncio.to_thread(store.empty_log)
    return removed
