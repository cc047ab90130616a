"""The gauge sheet as pages and a file, and the outlines for a screen with what each of them is worth in words."""

import io
import re
from collections.abc import Callable
from functools import cache
from pathlib import Path

import pypdfium2
import pytest

from tests.pages.conftest import NOW, Visitor
from tests.pages.markup import Markup
from triagebot.conversation import Guide
from triagebot.conversation.understanding import Setting, understand
from triagebot.gauge import country_in, not_told_apart, reading_from_outline, screen_outlines, size_reading
from triagebot.gauge.pdf import pdf_elsewhere
from triagebot.gauge.sheet import Sheet
from triagebot.identify import ChoiceReading, CountReading, SizeReading
from triagebot.pages import app, gauge
from triagebot.pages.gauge import SCALE, SCREEN
from triagebot.topics import size_noise

A4, LETTER = (595, 842), (612, 792)


def size_of(pdf: bytes) -> tuple[int, int]:
    """Of the first page, in points."""
    width, height = pypdfium2.PdfDocument(io.BytesIO(pdf))[0].get_size()
    return round(width), round(height)


def words_of(pdf: bytes) -> str:
    document = pypdfium2.PdfDocument(io.BytesIO(pdf))
    text = " ".join(document[place].get_textpage().get_text_range() for place in range(len(document)))
    return " ".join(text.split())


@pytest.fixture(autouse=True)
def _each_sheet_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """Many tests ask for the same sheet, which a process of its own writes: it writes each once for all of them."""
    monkeypatch.setattr(gauge, "pdf_elsewhere", _written)


@cache
def _written(sheet: Sheet) -> bytes:
    return pdf_elsewhere(sheet)


# --- the sheet ----------------------------------------------------------------------------------------------------


def test_the_page_leads_to_the_sheet_the_screen_and_shows_both_pages(pages: Visitor) -> None:
    page = Markup(pages("/gauge").text)
    assert page.headings()[0] == 1
    links = [given["href"] for given in page.all("a")]
    (pdf,) = (href for href in links if href.startswith("/gauge.pdf"))
    assert "/gauge/screen" in links
    assert pages(pdf).headers["content-type"] == "application/pdf"
    shown = [given for given in page.all("img") if given["src"].startswith("/gauge/page-")]
    assert len(shown) == 2
    for given in shown:
        assert given["alt"].startswith("Gauge sheet: Rear sprockets")
        assert pages(given["src"]).headers["content-type"] == "image/svg+xml"
    assert "/gauge" in [given["href"] for given in Markup(pages("/notes/").text).all("a")], "it is in the navigation"


@pytest.mark.parametrize(
    ("query", "languages", "size", "coin"),
    [
        ("", "", A4, "10 pence"),
        ("", "en-US,en;q=0.9", A4, "10 pence"),
        ("", "en", A4, "10 pence"),
        ("", "fr-CH, en-US", A4, "10 pence"),
        ("?country=us", "", LETTER, "quarter"),
        ("?country=US&paper=A4", "", A4, "quarter"),
        ("?paper=letter", "en-GB", LETTER, "10 pence"),
        ("?paper=LETTER&country=de", "", LETTER, "2 euro"),
    ],
)
def test_paper_and_coins_are_those_asked_for_or_those_of_the_shop_s_country(
    pages: Visitor, query: str, languages: str, size: tuple[int, int], coin: str
) -> None:
    answer = pages(f"/gauge.pdf{query}", headers={"accept-language": languages})
    assert answer.status_code == 200
    assert size_of(answer.content) == size
    assert coin in words_of(answer.content)
    name = f"gauge-sheet-{'a4' if size == A4 else 'letter'}.pdf"
    assert name in answer.headers["content-disposition"]
    assert "script" not in answer.headers["content-security-policy"]


