"""A whole small bot on the unmodified framework, without faults and with them, by polling and by webhook."""

import asyncio
import contextlib
import json
import socket

import pytest
from telegram import Update
from telegram.error import BadRequest, NetworkError, TelegramError
from telegram.ext import Application, ApplicationBuilder, CallbackQueryHandler, ContextTypes, MessageHandler, filters

from tests.doubles.telegram import Faults
from tests.doubles.telegram_tests.stage import Stage
from tests.doubles.telegram_tests.test_talking import keyboard

pytestmark = pytest.mark.asyncio
Context = ContextTypes.DEFAULT_TYPE


async def echo(update: Update, context: Context) -> None:
    assert update.effective_message is not None
    await update.effective_message.reply_html(
        f"You said <b>{update.effective_message.text}</b>. Again?", reply_markup=keyboard("Yes", "No")
    )


async def pressed(update: Update, context: Context) -> None:
    query = update.callback_query
    assert query is not None
    with contextlib.suppress(BadRequest):  # pressed too long ago
        await query.answer(f"You pressed {query.data}")
    with contextlib.suppress(BadRequest):  # pressed twice
        await query.edit_message_text(f"Again: {query.data}")


async def ignore(update: object, context: Context) -> None:
    """With faults the person asks again."""
    assert isinstance(context.error, NetworkError)


def echoing(stage: Stage) -> "Application":  # type: ignore[type-arg]
    builder = ApplicationBuilder().token(stage.token)
    application = builder.base_url(stage.telegram.base_url).base_file_url(stage.telegram.base_file_url).build()
    application.add_handler(MessageHandler(filters.TEXT, echo))
    application.add_handler(CallbackQueryHandler(pressed))
    application.add_error_handler(ignore)
    return application


async def talk(stage: Stage) -> None:
    stage.ada.write("hello")
    await stage.ada.watch(lambda screen: bool(screen.last.buttons))
    stage.ada.press("Yes")
    screen = await stage.ada.watch(lambda screen: not screen.unanswered and screen.last.text == "Again: yes")
    assert screen.last.buttons == ()
    assert [notice.text for notice in screen.notices] == ["You pressed yes"]
    assert [message.text for message in screen.messages] == ["/start", "hello", "Again: yes"]


async def test_by_polling(stage: Stage) -> None:
    application = echoing(stage)
    async with application:
        assert application.updater is not None
        await application.start()
        await application.updater.start_polling()
        await talk(stage)
        await application.updater.stop()
        await application.stop()
    assert stage.telegram.pending(stage.token) == 0


async def test_by_webhook(stage: Stage) -> None:
    """What arrives is handed to the framework by a server of three lines, since its own needs one library more."""
    application = echoing(stage)

    async def take(reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        head = await reader.readuntil(b"\r\n\r\n")
        length = next(line for line in head.lower().split(b"\r\n") if line.startswith(b"content-length"))
        body = await reader.readexactly(int(length.split(b":")[1]))
        await application.update_queue.put(Update.de_json(json.loads(body), application.bot))
        writer.write(b"HTTP/1.1 200 OK\r\nContent-Length: 0\r\nConnection: close\r\n\r\n")
        writer.close()
        await writer.wait_closed()

    server = await asyncio.start_server(take, "127.0.0.1", 0, family=socket.AF_INET)
    async with application, server:
        await application.start()
        await application.bot.set_webhook(f"http://127.0.0.1:{server.sockets[0].getsockname()[1]}/")
        await talk(stage)
        await application.bot.delete_webhook()
        await application.stop()


async def test_with_faults_the_conversation_comes_to_its_end(stage: Stage) -> None:
    """Everything goes wrong now and then; somebody who repeats what was not answered still gets there."""
    stage.telegram.set_faults(
        Faults(
            seed=11, delay=0.3, delay_seconds=0.05, duplicate=0.3, swap=0.3, hold_seconds=0.05, slow=0.2,
            slow_seconds=0.05, server_error=0.1, bad_gateway=0.1, lost=0.1, cut=0.1,
            methods=("sendmessage", "editmessagetext", "answercallbackquery", "getupdates"),
        )
    )  # fmt: skip
    application = echoing(stage)
    async with application:
        assert application.updater is not None
        await application.start()
        await application.updater.start_polling(poll_interval=0.0, timeout=1)
        for word in (f"word {number}" for number in range(10)):
            for _ in range(40):
                stage.ada.write(word)
                with contextlib.suppress(AssertionError):
                    await stage.ada.watch(lambda screen, word=word: f"You said {word}." in screen.drawn(), within=0.5)  # type: ignore[misc]
                    break
            else:
                raise AssertionError(stage.ada.screen().drawn())
        with contextlib.suppress(TelegramError):
            await application.updater.stop()
        await application.stop()
    assert len({fault for _, _, fault in stage.calls if fault}) > 1
    written = [message.text for message in stage.ada.screen().messages if message.person]
    answered = [message.text for message in stage.ada.screen().from_bots]
    assert {f"You said {word}. Again?" for word in written if word != "/start"} >= set(answered)
    assert len(set(answered)) == 10
