"""A group that grows gets another number: it is followed at once, after every start, and whichever number is set up."""

import logging
from pathlib import Path

import pytest

from tests.channels.telegram.stage import opened, polling
from tests.channels.telegram.test_staff_room import Workshop, workshop
from tests.doubles.telegram import Telegram
from triagebot.channels.staff_rooms import rooms_of
from triagebot.channels.telegram.groups import Groups
from triagebot.settings import Settings

pytestmark = pytest.mark.asyncio


def sent_to(shop: Workshop, chat: int) -> list[tuple[str, str]]:
    """The messages that the bot wanted to send to a chat: method and refusal."""
    return [(method, error) for method, to, error, _ in shop.stage.calls() if to == str(chat) and "send" in method]


async def test_the_log_says_both_numbers_and_nothing_more_goes_to_the_old_one(
    platform: Telegram, tmp_path: Path, caplog: pytest.LogCaptureFixture
) -> None:
    with caplog.at_level(logging.WARNING, "triagebot"):
        async with workshop(platform, tmp_path, kind="group", topics=False) as shop:
            await shop.asks()
            old, sent = shop.room, len(sent_to(shop, shop.room))
            shop.room = platform.migrate(shop.ada, old)
            await shop.stage.quiet()
            await shop.says(shop.bob, "hello?")
            assert len(sent_to(shop, old)) == sent
            assert shop.laid_out[-1].text.endswith("hello?")
            await shop.says(shop.bob, "anybody?")
            assert shop.laid_out[-1].reply_to == shop.laid_out[0].id, "the first there holds the others together"
    told = [record.getMessage() for record in caplog.records if "from now on" in record.getMessage()]
    assert len(told) == 1
    assert str(old) in told[0]
    assert str(shop.room) in told[0]


@pytest.mark.parametrize("set_up", ["old", "new"])
async def test_a_start_later_it_is_followed_still(platform: Telegram, tmp_path: Path, set_up: str) -> None:
    async with workshop(platform, tmp_path, kind="group", topics=False) as shop:
        await shop.asks()
        old = shop.room
        shop.room = new = platform.migrate(shop.ada, old)
        await shop.says(shop.bob, "hello?")
        laid_out = len(shop.laid_out)
    sent = len(sent_to(shop, old))
    number = old if set_up == "old" else new
    async with opened(platform, tmp_path, token=shop.stage.token) as closed:
        settings = Settings(telegram_staff_room=number)
        assert [room.address for room in rooms_of(settings, closed.store, on_matrix=False)] == [{"chat": old}]
    async with polling(platform, tmp_path, token=shop.stage.token, room=number, cases_in=old) as shop.stage:
        await shop.says(shop.bob, "still there?")
        assert shop.laid_out[-1].text.endswith("still there?")
        assert len(shop.laid_out) == laid_out + 1, "nothing is laid out twice"
        assert len(sent_to(shop, old)) == sent
        await shop.answers("Yes.")
        assert shop.bob.screen().last.text.endswith("Yes.")


async def test_cases_get_topics_in_the_group_that_it_became(platform: Telegram, tmp_path: Path) -> None:
    """Its number is seen by the refusal of what is sent, since the platform's own word is late."""
    async with workshop(platform, tmp_path, kind="group", topics=False) as shop:
        await shop.stage.quiet()
        shop.stage.channel.stop()
        assert shop.stage.fetching is not None
        await shop.stage.fetching
        old, shop.room = shop.room, platform.migrate(shop.ada, shop.room)
        platform.make_forum(shop.room, "General")
        platform.let_make_topics(shop.room, shop.stage.token)
    async with polling(platform, tmp_path, token=shop.stage.token, room=old) as shop.stage:
        await shop.asks()
        card = shop.laid_out[0]
        assert card.thread
        shop.ada.write("what do you think?", chat=shop.room, thread=card.thread)
        await shop.stage.quiet()
        assert "that stayed here" in shop.laid_out[-1].text, "its thread is known by the group's first number"
        await shop.answers("Bring it in.")
        assert shop.bob.screen().last.text.endswith("Bring it in.")


async def test_a_group_that_moves_twice_is_one_group() -> None:
    kept: list[int] = []
    groups = Groups(-1, lambda: kept.append(1))
    assert [groups.moved(-1, -2), groups.moved(-1, -2), groups.moved(-2, -3)] == [True, False, True]
    assert [groups.now(chat) for chat in (-1, -2, -3)] == [-3] * 3
    assert [groups.first(chat) for chat in (-1, -2, -3)] == [-1] * 3
    assert all(groups.is_room(chat) for chat in (-1, -2, -3))
    assert not groups.is_room(-4)
    again = Groups(-3)
    again.read(groups.kept)
    assert (again.now(-1), again.is_room(-1), len(kept)) == (-3, True, 2)
