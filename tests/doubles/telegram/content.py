"""What messages are made of, by the platform's published rules: text with HTML tags, keyboards, pictures.

Offsets and lengths of entities count UTF-16 code units; the places in error messages count bytes of UTF-8.
"""

import json
import re
import struct
import zlib
from dataclasses import dataclass
from typing import Any

from tests.doubles.telegram.rules import (
    MOST_BUTTON_DATA,
    MOST_BUTTONS,
    MOST_PICTURE_RATIO,
    MOST_PICTURE_SIDES,
    PICTURE_SIDES,
    Refusal,
)
from tests.doubles.telegram.world import File, Keyboard

TAGS = {
    **dict.fromkeys(("b", "strong"), "bold"),
    **dict.fromkeys(("i", "em"), "italic"),
    **dict.fromkeys(("u", "ins"), "underline"),
    **dict.fromkeys(("s", "strike", "del"), "strikethrough"),
    **dict.fromkeys(("span", "tg-spoiler"), "spoiler"),
    "a": "text_link",
    "code": "code",
    "pre": "pre",
    "blockquote": "blockquote",
    "tg-emoji": "custom_emoji",
}
NAMED = {"lt": "<", "gt": ">", "amp": "&", "quot": '"'}

_REFERENCE = re.compile(r"&(#x[0-9a-fA-F]+|#[0-9]+|[a-z]+);")
_END_TAG = re.compile(r"</([^\s>]*)\s*(>?)")
_START_TAG = re.compile(r"<([^\s>]*)([^>]*)(>?)")
_ATTRIBUTE = re.compile(r"\s*([A-Za-z-]+)(?:\s*=\s*(?:\"([^\"]*)\"|'([^']*)'|([A-Za-z0-9._-]+)))?")
_FOUND = re.compile(
    r"(?P<bot_command>(?<!\S)/[A-Za-z0-9_]{1,64}(?:@[A-Za-z0-9_]{3,32})?)"
    r"|(?P<mention>(?<![\w@])@[A-Za-z][A-Za-z0-9_]{2,31})"
    r"|(?P<url>https?://[^\s<>]+)"
)

Entity = dict[str, Any]


def units(text: str) -> int:
    """Length in UTF-16 code units, the measure of offsets."""
    return len(text) + sum(character > "\uffff" for character in text)


def found(text: str) -> list[Entity]:
    """The commands, mentions and addresses that the platform marks in a text by itself."""
    return [
        {"type": match.lastgroup, "offset": units(text[: match.start()]), "length": units(match[0])}
        for match in _FOUND.finditer(text)
    ]


@dataclass(slots=True)
class _Open:
    tag: str
    start: int
    extra: dict[str, Any]


def parse_html(source: str) -> tuple[str, list[Entity]]:
    """Plain text, without white space at its ends, and its entities in order of place.

    Raises Refusal("entities") for tags that are unknown, not closed, or closed in the wrong order.
    """
    text: list[str] = []
    length = place = 0
    stack: list[_Open] = []
    entities: list[Entity] = []
    while place < len(source):
        character = source[place]
        if character == "&" and (match := _REFERENCE.match(source, place)) and (said := _referred(match[1])):
            text.append(said)
            length += units(said)
            place = match.end()
        elif character != "<":
            text.append(character)
            length += units(character)
            place += 1
        elif source.startswith("</", place):
            place = _close(source, place, length, stack, entities)
        else:
            place = _open(source, place, length, stack)
    if stack:
        raise Refusal("entities", reason=f'Can\'t find end tag corresponding to start tag "{stack[-1].tag}"')
    return _trimmed("".join(text), sorted(entities, key=lambda entity: (entity["offset"], -entity["length"])))


def _referred(name: str) -> str:
    if name[0] != "#":
        return NAMED.get(name, "")
    number = int(name[2:], 16) if name[1] == "x" else int(name[1:])
    return chr(number) if 0 < number < 0x110000 and not 0xD800 <= number < 0xE000 else ""


def _bytes(source: str, place: int) -> int:
    return len(source[:place].encode("utf-8", "surrogatepass"))


