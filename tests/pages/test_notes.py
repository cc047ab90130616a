"""Notes as pages: what each shows, in which order, search, addresses, other languages, and broken folders."""

import re
from collections.abc import Callable
from datetime import UTC, datetime
from itertools import pairwise
from pathlib import Path

import pytest

from tests.pages.conftest import Visitor
from tests.pages.markup import Markup
from triagebot.conversation import Guide
from triagebot.errors import DataError
from triagebot.shop import load_shop
from triagebot.topics import Topic

Pages = Callable[..., Visitor]
NOTE = "notes/freewheel-2-notch.md"
HEAD = "title: T\nlanguage: {}\nreviewed-on: 2026-10-01\nreviewed-by: workshop lead"


def seen(visitor: Visitor, path: str, **given: object) -> Markup:
    answer = visitor(path, **given)
    assert answer.status_code == 200, answer.text
    return Markup(answer.text)


def write(folder: Path, name: str, body: str, head: str = HEAD.format("en")) -> None:
    (folder / "notes" / name).write_text(f"---\n{head}\n---\n{body}", encoding="utf-8")


# --- a note -------------------------------------------------------------------------------------------------------


def test_every_note_is_a_whole_page(pages: Visitor, guide: Guide) -> None:
    for note in guide.shop.notes:
        answer = pages(f"/notes/{note.slug}")
        page = Markup(answer.text)
        assert page.all("html") == [{"lang": "en"}]
        assert len(page.all("h1")) == len(page.all("main")) == len(page.all("title")) == 1
        assert note.title in page.main
        assert guide.shop.contact.phone in page.text.replace(page.main, "")
        steps = page.headings()
        assert steps[0] == 1
        assert all(later <= earlier + 1 for earlier, later in pairwise(steps)), steps
        assert {section.slug for section in note.sections} <= {given.get("id") for _, given in page.elements}
        assert not page.crossed
        assert not page.unclosed
        ids = [given["id"] for _, given in page.elements if "id" in given]
        assert len(ids) == len(set(ids))
        assert len(answer.content) + len(pages(_style(page)).content) < 40_000


def _style(page: Markup) -> str:
    return next(given["href"] for given in page.all("link") if given["rel"] == "stylesheet")


def test_every_address_within_the_pages_leads_to_a_page_and_a_place_in_it(pages: Visitor) -> None:
    """Follows every link from the list on, as a reader could."""
    waiting, pages_seen = ["/notes/"], dict[str, Markup]()
    wanted: list[tuple[str, str, str]] = []
    while waiting:
        path = waiting.pop()
        pages_seen[path] = seen(pages, path)
        targets = [given["href"] for given in pages_seen[path].all("a") if "href" in given]
        targets += [given["src"] for given in pages_seen[path].all("img")]
        for target in targets:
            place, _, anchor = target.partition("#")
            if place.startswith(("tel:", "mailto:")) or place == "/":
                continue
            assert not re.match(r"[a-z]+:|//", place), place
            wanted.append((path, place or path, anchor))
            if place and place not in pages_seen and place not in waiting:
                waiting.append(place)
    assert len([path for path in pages_seen if path.startswith("/notes/")]) == 17
    for path, place, anchor in wanted:
        assert not anchor or anchor in {given.get("id") for _, given in pages_seen[place].elements}, (path, anchor)


def test_a_note_begins_with_what_the_catalogue_and_the_wall_say(pages: Visitor) -> None:
    page = seen(pages, "/notes/cassette-12-spline")
    for words in (
        *("“the everyday twelve”, wall A, peg 1", "£10.00", "“the whip”, wall A, peg 11", "turn anticlockwise"),
        *("40 N·m", "133 N", "Last checked on 22 September 2026 by the workshop lead"),
    ):
        assert words in page.text, words
    (picture,) = page.all("img")
    assert "12 splines" in picture["alt"]
    assert int(picture["width"]) > int(picture["height"]) > 0
    drawn = pages(picture["src"])
    assert drawn.headers["content-type"] == "image/svg+xml"
    assert drawn.text.startswith("<svg")
    assert "clockwise, seen from the sprocket side, because" in seen(pages, "/notes/fixed-notched-ring").text


