"""Notes are CommonMark: the specification's own examples, for what notes are written with, through both layers."""

import json
import re
from pathlib import Path
from typing import Any

import pytest
from markdown_it import MarkdownIt

from tests.pages.markup import Markup
from triagebot.pages.markdown import ALLOWED, html_of
from triagebot.shop import Note
from triagebot.shop.front_matter import FrontMatter
from triagebot.shop.notes import sections_of

SPEC = json.loads((Path(__file__).parent / "commonmark.json").read_text(encoding="utf-8"))
EXAMPLES: list[dict[str, Any]] = SPEC["examples"]

WITH_HTML, WITHOUT_HTML = (MarkdownIt("commonmark", {"html": html}) for html in (True, False))

#: Attributes that pages add, or leave out on purpose: addresses of headings, and what a link tells others.
OURS = ("id=", "rel=", "loading=", "class=")


def note_of(body: str) -> Note:
    head = FrontMatter.model_validate({"title": "A", "language": "en"})
    return Note("a", Path("/shop/notes/a.md"), "notes/a.md", head, body, 1, sections_of(body))


def ours(markdown: str) -> str:
    """A note as it is shown, with every link and picture left as it is."""
    return html_of(note_of(markdown), {}, lambda found: found.target)


def shape(html: str, shift: int = 0) -> list[tuple[str, ...]]:
    """What a browser sees: elements, attributes and text, without spaces that do not show."""
    rows: list[tuple[str, ...]] = []
    for piece in Markup(html).pieces:
        kind, name, *attributes = piece
        if kind == "text":
            if rows and rows[-1][0] == "text":
                name = rows.pop()[1] + name
            rows.append((kind, name))
            continue
        if re.fullmatch(r"h[1-6]", name):
            name = f"h{min(6, int(name[1]) + shift)}"
        rows.append((kind, name, *(a for a in attributes if not a.startswith(OURS))))
    blank = [(k, re.sub(r"\s+", " ", n).strip()) if k == "text" else (k, n, *rest) for k, n, *rest in rows]
    return [row for row in blank if row != ("text", "")]


def raw_html(markdown: str) -> bool:
    """Whether the example is about raw HTML, which notes may not hold."""
    return WITH_HTML.render(markdown) != WITHOUT_HTML.render(markdown)


def other_scheme(html: str) -> bool:
    """Whether the example links to a scheme that notes may not link to."""
    return bool(re.search(r'(href|src)="(?!https?:|mailto:)[a-zA-Z][\w+.-]*:', html))


def test_the_examples_say_where_they_come_from() -> None:
    assert "0.31.2" in SPEC["source"]
    assert "CC-BY-SA" in SPEC["licence"]
    assert {"ATX headings", "Lists", "Links", "Block quotes", "Code spans", "Paragraphs"} <= {
        example["section"] for example in EXAMPLES
    }


def test_nearly_all_examples_are_put_to_the_test() -> None:
    left_out = [e for e in EXAMPLES if raw_html(e["markdown"]) or other_scheme(e["html"])]
    assert len(left_out) < len(EXAMPLES) / 20


@pytest.mark.parametrize("example", EXAMPLES, ids=lambda e: f"{e['example']}")
def test_a_note_reads_as_the_specification_says(example: dict[str, Any]) -> None:
    if raw_html(example["markdown"]):
        seen = {tag for tag, _ in Markup(ours(example["markdown"])).elements}
        assert seen <= set(ALLOWED), "raw HTML stays text"
        return
    if other_scheme(example["html"]):
        assert not re.search(r'(href|src)="(?!https?:|mailto:)[a-zA-Z][\w+.-]*:', ours(example["markdown"]))
        return
    depths = Markup(example["html"]).headings()
    assert shape(ours(example["markdown"])) == shape(example["html"], 2 - min(depths, default=2))
