"""A reply as the phone shows it (lines, split where they must be, and marked up), and how it is sent: pictures, parts,
buttons; and the change of one that was answered.

Rules of this file (the rest of what a reply looks like in `channels.rendering`):
- choices that a phone would cut off on a button are listed in the text, too;
- the buttons go under the last part;
- a message in parts goes on with the part that failed, and does not begin anew;
- a picture is uploaded once, and sent by the platform's own file id from then on;
- a group that got another number is followed at once;
- nothing waits for the change of a message that was answered (see `changes`);
- with somebody's photo, the words are its caption where they fit below it, or else stand before it; an album is one
  message, whose words are the caption of its first photo;
- where an answer finds its case by the code in the message that it answers, each photo of an album has the code, and
  the words stand before them: phones show no caption of an album with several.
"""

from collections.abc import Awaitable, Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial
from html import escape
from typing import Any

from telegram import InputFile, InputMediaPhoto
from telegram.error import BadRequest, ChatMigrated, TelegramError

from triagebot.channels.rendering import Gallery, MarkedLine, UnknownName, length_of, marked, prose
from triagebot.channels.rendering import split as split_lines
from triagebot.channels.telegram.bot_api import (
    NOTHING_TO_CHANGE,
    TOPIC_LOST,
    UNKNOWN_FILE,
    Client,
    Pace,
    says,
    undelivered,
)
from triagebot.channels.telegram.changes import Changes
from triagebot.channels.telegram.groups import Groups
from triagebot.channels.telegram.limits import MOST_CAPTION, MOST_TEXT, SEEN_ON_A_BUTTON
from triagebot.channels.telegram.reading import NAME, Button, code_of, pack
from triagebot.channels.telegram.threads import Threads, first_reply_stands
from triagebot.conversation import Guide, Reply
from triagebot.conversation.blocks import Attachment, Picture, Question
from triagebot.delivery import Delivery
from triagebot.messages import Gone, Outgoing, Receipt, Refused
from triagebot.topics import Texts

#: Rows of buttons: each its label and what it carries.
Rows = tuple[tuple[tuple[str, str], ...], ...]
#: How every text is sent, and how a caption is: objects as the platform defines them.
_CAPTION: dict[str, Any] = {"parse_mode": "HTML"}
_TEXT: dict[str, Any] = {"parse_mode": "HTML", "link_preview_options": {"is_disabled": True}}
#: A message as the platform gives it back.
Posted = Mapping[str, Any]

#: So many buttons of what is offered stand one below the other.
MOST_BELOW = 3
#: So many numbers stand side by side.
NUMBERS_ACROSS = 5
#: Sends one part of a message.
_Step = Callable[[], Awaitable[Posted]]


@dataclass(frozen=True, slots=True)
class Sheet:
    """What is sent for one reply: a picture or none, its caption, texts after it. The last of all has the buttons.

    A `caption` is None where there is no picture; it only says what that shows where the words would not fit below, and
    leaves that out where it would not fit behind them."""

    picture: str | None
    caption: str | None
    texts: tuple[str, ...]
    buttons: Rows = ()


