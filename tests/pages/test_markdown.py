"""A note's HTML: cautions in boxes, headings with addresses, links that lead somewhere, and nothing active in it."""

from collections.abc import Callable
from pathlib import Path
from urllib.parse import urlsplit

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.pages.markup import Markup
from triagebot.pages.markdown import ALLOWED, CLASSES, SCHEMES, cleaned, html_of
from triagebot.shop import Note, Reference
from triagebot.shop.front_matter import FrontMatter
from triagebot.shop.notes import sections_of

SIGNALS = {"WARNING": "warning", "CAUTION": "caution", "NOTICE": "notice", "ACHTUNG": "warning"}


def note_of(body: str) -> Note:
    head = FrontMatter.model_validate({"title": "A", "language": "en"})
    return Note("a", Path("/shop/notes/a.md"), "notes/a.md", head, body, 5, sections_of(body, 5))


def anywhere(found: Reference) -> str | None:
    """What pages do with addresses, at its most generous: everything leads where it says."""
    return found.target


def html(body: str, resolve: Callable[[Reference], str | None] = anywhere) -> str:
    return html_of(note_of(body), SIGNALS, resolve)


# --- nothing active -----------------------------------------------------------------------------------------------

#: What people try. The words may stay as words; nothing of it may become an element, an attribute or an address.
ATTACKS = [
    "<script>alert(1)</script>",
    "<SCRIPT SRC=//evil.example/x.js></SCRIPT>",
    "<scr<script>ipt>alert(1)</scr</script>ipt>",
    "<img src=x onerror=alert(1)>",
    "<IMG SRC=JaVaScRiPt:alert('x')>",
    "<svg onload=alert(1)>",
    "<svg><script>alert(1)</script></svg>",
    "<svg><animate onbegin=alert(1) attributeName=x dur=1s>",
    "<math><mtext><table><mglyph><style><img src=x onerror=alert(1)>",
    "<iframe src=javascript:alert(1)></iframe>",
    "<iframe srcdoc='<script>alert(1)</script>'>",
    "<object data=data:text/html,x></object><embed src=x>",
    "<form action=//evil.example><input name=q><button formaction=javascript:x>",
    "<a href=javascript:alert(1)>x</a>",
    "<a href='&#106;avascript:alert(1)'>x</a>",
    "<body onload=alert(1)>",
    "<details open ontoggle=alert(1)>",
    "<meta http-equiv=refresh content='0;url=//evil.example'>",
    "<base href=//evil.example>",
    "<link rel=stylesheet href=//evil.example/x.css>",
    "<style>@import '//evil.example'</style>",
    "<div style='background:url(javascript:x)'>",
    "<noscript><p title='</noscript><img src=x onerror=alert(1)>'>",
    "<!-- <img src=x onerror=alert(1)> -->",
    "<![CDATA[<script>alert(1)</script>]]>",
    "<?xml-stylesheet href='javascript:x'?>",
    "<template><script>alert(1)</script></template>",
    "<video><source onerror=alert(1)></video>",
    '"><script>alert(1)</script>',
    "</article><script>alert(1)</script>",
    "[x](javascript:alert(1))",
    "[x](JaVaScRiPt:alert(1))",
    "[x](java&#10;script:alert(1))",
    "[x](&#106;&#97;vascript:alert(1))",
    "[x](&#x6A;avascript:alert(1))",
    "[x](javascript&colon;alert(1))",
    "[x](<java\tscript:alert(1)>)",
    "[x](\x01javascript:alert(1))",
    "[x]( javascript:alert(1))",
    "[x](vbscript:x)",
    "[x](data:text/html;base64,PHNjcmlwdD4=)",
    "[x](data:image/svg+xml,<svg/onload=alert(1)>)",
    "![x](data:image/gif;base64,R0lGOD)",
    "![x](javascript:alert(1))",
    "![x](https://evil.example/a.png 'onerror=\"alert(1)')",
    '![" onerror="alert(1)](a.png)',
    "[x](file:///etc/passwd)",
    "[x](blob:https://evil.example/1)",
    "[x](//evil.example)",
    '[x](https://e.example/" onclick="alert(1))',
    "[x](https://e.example '\" onclick=alert(1)')",
    "<javascript:alert(1)>",
    "<data:text/html,x>",
    '<https://e.example/?a="onclick=alert(1)>',
    "[x]: javascript:alert(1)\n\n[x]",
    "[<script>alert(1)</script>](https://e.example)",
    "[![x](javascript:a)](javascript:b)",
    "`<script>alert(1)</script>`",
    "```html onload=alert(1)\n<script>alert(1)</script>\n```",
    "    <script>alert(1)</script>",
    "# <script>alert(1)</script>",
    '# " onclick="alert(1)',
    "> **CAUTION: <img src=x onerror=alert(1)>** x",
    '> CAUTION" onclick="x: y',
    "1. <svg/onload=alert(1)>",
    "&lt;script&gt;alert(1)&lt;/script&gt;",
    "&#60;script&#62;alert(1)&#60;/script&#62;",
    "\\<script>alert(1)\\</script>",
    "\u202e<script>alert(1)</script>",
    "\ufeff<script\x00>alert(1)</script>",
    "<sc\x00ript>alert(1)</script>",
    "<a id=main class=skip name=parts>x</a>",
]