def test_a_tool_that_is_not_there_is_said_to_be_missing(folder: Path, pages_of: Pages) -> None:
    tools = folder / "tools.yaml"
    text = tools.read_text(encoding="utf-8").replace("count: 4", "count: 0", 1)
    tools.write_text(text, encoding="utf-8")
    assert "None on the wall just now" in seen(pages_of(), "/notes/cassette-12-spline").text


def test_cautions_stand_in_boxes_within_their_steps(pages: Visitor) -> None:
    page = seen(pages, "/notes/freewheel-4-notch-24")
    kinds = [given["class"] for given in page.all("div") if given.get("role") == "note"]
    assert {"box box-warning", "box box-caution", "box box-notice"} == set(kinds)
    assert len(page.all("ol")) == 2
    assert "CAUTION: " not in page.text


@pytest.mark.parametrize(("year", "overdue"), [(2026, False), (2028, False), (2029, True)])
def test_a_note_that_is_overdue_says_so_before_anything_else(pages_of: Pages, year: int, overdue: bool) -> None:
    page = seen(pages_of(datetime(year, 1, 1, tzinfo=UTC)), "/notes/cassette-12-spline")
    assert ("This note should have been checked again by 22 September 2028" in page.text) == overdue
    if overdue:
        assert page.text.index("should have been checked") < page.text.index("Remover")


def test_a_review_grows_old_while_the_app_runs(guide: Guide) -> None:
    from triagebot.pages import app

    times = [datetime(2028, 9, 22, 12, tzinfo=UTC)]
    visitor = Visitor(app(guide, clock=lambda: times[-1]))
    first = visitor("/notes/cassette-12-spline")
    times.append(datetime(2028, 9, 23, 12, tzinfo=UTC))
    later = visitor("/notes/cassette-12-spline", headers={"if-none-match": first.headers["etag"]})
    assert (first.status_code, later.status_code) == (200, 200)
    assert "should have been checked again" not in first.text
    assert "should have been checked again" in later.text


def test_a_note_that_nobody_has_checked_says_so(folder: Path, pages_of: Pages) -> None:
    write(folder, "new.md", "Hello", "title: New\nlanguage: en")
    text = seen(pages_of(), "/notes/new").text
    assert "Nobody has checked this note yet" in text
    assert "Nobody who knows the job has checked this note" in text


def test_a_note_that_is_kept_elsewhere_leads_there(folder: Path, pages_of: Pages) -> None:
    (folder / "links.yaml").write_text("links:\n  freewheel-2-notch: https://example.org/two?a=1&b=2\n")
    page = seen(pages_of(), "/notes/freewheel-2-notch")
    assert "https://example.org/two?a=1&b=2" in [given.get("href") for given in page.all("a")]


# --- folders that are not whole -----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("name", "content", "said"),
    [
        ("broken.md", "---\ntitle: [\n---\n", "broken.md:"),
        ("headless.md", "# no head\n", "headless.md:1:1: a note starts with its head"),
        ("twice.md", "---\ntitle: T\nlanguage: en\nslug: freewheel-2-notch\n---\n", "'freewheel-2-notch' stands twice"),
    ],
)
def test_a_folder_with_a_broken_note_is_refused_whole(
    folder: Path, topic: Topic, name: str, content: str, said: str
) -> None:
    (folder / "notes" / name).write_text(content, encoding="utf-8")
    with pytest.raises(DataError) as caught:
        load_shop(folder, topic)
    assert said in str(caught.value)


def test_two_headings_of_one_name_share_no_address(folder: Path, pages_of: Pages) -> None:
    write(folder, "twice.md", "## Part\n\none\n\n## Part\n\ntwo\n")
    page = seen(pages_of(), "/notes/twice")
    assert [given.get("id") for given in page.all("h2")] == ["part", None]


