"""What goes wrong between us and the platform, and how each ends: in the right state, with nothing lost."""

import asyncio
import logging
from pathlib import Path
from typing import Any

import pytest
from telegram.error import Conflict

from tests.channels.telegram.stage import Rider, Stage, fresh_token, polling, said_back, until
from tests.doubles.telegram import Faults, Limits, Person, Telegram
from tests.store.reading import current_case
from triagebot import channels
from triagebot.channels.telegram import bot_api, client

pytestmark = pytest.mark.asyncio


async def test_who_blocks_the_bot_is_left_alone_until_they_are_back(stage: Stage) -> None:
    ada = stage.person("Ada")
    await Rider(ada).start()
    stage.platform.inject("sendMessage", "500", 1)
    stage.platform.inject("sendPhoto", "500", 1)
    ada.write("6 sprockets")
    await until(lambda: stage.delivery.counts.retried > 0)
    ada.block()
    await stage.quiet()
    assert stage.delivery.counts.gone == 1
    before = len(stage.calls())
    await Rider(stage.person("Bob")).start()
    assert str(ada.id) not in {chat for _, chat, *_ in stage.calls()[before:]}
    ada.unblock()
    ada.write("why")
    screen = await ada.watch(lambda screen: said_back(screen, "6 sprockets"))
    assert screen.last.buttons


async def test_a_deleted_account_holds_nobody_up(stage: Stage) -> None:
    ada, bob = stage.person("Ada"), stage.person("Bob")
    await Rider(ada).start()
    ada.write("6 sprockets")
    stage.platform.delete_account(ada)
    await Rider(bob).start()
    await stage.quiet()
    assert stage.delivery.counts.refused == 0


async def test_a_pause_in_one_chat_stalls_no_other(stage: Stage) -> None:
    """The platform wants an hour of one person, and of nobody else."""
    ada, others = stage.person("Ada"), [stage.person(name) for name in ("Bob", "Cyd", "Dee")]
    stage.platform.set_faults(Faults(retry_after=3600))
    stage.platform.inject("sendMessage", "429", 1)
    ada.start()
    await until(lambda: stage.delivery.counts.retried > 0)
    await asyncio.gather(*(Rider(other).start() for other in others))
    assert not ada.screen().from_bots


async def test_a_pause_that_the_platform_wants_is_kept_to(stage: Stage) -> None:
    ada, loop = stage.person("Ada"), asyncio.get_running_loop()
    stage.platform.set_faults(Faults(retry_after=1))
    stage.platform.inject("sendMessage", "429", 1)
    began = loop.time()
    await Rider(ada).start()
    assert loop.time() - began >= 1


async def test_our_own_pace_keeps_to_the_limits(platform: Telegram, tmp_path: Path) -> None:
    """Somebody who writes faster than one a second is answered at the platform's pace, without one refusal."""
    platform.set_limits(Limits(on=True))
    async with polling(platform, tmp_path, paced=True) as stage:
        ada = stage.person("Ada")
        await Rider(ada).start()
        for _ in range(5):
            ada.write("help")
        await ada.watch(lambda screen: len(screen.from_bots) == 6)
        assert [error for *_, error, _ in stage.calls() if "Too Many" in error] == []


async def test_the_network_goes_and_comes_back(stage: Stage, caplog: pytest.LogCaptureFixture) -> None:
    ada = stage.person("Ada")
    await Rider(ada).start()
    assert stage.channel._presenting is not None
    await stage.channel._presenting

    def lines() -> list[str]:
        return [record.getMessage() for record in caplog.records if record.name.endswith("telegram.channel")]

    with caplog.at_level(logging.WARNING, "triagebot"):
        stage.platform.outage(3600)
        ada.write("6 sprockets")
        await until(lambda: bool(lines()))
        stage.platform.outage(0)
        screen = await ada.watch(lambda screen: said_back(screen, "6 sprockets"))
        await until(lambda: len(lines()) == 2)
    assert screen.last.buttons
    assert lines()[0].startswith("telegram: no answer from the platform")
    assert lines()[1].startswith("telegram: works again")


async def test_a_platform_with_faults_is_asked_until_it_answers(stage: Stage) -> None:
    stage.platform.set_faults(
        Faults(seed=5, server_error=0.2, bad_gateway=0.1, lost=0.1, methods=("sendmessage", "sendphoto"))
    )
    screen = await Rider(stage.person("Ada")).to_the_end()
    assert "Remover: the 4-notch freewheel remover, 24 mm" in screen.drawn()


