"""Text with HTML tags -> plain text and its entities, by the platform's published rules; and what it finds by itself.

Which tags exist, what may stand in them and what a broken text is refused with is decided here. Offsets and lengths of
entities count UTF-16 code units; the places in error messages count bytes of UTF-8.
"""

import re
from dataclasses import dataclass
from typing import Any

from tests.doubles.telegram.rules import Refusal

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
