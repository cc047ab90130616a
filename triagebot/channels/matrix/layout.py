"""A reply as the rooms show it: a plain text that says everything, and the same lines as HTML.

Rules of this file (`channels.rendering` decides what is bold, slanted or a link):
- choices are numbered, in the plain text and as a list; what may always be said stands below them in words, with the
  sign that means it as a reaction;
- an answered question keeps its choices, since the numbers under it stay, and says what the answer was;
- the person who is behind a bridge is spoken to by name, in plain text;
- HTML holds nothing but paragraphs, line breaks, bold, slanted, lists and links.
"""

import json
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from html import escape
from itertools import groupby
from typing import Any

from triagebot.channels.matrix.seen import OURS
from triagebot.channels.rendering import MarkedLine, marked, prose, split
from triagebot.conversation import Choice, Reply
from triagebot.topics import Texts

#: Bytes of a message, its plain text and its HTML together. The platform takes 65,536 of a whole event, of which
#: encryption leaves some 48,000.
MOST = 30_000
#: So many choices have their numbers under the message; and so many likely counts.
MOST_NUMBERS, MOST_COUNTS = 7, 10

#: What is put under a message for the choices that have no number.
SIGNS: Mapping[str, str] = {"unsure": "🤷", "how": "❓", "back": "↩️", "yes": "👍", "no": "👎"}
#: Colours of hands, and the mark that a sign is to be drawn in colour: the same sign with and without.
_SHADES = re.compile("[\U0001f3fb-\U0001f3ff\ufe0e\ufe0f]|\u200d[\u2640\u2642]")

_NUMBERED = re.compile(r"\A(\d+)\. ")
#: What no server takes in a text, or no reader could show.
_UNSENDABLE = re.compile(r"[\x00-\x08\x0b-\x1f\x7f\ud800-\udfff]")
_TAGS: Mapping[str, str] = {"b": "strong", "i": "em"}


@dataclass(frozen=True, slots=True)
class Part:
    """One message: the same as plain text and as HTML ("" where only plain text is read)."""

    body: str
    html: str = ""


def sheet(reply: Reply, texts: Texts, answered: str = "", called: str = "", seen: str = "") -> tuple[Part, ...]:
    """What is sent for a reply, in parts, the question in the last; or what that is changed to once it is `answered`.
    `called` is the name of somebody behind a bridge; `seen` is what the picture shows, where it is said with it."""
    signs: Mapping[str, str] = {} if called else SIGNS  # no reactions come through a bridge
    said = [*_lines(reply, texts, answered, signs), *(marked(texts("in-the-picture", words=seen), "i") if seen else ())]
    lines = [_sendable(line) for line in said]
    if called and lines:
        first, to = lines[0], texts("matrix-to", name=called)
        lines[0] = replace(first, text=f"{to} {first.text}", written=f"{to} {first.written or first.text}")
        return tuple(Part("\n".join(_written(part))) for part in split(lines, MOST, _length))
    return tuple(Part("\n".join(_written(part)), html(part)) for part in split(lines, MOST, _length))


def caption(texts: Texts, words: str) -> str:
    """What a picture shows, in words."""
    return texts("in-the-picture", words=words)


def numbers(reply: Reply) -> tuple[str, ...]:
    """What is put under the message for people to pick from: numbers, and signs for what has none."""
    question = reply.question
    if question is None:
        return tuple(SIGNS[each.id] for each in reply.offers if each.id in SIGNS)
    counts = [int(each.id) for each in question.numbers if each.id.isdecimal()]
    listed = counts[:MOST_COUNTS] or list(range(1, len(question.choices) + 1))
    signs = tuple(SIGNS[each.id] for each in question.aside if each.id in SIGNS)
    return (*map(_keycap, listed if counts or len(listed) <= MOST_NUMBERS else ()), *signs)


def meant_by(sign: str) -> str:
    """The id of the choice for which a sign stands; "" for any other."""
    bare = _SHADES.sub("", sign).strip()
    return next((choice for choice, each in SIGNS.items() if _SHADES.sub("", each) == bare), "")


def _keycap(number: int) -> str:
    """A number as a reaction: the sign for a key with one digit, else its digits."""
    return f"{number}\ufe0f\u20e3" if number < 10 else str(number)


def _lines(reply: Reply, texts: Texts, answered: str, signs: Mapping[str, str]) -> Iterator[MarkedLine]:
    yield from prose(reply)
    question = reply.question
    if question is not None:
        yield from marked(question.text, "b")
        listed = (f"{number}. {choice.label}" for number, choice in enumerate(question.choices, 1))
        yield from (MarkedLine(text, "li", gap=not place) for place, text in enumerate(listed))
        if question.aside and not answered:
            yield from marked(_beside(question.aside, signs))
    if answered:
        yield from marked(texts("answered-so", answer=answered), "i")
    elif reply.offers:
        yield from marked(_beside(reply.offers, signs))


def _sendable(line: MarkedLine) -> MarkedLine:
    text, written, linked = (_UNSENDABLE.sub("\ufffd", each) for each in (line.text, line.written, line.linked))
    return replace(line, text=text, written=written, linked=linked)


def _beside(choices: Sequence[Choice], signs: Mapping[str, str]) -> str:
    """What may be said besides, each with its sign, if it has one."""
    named = (f"{signs.get(each.id, '')} {each.label}".strip() for each in choices)
    return f"({' · '.join(named)})"


