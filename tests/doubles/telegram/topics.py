"""The methods by which a bot makes topics in a group, closes them and opens them again.

Only a bot that was given the right may (`Chat.topic_makers`). A topic begins with a message of the platform's about
itself, whose number is the topic's; on people's phones, what they write there answers that one unless they choose
another.
"""

from tests.doubles.telegram.calls import Call
from tests.doubles.telegram.rules import Refusal
from tests.doubles.telegram.world import Chat, Json, Topic

_COLOUR = 7322096


def create(call: Call) -> Json:
    chat, name = _forum(call), call.needed("name")
    made: Json = {"name": name, "icon_color": _COLOUR}
    message = call.platform.post(call.bot, chat, call.bot.user, {"forum_topic_created": made})
    message.thread = message.id
    chat.topics[message.id] = Topic(name)
    return made | {"message_thread_id": message.id}


def close(call: Call) -> bool:
    _topic(call).closed = True
    return True


def reopen(call: Call) -> bool:
    _topic(call).closed = False
    return True


def _forum(call: Call) -> Chat:
    chat = call.chat()
    if not chat.topics:
        raise Refusal("no-forum")
    if call.bot.user.id not in chat.topic_makers:
        raise Refusal("topic-rights")
    return chat


def _topic(call: Call) -> Topic:
    topic = _forum(call).topics.get(call.number("message_thread_id"))
    if topic is None:
        raise Refusal("no-thread")
    return topic