def test_links_and_pictures_that_lead_nowhere_are_plain_words(folder: Path, pages_of: Pages) -> None:
    (folder / "notes" / "secret.txt").write_text("secret", encoding="utf-8")
    body = (
        "[a](gone.md) ![b](gone.png) [c](../../../etc/passwd) [d](../tools.yaml) [e](secret.txt) [f](/etc/passwd) "
        "[g](//example.org/x) ![h](https://example.org/x.png) [i](a%00b.png) "
        "[j](electric-hub.md#take-it-off) [k](#part)"
    )
    write(folder, "links.md", f"{body}\n\n## Part\n")
    page = seen(pages_of(), "/notes/links")
    article = page.elements[page.elements.index(("article", {"class": "note", "lang": "en"})) :]
    leads = [given["href"] for tag, given in article if tag == "a" and "rel" in given]
    assert leads == ["/notes/electric-hub#take-it-off", "#part"]
    assert not [tag for tag, _ in article if tag == "img"]
    assert "a b c d e f g h i j k" in page.text


def test_files_that_a_note_shows_are_sent_and_no_others(folder: Path, pages_of: Pages, tmp_path: Path) -> None:
    notes = folder / "notes"
    (notes / "two.png").write_bytes(b"\x89PNG picture")
    (notes / "plan.pdf").write_bytes(b"%PDF plan")
    (notes / "huge.png").write_bytes(b"x" * 2_000_001)
    (notes / "unnamed.png").write_bytes(b"x")
    (tmp_path / "outside.png").write_bytes(b"outside")
    (notes / "sneaky.png").symlink_to(tmp_path / "outside.png")
    write(folder, "f.md", "![two](two.png) [plan](plan.pdf) ![huge](huge.png) ![s](sneaky.png)\n")
    visitor = pages_of()
    page = seen(visitor, "/notes/f")
    (picture,) = page.all("img")
    assert picture["src"] == "/notes/f/0/two.png"
    sent = visitor(picture["src"])
    assert (sent.content, sent.headers["content-type"]) == (b"\x89PNG picture", "image/png")
    assert "sandbox" in sent.headers["content-security-policy"]
    assert visitor("/notes/f/1/plan.pdf").headers["content-type"] == "application/pdf"
    for path in (
        *("/notes/f/0/plan.pdf", "/notes/f/2/huge.png", "/notes/f/3/sneaky.png", "/notes/f/9/two.png"),
        *("/notes/f/0/..%2f..%2fshop.yaml", "/notes/f/unnamed.png", "/notes/two.png", "/notes/f/-1/two.png"),
    ):
        assert visitor(path).status_code == 404, path
    (notes / "two.png").unlink()
    assert visitor("/notes/f/0/two.png").status_code == 404


@pytest.mark.parametrize(
    "path",
    [
        *(
            "/notes/../shop.yaml",
            "/notes/%2e%2e/shop.yaml",
            "/notes/..%2f..%2fetc%2fpasswd",
            "/notes/a%00b",
            "/notes/%ff",
        ),
        *(
            "/static/../app.py",
            "/static/%2e%2e%2fapp.py",
            "/static/style.css%00",
            "/static/",
            "/static/templates/base.html",
        ),
        *("/pictures/fastening/..%2fx.svg", "/pictures/fastening/nothing.svg", "/pictures/x/y.svg", "/pictures/.svg"),
        "/pictures/look-alikes/" + "+".join(["cassette-12-spline"] * 50) + ".svg",
        *("//evil.example/notes/", "/notes//", "/nothing", "/NOTES/", "/notes/" + "a" * 5000),
    ],
)
def test_tricks_with_addresses_lead_to_no_page(pages: Visitor, path: str) -> None:
    assert pages(f"http://shop.example.org{path}").status_code == 404


# --- the list and search ------------------------------------------------------------------------------------------


