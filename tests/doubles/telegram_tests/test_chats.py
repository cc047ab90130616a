"""Where a bot may write, what it hears in groups, and how chats end."""

import pytest
from telegram import ChatMember, Update
from telegram.error import BadRequest, ChatMigrated, Forbidden

from tests.doubles.telegram import NotPossible
from tests.doubles.telegram_tests.stage import Stage
from tests.doubles.telegram_tests.test_talking import keyboard

pytestmark = pytest.mark.asyncio


async def updates(stage: Stage) -> list[Update]:
    """What waits for the bot, and with that confirmed."""
    waiting = list(await stage.bot.get_updates())
    if waiting:
        await stage.bot.get_updates(offset=waiting[-1].update_id + 1)
    return waiting


async def heard(stage: Stage) -> list[str]:
    return [update.message.text or "" for update in await updates(stage) if update.message]


async def refusal(stage: Stage, chat: int) -> str:
    with pytest.raises((BadRequest, Forbidden)) as refused:
        await stage.bot.send_message(chat, "hello")
    return str(refused.value)


async def test_a_bot_cannot_write_first_nor_to_nobody(stage: Stage) -> None:
    assert await refusal(stage, stage.bob.id) == "Forbidden: bot can't initiate conversation with a user"
    assert await refusal(stage, 987_654_321) == "Chat not found"
    assert await refusal(stage, -5) == "Chat not found"
    with pytest.raises(BadRequest, match="Chat not found"):
        await stage.bot.send_message("@nobody_here", "hello")
    stage.bob.start()
    await stage.bot.send_message(stage.bob.id, "hello")
    assert stage.bob.screen().last.text == "hello"


async def test_who_blocks_the_bot_is_not_reached_and_the_bot_is_told(stage: Stage) -> None:
    stage.ada.block()
    assert await refusal(stage, stage.ada.id) == "Forbidden: bot was blocked by the user"
    with pytest.raises(NotPossible, match="has stopped the bot"):
        stage.ada.write("still there?")
    stage.ada.unblock()
    await stage.bot.send_message(stage.ada.id, "back again")
    changes = [update.my_chat_member for update in await updates(stage) if update.my_chat_member]
    assert [(each.old_chat_member.status, each.new_chat_member.status) for each in changes] == [
        (ChatMember.MEMBER, ChatMember.BANNED),
        (ChatMember.BANNED, ChatMember.MEMBER),
    ]


async def test_a_deleted_account_is_not_reached(stage: Stage) -> None:
    stage.telegram.delete_account(stage.ada)
    assert await refusal(stage, stage.ada.id) == "Forbidden: user is deactivated"


@pytest.mark.parametrize("kind", ["group", "supergroup"])
async def test_a_group_that_the_bot_is_not_in_any_more(stage: Stage, kind: str) -> None:
    group = stage.telegram.add_group(stage.ada, "Workshop", kind=kind, bots=[stage.token])
    await stage.bot.send_message(group, "hello")
    assert stage.telegram.screen(group).last.text == "hello"
    stage.telegram.throw_out(stage.ada, group, stage.token)
    assert await refusal(stage, group) == f"Forbidden: bot was kicked from the {kind} chat"
    stage.telegram.invite(stage.ada, group, stage.token)
    await stage.bot.send_message(group, "again")
    elsewhere = stage.telegram.add_group(stage.ada, "Cellar", kind=kind, bots=[])
    assert await refusal(stage, elsewhere) == f"Forbidden: bot is not a member of the {kind} chat"


async def test_a_group_that_became_a_supergroup_says_where_it_went(stage: Stage) -> None:
    old = stage.telegram.add_group(stage.ada, "Workshop", kind="group", bots=[stage.token])
    await updates(stage)
    new = stage.telegram.migrate(stage.ada, old)
    with pytest.raises(ChatMigrated) as migrated:
        await stage.bot.send_message(old, "hello")
    assert migrated.value.new_chat_id == new
    told = [update.message for update in await updates(stage) if update.message]
    assert [(each.chat.id, each.migrate_to_chat_id, each.migrate_from_chat_id) for each in told] == [
        (old, new, None),
        (new, None, old),
    ]
    await stage.bot.send_message(new, "hello")
    with pytest.raises(NotPossible):
        stage.ada.write("too late", chat=old)


async def test_topics_are_written_in_by_number(stage: Stage) -> None:
    group = stage.telegram.add_group(stage.ada, "Workshop", topics=["Wheels", "Brakes"], bots=[stage.token])
    sent = await stage.bot.send_message(group, "hello", message_thread_id=2)
    assert (sent.message_thread_id, sent.is_topic_message) == (2, True)
    assert stage.telegram.screen(group).last.thread == 2
    with pytest.raises(BadRequest, match="Message thread not found"):
        await stage.bot.send_message(group, "hello", message_thread_id=99)
    stage.telegram.close_topic(group, 2)
    with pytest.raises(BadRequest, match=r"(?i)topic_closed"):
        await stage.bot.send_message(group, "hello", message_thread_id=2)
    await updates(stage)
    stage.ada.write(f"@bot{stage.token[:9]}_bot help", chat=group, thread=1)
    (update,) = await updates(stage)
    assert update.message is not None
    assert update.message.message_thread_id == 1
    assert update.message.chat.is_forum


async def test_what_a_bot_hears_in_a_group(stage: Stage) -> None:
    group = stage.telegram.add_group(stage.ada, "Workshop", people=[stage.bob], bots=[stage.token])
    name = f"bot{stage.token[:9]}_bot"
    sent = await stage.bot.send_message(group, "hello")
    invited = [update.message.new_chat_members[0].username for update in await updates(stage) if update.message]
    assert invited == [name]
    stage.ada.write("nothing to do with it", chat=group)
    stage.ada.write("/help@another_bot", chat=group)
    stage.bob.send("sticker", chat=group)
    assert await heard(stage) == []
    stage.ada.write("/help", chat=group)
    stage.ada.write(f"/help@{name}", chat=group)
    stage.bob.write(f"hey @{name} what now", chat=group)
    stage.bob.write("four notches", chat=group, reply_to=sent.message_id)
    assert await heard(stage) == ["/help", f"/help@{name}", f"hey @{name} what now", "four notches"]


async def test_who_is_not_in_a_group_cannot_write_there(stage: Stage) -> None:
    group = stage.telegram.add_group(stage.ada, "Workshop", bots=[stage.token])
    with pytest.raises(NotPossible, match="cannot write in Workshop"):
        stage.bob.write("hello", chat=group)


async def test_two_people_press_under_the_same_message(stage: Stage) -> None:
    group = stage.telegram.add_group(stage.ada, "Workshop", people=[stage.bob], bots=[stage.token])
    await stage.bot.send_message(group, "Does it turn?", reply_markup=keyboard("Yes", "No"))
    await updates(stage)
    stage.ada.press("Yes", chat=group)
    stage.bob.press("No", chat=group)
    presses = [update.callback_query for update in await updates(stage)]
    assert [(each.from_user.id, each.data) for each in presses if each] == [(stage.ada.id, "yes"), (stage.bob.id, "no")]
