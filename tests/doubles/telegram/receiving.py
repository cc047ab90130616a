"""The methods by which a bot gets its updates: polling, and where its webhook is."""

import asyncio
import re
from ipaddress import ip_address
from urllib.parse import urlsplit

from tests.doubles.telegram import rules
from tests.doubles.telegram.calls import Call
from tests.doubles.telegram.platform import CUT, Poll, Webhook
from tests.doubles.telegram.rules import Cut, Refusal
from tests.doubles.telegram.world import Json

SECRET = re.compile(r"[A-Za-z0-9_-]{1,256}")


async def get_updates(call: Call) -> list[Json]:
    """Waits for updates for as long as the bot asked; the one request beside the lock, which it takes by itself.

    A second one ends the first with 409, and so does a webhook.
    """
    platform, loop = call.platform, asyncio.get_running_loop()
    waiting = platform.waiting[call.bot.token]
    offset, limit = call.number("offset"), call.number("limit", 100, 1, 100)
    until = loop.time() + call.number("timeout", 0, 0, rules.LONGEST_POLL)
    woken = asyncio.Event()

    def wake() -> None:
        loop.call_soon_threadsafe(woken.set)

    poll = Poll(wake)
    with platform.lock:
        if waiting.webhook is not None:
            raise Refusal("webhook-active")
        _choose_kinds(call)
        waiting.end_poll("other-poll")
        waiting.poll = poll
    try:
        while True:
            woken.clear()
            with platform.lock:
                if poll.ended == CUT:
                    raise Cut
                if poll.ended:
                    raise Refusal(poll.ended)
                updates = [update.json() for update in waiting.fetch(offset, limit, platform.clock.now())]
            left = until - loop.time()
            if updates or left <= 0:
                return updates
            # Confirmed once is confirmed: a second look must not count from a moved end again.
            offset = max(offset, 0)
            try:
                await asyncio.wait_for(woken.wait(), left)
            except TimeoutError:
                continue
    finally:
        with platform.lock:
            if waiting.poll is poll:
                waiting.poll = None


def set_webhook(call: Call) -> bool:
    url, secret = call.text("url"), call.text("secret_token")
    waiting = call.platform.waiting[call.bot.token]
    if not url:
        return delete_webhook(call)
    parts = urlsplit(url)
    if parts.scheme not in ("http", "https") or not parts.hostname:
        raise Refusal("webhook-url")
    if not _is_near(parts.hostname):
        raise Refusal("webhook-away")
    if secret and not SECRET.fullmatch(secret):
        raise Refusal("webhook-secret")
    _choose_kinds(call)
    if call.flag("drop_pending_updates"):
        waiting.forget_all()
    connections = call.number("max_connections", rules.WEBHOOK_CONNECTIONS, 1, rules.MOST_WEBHOOK_CONNECTIONS)
    waiting.webhook = Webhook(url, secret, connections)
    for update in waiting.updates.values():
        update.refused, update.not_before = 0, 0.0
    waiting.end_poll("webhook-set")
    waiting.wake()
    return True


def delete_webhook(call: Call) -> bool:
    waiting = call.platform.waiting[call.bot.token]
    waiting.webhook = None
    if call.flag("drop_pending_updates"):
        waiting.forget_all()
    waiting.wake()
    return True


def get_webhook_info(call: Call) -> Json:
    waiting = call.platform.waiting[call.bot.token]
    waiting.forget_old(call.platform.clock.now())
    webhook = waiting.webhook
    info: Json = {"url": "", "has_custom_certificate": False, "pending_update_count": len(waiting.updates)}
    if webhook is not None:
        info |= {"url": webhook.url, "max_connections": webhook.connections, "ip_address": "127.0.0.1"}
        if webhook.last_error:
            info |= {"last_error_date": int(webhook.last_error_at), "last_error_message": webhook.last_error}
    if waiting.allowed != rules.USUAL_UPDATES:
        info["allowed_updates"] = list(waiting.allowed)
    return info


def _choose_kinds(call: Call) -> None:
    """An empty list means the usual kinds; none given means those chosen before. Waiting updates are not touched."""
    chosen = call.value("allowed_updates")
    if isinstance(chosen, list):
        kinds = tuple(kind for kind in rules.USUAL_UPDATES if kind in chosen)
        call.platform.waiting[call.bot.token].allowed = kinds if chosen else rules.USUAL_UPDATES


def _is_near(host: str) -> bool:
    try:
        return ip_address(host).is_loopback
    except ValueError:
        return host == "localhost"
