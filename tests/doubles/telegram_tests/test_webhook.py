"""Webhooks: who they are, in which order updates are brought, and how often."""

import asyncio
import json
import threading
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from itertools import pairwise

import httpx
import pytest
from telegram.error import BadRequest

from tests.doubles.telegram_tests.stage import Stage

pytestmark = pytest.mark.asyncio


@dataclass
class Shop:
    """Takes what is brought, and answers as told: the codes in `answers` one after the other, then 200."""

    url: str = ""
    answers: list[int] = field(default_factory=list)
    refused: set[str] = field(default_factory=set)
    body: bytes = b""
    headers: dict[str, str] = field(default_factory=dict)
    takes: float = 0.0
    brought: list[tuple[float, str]] = field(default_factory=list)
    secrets: list[str] = field(default_factory=list)
    at_once: int = 0
    most_at_once: int = 0
    lock: threading.Lock = field(default_factory=threading.Lock)

    def texts(self) -> list[str]:
        return [text for _, text in self.brought]

    async def has(self, count: int, *, within: float = 5.0) -> None:
        until = time.monotonic() + within
        while len(self.brought) < count:
            assert time.monotonic() < until, self.brought
            await asyncio.sleep(0.01)

    def take(self, text: str) -> int:
        with self.lock:
            self.at_once += 1
            self.most_at_once = max(self.most_at_once, self.at_once)
            self.brought.append((time.monotonic(), text))
            code = 503 if text in self.refused else (self.answers.pop(0) if self.answers else 200)
        time.sleep(self.takes)
        with self.lock:
            self.at_once -= 1
        return code


@pytest.fixture
def shop() -> Iterator[Shop]:
    shop = Shop()

    class Door(BaseHTTPRequestHandler):
        protocol_version = "HTTP/1.1"

        def do_POST(self) -> None:
            update = json.loads(self.rfile.read(int(self.headers["Content-Length"])))
            shop.secrets.append(self.headers.get("X-Telegram-Bot-Api-Secret-Token", ""))
            self.send_response(shop.take(_said(update)))
            for name, value in shop.headers.items():
                self.send_header(name, value)
            self.send_header("Content-Length", str(len(shop.body)))
            self.end_headers()
            self.wfile.write(shop.body)

        def log_message(self, format: str, *args: object) -> None:
            """Says nothing."""

    server = ThreadingHTTPServer(("127.0.0.1", 0), Door)
    shop.url = f"http://127.0.0.1:{server.server_port}/hook"
    thread = threading.Thread(target=server.serve_forever, kwargs={"poll_interval": 0.01})
    thread.start()
    yield shop
    server.shutdown()
    thread.join()
    server.server_close()


def _said(update: dict[str, dict[str, str]]) -> str:
    return update["message"]["text"] if "message" in update else update["callback_query"]["data"]


async def test_updates_are_brought_once_in_order_with_the_secret(stage: Stage, shop: Shop) -> None:
    stage.ada.write("before")
    await stage.bot.set_webhook(shop.url, secret_token="a-Secret_1", max_connections=7)
    for number in range(5):
        stage.ada.write(str(number))
    await shop.has(6)
    await asyncio.sleep(0.1)
    assert shop.texts() == ["before", "0", "1", "2", "3", "4"]
    assert set(shop.secrets) == {"a-Secret_1"}
    info = await stage.bot.get_webhook_info()
    assert (info.url, info.pending_update_count, info.max_connections) == (shop.url, 0, 7)
    assert info.last_error_message is None
    await stage.bot.delete_webhook()
    stage.ada.write("after")
    await asyncio.sleep(0.1)
    assert len(shop.brought) == 6
    assert stage.telegram.pending(stage.token) == 1


