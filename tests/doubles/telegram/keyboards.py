"""What `reply_markup` may hold, and what a wrong one is refused with."""

import json
from typing import Any

from tests.doubles.telegram.rules import MOST_BUTTON_DATA, MOST_BUTTONS, Refusal

Keyboard = list[list[dict[str, Any]]]
#: What a button under a message can do, one of these each.
ACTIONS = ("url", "callback_data", "web_app", "login_url", "switch_inline_query", "switch_inline_query_current_chat",
           "switch_inline_query_chosen_chat", "copy_text", "callback_game", "pay")  # fmt: skip
#: Markups that change the phone's own keyboard and leave the message without buttons.
OF_THE_PHONE = ("keyboard", "remove_keyboard", "force_reply")


def parse_markup(given: Any) -> Keyboard:
    """The rows of buttons under the message; none for markups of the phone's keyboard. Raises Refusal."""
    if given in (None, ""):
        return []
    if isinstance(given, str):
        try:
            given = json.loads(given)
        except ValueError:
            raise Refusal("markup") from None
    if given is None:
        return []
    if not isinstance(given, dict):
        raise Refusal("markup-object")
    if "inline_keyboard" not in given:
        if given and not any(kind in given for kind in OF_THE_PHONE):
            raise Refusal("markup")
        return []
    rows = given["inline_keyboard"]
    if not isinstance(rows, list) or not all(isinstance(row, list) for row in rows):
        raise Refusal("keyboard")
    keyboard = [[_button(button) for button in row] for row in rows if row]
    if sum(map(len, keyboard)) > MOST_BUTTONS:
        raise Refusal("markup-too-long")
    return keyboard


def _button(given: Any) -> dict[str, Any]:
    if not isinstance(given, dict):
        raise Refusal("button", reason="InlineKeyboardButton must be an Object")
    if "text" not in given:
        raise Refusal("button", reason='Can\'t find field "text"')
    if not isinstance(given["text"], str):
        raise Refusal("button", reason='Field "text" must be of type String')
    if not given["text"].strip() or not any(action in given for action in ACTIONS):
        raise Refusal("button", reason="Text buttons are unallowed in the inline keyboard")
    if "callback_data" in given:
        data = given["callback_data"]
        if not isinstance(data, str) or not 1 <= len(data.encode()) <= MOST_BUTTON_DATA:
            raise Refusal("button-data")
    if "url" in given and not str(given["url"]).startswith(("http://", "https://", "tg://")):
        raise Refusal("button-url")
    return dict(given)
