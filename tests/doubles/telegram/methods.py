"""Every method that the server knows, by its name in lower case. Names that are not here are answered with 404."""

from collections.abc import Callable
from typing import Any

from tests.doubles.telegram import profile, receiving, talking, topics
from tests.doubles.telegram.calls import Call

#: LoadedCase without the lock, since it waits.
WAITS = "getupdates"

METHODS: dict[str, Callable[[Call], Any]] = {
    "getme": profile.get_me,
    "setwebhook": receiving.set_webhook,
    "deletewebhook": receiving.delete_webhook,
    "getwebhookinfo": receiving.get_webhook_info,
    "sendmessage": talking.send_message,
    "sendphoto": talking.send_photo,
    "senddocument": talking.send_document,
    "sendchataction": talking.send_chat_action,
    "editmessagetext": talking.edit_text,
    "editmessagecaption": talking.edit_caption,
    "editmessagereplymarkup": talking.edit_markup,
    "deletemessage": talking.delete_message,
    "answercallbackquery": talking.answer_press,
    "setmycommands": profile.set_commands,
    "getmycommands": profile.get_commands,
    "deletemycommands": profile.delete_commands,
    "setmydescription": profile.set_text,
    "getmydescription": profile.get_text,
    "setmyshortdescription": profile.set_text,
    "getmyshortdescription": profile.get_text,
    "setmyname": profile.set_text,
    "getmyname": profile.get_text,
    "getchat": profile.get_chat,
    "leavechat": profile.leave_chat,
    "getfile": profile.get_file,
    "createforumtopic": topics.create,
    "closeforumtopic": topics.close,
    "reopenforumtopic": topics.reopen,
}