async def test_an_update_is_brought_again_until_it_is_taken_and_those_behind_it_wait(stage: Stage, shop: Shop) -> None:
    stage.telegram.tune(webhook_pace=0.2)
    shop.answers = [500, 302, 403]
    await stage.bot.set_webhook(shop.url)
    stage.ada.write("a")
    stage.ada.write("b")
    await shop.has(5)
    assert shop.texts() == ["a", "a", "a", "a", "b"]
    times = [when for when, _ in shop.brought]
    at_once, second, third = (later - earlier for earlier, later in pairwise(times[:4]))
    assert at_once < 0.35
    assert second > 0.39, "two seconds, at this pace"
    assert third > 0.79
    assert (await stage.bot.get_webhook_info()).last_error_message == "Wrong response from the webhook: 403 Forbidden"


async def test_a_chat_that_is_refused_holds_up_no_other(stage: Stage, shop: Shop) -> None:
    shop.refused = {"poison"}
    stage.telegram.tune(webhook_pace=0.01)
    await stage.bot.set_webhook(shop.url)
    stage.ada.write("poison")
    stage.ada.write("behind it")
    stage.bob.start()
    stage.bob.write("beside it")
    await shop.has(6)
    said = [text for text in shop.texts() if text != "poison"]
    assert said == ["/start", "beside it"]
    assert shop.texts().count("poison") >= 2
    shop.refused = set()
    await _until(lambda: "behind it" in shop.texts())


async def _until(true: Callable[[], bool], *, within: float = 5.0) -> None:
    until = time.monotonic() + within
    while not true():
        assert time.monotonic() < until
        await asyncio.sleep(0.01)


async def test_no_more_connections_than_allowed(stage: Stage, shop: Shop) -> None:
    shop.takes = 0.05
    await stage.bot.set_webhook(shop.url, max_connections=3)
    for number in range(12):
        stage.telegram.add_person(f"Guest {number}").start(bot=stage.token)
    await shop.has(12)
    assert shop.most_at_once == 3


async def test_retry_after_is_kept_to(stage: Stage, shop: Shop) -> None:
    shop.answers, shop.headers = [503], {"Retry-After": "2"}
    stage.telegram.tune(webhook_pace=0.1)
    await stage.bot.set_webhook(shop.url)
    stage.ada.write("a")
    await shop.has(2)
    assert shop.brought[1][0] - shop.brought[0][0] > 0.19


async def test_nobody_at_home_is_called_again_and_old_updates_are_given_up(stage: Stage, shop: Shop) -> None:
    await stage.bot.set_webhook("http://127.0.0.1:9/nobody")
    stage.ada.write("a")
    await _until(lambda: "closed" in _last_error(stage))
    assert stage.telegram.pending(stage.token) == 1
    await stage.bot.set_webhook(shop.url)
    await shop.has(1)
    stage.telegram.outage(86_401)
    stage.ada.write("b")
    stage.telegram.skip(86_402)
    stage.ada.write("c")
    await shop.has(2)
    assert shop.texts() == ["a", "c"]


def _last_error(stage: Stage) -> str:
    answer = httpx.get(f"{stage.telegram.base_url}{stage.token}/getWebhookInfo", trust_env=False).json()
    return str(answer["result"].get("last_error_message", ""))


async def test_pending_updates_can_be_dropped(stage: Stage, shop: Shop) -> None:
    stage.ada.write("a")
    await stage.bot.set_webhook(shop.url, drop_pending_updates=True)
    stage.ada.write("b")
    await shop.has(1)
    assert shop.texts() == ["b"]


@pytest.mark.parametrize(
    ("url", "secret", "words"),
    [
        ("no address", None, "Invalid webhook url specified"),
        ("https://shop.example/hook", None, "Bad webhook: only addresses on the loopback"),
        ("http://127.0.0.1:1/", "with space", "Secret token contains unallowed characters"),
        ("http://127.0.0.1:1/", "x" * 257, "Secret token contains unallowed characters"),
    ],
)
async def test_webhooks_that_are_refused(stage: Stage, url: str, secret: str | None, words: str) -> None:
    with pytest.raises(BadRequest, match=f"(?i){words}"):
        await stage.bot.set_webhook(url, secret_token=secret)
    assert (await stage.bot.get_webhook_info()).url == ""
