"""A procedure note's Markdown as HTML that can do no harm.

Rules of this file:
- Two layers: raw HTML is read as the text that it is, and what comes out is cleaned again, so that only the elements
  and attributes of `ALLOWED` are left.
- A caution is a block quote that begins with a signal word in capitals, bold or not, and a colon: it becomes a box with
  that word as its head. `> **CAUTION: sprocket teeth cut.** They go through skin.`
  One block quote with two of them becomes two boxes, wherever the second begins: no caution stands in another's box.
- Headings begin below the page's own, and have the addresses that `shop.notes` gives them; if two share one, the first
  has it.
- Links lead where `resolve` says. What leads nowhere, or out of the shop folder, is shown as plain words; a picture
  that is not there as the words that say the same.
"""

import re
from collections.abc import Callable, Mapping, Sequence

import nh3
from markdown_it.token import Token

from triagebot.shop import Note, Reference, markdown, reference

#: Elements that a note may hold, and their attributes.
ALLOWED: dict[str, set[str]] = {
    "a": {"href", "title"},
    "blockquote": set(),
    "br": set(),
    "code": set(),
    "div": {"role"},
    "em": set(),
    **{f"h{depth}": {"id"} for depth in range(2, 7)},
    "hr": set(),
    "img": {"alt", "loading", "src", "title"},
    "li": set(),
    "ol": {"start"},
    "p": set(),
    "pre": set(),
    "strong": set(),
    "ul": set(),
}
KINDS = ("warning", "caution", "notice")
CLASSES = {"div": {"box", *(f"box-{kind}" for kind in KINDS)}, "p": {"signal"}}
SCHEMES = {"http", "https", "mailto", "tel"}

#: Where a link or picture leads; None for nowhere.
Resolve = Callable[[Reference], str | None]

_READER = markdown()


def html_of(note: Note, signals: Mapping[str, str], resolve: Resolve) -> str:
    """A note's text as HTML. `signals`: each signal word, and which kind of box it makes (warning, caution, notice)."""
    tokens = _READER.parse(note.body)
    _number_headings(note, tokens)
    tokens = _cautions_apart(tokens, signals)
    _box_cautions(tokens, signals)
    for token in tokens:
        if token.children:
            token.children = _led(note, token.children, resolve)
    return cleaned(_READER.renderer.render(tokens, _READER.options, {}))


def cleaned(html: str) -> str:
    """HTML without anything that is not in `ALLOWED`."""
    return nh3.clean(
        html,
        tags=set(ALLOWED),
        attributes=ALLOWED,
        allowed_classes=CLASSES,
        url_schemes=SCHEMES,
        link_rel="noopener noreferrer",
        clean_content_tags={"script", "style"},
        generic_attribute_prefixes=set(),
    )


def _number_headings(note: Note, tokens: Sequence[Token]) -> None:
    slugs = {section.line: section.slug for section in note.sections}
    headings = [token for token in tokens if token.type in ("heading_open", "heading_close")]
    shift = 2 - min((int(token.tag[1]) for token in headings), default=2)
    seen = {""}
    for token in headings:
        token.tag = f"h{min(6, int(token.tag[1]) + shift)}"
        if token.type == "heading_open" and token.level == 0 and token.map:
            slug = slugs.get(note.body_line + token.map[0], "")
            if slug not in seen:
                token.attrSet("id", slug)
                seen.add(slug)


def _cautions_apart(tokens: Sequence[Token], signals: Mapping[str, str]) -> list[Token]:
    """Each caution of a block quote in a block quote of its own."""
    kept: list[Token] = []
    begins = _begins(signals)
    quotes: list[int] = []
    for place, token in enumerate(tokens):
        if token.type == "blockquote_open":
            quotes.append(token.level)
        elif token.type == "blockquote_close":
            quotes.pop()
        elif token.type == "inline" and quotes and tokens[place - 1].level == quotes[-1] + 1:
            opened = kept.pop()
            for number, children in enumerate(_parted(token.children or [], begins)):
                if number:
                    kept.append(tokens[place + 1])
                starts = _text_of(children, begins) is not None
                if starts and (number or kept[-1].type != "blockquote_open"):
                    kept += _another_quote(quotes[-1])
                kept += [opened, Token("inline", "", 0, children=children, content=token.content, block=True)]
            continue
        kept.append(token)
    return kept


