"""The platform's public rules that the server keeps: limits, how long things live, and the words of its refusals.

They are decided here and nowhere else. Limits and life times are those of the public description of the Bot API; the
words are those that its open server answers with. Where the platform publishes no figure, the comment says so.
"""

from typing import Any

#: Characters (code points) of a message and of a caption, counted after the entities have been parsed.
MOST_TEXT = 4096
MOST_CAPTION = 1024
#: Bytes of what a button carries back, and buttons under one message.
MOST_BUTTON_DATA = 64
MOST_BUTTONS = 100
#: Characters of the notice that answers a press.
MOST_NOTICE = 200
#: Bytes of a picture that a bot sends, of another file, and of a file that a bot may fetch.
MOST_PICTURE = 10 * 1024 * 1024
MOST_UPLOAD = 50 * 1024 * 1024
MOST_DOWNLOAD = 20 * 1024 * 1024
#: Width and height of a picture together, in pixels, and how many times one may be the other.
MOST_PICTURE_SIDES = 10_000
MOST_PICTURE_RATIO = 20
#: Longer side, in pixels, of the sizes that a picture is kept in, beside its own.
PICTURE_SIDES = (90, 320, 800, 1280)
MOST_OF_AN_ALBUM = 10
MOST_COMMANDS = 100
MOST_COMMAND_DESCRIPTION = 256
MOST_DESCRIPTION = 512
MOST_SHORT_DESCRIPTION = 120

#: Seconds that an update waits for the bot: messages a day, presses two and a half minutes.
MESSAGE_LIVES = 86_400.0
PRESS_LIVES = 150.0
#: Seconds without an update after which their numbers begin anew, anywhere: here below, which is the harder case.
NUMBERS_LIVE = 604_800.0
#: Seconds within which a press can be answered. Not published; the server's own default, and settable.
PRESS_ANSWERED_WITHIN = 30.0
#: Seconds after which a bot can no longer delete a message.
DELETED_WITHIN = 172_800.0
#: Seconds of the longest long poll.
LONGEST_POLL = 50

#: Seconds from one refused delivery of an update to a webhook until the next; the last one repeats.
WEBHOOK_WAITS = (0.0, 2.0, 4.0, 8.0, 16.0, 32.0, 60.0)
WEBHOOK_ANSWERS_WITHIN = 60.0
WEBHOOK_CONNECTIONS = 40
MOST_WEBHOOK_CONNECTIONS = 100

#: Kinds of updates that a bot gets unless it asks for others: all that are modelled here.
USUAL_UPDATES = ("message", "edited_message", "callback_query", "my_chat_member")