@pytest.mark.parametrize(
    ("languages", "size", "coin"),
    [("en-US,en;q=0.9", LETTER, "quarter"), ("en", A4, "10 pence"), ("fr-CH, en-US", A4, "5 francs")],
)
def test_a_shop_whose_time_zone_lies_in_no_country_goes_by_the_reader_s(
    pages_of: Callable[..., Visitor], folder: Path, languages: str, size: tuple[int, int], coin: str
) -> None:
    file = folder / "shop.yaml"
    file.write_text(file.read_text(encoding="utf-8").replace("Europe/London", "Etc/UTC"), encoding="utf-8")
    answer = pages_of()("/gauge.pdf", headers={"accept-language": languages})
    assert size_of(answer.content) == size
    assert coin in words_of(answer.content)


@pytest.mark.parametrize(
    ("zone", "country"),
    [("Europe/London", "GB"), ("America/New_York", "US"), ("Europe/Vienna", "AT"), ("Etc/UTC", ""), ("nowhere", "")],
)
def test_a_time_zone_lies_in_a_country(zone: str, country: str) -> None:
    """By the Unicode consortium's table of zones."""
    assert country_in(zone) == country


def test_what_paper_cannot_tell_apart_is_said_everywhere(guide: Guide, pages: Visitor) -> None:
    """Sizes that differ by less than 2 × √2 × the standard uncertainty of a comparison on paper, 0.29 mm: 0.8 mm."""
    (group,) = not_told_apart(guide.topic)
    assert {(outline.kind, outline.count) for outline in group} == {("splines", 12)}
    assert [outline.diameter_mm for outline in group] == [22.5, 22.8, 23.0, 23.4]
    line = "can’t tell these apart: 22.5, 22.8, 23 and 23.4 mm, all with 12 splines"
    for path in ("/gauge", "/gauge/screen"):
        assert line in Markup(pages(path).text).text.replace("\N{NO-BREAK SPACE}", " ")
    assert line in words_of(pages("/gauge.pdf").content).replace("\N{NO-BREAK SPACE}", " ")


@pytest.mark.parametrize(
    "query", ["?paper=A3", "?country=atlantis", "?country=%00", "?paper=%F0%9F%9A%B2", "?country=d"]
)
def test_a_paper_or_country_that_is_none_is_refused_and_the_page_stands(pages: Visitor, query: str) -> None:
    assert pages(f"/gauge.pdf{query}").status_code == 404
    assert pages(f"/gauge/page-1.svg{query}").status_code == 404
    answer = pages(f"/gauge{query}")
    assert answer.status_code == 200
    assert "/gauge.pdf?paper=A4&amp;country=gb" in answer.text


@pytest.mark.parametrize("page", ["/gauge/page-0.svg", "/gauge/page-3.svg", "/gauge/page-x.svg", "/gauge/page--1.svg"])
def test_there_are_no_more_pages_than_there_are(pages: Visitor, page: str) -> None:
    assert pages(page).status_code == 404


def test_a_country_without_coins_in_the_topic_has_none_on_its_sheet(pages: Visitor) -> None:
    page = Markup(pages("/gauge?country=br").text)
    assert "no coins" in page.text
    assert "Coins" not in words_of(pages("/gauge.pdf?country=br").content)


def test_countries_are_listed_by_name_once_and_the_reader_s_is_chosen(pages: Visitor) -> None:
    text = pages("/gauge", headers={"accept-language": "en-CA"}).text
    page = Markup(text)
    codes = [given["value"] for given in page.all("option")]
    assert {"GB", "DE", "US", "CA", "PL", "JP", "IN"} <= set(codes)
    assert len(codes) == len(set(codes))
    assert "EU" not in codes
    chosen = [given["value"] for given in page.all("option") if "selected" in given]
    assert chosen == ["A4", "GB"]


def test_who_has_the_newest_sheet_is_told_so(pages: Visitor) -> None:
    first = pages("/gauge.pdf")
    assert pages("/gauge.pdf", headers={"if-none-match": first.headers["etag"]}).status_code == 304