async def test_somebody_else_who_fetches_is_told_of_in_one_line(
    stage: Stage, caplog: pytest.LogCaptureFixture, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(channels.polling, "FIRST_PAUSE", 0.01)
    await Rider(stage.person("Ada")).start()
    other = client(stage.token, stage.platform.base_url.removesuffix("/bot"))

    def told() -> list[str]:
        return [record.getMessage() for record in caplog.records if "somebody else fetches" in record.getMessage()]

    async def fetches() -> None:
        """Until the bot fetches again, which ends a request that is held."""
        while True:
            await other.updates(0)

    with caplog.at_level(logging.WARNING, "triagebot"):
        for _ in range(3):
            with pytest.raises(Conflict):
                await fetches()
        await other.hang_up()
        bob = Rider(stage.person("Bob"))
        await bob.start()
    lines = told()
    assert len(lines) == 1
    assert "stop that one" in lines[0]


async def test_updates_in_with_faults_are_each_taken_once(stage: Stage) -> None:
    stage.platform.set_faults(Faults(seed=3, duplicate=0.6, delay=0.5, delay_seconds=0.1, swap=0.3, hold_seconds=0.2))
    ada = stage.person("Ada")
    ada.start()
    await ada.watch(lambda screen: bool(screen.from_bots))
    for number in range(6):
        ada.write(f"{number + 3} sprockets")
    await stage.quiet()
    with stage.store.read() as view:
        case = current_case(view, f"telegram:{ada.id}")
    assert case is not None
    told = [event["text"] for event in case.events if event.get("kind") == "answered" or "facts" in event]
    assert told == [f"{number + 3} sprockets" for number in range(6)]


async def test_after_a_silence_lower_numbers_are_not_lost(
    platform: Telegram, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A number that was asked for and confirmed is not asked for for ever: the platform may begin anew below it."""
    monkeypatch.setattr(bot_api, "POLL", 1)
    offsets, updates = list[int](), bot_api.Client.updates

    async def noted(self: bot_api.Client, offset: int) -> tuple[list[dict[str, Any]], int]:
        offsets.append(offset)
        return await updates(self, offset)

    monkeypatch.setattr(bot_api.Client, "updates", noted)
    async with polling(platform, tmp_path) as stage:
        ada = stage.person("Ada")
        await Rider(ada).start()
        await stage.quiet()
        await until(lambda: any(offsets) and offsets[-1] == 0)  # a request was held and answered with nothing
        platform.skip(8 * 86_400)
        ada.write("6 sprockets")
        screen = await ada.watch(lambda screen: said_back(screen, "6 sprockets"))
    assert screen.last.buttons


async def test_a_token_that_is_not_accepted_is_said_and_tried_again(
    platform: Telegram, tmp_path: Path, caplog: pytest.LogCaptureFixture
) -> None:
    token = fresh_token()
    with caplog.at_level(logging.WARNING, "triagebot"):
        async with polling(platform, tmp_path, token=token) as stage:
            await until(lambda: "the token is not accepted" in caplog.text)
            platform.add_bot(token, "late_bot")
            await Rider(stage.person("Ada")).start()
    assert any("the token is not accepted" in record.getMessage() for record in caplog.records)
    assert token not in caplog.text


async def test_a_shop_may_change_its_bot(platform: Telegram, tmp_path: Path) -> None:
    """Another bot counts messages from one again: they are not taken for those that the first one brought."""
    async with polling(platform, tmp_path) as stage:
        ada = stage.person("Ada")
        await Rider(ada).start()
        ada.write("6 sprockets")
        await ada.watch(lambda screen: said_back(screen, "6 sprockets"))
        await stage.quiet()
    async with polling(platform, tmp_path) as stage:
        same = Person(platform.line, ada.id, ada.name, stage.token)
        same.start()
        screen = await same.watch(lambda screen: bool(screen.from_bots))
        assert screen.last.buttons
        same.write("why")
        await same.watch(lambda screen: said_back(screen, "6 sprockets"))
        await stage.quiet()
        assert (stage.delivery.counts.duplicates, stage.delivery.counts.refused) == (0, 0)


async def test_what_was_not_sent_before_a_stop_is_sent_after_the_next_start(platform: Telegram, tmp_path: Path) -> None:
    async with polling(platform, tmp_path) as stage:
        ada, token = stage.person("Ada"), stage.token
        platform.inject("sendMessage", "500", 2)
        ada.start()
        await until(lambda: stage.delivery.counts.retried > 0)
    async with polling(platform, tmp_path, token=token):
        await ada.watch(lambda screen: bool(screen.from_bots) and bool(screen.last.buttons))
