"""Polling: what is redelivered, what is forgotten, and who is ended with 409."""

import asyncio
import time

import pytest
from telegram import Update
from telegram.error import Conflict

from tests.doubles.telegram import rules
from tests.doubles.telegram_tests.stage import FOR_EVER, Stage, client
from tests.doubles.telegram_tests.test_talking import keyboard

pytestmark = pytest.mark.asyncio


def texts(updates: tuple[Update, ...]) -> list[str | None]:
    return [update.message.text for update in updates if update.message]


async def test_updates_come_again_until_a_later_one_is_asked_for(stage: Stage) -> None:
    for text in ("a", "b", "c"):
        stage.ada.write(text)
    first = await stage.bot.get_updates(limit=2)
    assert texts(first) == ["a", "b"]
    assert texts(await stage.bot.get_updates()) == ["a", "b", "c"]
    assert texts(await stage.bot.get_updates(offset=first[1].update_id)) == ["b", "c"]
    assert texts(await stage.bot.get_updates(offset=first[0].update_id)) == ["b", "c"], "what is confirmed is gone"
    assert [update.update_id - first[0].update_id for update in await stage.bot.get_updates()] == [1, 2]
    assert await stage.bot.get_updates(offset=first[1].update_id + 2) == ()
    assert stage.telegram.pending(stage.token) == 0


async def test_after_a_week_without_updates_their_numbers_begin_anew_below(stage: Stage) -> None:
    stage.ada.write("a")
    before = (await stage.bot.get_updates())[-1].update_id
    stage.telegram.skip(6 * 86_400)
    stage.ada.write("b")
    (update,) = await stage.bot.get_updates()
    assert update.update_id == before + 1
    stage.telegram.skip(7 * 86_400)
    stage.ada.write("c")
    (update,) = await stage.bot.get_updates()
    assert texts((update,)) == ["c"]
    assert update.update_id < before


async def test_a_negative_offset_counts_from_the_end_and_forgets_the_rest(stage: Stage) -> None:
    for text in ("a", "b", "c"):
        stage.ada.write(text)
    assert texts(await stage.bot.get_updates(offset=-1)) == ["c"]
    assert texts(await stage.bot.get_updates()) == ["c"]


async def test_a_long_poll_is_answered_as_soon_as_something_comes(
    stage: Stage, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(rules, "LONGEST_POLL", FOR_EVER)
    polled = asyncio.create_task(stage.bot.get_updates(timeout=FOR_EVER))
    await stage.holds_a_poll()
    assert not polled.done()
    stage.ada.write("a")
    assert texts(await polled) == ["a"]


async def test_a_long_poll_ends_empty_when_its_time_is_over(stage: Stage) -> None:
    began = time.monotonic()
    assert await stage.bot.get_updates(timeout=1) == ()
    assert time.monotonic() - began > 0.9


async def test_a_second_poll_ends_the_first(stage: Stage) -> None:
    first = asyncio.create_task(stage.bot.get_updates(timeout=10))
    await asyncio.sleep(0.1)
    async with client(stage.telegram, stage.token) as other:
        second = asyncio.create_task(other.get_updates(timeout=10))
        with pytest.raises(Conflict, match="terminated by other getUpdates request; make sure that only one bot"):
            await first
        stage.ada.write("a")
        assert texts(await second) == ["a"]


async def test_a_webhook_ends_polling_until_it_is_deleted(stage: Stage) -> None:
    first = asyncio.create_task(stage.bot.get_updates(timeout=10))
    await asyncio.sleep(0.1)
    await stage.bot.set_webhook("http://127.0.0.1:9/nobody")
    with pytest.raises(Conflict, match="terminated by setWebhook request"):
        await first
    with pytest.raises(Conflict, match="can't use getUpdates method while webhook is active; use deleteWebhook"):
        await stage.bot.get_updates()
    stage.ada.write("a")
    await stage.bot.delete_webhook()
    assert texts(await stage.bot.get_updates()) == ["a"]


async def test_only_the_kinds_asked_for_are_kept(stage: Stage) -> None:
    await stage.bot.get_updates(allowed_updates=["callback_query"])
    stage.ada.write("a")
    await stage.bot.send_message(stage.ada.id, "b", reply_markup=keyboard("Yes"))
    stage.ada.press("Yes")
    (update,) = await stage.bot.get_updates()
    assert update.callback_query is not None
    await stage.bot.get_updates(offset=update.update_id + 1, allowed_updates=[])
    number = stage.ada.write("c")
    stage.ada.edit(number, "d")
    said = await stage.bot.get_updates()
    assert [bool(each.message) for each in said] == [True, False]
    assert said[1].edited_message is not None
    assert said[1].edited_message.text == "d"
    assert said[1].edited_message.edit_date is not None


async def test_messages_wait_a_day_and_presses_two_and_a_half_minutes(stage: Stage) -> None:
    await stage.bot.send_message(stage.ada.id, "b", reply_markup=keyboard("Yes"))
    stage.ada.press("Yes")
    stage.ada.write("a")
    stage.telegram.skip(149)
    assert len(await stage.bot.get_updates()) == 2
    stage.telegram.skip(2)
    assert texts(await stage.bot.get_updates()) == ["a"]
    assert stage.telegram.pending(stage.token) == 1
    stage.telegram.skip(86_400)
    assert await stage.bot.get_updates() == ()


async def test_two_bots_hear_each_its_own(stage: Stage) -> None:
    token = f"{int(stage.token[:9]) + 60_000_000}:{'C' * 35}"
    stage.telegram.add_bot(token, "another_bot")
    stage.ada.write("for another", bot=token)
    async with client(stage.telegram, token) as other:
        assert texts(await other.get_updates()) == ["for another"]
        await other.send_message(stage.ada.id, "seen")
    assert await stage.bot.get_updates() == ()
    assert stage.ada.screen(bot=token).last.text == "seen"
    assert [message.text for message in stage.ada.screen().messages] == ["/start"]


async def test_who_hangs_up_loses_nothing_and_is_in_nobodys_way(stage: Stage) -> None:
    polled = asyncio.create_task(stage.bot.get_updates(timeout=20))
    await asyncio.sleep(0.1)
    polled.cancel()
    with pytest.raises(asyncio.CancelledError):
        await polled
    await asyncio.sleep(0.1)
    stage.ada.write("a")
    assert texts(await stage.bot.get_updates()) == ["a"]


async def test_a_long_backlog_is_fetched_in_order(stage: Stage) -> None:
    for number in range(1000):
        stage.ada.write(str(number))
    got: list[str | None] = []
    offset = 0
    while updates := await stage.bot.get_updates(offset=offset, limit=100):
        got += texts(updates)
        offset = updates[-1].update_id + 1
    assert got == [str(number) for number in range(1000)]