def _another_quote(level: int) -> list[Token]:
    closed = Token("blockquote_close", "blockquote", -1, level=level, block=True)
    opened = Token("blockquote_open", "blockquote", 1, level=level, block=True)
    return [closed, opened]


def _parted(children: list[Token], begins: "re.Pattern[str]") -> list[list[Token]]:
    """The lines of a paragraph, cut before each that begins a caution."""
    parts: list[list[Token]] = [[]]
    for place, child in enumerate(children):
        if child.type in ("softbreak", "hardbreak") and _text_of(children[place + 1 :], begins) is not None:
            parts.append([])
        else:
            parts[-1].append(child)
    return parts


def _begins(signals: Mapping[str, str]) -> "re.Pattern[str]":
    words = "|".join(re.escape(word) for word in sorted(signals, key=len, reverse=True))
    return re.compile(rf"({words})\s*:\s*" if signals else r"(?!)")


def _text_of(children: Sequence[Token], begins: "re.Pattern[str]") -> Token | None:
    """The text of a line that begins with a signal word, bold or not; None for any other line."""
    texts = [child for child in children[:4] if child.type == "text" and child.content]
    bold = [child.type for child in children[:2]] in (["strong_open", "text"], ["text", "strong_open"])
    if not texts or (children[0].type != "text" and not bold) or not begins.match(texts[0].content):
        return None
    return texts[0]


def _box_cautions(tokens: list[Token], signals: Mapping[str, str]) -> None:
    """Block quotes that begin with a signal word, made boxes in place."""
    if not signals:
        return
    begins = _begins(signals)
    open_boxes: list[bool] = []
    place = 0
    while place < len(tokens):
        token = tokens[place]
        if token.type == "blockquote_open":
            signal = _signal(tokens, place, begins)
            open_boxes.append(signal is not None)
            if signal is not None:
                token.tag = "div"
                token.attrSet("role", "note")
                token.attrSet("class", f"box box-{signals[signal]}")
                tokens[place + 1 : place + 1] = _signal_line(signal)
        elif token.type == "blockquote_close" and open_boxes.pop():
            token.tag = "div"
        place += 1


def _signal(tokens: Sequence[Token], place: int, begins: "re.Pattern[str]") -> str | None:
    """The signal word at the beginning of a block quote, which is taken out there."""
    if tokens[place + 1].type != "paragraph_open":
        return None
    text = _text_of(tokens[place + 2].children or [], begins)
    found = begins.match(text.content) if text is not None else None
    if text is None or found is None:
        return None
    rest = text.content[found.end() :]
    text.content = rest[:1].upper() + rest[1:]
    return found[1]


def _signal_line(signal: str) -> list[Token]:
    opened, closed = Token("paragraph_open", "p", 1), Token("paragraph_close", "p", -1)
    opened.attrSet("class", "signal")
    line = Token("inline", "", 0, content=signal, children=[Token("text", "", 0, content=signal)])
    opened.block = line.block = closed.block = True
    return [opened, line, closed]


def _led(note: Note, children: Sequence[Token], resolve: Resolve) -> list[Token]:
    """Inline tokens with every link and picture leading where it should, or made plain words."""
    kept: list[Token] = []
    leads = False
    for child in children:
        if child.type == "image":
            kept.append(_picture(note, child, resolve))
        elif child.type == "link_open":
            target = resolve(reference(note, str(child.attrGet("href") or "")))
            leads = target is not None
            if target is not None:
                child.attrSet("href", target)
                kept.append(child)
        elif child.type != "link_close" or leads:
            kept.append(child)
    return kept


def _picture(note: Note, child: Token, resolve: Resolve) -> Token:
    target = resolve(reference(note, str(child.attrGet("src") or ""), picture=True))
    if target is None:
        return Token("text", "", 0, content=_words(child))
    child.attrSet("src", target)
    child.attrSet("loading", "lazy")
    return child


def _words(token: Token) -> str:
    """A picture's words, without their marks."""
    if token.type in ("softbreak", "hardbreak"):
        return " "
    return "".join(_words(child) for child in token.children) if token.children else token.content