def _written(lines: Sequence[MarkedLine]) -> Iterator[str]:
    for place, line in enumerate(lines):
        gap = line.gap and place and line.tag != "li"
        yield ("\n" if gap else "") + (line.written or line.text)


# --- HTML ---------------------------------------------------------------------------------------------------------


def html(lines: Sequence[MarkedLine]) -> str:
    """Lines as paragraphs and lists."""
    return "".join(_list(run) if listed else _paragraphs(run) for listed, run in _runs(lines))


def _runs(lines: Sequence[MarkedLine]) -> Iterator[tuple[bool, list[MarkedLine]]]:
    for listed, run in groupby(lines, lambda line: line.tag == "li"):
        yield listed, list(run)


def _list(run: Sequence[MarkedLine]) -> str:
    first = _NUMBERED.match(run[0].text)
    start = f' start="{first[1]}"' if first is not None and first[1] != "1" else ""
    items = "".join(f"<li>{escape(_NUMBERED.sub('', line.text, count=1), quote=False)}</li>" for line in run)
    return f"<ol{start}>{items}</ol>"


def _paragraphs(run: Sequence[MarkedLine]) -> str:
    paragraphs: list[list[str]] = []
    for line in run:
        if line.gap or not paragraphs:
            paragraphs.append([])
        paragraphs[-1].append(_marked(line))
    return "".join(f"<p>{'<br>'.join(each)}</p>" for each in paragraphs)


def _marked(line: MarkedLine) -> str:
    head, text, linked = (escape(part, quote=False) for part in line.parts)
    if head:
        text = f"<strong>{head}</strong>{text}"
    if linked:
        text += f'<a href="{escape(line.url)}">{linked}</a>'
    tag = _TAGS.get(line.tag)
    return f"<{tag}>{text}</{tag}>" if tag and text else text


# --- how long it is -------------------------------------------------------------------------------------------------


def _length(text: str) -> int:
    """In bytes, as JSON, once as it is and once as HTML; a new line is the longest mark between two."""
    if text == "\n":
        return 2 + len("</p><p>")
    return sum(len(json.dumps(each, ensure_ascii=False).encode()) - 2 for each in (text, escape(text, quote=False)))


# --- contents -------------------------------------------------------------------------------------------------------


def message(part: Part, address: Mapping[str, Any], *, notice: bool = False) -> dict[str, Any]:
    """What is sent for one part, to where somebody wrote."""
    return {**_said(part, notice=notice), **_about(address)}


def change(part: Part, event: str, *, notice: bool = False, shown: Mapping[str, Any] | None = None) -> dict[str, Any]:
    """What is sent to put a part in the place of an earlier one. A person who shows no changes sees its last line.
    `shown` is the picture that the earlier one is the caption of."""
    picture = {"msgtype": "m.image", **shown} if shown else {}
    return {
        **_said(Part(f"* {part.body.rsplit(chr(10), 1)[-1]}"), notice=notice),
        "m.new_content": {**_said(part, notice=notice), **picture, "m.mentions": {}},
        "m.mentions": {},
        "m.relates_to": {"rel_type": "m.replace", "event_id": event},
    }


def image(
    words: Part,
    place: Mapping[str, Any],
    info: Mapping[str, Any],
    address: Mapping[str, Any],
    name: str = "picture.png",
) -> dict[str, Any]:
    """What is sent for a picture that lies at a place, with its words: what it shows, or a whole caption."""
    where = {"file": dict(place)} if "key" in place else {"url": place["url"]}
    shown = {**_said(words), "msgtype": "m.image", "filename": name, "info": dict(info), **where}
    return {**shown, **_about(address)}


def file(name: str, place: Mapping[str, Any], info: Mapping[str, Any], address: Mapping[str, Any]) -> dict[str, Any]:
    """What is sent for a file that lies at a place."""
    return {**image(Part(name), place, info, address, name), "msgtype": "m.file"}


def number(key: str, event: str) -> dict[str, Any]:
    """What is sent to put a number under a message."""
    return {"m.relates_to": {"rel_type": "m.annotation", "event_id": event, "key": key}}


def _said(part: Part, *, notice: bool = False) -> dict[str, Any]:
    said: dict[str, Any] = {"msgtype": "m.notice" if notice else "m.text", "body": part.body, OURS: True}
    if part.html:
        said |= {"format": "org.matrix.custom.html", "formatted_body": part.html}
    return said


def _about(address: Mapping[str, Any]) -> dict[str, Any]:
    """In the thread where somebody wrote; in a group as an answer that mentions them. What answers nothing in a thread
    names its root, so that clients that know no threads show it there."""
    group = "person" in address
    about: dict[str, Any] = {"m.mentions": {}}
    if group and "called" not in address:
        about["m.mentions"] = {"user_ids": [address["person"]]}
    relates: dict[str, Any] = {}
    if address.get("thread"):
        plainly = not address.get("under") and not (group and address.get("reply"))
        relates = {"rel_type": "m.thread", "event_id": address["thread"], "is_falling_back": plainly}
    if answers := address.get("under") or address.get("reply") or address.get("thread"):
        relates["m.in_reply_to"] = {"event_id": answers}
    return {**about, "m.relates_to": relates} if relates else about