def assert_harmless(result: str) -> None:
    seen = Markup(result)
    for tag, attributes in seen.elements:
        assert tag in ALLOWED, tag
        allowed = ALLOWED[tag] | {"class", *({"rel"} if tag == "a" else set())}
        assert set(attributes) <= allowed, (tag, attributes)
        assert set(attributes.get("class", "").split()) <= CLASSES.get(tag, set()), attributes
        for name in ("href", "src"):
            address = attributes.get(name, "").strip()
            scheme = "".join(letter for letter in address.split(":", maxsplit=1)[0] if letter > " ").lower()
            assert ":" not in address or not scheme.isalpha() or scheme in SCHEMES, address
        if tag == "a" and "href" in attributes:
            assert attributes["rel"] == "noopener noreferrer"
    assert not seen.declared
    assert not seen.crossed
    assert not seen.unclosed


@pytest.mark.parametrize("attack", ATTACKS)
@pytest.mark.parametrize("around", ["{}", "text {} text", "- {}\n\n  {}", "> {}", "**{}**", "[a {} b](x.md)", "## {}"])
def test_nothing_that_somebody_writes_becomes_active(attack: str, around: str) -> None:
    assert_harmless(html(around.replace("{}", attack)))


@pytest.mark.parametrize("attack", ATTACKS)
def test_the_second_layer_alone_lets_nothing_active_through(attack: str) -> None:
    """Should the reader of Markdown ever let raw HTML pass."""
    assert_harmless(cleaned(attack))
    assert_harmless(cleaned(f"<p>{attack}</p>"))


@given(st.text(alphabet="<>&\"'=/:;#![]()*_`\\ \n\tabjs xonclickhref0123-", max_size=80))
def test_no_text_at_all_becomes_active(body: str) -> None:
    assert_harmless(html(body))


def test_raw_html_is_shown_as_the_text_that_it_is() -> None:
    assert Markup(html("a <b>bold</b> word")).text == "a <b>bold</b> word"


# --- cautions -----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("quote", "kind", "text"),
    [
        ("> **CAUTION: sprocket teeth cut.** They go through skin.", "caution", "CAUTION Sprocket teeth cut. They go"),
        ("> **WARNING:** the tool slips.", "warning", "WARNING the tool slips."),
        ("> WARNING: the tool slips.", "warning", "WARNING The tool slips."),
        ("> **NOTICE: one thing.**\n>\n> Another.", "notice", "NOTICE One thing. Another."),
        ("> ACHTUNG: Zähne schneiden.", "warning", "ACHTUNG Zähne schneiden."),
        ("1. Push.\n\n   > **CAUTION: it slips.** Mind it.", "caution", "Push. CAUTION It slips. Mind it."),
    ],
)
def test_a_quote_that_begins_with_a_signal_word_is_a_box(quote: str, kind: str, text: str) -> None:
    seen = Markup(html(quote))
    (box,) = seen.all("div")
    assert (box["role"], set(box["class"].split())) == ("note", {"box", f"box-{kind}"})
    assert {"class": "signal"} in seen.all("p")
    assert seen.text.replace("  ", " ").startswith(text.replace(" They go", ""))
    assert not seen.all("blockquote")


