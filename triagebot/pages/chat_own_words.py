"""What somebody has said with a form, in the words of the page: their own, or those on the button that they pressed.
What a page's script sends it remembers itself, and nothing is kept here, unless its browser lets it keep nothing."""

from typing import TYPE_CHECKING

from triagebot.messages import Arrived, Commanded, Pressed, Said, Sent
from triagebot.messages.message import Content
from triagebot.pages.chat_channel import NAME
from triagebot.pages.chat_visitor import Visitor
from triagebot.topics import Texts

if TYPE_CHECKING:
    from triagebot.store import Store

#: So many messages back a button may stand: the last one that asks, and what came behind it.
BACK = 8


def own_words(store: "Store", visitor: Visitor, content: Content, texts: Texts) -> str:
    """How a message reads to who sent it; "" for one that shows nothing."""
    match content:
        case Said(text):
            return text
        case Pressed():
            return _label(store, visitor, content)
        case Commanded(command):
            return texts(f"chat-menu-{command}") if texts.has(f"chat-menu-{command}") else ""
        case Arrived(new=new):
            return texts("chat-menu-new" if new else "chat-begin")
        case Sent():
            return texts("chat-photographed")
        case _:
            return ""


def _label(store: "Store", visitor: Visitor, pressed: Pressed) -> str:
    """What stands on a button of one of the last messages."""
    from triagebot.messages.message import outgoing
    from triagebot.store.history import said

    with store.read() as view:
        letters = said(view, view.lookup_hash(f"{NAME}:{visitor.conversation}"), 0, BACK)
    for message in map(outgoing, reversed(letters)):
        question = message.reply.question
        choices = (*question.choices, *question.aside) if question is not None else message.reply.offers
        if (message.case, message.turn) == (pressed.case, pressed.turn):
            return next((choice.label for choice in choices if choice.id == pressed.choice), "")
    return ""