class Sender:
    """Delivers for one bot. For one event loop."""

    def __init__(self, guide: Guide, delivery: Delivery, client: Client, groups: Groups) -> None:
        self._guide = guide
        self._client = client
        self._pace = Pace()
        self._groups = groups
        self._delivery = delivery
        self._threads = Threads(self._call, groups)
        self._gallery = Gallery(guide, delivery, NAME)
        self.changes = Changes(self._pace.room_left_over)
        #: The platform's numbers of the parts that went out, by message, while its other parts wait.
        self._parts: dict[int, list[int]] = {}

    async def deliver(self, message: Outgoing) -> Receipt:
        """Sends or edits; gives what a later edit needs. Raises the delivery's errors."""
        try:
            if message.kind == "edit":
                if message.receipt["buttons"]:
                    self.changes.begin(partial(self._change, message))
                return message.receipt
            return await self._send(message)
        except TelegramError as error:
            meant = undelivered(error)
            if isinstance(meant, Gone | Refused):
                done = self._parts.pop(message.id, [])
                made = self._threads.given_up(message, done)
                if isinstance(meant, Refused):
                    meant.receipt = made
            raise meant from error

    # --- sending ----------------------------------------------------------------------------------------------------

    async def _send(self, message: Outgoing) -> Receipt:
        texts = self._guide.language(message.language).texts
        name = message.reply.shows
        made = sheet(message.reply, texts, (await self._gallery.drawing(name, texts)).words if name else "")
        rows = tuple(tuple((label, _carried(message, word)) for label, word in row) for row in made.buttons)
        photos = await self._photos(message)
        address = await self._threads.of(message) if "opens" in message.address else message.address
        done = self._parts.setdefault(message.id, [])
        files = message.reply.of(Attachment)

        def steps() -> list[_Step]:
            return [*self._files(address, files), *self._steps(made, texts, address, rows, photos)]

        try:
            await self._send_rest(steps(), done)
        except BadRequest as error:
            if "name" not in address or not says(error, TOPIC_LOST):
                raise
            address = await self._threads.again(message, address, error)
            await self._send_rest(steps(), done)
        del self._parts[message.id]
        shape = "photo" if made.picture is not None and not made.texts else "text"
        receipt = {"message": done[-1], "shape": shape, "parts": len(made.texts), "buttons": bool(rows)}
        if int(address["chat"]) < 0:
            receipt |= await self._threads.sent(message, address, done[0])
        return receipt

    @staticmethod
    async def _send_rest(parts: list[_Step], done: list[int]) -> None:
        for part in parts[len(done) :]:
            done.append(int((await part())["message_id"]))

    async def _photos(self, message: Outgoing) -> list[bytes]:
        """Those that go with a message and are still there."""
        found = [await self._delivery.photo(number) for number in message.photos]
        return [photo for photo in found if photo is not None]

    def _steps(
        self, made: Sheet, texts: Texts, address: Mapping[str, Any], rows: Rows, photos: Sequence[bytes]
    ) -> list[_Step]:
        """One call a part, in order; the last carries the buttons."""
        steps: list[_Step] = []
        code = code_of(made.texts[0]) if len(photos) > 1 and made.texts and not address.get("thread") else ""
        if photos and len(made.texts) == 1 and length(made.texts[0]) <= MOST_CAPTION and not code:
            return [lambda: self._send_photos(address, photos, made.texts[0])]
        if made.picture is not None:
            steps.append(lambda: self._send_picture(made, texts, address, () if made.texts else rows))
        for place, text in enumerate(made.texts, 1):
            under = rows if place == len(made.texts) else ()
            steps.append(lambda text=text, under=under: self._send_text(address, text, under))  # type: ignore[misc]
        if photos:
            steps.append(lambda: self._send_photos(address, photos, code, each=True))
        return steps

    def _files(self, address: Mapping[str, Any], files: Sequence[Attachment]) -> list[_Step]:
        """One call a file, before the words."""
        return [lambda file=file: self._send_file(address, file) for file in files]  # type: ignore[misc]

    async def _send_file(self, address: Mapping[str, Any], file: Attachment) -> Posted:
        given = InputFile(file.content.encode(), file.name)
        sent: Posted = await self._call(address, "sendDocument", document=given)
        return sent

    async def _send_text(self, address: Mapping[str, Any], text: str, rows: Rows) -> Posted:
        sent: Posted = await self._call(address, "sendMessage", text=text, **_TEXT, reply_markup=_keyboard(rows))
        return sent

    async def _send_photos(
        self, address: Mapping[str, Any], photos: Sequence[bytes], caption: str, *, each: bool = False
    ) -> Posted:
        """One photo, or an album; the caption is that of the first, or of `each`."""
        if len(photos) == 1:
            given = InputFile(photos[0], "photo.jpg")
            one: Posted = await self._call(address, "sendPhoto", photo=given, caption=caption or None, **_CAPTION)
            return one
        below = [caption or None, *([caption if each else None] * (len(photos) - 1))]
        media = [
            InputMediaPhoto(photo, words, filename="photo.jpg", **_CAPTION)
            for photo, words in zip(photos, below, strict=True)
        ]
        sent: Sequence[Posted] = await self._call(address, "sendMediaGroup", messages=len(media), media=media)
        return sent[0]

    async def _send_picture(self, made: Sheet, texts: Texts, address: Mapping[str, Any], rows: Rows) -> Posted:
        assert made.picture is not None

        async def post(photo: str | bytes) -> tuple[Posted, str]:
            given = photo if isinstance(photo, str) else InputFile(photo, "picture.png")
            caption = made.caption or None
            try:
                sent: Posted = await self._call(
                    address, "sendPhoto", photo=given, caption=caption, **_CAPTION, reply_markup=_keyboard(rows)
                )
            except BadRequest as error:
                if isinstance(photo, str) and says(error, UNKNOWN_FILE):
                    raise UnknownName from error
                raise
            return sent, str(sent["photo"][-1]["file_id"])  # the last is the largest

        return await self._gallery.send(made.picture, texts, post)

    # --- editing ----------------------------------------------------------------------------------------------------

    async def _change(self, message: Outgoing) -> None:
        """Shows what was answered, and removes the buttons. Raises TelegramError."""
        receipt, number = message.receipt, int(message.receipt["message"])
        made, is_photo = None, receipt["shape"] == "photo"
        if message.answered and receipt["parts"] <= 1:
            reply = message.reply if is_photo else _without_picture(message.reply)
            made = sheet(reply, self._guide.language(message.language).texts, answered=message.answered)
        if made is not None and is_photo and not made.texts:
            await self._edit(message.address, "editMessageCaption", number, caption=made.caption, **_CAPTION)
        elif made is not None and not is_photo and len(made.texts) == 1:
            await self._edit(message.address, "editMessageText", number, text=made.texts[0], **_TEXT)
        else:
            await self._edit(message.address, "editMessageReplyMarkup", number)

    # --- the platform -----------------------------------------------------------------------------------------------

    async def _edit(self, address: Mapping[str, Any], method: str, number: int, **given: Any) -> None:
        await self._call(address, method, new=False, message_id=number, **given)

    async def _call(
        self, address: Mapping[str, Any], method: str, *, new: bool = True, messages: int = 1, **given: Any
    ) -> Any:
        """One request; at the platform's pace, and where its address says, if it sends something `new`. Once more where
        a group has got another number."""
        chat = int(address["chat"])
        if chat < 0:  # a person keeps one number
            chat = self._groups.now(chat)
        if new:
            given |= _where(address, chat)
            await self._pace.room(chat, messages)
        try:
            return await self._client.ask(method, chat_id=chat, **given)
        except ChatMigrated as error:
            self.moved(chat, error.new_chat_id)
            if "message_id" in given:
                raise BadRequest(NOTHING_TO_CHANGE[1]) from error  # the numbers of messages begin anew there
            if new:
                given |= _where({**address, "reply": None, "under": None}, error.new_chat_id)
            return await self._client.ask(method, chat_id=error.new_chat_id, **given)

    def moved(self, old: int, new: int) -> None:
        """A group has another number."""
        if self._groups.moved(old, new):
            self._pace.moved(old, new)


