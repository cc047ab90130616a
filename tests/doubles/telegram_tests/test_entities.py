"""HTML as the platform reads it. Source: the Bot API's public description of HTML style and of MessageEntity."""

from html import escape

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.doubles.telegram.content import found, parse_html
from tests.doubles.telegram.rules import Refusal

TEXTS = st.text(st.characters(exclude_categories=["Cs", "Cc"]))


def marked(text: str, entity: dict[str, object]) -> str:
    """What an entity covers; offsets and lengths count UTF-16 code units."""
    units = text.encode("utf-16-le")
    start, length = int(str(entity["offset"])), int(str(entity["length"]))
    return units[2 * start : 2 * (start + length)].decode("utf-16-le")


@given(TEXTS)
def test_escaped_text_comes_back_as_it_was_without_white_space_at_its_ends(text: str) -> None:
    assert parse_html(escape(text, quote=False)) == (text.strip(), [])


@given(TEXTS, TEXTS, TEXTS)
def test_a_tag_marks_what_it_holds_wherever_it_stands(before: str, inside: str, after: str) -> None:
    source = f"{escape(before)}<b>{escape(inside)}</b>{escape(after)}".replace("&#x27;", "'")
    text, entities = parse_html(source)
    assert text == (before + inside + after).strip()
    if entities:
        assert entities[0]["type"] == "bold"
        assert inside.strip() in marked(text, entities[0])
        assert marked(text, entities[0]) in inside
    else:
        assert not inside.strip()


@pytest.mark.parametrize(
    ("source", "kinds"),
    [
        ("<strong>a</strong> <em>b</em> <ins>c</ins> <del>d</del>", ["bold", "italic", "underline", "strikethrough"]),
        ("<b>a <i>b</i></b>", ["bold", "italic"]),
        ('<a href="http://shop.example/">a</a> <code>b</code>', ["text_link", "code"]),
        ('<span class="tg-spoiler">a</span><blockquote expandable>b</blockquote>', ["spoiler", "blockquote"]),
        ("<a>no address, no link</a>", []),
        ("<b></b>", []),
    ],
)
def test_tags_give_their_kinds(source: str, kinds: list[str]) -> None:
    assert [entity["type"] for entity in parse_html(source)[1]] == kinds


def test_references_are_the_four_named_ones_and_numbers() -> None:
    assert parse_html("&lt;&gt;&amp;&quot;&#9881;&#x2699; &laquo; &")[0] == '<>&"⚙⚙ &laquo; &'


def test_offsets_count_utf_16_units() -> None:
    text, entities = parse_html("🔧 <b>🔧🔧</b> ende")
    assert entities == [{"type": "bold", "offset": 3, "length": 4}]
    assert marked(text, entities[0]) == "🔧🔧"


@pytest.mark.parametrize(
    ("source", "reason"),
    [
        ("a < b", 'Unsupported start tag "" at byte offset 2'),
        ("ä<table>", 'Unsupported start tag "table" at byte offset 2'),
        ("<b>a", 'Can\'t find end tag corresponding to start tag "b"'),
        ("<b>a</i>", 'Unmatched end tag at byte offset 4, expected "</b>", found "</i>"'),
        ("a</b>", "Unexpected end tag at byte offset 1"),
        ("<b>a</b", "Unclosed end tag at byte offset 4"),
        ("<b", 'Unclosed start tag "b" at byte offset 0'),
        ("<span>a</span>", 'Tag "span" must have class "tg-spoiler" at byte offset 0'),
    ],
)
def test_broken_html_is_refused_with_the_place(source: str, reason: str) -> None:
    with pytest.raises(Refusal) as refused:
        parse_html(source)
    assert refused.value.description == f"Bad Request: can't parse entities: {reason}"
    assert refused.value.code == 400


def test_commands_mentions_and_addresses_are_found() -> None:
    text = "/start@some_bot x@y ask @some_bot at https://shop.example/a?b or 1/2"
    assert [(mark["type"], marked(text, mark)) for mark in found(text)] == [
        ("bot_command", "/start@some_bot"),
        ("mention", "@some_bot"),
        ("url", "https://shop.example/a?b"),
    ]