#: Code and words of every refusal, by a short name of our own.
WORDS: dict[str, tuple[int, str]] = {
    # the request
    "wrong-token": (401, "Unauthorized"),
    "not-found": (404, "Not Found"),
    "server-error": (500, "Internal Server Error"),
    "too-many": (429, "Too Many Requests: retry after {seconds}"),
    "too-large": (413, "Request Entity Too Large"),
    "no-argument": (400, 'Bad Request: parameter "{name}" is required'),
    "not-json": (400, "Bad Request: can't parse {name} JSON object"),
    # receiving
    "other-poll": (
        409,
        "Conflict: terminated by other getUpdates request; make sure that only one bot instance is running",
    ),
    "webhook-set": (409, "Conflict: terminated by setWebhook request"),
    "webhook-active": (
        409,
        "Conflict: can't use getUpdates method while webhook is active; use deleteWebhook to delete the webhook first",
    ),
    "webhook-url": (400, "Bad Request: invalid webhook URL specified"),
    "webhook-away": (400, "Bad Request: bad webhook: only addresses on the loopback are called from here"),
    "webhook-secret": (400, "Bad Request: secret token contains unallowed characters"),
    # chats
    "no-chat-id": (400, "Bad Request: chat_id is empty"),
    "no-chat": (400, "Bad Request: chat not found"),
    "migrated": (400, "Bad Request: group chat was upgraded to a supergroup chat"),
    "kicked": (403, "Forbidden: bot was kicked from the {kind} chat"),
    "not-member": (403, "Forbidden: bot is not a member of the {kind} chat"),
    "blocked": (403, "Forbidden: bot was blocked by the user"),
    "deactivated": (403, "Forbidden: user is deactivated"),
    "never-started": (403, "Forbidden: bot can't initiate conversation with a user"),
    "no-user": (400, "Bad Request: user not found"),
    "no-thread": (400, "Bad Request: message thread not found"),
    "no-forum": (400, "Bad Request: the chat is not a forum"),
    "topic-rights": (400, "Bad Request: not enough rights to create a topic"),
    "topic-closed": (400, "Bad Request: TOPIC_CLOSED"),
    # what is said
    "empty": (400, "Bad Request: message text is empty"),
    "too-long": (400, "Bad Request: message is too long"),
    "edit-too-long": (400, "Bad Request: MESSAGE_TOO_LONG"),
    "caption-too-long": (400, "Bad Request: message caption is too long"),
    "entities": (400, "Bad Request: can't parse entities: {reason}"),
    "parse-mode": (400, "Bad Request: unsupported parse_mode"),
    "no-replied": (400, "Bad Request: message to be replied not found"),
    "notice-too-long": (400, "Bad Request: MESSAGE_TOO_LONG"),
    # buttons
    "markup-object": (400, "Bad Request: object expected as reply markup"),
    "markup": (400, "Bad Request: can't parse reply keyboard markup JSON object"),
    "keyboard": (400, 'Bad Request: field "inline_keyboard" must be of type Array'),
    "button": (400, "Bad Request: can't parse inline keyboard button: {reason}"),
    "button-data": (400, "Bad Request: BUTTON_DATA_INVALID"),
    "button-url": (400, "Bad Request: BUTTON_URL_INVALID"),
    "markup-too-long": (400, "Bad Request: reply markup is too long"),
    "press-too-old": (400, "Bad Request: query is too old and response timeout expired or query ID is invalid"),
    # changing what was said
    "no-message-id": (400, "Bad Request: message identifier is not specified"),
    "edit-missing": (400, "Bad Request: message to edit not found"),
    "edit-refused": (400, "Bad Request: message can't be edited"),
    "edit-no-text": (400, "Bad Request: there is no text in the message to edit"),
    "edit-no-caption": (400, "Bad Request: there is no caption in the message to edit"),
    "not-modified": (
        400,
        "Bad Request: message is not modified: specified new message content and reply markup are exactly the same as "
        "a current content and reply markup of the message",
    ),
    "delete-missing": (400, "Bad Request: message to delete not found"),
    "delete-refused": (400, "Bad Request: message can't be deleted"),
    # files
    "no-file": (400, "Bad Request: there is no {what} in the request"),
    "file-id": (400, "Bad Request: wrong file identifier/HTTP URL specified"),
    "get-file-id": (400, "Bad Request: invalid file_id"),
    "file-empty": (400, "Bad Request: file must be non-empty"),
    "file-too-big": (400, "Bad Request: file is too big"),
    "album-size": (400, "Bad Request: there must be 2-10 items to send in a group"),
    "album-kind": (400, "Bad Request: only photos can be sent here in a group"),
    "not-a-picture": (400, "Bad Request: IMAGE_PROCESS_FAILED"),
    "picture-sides": (400, "Bad Request: PHOTO_INVALID_DIMENSIONS"),
    # the bot's own page
    "command": (400, "Bad Request: BOT_COMMAND_INVALID"),
    "command-description": (400, "Bad Request: BOT_COMMAND_DESCRIPTION_INVALID"),
    "commands-too-much": (400, "Bad Request: BOT_COMMANDS_TOO_MUCH"),
    "scope": (400, "Bad Request: can't parse BotCommandScope: unsupported type specified"),
    "description-too-long": (400, "Bad Request: description is too long"),
}


class Refusal(Exception):  # noqa: N818 - what is answered, not what went wrong here
    """A request that the platform refuses; `code` and `description` are what its answer carries."""

    def __init__(self, kind: str, /, *, parameters: dict[str, Any] | None = None, **fill: object) -> None:
        self.kind = kind
        self.code, words = WORDS[kind]
        self.description = words.format(**fill)
        self.parameters = parameters or {}
        super().__init__(self.description)

    def answer(self) -> dict[str, Any]:
        body: dict[str, Any] = {"ok": False, "error_code": self.code, "description": self.description}
        return body | ({"parameters": self.parameters} if self.parameters else {})


class Cut(Exception):  # noqa: N818 - an order, no fault
    """The connection is to end without an answer."""