def _without_picture(reply: Reply) -> Reply:
    bare = (replace(each, picture=None) if isinstance(each, Question) else each for each in reply.blocks)
    return replace(reply, blocks=tuple(bare)).without(Picture)


def _where(address: Mapping[str, Any], chat: int) -> dict[str, Any]:
    """In a group a message replies to that of its person, in its topic; where the group has had another number since
    that was written, to none."""
    where: dict[str, Any] = {"reply_parameters": None}
    if address.get("thread"):
        where["message_thread_id"] = address["thread"]
    reply = address.get("reply")
    answers = address.get("under") or (reply if reply and first_reply_stands(address, chat) else None)
    if answers:
        where["reply_parameters"] = {"message_id": answers, "allow_sending_without_reply": True}
    return where


def _keyboard(rows: Rows) -> dict[str, Any] | None:
    if not rows:
        return None
    return {"inline_keyboard": [[{"text": label, "callback_data": carried} for label, carried in row] for row in rows]}


def _carried(message: Outgoing, word: str) -> str:
    address = message.address
    return pack(
        Button(word, message.case, message.turn, int(address.get("person", 0)), int(address.get("thread", 0) or 0))
    )


# --- what it looks like ---------------------------------------------------------------------------------------------


def length(text: str) -> int:
    """In UTF-16 units, which is how the platform counts."""
    return len(text) if text.isascii() else len(text.encode("utf-16-le")) // 2


