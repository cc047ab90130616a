"""What is deleted and counted now and then while it serves."""

import asyncio
import logging
import threading
from collections.abc import AsyncIterator, Callable, Mapping
from contextlib import asynccontextmanager
from datetime import UTC, datetime, timedelta
from itertools import chain, repeat
from time import monotonic
from typing import TYPE_CHECKING

from triagebot.conversation import Guide
from triagebot.delivery import Delivery
from triagebot.errors import DataError, StoreError
from triagebot.settings import Settings

if TYPE_CHECKING:
    from triagebot.store import Store

log = logging.getLogger(__name__)

#: Seconds between tidyings, and before the first one: what an update or an edit made out of date is counted anew then.
TIDY_EVERY, TIDY_FIRST = 3600.0, 60.0


@asynccontextmanager
async def tidying(
    delivery: Delivery, kept: Mapping[str, timedelta], count: Callable[[threading.Event], None]
) -> AsyncIterator[None]:
    """Now and then deletes what was kept for as long as it may be, and lets `count` count the cases in a thread, until
    the event that it is given."""
    ending, counting = threading.Event(), set[asyncio.Task[None]]()

    async def tidy() -> None:
        for rest in chain((TIDY_FIRST,), repeat(TIDY_EVERY)):
            await asyncio.sleep(rest)
            try:
                removed = await delivery.tidy(kept)
                told = ", ".join(f"{kind} {count}" for kind, count in removed.items() if count)
                log.info("deleted after its time: %s", told or "nothing")
                counting.add(asyncio.create_task(asyncio.to_thread(count, ending)))
                await asyncio.wait(counting)
                counting.pop().result()
            except (StoreError, DataError) as error:
                log.warning("cannot tidy up now: %s", error)

    task = asyncio.create_task(tidy())
    try:
        yield
    finally:
        task.cancel()
        ending.set()
        await asyncio.gather(*counting)


def count_cases(settings: Settings, guide: Guide, store: "Store", ending: threading.Event) -> None:
    """Puts down what is counted of cases of which nothing was heard for a day, for the next report. It rests for as
    long as it worked, so that turns find the processor free half of the time."""
    from triagebot.study.totals import Judging, counted
    from triagebot.topics import built_in_topic, load_topic

    rested = monotonic()

    def go_on() -> bool:
        nonlocal rested
        ended = ending.wait(monotonic() - rested)
        rested = monotonic()
        return not ended

    shipped = load_topic(settings.topic or built_in_topic())
    counted(store, Judging(shipped, guide.topic), datetime.now(UTC), go_on=go_on)
