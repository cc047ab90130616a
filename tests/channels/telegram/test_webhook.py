"""The webhook: who is let in, how much is taken, and that 200 means committed."""

import asyncio
import json
from pathlib import Path
from typing import Any

import httpx
import pytest

from tests.channels.telegram.stage import SECRET, Rider, Stage, hooked, until
from tests.doubles.telegram import Faults, Telegram
from tests.store.reading import current_case
from triagebot.channels.telegram.webhook import SECRET_HEADER, secret_from
from triagebot.errors import StoreError

pytestmark = pytest.mark.asyncio


def update(stage: Stage, person: int, number: int = 1, text: str = "6 sprockets") -> dict[str, Any]:
    who = {"id": person, "is_bot": False, "first_name": "Ada", "language_code": "en"}
    chat = {"id": person, "type": "private", "first_name": "Ada"}
    message = {"message_id": 5000 + number, "date": 1_790_000_000, "chat": chat, "from": who, "text": text}
    return {"update_id": 900_000 + number, "message": message}


async def post(stage: Stage, content: bytes, secret: str | None = SECRET, **headers: str) -> int:
    if secret is not None:
        headers[SECRET_HEADER] = secret
    async with httpx.AsyncClient(trust_env=False) as http:
        return (await http.post(stage.address, content=content, headers=headers)).status_code


async def test_a_whole_conversation(platform: Telegram, tmp_path: Path) -> None:
    async with hooked(platform, tmp_path) as stage:
        screen = await Rider(stage.person("Ada")).to_the_end()
        assert "Remover: the 4-notch freewheel remover, 24 mm" in screen.drawn()
        await until(lambda: platform.pending(stage.token) == 0)


async def test_many_updates_at_once_have_it_say_once_who_it_is(
    platform: Telegram, tmp_path: Path, caplog: pytest.LogCaptureFixture
) -> None:
    caplog.set_level("INFO", logger="triagebot")
    async with hooked(platform, tmp_path) as stage:
        sent = (post(stage, json.dumps(update(stage, 77, number)).encode()) for number in range(5))
        assert await asyncio.gather(*sent) == [200] * 5
        assert len(stage.calls("getMe")) == 1
    assert caplog.text.count("telegram: this is @") == 1


async def test_a_fault_of_ours_tells_nobody_what_was_written(
    platform: Telegram, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    async with hooked(platform, tmp_path) as stage:

        async def fail(*_: object) -> None:
            raise ValueError("6 sprockets, says Ada")

        monkeypatch.setattr(stage.channel, "take", fail)
        assert await post(stage, json.dumps(update(stage, 77)).encode()) == 503
    assert "an update failed in our own code: ValueError" in caplog.text
    assert "Ada" not in caplog.text
    assert "sprockets" not in caplog.text


@pytest.mark.parametrize("secret", [None, "", "wrong", SECRET + "x", SECRET[:-1], "ä" * 20])
async def test_who_does_not_know_the_secret_is_not_let_in(
    platform: Telegram, tmp_path: Path, secret: str | None
) -> None:
    async with hooked(platform, tmp_path) as stage:
        body = json.dumps(update(stage, 77)).encode()
        headers = {} if secret is None else {SECRET_HEADER: secret.encode("utf-8")}
        async with httpx.AsyncClient(trust_env=False) as http:
            status = (await http.post(stage.address, content=body, headers=headers)).status_code
        assert status == 403
        assert stage.delivery.counts.received == 0


async def test_what_is_no_update_is_not_taken(platform: Telegram, tmp_path: Path) -> None:
    async with hooked(platform, tmp_path) as stage:
        assert await post(stage, b"not json") == 400
        assert await post(stage, b"[1]") == 400
        assert await post(stage, b'{"update_id": "one"}') == 400
        assert await post(stage, b"[" * 100_000) == 400
        assert await post(stage, b'{"update_id": 1, "message": {"message_id": "odd"}}') == 200
        assert await post(stage, b'{"update_id": 2, "something_new": {}}') == 200
        assert stage.delivery.counts.received == 0


async def test_too_much_is_refused_whether_announced_or_not(platform: Telegram, tmp_path: Path) -> None:
    async with hooked(platform, tmp_path) as stage:

        async def pieces() -> Any:
            for _ in range(30):
                yield b"x" * 50_000

        assert await post(stage, b"x" * 1_100_000) == 413
        async with httpx.AsyncClient(trust_env=False) as http:
            answer = await http.post(stage.address, content=pieces(), headers={SECRET_HEADER: SECRET})
        assert answer.status_code == 413


async def test_200_comes_after_the_commit_and_not_without_it(
    platform: Telegram, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    async with hooked(platform, tmp_path) as stage:
        body = json.dumps(update(stage, 77)).encode()

        async def broken(*_: object) -> None:
            raise StoreError("the disk is full")

        with monkeypatch.context() as broke:
            broke.setattr(stage.delivery, "receive_all", broken)
            assert await post(stage, body) == 503
        assert stage.delivery.counts.received == 0
        assert await post(stage, body) == 200
        with stage.store.read() as view:
            assert current_case(view, "telegram:77") is not None
        assert await post(stage, body) == 200
        assert (stage.delivery.counts.received, stage.delivery.counts.duplicates) == (1, 1)


async def test_in_with_faults_each_message_is_taken_once(platform: Telegram, tmp_path: Path) -> None:
    async with hooked(platform, tmp_path) as stage:
        platform.tune(webhook_pace=0.01)
        platform.set_faults(Faults(seed=8, duplicate=0.5, delay=0.4, delay_seconds=0.1))
        screen = await Rider(stage.person("Ada")).to_the_end()
        assert "Remover: the 4-notch freewheel remover, 24 mm" in screen.drawn()


async def test_the_secret_made_from_a_token_does_not_show_it() -> None:
    token = "200000001:" + "C" * 35
    assert secret_from(token) != secret_from(token + "C")
    assert token.split(":")[1] not in secret_from(token)
    assert len(secret_from(token)) == 64


async def test_who_is_brought_updates_asks_now_and_then_whether_the_platform_is_there(
    platform: Telegram, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("triagebot.channels.telegram.channel.ASK_EVERY", 0.01)
    async with hooked(platform, tmp_path) as stage:
        asked = len(stage.calls("getMe"))
        staying = asyncio.create_task(stage.channel.stay_hooked(stage.address, SECRET))
        await until(lambda: len(stage.calls("getMe")) >= asked + 2)
        assert stage.channel.reached is not None
        stage.channel.stop()
        await staying
