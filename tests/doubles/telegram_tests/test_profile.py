"""Who the bot is: tokens, menus by scope and language, descriptions, files."""

import httpx
import pytest
from telegram import (
    BotCommand,
    BotCommandScopeAllGroupChats,
    BotCommandScopeAllPrivateChats,
)
from telegram.error import BadRequest, EndPointNotFound, InvalidToken

from tests.doubles.telegram_tests.stage import Stage, client

pytestmark = pytest.mark.asyncio


async def test_get_me(stage: Stage) -> None:
    me = await stage.bot.get_me()
    assert (me.id, me.username, me.is_bot) == (int(stage.token[:9]), f"bot{stage.token[:9]}_bot", True)
    assert me.can_read_all_group_messages is False


async def test_tokens_that_are_wrong_or_no_tokens(stage: Stage) -> None:
    for token, code, words in ((f"{stage.token[:-1]}B", 401, "Unauthorized"), ("123456", 404, "Not Found")):
        bot = client(stage.telegram, token)
        with pytest.raises(InvalidToken):
            await bot.initialize()
        await bot.request.shutdown()
        async with httpx.AsyncClient(trust_env=False) as plain:
            answer = await plain.get(f"{stage.telegram.base_url}{token}/getMe")
            file = await plain.get(f"{stage.telegram.base_file_url}{token}/photos/file_1.jpeg")
        assert (answer.status_code, file.status_code) == (code, 401)
        assert answer.json() == {"ok": False, "error_code": code, "description": words}


async def test_methods_that_do_not_exist(stage: Stage) -> None:
    with pytest.raises(EndPointNotFound):
        await stage.bot.do_api_request("sendTelepathy")


async def test_the_narrowest_menu_in_ones_own_language_is_shown(stage: Stage) -> None:
    async def offer(word: str, scope: object = None, language: str = "") -> None:
        await stage.bot.set_my_commands([BotCommand(word, "does it")], scope, language or None)  # type: ignore[arg-type]

    group = stage.telegram.add_group(stage.ada, "Workshop", people=[stage.bob], bots=[stage.token])
    assert stage.ada.menu() == {}
    await offer("everywhere")
    assert stage.ada.menu() == stage.ada.menu(chat=group) == {"everywhere": "does it"}
    await offer("alone", BotCommandScopeAllPrivateChats())
    await offer("allein", BotCommandScopeAllPrivateChats(), "de")
    await offer("together", BotCommandScopeAllGroupChats())
    assert [list(person.menu()) for person in (stage.ada, stage.bob)] == [["alone"], ["allein"]]
    assert list(stage.ada.menu(chat=group)) == ["together"]
    kept = await stage.bot.get_my_commands(BotCommandScopeAllPrivateChats(), "de")
    assert [command.command for command in kept] == ["allein"]
    await stage.bot.set_my_commands([], BotCommandScopeAllPrivateChats(), "de")
    assert list(stage.bob.menu()) == ["alone"]
    await stage.bot.set_my_commands([], BotCommandScopeAllPrivateChats())
    assert list(stage.bob.menu()) == ["everywhere"]


@pytest.mark.parametrize(
    ("commands", "words"),
    [
        ([("Start", "starts")], "bot_command_invalid"),
        ([("how-many", "counts")], "bot_command_invalid"),
        ([("x" * 33, "is long")], "bot_command_invalid"),
        ([("start", "")], "bot_command_description_invalid"),
        ([("start", "x" * 257)], "bot_command_description_invalid"),
        ([(f"c{number}", "one") for number in range(101)], "bot_commands_too_much"),
    ],
)
async def test_commands_that_are_refused(stage: Stage, commands: list[tuple[str, str]], words: str) -> None:
    with pytest.raises(BadRequest, match=f"(?i){words}"):
        await stage.bot.set_my_commands(commands)
    assert stage.ada.menu() == {}


async def test_descriptions_by_language(stage: Stage) -> None:
    await stage.bot.set_my_description("Finds the remover")
    await stage.bot.set_my_description("Findet den Abzieher", "de")
    await stage.bot.set_my_short_description("Removers")
    assert stage.telegram.description("de", stage.token) == {
        "description": "Findet den Abzieher",
        "short_description": "Removers",
    }
    assert (await stage.bot.get_my_description("fr")).description == "Finds the remover"
    await stage.bot.set_my_description("", "de")
    assert (await stage.bot.get_my_description("de")).description == "Finds the remover"
    for too_long in (stage.bot.set_my_description("x" * 513), stage.bot.set_my_short_description("x" * 121)):
        with pytest.raises(BadRequest, match="Description is too long"):
            await too_long


async def test_files_that_cannot_be_fetched(stage: Stage) -> None:
    with pytest.raises(BadRequest, match="Invalid file_id"):
        await stage.bot.get_file("AgACno-such-file")
    stage.ada.send("document", data=b"x" * (20 * 1024 * 1024 + 1))
    (update,) = await stage.bot.get_updates()
    assert update.message is not None
    with pytest.raises(BadRequest, match="File is too big"):
        await stage.bot.get_file(update.message.document)  # type: ignore[arg-type]
    stage.ada.send("voice", data=b"OggS and more")
    token = f"{int(stage.token[:9]) + 70_000_000}:{'D' * 35}"
    stage.telegram.add_bot(token, "stranger_bot")
    voice = (await stage.bot.get_updates())[-1].message.voice  # type: ignore[union-attr]
    assert voice is not None
    assert bytes(await (await stage.bot.get_file(voice)).download_as_bytearray()) == b"OggS and more"
    async with client(stage.telegram, token) as stranger:
        with pytest.raises(BadRequest, match="Invalid file_id"):
            await stranger.get_file(voice)