def sheet(reply: Reply, texts: Texts, words: str = "", answered: str | None = None) -> Sheet:
    """What is to be sent; or, with `answered`, what it is changed to: no buttons, and what was answered ("": nothing).

    `words` say what its picture shows; `buttons` are rows of (label, choice)."""
    lines = list(prose(reply))
    question = reply.question
    picture = reply.shows
    seen = marked(texts("in-the-picture", words=words), "i") if words else []
    if question is not None:
        lines += marked(question.text, "b")
    if question is not None and answered is None:
        labels = [_numbered(number, choice.label) for number, choice in enumerate(question.choices, 1)]
        if any(len(label) > SEEN_ON_A_BUTTON for label in labels):
            lines += marked("\n".join(labels))
    if answered:
        lines += marked(texts("answered-so", answer=answered), "i")
    buttons = () if answered is not None else _buttons(reply)
    for caption in ([*lines, *seen], lines):  # what the picture shows is said in words where there is room for it
        if picture is not None and length_of(caption, length) <= MOST_CAPTION:
            return Sheet(picture, marked_up(caption), (), buttons)
    parts = tuple(marked_up(part) for part in split(lines, MOST_TEXT))
    return Sheet(picture, None if picture is None else marked_up(seen), parts, buttons)


def _numbered(number: int, label: str) -> str:
    return f"{number}. {label}"


def _buttons(reply: Reply) -> Rows:
    """Each choice across the whole width, numbers side by side; the two that every question has side by side, and
    "back" below. Where no question is shown, what is offered: one below the other, or side by side where there is
    much."""
    question = reply.question
    if question is None:
        offered = [(choice.label, choice.id) for choice in reply.offers]
        across = 2 if len(offered) > MOST_BELOW else 1
        return tuple(tuple(offered[at : at + across]) for at in range(0, len(offered), across))
    rows: list[tuple[tuple[str, str], ...]] = [
        ((_numbered(n, choice.label), choice.id),) for n, choice in enumerate(question.choices, 1)
    ]
    counts = [(choice.label, choice.id) for choice in question.numbers]
    few, another = counts[:-1], counts[-1:]
    rows += [tuple(few[at : at + NUMBERS_ACROSS]) for at in range(0, len(few), NUMBERS_ACROSS)]
    rows += [tuple(another)] if another else []
    beside = tuple((choice.label, choice.id) for choice in question.aside)
    return (*rows, *(row for row in (beside[:2], beside[2:]) if row))


def marked_up(lines: Sequence[MarkedLine]) -> str:
    """Lines as the platform's HTML."""
    written = []
    for place, line in enumerate(lines):
        head, text, linked = (escape(part, quote=False) for part in line.parts)
        if head:
            text = f"<b>{head}</b>{text}"
        if linked:
            text += f'<a href="{escape(line.url)}">{linked}</a>'
        if line.tag and line.text:
            text = f"<{line.tag}>{text}</{line.tag}>"
        written.append(("\n" if line.gap and place else "") + text)
    return "\n".join(written)


def split(lines: Sequence[MarkedLine], most: int) -> list[list[MarkedLine]]:
    """Parts of at most so many units. A part ends between paragraphs where that leaves it at least half full."""
    return split_lines(lines, most, length)
