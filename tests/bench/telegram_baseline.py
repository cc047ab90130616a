"""The same conversation as people write it with the library's own ConversationHandler.

    python -m tests.bench.telegram_baseline SERVER TOKEN SCRIPT [PICKLE]

States are constants. What is kept of a person, in `user_data`, is what ours keeps: a code, the language, when it began,
each answer and when it was given, and which message shows the open question.

Without a file everything is in memory. With one, everything is written to it once after each update: `on_flush=True`,
and `update_persistence` and `flush` when the handlers are done. That is as durable as this can be: the file is not
synced, the offset is confirmed before the handlers run, and the answer is sent before it is kept.
"""

import pickle
import sys
import warnings
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from telegram import InlineKeyboardButton, InlineKeyboardMarkup, LinkPreviewOptions, Message, Update
from telegram.constants import ParseMode
from telegram.ext import (
    Application,
    CallbackQueryHandler,
    CommandHandler,
    ContextTypes,
    ConversationHandler,
    MessageHandler,
    PersistenceInput,
    PicklePersistence,
    filters,
)
from telegram.request import HTTPXRequest

from tests.bench.telegram_people import FIRST_PERSON
from tests.bench.telegram_script import Step, answered, read
from tests.doubles.telegram import plain_png
from triagebot.messages import new_code

NAME = "triage"
NO_PREVIEW = LinkPreviewOptions(is_disabled=True)
Context = ContextTypes.DEFAULT_TYPE


def now() -> str:
    """The moment, written as ours writes it."""
    return datetime.now(UTC).isoformat()


def someone(code: str, began: str) -> dict[str, Any]:
    """What is kept of a person who has just come."""
    return {"code": code, "language": "en", "began": began, "answers": {}}


class Durable(Application):  # type: ignore[type-arg]
    """Keeps everything after each update."""

    async def process_update(self, update: object) -> None:
        await super().process_update(update)
        await self.update_persistence()
        assert self.persistence is not None
        await self.persistence.flush()


class Bot:
    """One state a question: the state is the number of the question that is open, in the script of the person."""

    def __init__(self, scripts: list[list[Step]]) -> None:
        self.scripts = scripts
        self.picture: Any = plain_png(1000, 700)

    def steps(self, update: Update) -> list[Step]:
        assert update.effective_user is not None
        return self.scripts[(update.effective_user.id - FIRST_PERSON) % len(self.scripts)]

    async def start(self, update: Update, context: Context) -> int:
        assert context.user_data is not None
        context.user_data.clear()
        context.user_data.update(someone(new_code(), now()))
        return await self.ask(update, context, 0)

    async def resume(self, update: Update, context: Context) -> int:
        assert context.user_data is not None
        return await self.ask(update, context, context.user_data["open"])

    async def pressed(self, update: Update, context: Context) -> int:
        query = update.callback_query
        assert query is not None
        assert query.data is not None
        await query.answer()
        _, _, number, choice = query.data.split(":")
        return await self.keep(update, context, int(number), choice)

    async def typed(self, update: Update, context: Context) -> int:
        assert context.user_data is not None
        assert update.message is not None
        return await self.keep(update, context, context.user_data["open"], update.message.text or "")

    async def keep(self, update: Update, context: Context, number: int, answer: str) -> int:
        """Keeps the answer, shows it in the message that asked, and asks the next question."""
        assert context.user_data is not None
        assert update.effective_chat is not None
        step = self.steps(update)[number]
        context.user_data["answers"][step.question] = (answer, now())
        where: dict[str, Any] = {"chat_id": update.effective_chat.id, "message_id": context.user_data["live"]}
        if step.caption is not None and not step.html:
            await context.bot.edit_message_caption(**where, caption=step.settled, parse_mode=ParseMode.HTML)
        else:
            await context.bot.edit_message_text(
                **where, text=step.settled, parse_mode=ParseMode.HTML, link_preview_options=NO_PREVIEW
            )
        return await self.ask(update, context, number + 1)

    async def ask(self, update: Update, context: Context, number: int) -> int:
        assert update.effective_chat is not None
        assert context.user_data is not None
        step = self.steps(update)[number]
        rows = [[InlineKeyboardButton(label, callback_data=data) for label, data in row] for row in step.rows]
        marked: dict[str, Any] = {"chat_id": update.effective_chat.id, "parse_mode": ParseMode.HTML}
        buttons = InlineKeyboardMarkup(rows) if rows else None
        sent: Message | None = None
        if step.caption is not None:
            under = None if step.html else buttons
            sent = await context.bot.send_photo(photo=self.picture, caption=step.caption, reply_markup=under, **marked)
            self.picture = sent.photo[-1].file_id
        if step.html:
            sent = await context.bot.send_message(
                text=step.html, link_preview_options=NO_PREVIEW, reply_markup=buttons, **marked
            )
        assert sent is not None
        if not rows:
            return ConversationHandler.END
        context.user_data["open"], context.user_data["live"] = number, sent.message_id
        return number

    def handler(self, *, persistent: bool) -> "ConversationHandler[Any]":
        answers = [
            CallbackQueryHandler(self.pressed),
            MessageHandler(filters.TEXT & ~filters.COMMAND, self.typed),
        ]
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # that buttons are told apart by chat, as they are to be
            return ConversationHandler(
                entry_points=[CommandHandler("start", self.start)],
                states={number: list(answers) for number in range(max(map(len, self.scripts)) - 1)},
                fallbacks=[CommandHandler("start", self.resume)],
                name=NAME,
                persistent=persistent,
            )


def fill(path: Path, scripts: list[list[Step]], people: int, most: int) -> None:
    """People in the file who have given so many of the answers of their script."""
    user_data, states = {}, {}
    for number in range(people):
        person, steps = FIRST_PERSON + number, scripts[number % len(scripts)]
        given = answered(steps, most)
        answers = {step.question: (step.choice, now()) for step in steps[:given]}
        user_data[person] = someone(new_code(), now()) | {"answers": answers, "open": given, "live": person}
        states[person, person] = given
    data = {"conversations": {NAME: states}, "user_data": user_data, "chat_data": {}, "bot_data": {}}
    path.write_bytes(pickle.dumps(data | {"callback_data": None}, pickle.HIGHEST_PROTOCOL))


def main() -> None:
    server, token, script, *kept = sys.argv[1:]
    builder: Any = Application.builder().token(token).base_url(f"{server}/bot").base_file_url(f"{server}/file/bot")
    given = {"verify": False, "trust_env": False}
    builder = builder.request(HTTPXRequest(256, httpx_kwargs=given))
    builder = builder.get_updates_request(HTTPXRequest(1, read_timeout=35.0, httpx_kwargs=given))
    if kept:
        parts = PersistenceInput(bot_data=False, chat_data=False, callback_data=False)
        file = PicklePersistence(kept[0], store_data=parts, on_flush=True)
        builder = builder.application_class(Durable).persistence(file)
    application = builder.build()
    application.add_handler(Bot(read(Path(script))).handler(persistent=bool(kept)))
    application.run_polling(timeout=25)


if __name__ == "__main__":
    main()