def test_a_topic_without_outlines_has_no_gauge(guide: Guide, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("triagebot.pages.gauge.screen_outlines", lambda topic: ())
    visitor = Visitor(app(guide, clock=lambda: NOW))
    assert visitor("/gauge").status_code == 404
    assert "/gauge" not in visitor("/notes/").text


# --- outlines on the screen ---------------------------------------------------------------------------------------


def test_every_outline_says_words_that_give_its_own_readings(guide: Guide, pages: Visitor) -> None:
    """What the page has somebody say is understood as what there is, how many, and the length with its uncertainty, to
    the tenth that is written; the page shows how large that is."""
    shown = Markup(pages("/gauge/screen").text).text.replace("\N{NO-BREAK SPACE}", " ")
    said = re.findall(r"<q>([^<]+)</q>", pages("/gauge/screen").text)
    language = guide.language("en")
    outlines = screen_outlines(guide.topic)
    assert len(said) == len(outlines) > 8
    setting = Setting(
        language.words, guide.topic.questions, "size", (), (), guide.shop.makers, guide.topic.gauges, False
    )
    for outline, words in zip(outlines, said, strict=True):
        meant = understand(words, setting)
        facts = {each.reading.question: each for each in meant.facts}
        assert not meant.puzzles, words
        assert set(facts) == {"fitting", "size"} | ({"count"} if outline.count else set()), words
        assert facts["fitting"].reading == ChoiceReading("fitting", outline.kind)
        if outline.count:
            assert facts["count"].reading == CountReading("count", outline.count, outline.count)
        fact = facts["size"]
        assert isinstance(fact.reading, SizeReading)
        assert (fact.reading.means, fact.reading.mm) == (SCREEN, outline.diameter_mm), words
        if outline.low_mm == outline.high_mm:
            worth = size_reading(guide.topic, reading_from_outline(guide.topic, outline.id, SCALE), SCREEN)
            assert fact.reading.half_width == pytest.approx(worth.half_width, abs=0.051), words
            read = reading_from_outline(guide.topic, outline.id, SCALE)
            within = 2 * max(read.uncertainty_mm, size_noise(guide.topic.flow).means[SCREEN])
            told = shown[
                shown.index(f"{outline.label(language.texts)} On a screen".replace("\N{NO-BREAK SPACE}", " ")) :
            ]
            assert told.partition("good to ± ")[2].startswith(f"{round(within, 1):g} mm"), words
        else:
            assert fact.reading.half_width == (outline.high_mm - outline.low_mm) / 2


def test_the_scale_of_a_card_is_known_to_half_a_millimetre_in_its_shorter_side() -> None:
    assert pytest.approx(0.5 / 3**0.5 / 53.98) == SCALE


def test_outlines_stand_by_what_there_is_to_grip_each_drawn_and_named(guide: Guide, pages: Visitor) -> None:
    page = Markup(pages("/gauge/screen").text)
    drawn = [given for given in page.all("svg") if given.get("class") == "true"]
    outlines = screen_outlines(guide.topic)
    assert [given["aria-label"] for given in drawn] == [o.label(guide.language("en").texts) for o in outlines]
    assert [float(given["data-mm"]) for given in drawn] == [o.high_mm + 2 for o in outlines]
    for given in drawn:
        left, top, width, height = map(float, given["viewbox"].split())
        assert (left, top, height) == (-width / 2, -width / 2, width)
        assert width == float(given["data-mm"])


def test_without_scripts_it_says_what_is_needed(pages: Visitor) -> None:
    text = pages("/gauge/screen").text
    noscript = re.search(r"<noscript>(.*?)</noscript>", text, re.DOTALL)
    assert noscript is not None
    assert "need JavaScript" in noscript[1]
    assert 'href="/gauge"' in noscript[1]
    assert '<div id="gauge" hidden' in text


def test_without_a_chat_there_is_nothing_to_press_but_words_to_say(pages: Visitor) -> None:
    page = Markup(pages("/gauge/screen").text)
    assert not page.all("form")
    assert "Or write to the bot" in page.text