def test_the_list_has_every_note_in_the_order_of_the_catalogue(pages: Visitor, guide: Guide) -> None:
    page = seen(pages, "/notes/")
    listed = [
        given["href"] for given in page.all("a") if given["href"].startswith("/notes/") and given["href"] != "/notes/"
    ]
    assert sorted(listed) == sorted(f"/notes/{note.slug}" for note in guide.shop.notes)
    assert listed[0] == "/notes/cassette-12-spline"
    assert listed[-1] == "/notes/electric-hub"


def test_search_leads_to_the_section_with_the_words_marked(pages: Visitor) -> None:
    page = seen(pages, "/notes/?q=how+tight+does+it+go+back%3F")
    first = next(given["href"] for given in page.all("a") if "#" in given["href"] and "main" not in given["href"])
    assert first.endswith("#put-it-back")
    assert page.all("mark")
    assert page.all("input")[0]["value"] == "how tight does it go back?"
    assert "Nothing found for “xylophone”" in seen(pages, "/notes/?q=xylophone").text


@pytest.mark.parametrize(
    "words", ["<script>alert(1)</script> tool", '"><img src=x onerror=alert(1)> tool', "'tool OR 1=1"]
)
def test_what_somebody_looks_for_is_shown_as_words(pages: Visitor, words: str) -> None:
    answer = pages("/notes/", params={"q": words})
    page = Markup(answer.text)
    assert words in page.text
    assert page.all("input")[0]["value"] == words
    assert not page.all("script")
    assert not page.crossed


def test_a_search_may_be_as_long_as_it_likes(pages: Visitor) -> None:
    page = seen(pages, "/notes/", params={"q": "tool " * 2_000})
    assert len(page.all("input")[0]["value"]) <= 200


def test_notes_in_other_languages_are_listed_apart_and_lead_to_each_other(folder: Path, pages_of: Pages) -> None:
    head = "title: Zwei Nuten\nlanguage: de\nfastenings: [freewheel-2-notch]"
    write(folder, "zwei-nuten.md", "## Lösen\n\nDie Nüsse.\n", head)
    visitor = pages_of()
    assert "In other languages" in seen(visitor, "/notes/").text
    other = seen(visitor, "/notes/zwei-nuten")
    assert {"lang": "de", "class": "note"} in other.all("article")
    assert any(given["href"] == "/notes/freewheel-2-notch" for given in other.all("a") if given.get("hreflang") == "en")
    assert "/notes/zwei-nuten#losen" in [given["href"] for given in seen(visitor, "/notes/?q=NUSSE").all("a")]
    assert pages_of()("/notes/?q=größe").status_code == 200


@pytest.mark.parametrize("path", ["/notes/", "/notes/freewheel-20-spline"])
def test_the_navigation_marks_the_notes_as_where_one_is(pages: Visitor, path: str) -> None:
    assert re.search(r'href="[^"]*/notes/" aria-current="page"', pages(path).text)


def test_notes_stand_in_families_each_with_a_drawing_that_is_there(pages: Visitor) -> None:
    page = seen(pages, "/notes/")
    order = [page.text.index(heading) for heading in ("Cassettes", "Freewheels", "Single sprockets", "For any wheel")]
    assert order == sorted(order)
    pictures = [given["src"] for given in page.all("img")]
    assert len(pictures) == 16, "one a note"
    for address in dict.fromkeys(pictures):
        drawn = pages(address)
        assert drawn.status_code == 200, address
        assert "<text" not in drawn.text, "too small to be read"
    general = page.text[order[-1] :]
    assert "Electric bikes" in general
    assert "When to take it to the shop" in general
    assert "Freewheel" not in general


@pytest.mark.parametrize(
    ("typed", "section"),
    [
        ("how+tight", "put-it-back"),
        ("torqe", "put-it-back"),
        ("seized", "if-it-will-not-move"),
        ("40Nm", "put-it-back"),
    ],
)
def test_the_first_found_is_the_section_that_was_meant(pages: Visitor, typed: str, section: str) -> None:
    leads = [given["href"] for given in seen(pages, f"/notes/?q={typed}").all("a") if "#" in given["href"]]
    assert leads[1].endswith(f"#{section}"), "the first is that past the navigation"