@pytest.mark.parametrize(
    "quote",
    [
        *(
            "> Somebody said so.",
            "> caution: not in capitals",
            "> A CAUTION: not at its beginning",
            "> CAUTIONARY: tale",
        ),
        *("> - CAUTION: in a list", "> # CAUTION: a heading", "> [CAUTION: x](a.md)", "> CAUTION without a colon", ">"),
    ],
)
def test_any_other_quote_stays_a_quote(quote: str) -> None:
    seen = Markup(html(quote))
    assert len(seen.all("blockquote")) == 1
    assert not seen.all("div")


def test_boxes_and_quotes_may_stand_inside_one_another() -> None:
    seen = Markup(html("> quote\n>\n> > **CAUTION: inside.** x\n>\n> quote\n\n> **NOTICE: a.**\n>\n> > quote"))
    assert [tag for tag, _ in seen.elements if tag in ("div", "blockquote")] == [
        "blockquote",
        "div",
        "div",
        "blockquote",
    ]
    assert not seen.crossed


# --- headings, links, pictures ------------------------------------------------------------------------------------


def test_headings_begin_below_that_of_the_page_and_have_their_section_s_address() -> None:
    seen = Markup(html("# Take it *off*\n\n### Größe: 23 mm\n\n# Take it off\n\n> # Quoted\n"))
    assert seen.headings() == [2, 4, 2, 2]
    assert [given.get("id") for tag, given in seen.elements if tag in ("h2", "h4")] == [
        *("take-it-off", "grosse-23-mm", None, None),
    ], "the first of two has the address"
    assert Markup(html("## A\n\n### B\n")).headings() == [2, 3]
    assert Markup(html("###### A\n\n# B\n")).headings() == [6, 2]


def test_what_leads_nowhere_is_plain_words() -> None:
    seen = Markup(
        html("See [the *other* note](gone.md), ![a **tool**](gone.png) and [this](here.md).", _only("here.md"))
    )
    assert seen.text == "See the other note, a tool and this."
    assert [given["href"] for given in seen.all("a")] == ["here.md"]
    assert not seen.all("img")


def _only(name: str) -> Callable[[Reference], str | None]:
    return lambda found: found.target if found.target == name else None


def test_a_picture_keeps_its_words_and_waits_until_it_is_near() -> None:
    (picture,) = Markup(html("![two prongs](two.png)")).all("img")
    assert picture == {"src": "two.png", "alt": "two prongs", "loading": "lazy"}


def test_addresses_of_ordinary_schemes_stay() -> None:
    body = "[a](https://e.example/?x=1&y=2) [b](mailto:a@e.example) [c](tel:+441632960274) <https://e.example>"
    assert [urlsplit(given["href"]).scheme for given in Markup(html(body)).all("a")] == [
        *("https", "mailto", "tel", "https")
    ]


@pytest.mark.parametrize(
    "body",
    [
        "> **CAUTION: it slips.** Mind it.\n> **CAUTION: it cuts.** Gloves on.",
        "> **CAUTION: it slips.** Mind it.\n>\n> **CAUTION: it cuts.** Gloves on.",
        "> **CAUTION: it slips.** Mind it.\n\n> **CAUTION: it cuts.** Gloves on.",
        "> CAUTION: it slips. Mind it.\n> CAUTION: it cuts. Gloves on.",
        "1. Push.\n\n   > **CAUTION: it slips.** Mind it.\n   > **CAUTION: it cuts.** Gloves on.",
    ],
)
def test_two_cautions_stand_in_two_boxes(body: str) -> None:
    seen = Markup(html(body))
    assert [given["class"] for given in seen.all("div")] == ["box box-caution"] * 2
    assert [given.get("class") for given in seen.all("p") if given.get("class")] == ["signal"] * 2
    assert "CAUTION It slips. Mind it. CAUTION It cuts. Gloves on." in " ".join(seen.text.split())
    assert not seen.crossed
    assert not seen.unclosed


def test_what_else_stands_in_a_caution_stays_in_its_box() -> None:
    body = "> **NOTICE: one.** It is\n> long.\n>\n> And longer.\n> Than that.\n>\n"
    body += "> **WARNING: two.**\n>\n> - a\n> - b\n\nAfter."
    seen = Markup(html(body))
    assert [given["class"] for given in seen.all("div")] == ["box box-notice", "box box-warning"]
    assert len(seen.all("li")) == 2
    assert not seen.crossed
    assert not seen.unclosed
