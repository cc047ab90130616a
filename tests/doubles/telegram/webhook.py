"""Brings updates to a bot's webhook: each lane in its own order, lanes side by side, again and again until it is taken.

An update counts as taken when the answer is 2xx. Otherwise it is brought again after the waits of `rules`, or when a
Retry-After header says so, until its life is over; the updates behind it in its lane wait with it.
"""

import asyncio
import json
from contextlib import suppress
from dataclasses import dataclass, field
from itertools import chain

import httpx

from tests.doubles.telegram.platform import Lane, Platform, Update, Waiting, Webhook
from tests.doubles.telegram.rules import MOST_WEBHOOK_CONNECTIONS, WEBHOOK_ANSWERS_WITHIN, WEBHOOK_WAITS
from tests.doubles.telegram.world import Bot

SECRET_HEADER = "X-Telegram-Bot-Api-Secret-Token"
#: Seconds between looks when nothing wakes the carrier, so that what expires is noticed.
LOOKS_EVERY = 1.0


@dataclass
class Carrier:
    """Delivers for one bot while it has a webhook; `run` goes on until it is cancelled."""

    platform: Platform
    bot: Bot
    client: httpx.AsyncClient
    woken: asyncio.Event = field(default_factory=asyncio.Event)
    busy: dict[Lane, asyncio.Task[None]] = field(default_factory=dict)

    async def run(self) -> None:
        waiting, loop = self.platform.waiting[self.bot.token], asyncio.get_running_loop()

        def wake() -> None:
            with suppress(RuntimeError):  # the loop is closed: nobody carries any more
                loop.call_soon_threadsafe(self.woken.set)

        waiting.wake_webhook = wake
        self.platform.clock.on_skip(wake)
        try:
            while True:
                self.woken.clear()
                pause = self._begin(waiting)
                with suppress(TimeoutError):
                    await asyncio.wait_for(self.woken.wait(), pause)
        finally:
            for task in self.busy.values():
                task.cancel()

    def _begin(self, waiting: Waiting) -> float:
        """Starts whatever can be delivered now; seconds until to look again."""
        pause = LOOKS_EVERY
        with self.platform.lock:
            webhook, now = waiting.webhook, self.platform.clock.now()
            if webhook is None or now < self.platform.injector.outage_until:
                return pause
            repeated = [waiting.again.popleft() for _ in range(len(waiting.again))]
            for update in chain(repeated, waiting.heads(now)):
                if len(self.busy) >= webhook.connections or update.lane in self.busy:
                    if update in repeated:
                        waiting.again.append(update)
                    elif len(self.busy) >= webhook.connections:
                        break
                elif update.not_before > now:
                    pause = min(pause, update.not_before - now)
                else:
                    self.busy[update.lane] = asyncio.ensure_future(self._deliver(waiting, webhook, update))
        return max(pause, 0.001)

    async def _deliver(self, waiting: Waiting, webhook: Webhook, update: Update) -> None:
        headers = {"Content-Type": "application/json"}
        if webhook.secret:
            headers[SECRET_HEADER] = webhook.secret
        error, retry_after = "", 0.0
        try:
            body = json.dumps(update.json()).encode()
            response = await self.client.post(webhook.url, content=body, headers=headers)
            if not response.is_success:
                error = f"Wrong response from the webhook: {response.status_code} {response.reason_phrase}"
                with suppress(ValueError):
                    retry_after = float(response.headers.get("Retry-After", 0))
        except httpx.TransportError:
            error = "Webhook connection closed"
        finally:
            self.busy.pop(update.lane, None)
            self.woken.set()
        with self.platform.lock:
            if not error:
                waiting.forget(update.number)
            elif waiting.webhook is webhook:
                self._put_off(webhook, update, error, retry_after)

    def _put_off(self, webhook: Webhook, update: Update, error: str, retry_after: float) -> None:
        now = self.platform.clock.now()
        wait = retry_after or WEBHOOK_WAITS[min(update.refused, len(WEBHOOK_WAITS) - 1)]
        update.refused += 1
        update.not_before = now + wait * self.platform.webhook_pace
        webhook.last_error, webhook.last_error_at = error, now


def carrier(platform: Platform, bot: Bot) -> Carrier:
    """One for a bot. Its client speaks to the loopback only, so no proxy is asked."""
    client = httpx.AsyncClient(
        timeout=WEBHOOK_ANSWERS_WITHIN, trust_env=False, limits=httpx.Limits(max_connections=MOST_WEBHOOK_CONNECTIONS)
    )
    return Carrier(platform, bot, client)