def _open(source: str, place: int, length: int, stack: list[_Open]) -> int:
    match = _START_TAG.match(source, place)
    assert match is not None
    tag, rest, closed = match[1].lower(), match[2], match[3]
    where = _bytes(source, place)
    if tag not in TAGS:
        raise Refusal("entities", reason=f'Unsupported start tag "{tag}" at byte offset {where}')
    if not closed:
        raise Refusal("entities", reason=f'Unclosed start tag "{tag}" at byte offset {where}')
    attributes = {each[1].lower(): each[2] or each[3] or each[4] or "" for each in _ATTRIBUTE.finditer(rest)}
    extra: dict[str, Any] = {}
    if tag == "a":
        extra = {"url": attributes.get("href", "")}
    elif tag == "tg-emoji":
        extra = {"custom_emoji_id": attributes.get("emoji-id", "")}
    elif tag == "span" and attributes.get("class") != "tg-spoiler":
        raise Refusal("entities", reason=f'Tag "span" must have class "tg-spoiler" at byte offset {where}')
    stack.append(_Open(tag, length, extra))
    return match.end()


def _close(source: str, place: int, length: int, stack: list[_Open], entities: list[Entity]) -> int:
    match = _END_TAG.match(source, place)
    assert match is not None
    tag, closed, where = match[1].lower(), match[2], _bytes(source, place)
    if not stack:
        raise Refusal("entities", reason=f"Unexpected end tag at byte offset {where}")
    if not closed:
        raise Refusal("entities", reason=f"Unclosed end tag at byte offset {where}")
    began = stack.pop()
    if tag not in ("", began.tag):
        reason = f'Unmatched end tag at byte offset {where}, expected "</{began.tag}>", found "</{tag}>"'
        raise Refusal("entities", reason=reason)
    if length > began.start and not (began.tag == "a" and not began.extra["url"]):
        entities.append({"type": TAGS[began.tag], "offset": began.start, "length": length - began.start} | began.extra)
    return match.end()


def _trimmed(text: str, entities: list[Entity]) -> tuple[str, list[Entity]]:
    kept = text.strip()
    before, end = units(text[: len(text) - len(text.lstrip())]), units(kept)
    moved = []
    for entity in entities:
        start = max(entity["offset"] - before, 0)
        stop = min(entity["offset"] + entity["length"] - before, end)
        if stop > start:
            moved.append(entity | {"offset": start, "length": stop - start})
    return kept, moved


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


def measure(data: bytes) -> tuple[str, int, int]:
    """Kind ("png", "jpeg"), width and height in pixels. Raises Refusal for what is no such picture, or too large."""
    if data.startswith(b"\x89PNG\r\n\x1a\n") and data[12:16] == b"IHDR" and b"IEND" in data[-12:]:
        kind, (width, height) = "png", struct.unpack(">II", data[16:24])
    elif data.startswith(b"\xff\xd8") and (found := _jpeg_size(data)):
        kind, (width, height) = "jpeg", found
    else:
        raise Refusal("not-a-picture")
    sides = sorted((width, height))
    if not sides[0] or sum(sides) > MOST_PICTURE_SIDES or sides[1] > sides[0] * MOST_PICTURE_RATIO:
        raise Refusal("picture-sides")
    return kind, width, height


def _jpeg_size(data: bytes) -> tuple[int, int] | None:
    """From the first start-of-frame marker (ITU-T T.81, B.2.2)."""
    place = 2
    while place + 9 < len(data):
        if data[place] != 0xFF:
            return None
        marker, length = data[place + 1], int.from_bytes(data[place + 2 : place + 4], "big")
        if 0xC0 <= marker <= 0xCF and marker not in (0xC4, 0xC8, 0xCC):
            height, width = struct.unpack(">HH", data[place + 5 : place + 9])
            return width, height
        place += 2 + length
    return None


def sizes(file: File) -> list[dict[str, Any]]:
    """The picture's sizes as a message shows them, the largest last. All of them lead to the same bytes."""
    longer = max(file.width, file.height)
    scaled = [side for side in PICTURE_SIDES if side < longer] + [min(longer, PICTURE_SIDES[-1])]
    shown = []
    for side in dict.fromkeys(scaled):
        width, height = (max(1, round(each * side / longer)) for each in (file.width, file.height))
        is_largest = side == scaled[-1]
        name = file.id if is_largest else f"{file.id}.{side}"
        unique = file.unique if is_largest else f"{file.unique}.{side}"
        shown.append({"file_id": name, "file_unique_id": unique, "width": width, "height": height,
                      "file_size": max(1, len(file.data) * side // longer)})  # fmt: skip
    return shown


def plain_png(width: int, height: int) -> bytes:
    """A grey picture of that size, for people who have nothing better to send."""

    def chunk(kind: bytes, data: bytes) -> bytes:
        return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))

    head = struct.pack(">IIBBBBB", width, height, 8, 0, 0, 0, 0)
    rows = zlib.compress((b"\0" + b"\x80" * width) * height, 9)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", rows) + chunk(b"IEND", b"")
