"""What stands on the sheet, for any number of outlines and coins, and what is said when a text is lacking."""

import shutil
from dataclasses import replace
from pathlib import Path
from xml.etree import ElementTree

import pytest

from tests.gauge.conftest import sheet_on
from tests.gauge.print_out import from_pdf
from triagebot.errors import DataError, UsageError
from triagebot.gauge import CARD, PAPERS, Coin, Paper, check_gauge, gauge_pdf, gauge_sheet
from triagebot.gauge.page import Page, Words
from triagebot.pictures import lines_of, not_in_font, width_of
from triagebot.topics import Fastening, Texts, Topic, built_in_topic, load_texts, load_topic


@pytest.fixture(scope="session")
def many(tmp_path_factory: pytest.TempPathFactory) -> Texts:
    """Texts that name fastenings from `many-10` to `many-59`."""
    folder = Path(shutil.copytree(built_in_topic(), tmp_path_factory.mktemp("many") / "topic"))
    names = "".join(f"fastening-many-{mm} = a fastening\n    .short = fastening\n" for mm in range(10, 60))
    ftl = folder / "text" / "en.ftl"
    ftl.write_text(ftl.read_text(encoding="utf-8") + "\n" + names, encoding="utf-8")
    return load_texts(folder, "en")


def crowded(topic: Topic, sizes: range) -> Topic:
    """A topic of fastenings that are so many mm wide, each with as many splines."""
    rows = []
    for mm in sizes:
        row = topic.fastenings["freewheel-4-notch-40"].model_dump(by_alias=True)
        row |= {"id": f"many-{mm}", "answers": {"fitting": "splines", "count": str(mm), "size": {"mm": mm}}}
        rows.append(Fastening.model_validate(row))
    return replace(topic, catalogue=topic.catalogue.model_copy(update={"fastenings": tuple(rows)}))


def plain(page: Page) -> str:
    return " ".join(page.words).replace("\N{NO-BREAK SPACE}", " ")


def test_it_says_how_to_print_and_to_check_first(paper: Paper) -> None:
    first, second = sheet_on(paper).pages
    words = plain(first)
    assert "100 %" in words
    assert "Do not use the sheet" in words
    assert "This bar must be 100 mm long. If it is not, do not use this page." in words
    assert "85.60 × 53.98 mm" in plain(second)
    assert CARD == (85.60, 53.98, 3.18)


def test_without_coins_there_is_no_heading_for_them(topic: Topic, texts: Texts) -> None:
    assert "Coins" in sheet_on("A4").pages[1].words
    assert "Coins" not in gauge_sheet(topic, texts).pages[1].words


def test_what_does_not_fit_goes_on_more_pages_and_never_over_anything(topic: Topic, many: Texts) -> None:
    coins = [Coin(name, mm) for name, mm in topic.gauges.items() if not name.startswith("card")]
    sheet = gauge_sheet(crowded(topic, range(15, 55)), many, "letter", coins)
    assert len(sheet.pages) > 4
    labels = [word for page in sheet.pages for word in page.words]
    assert sum("splines" in label for label in labels) >= 40
    assert f"Page 1 of {len(sheet.pages)}, US letter" in sheet.pages[0].words
    assert len({page.name for page in sheet.pages}) == len(sheet.pages)
    _, height = PAPERS["letter"]
    for page, seen in zip(sheet.pages, from_pdf(gauge_pdf(sheet)), strict=True):
        assert len(page.words) > 4, "no page is left empty"
        assert seen.strip(10, height - 31.9, page.width - 10, height - 28.3).max() == 0, "clear of the bar"
        assert seen.strip(10, 27.5, page.width - 10, 31.5).max() == 0, "clear of the heading"


def test_a_heading_stays_with_what_it_is_about(topic: Topic, many: Texts) -> None:
    """However many rings come before: under the coins' heading there is a coin on the same page."""
    coins = [Coin("eur-2", 25.75)]
    for most in range(17, 36, 3):
        pages = gauge_sheet(crowded(topic, range(15, most)), many, "A4", coins).pages
        (page,) = [page for page in pages if "Coins" in page.words]
        assert "2\N{NO-BREAK SPACE}euro," in page.words


def test_a_picture_of_a_page_says_all_its_words_and_is_true_to_size(paper: Paper) -> None:
    for page in sheet_on(paper).pages:
        picture = page.picture()
        root = ElementTree.fromstring(picture.svg)
        assert (root.attrib["width"], root.attrib["height"]) == tuple(f"{mm:g}mm" for mm in PAPERS[paper])
        assert root.attrib["viewBox"] == "0 0 {:g} {:g}".format(*PAPERS[paper])
        named = {element.attrib.get("id") for element in root.iter()}
        assert set(root.attrib["aria-labelledby"].split()) <= named
        for word in page.words:
            assert word in picture.alt
        assert "http" not in picture.svg.replace("http://www.w3.org/2000/svg", "")


def test_a_word_with_marks_is_written_as_it_is(topic: Topic) -> None:
    texts = load_texts(topic.folder, "en")
    page = gauge_sheet(topic, texts).pages[0]
    odd = replace(page, title='<b>"&', marks=(Words((20, 40), "<script>&amp;", 3.0),))
    root = ElementTree.fromstring(odd.picture().svg)
    assert "<script>&amp;" in [element.text for element in root.iter()]


def test_an_unknown_paper_is_refused(topic: Topic, texts: Texts) -> None:
    with pytest.raises(UsageError, match="'a5'"):
        gauge_sheet(topic, texts, "a5")  # type: ignore[arg-type]


def test_an_unnamed_coin_is_told(topic: Topic, texts: Texts) -> None:
    with pytest.raises(DataError, match="gauge-coin-xyz-1"):
        gauge_sheet(topic, texts, "A4", [Coin("xyz-1", 20)])


# Letters


def test_lines_are_no_wider_than_they_may_be() -> None:
    text = "Print at 100\N{NO-BREAK SPACE}% and check the bar first"
    lines = lines_of(text, 30, 3.4)
    assert " ".join(lines) == text
    assert all(width_of(line, 3.4) <= 30 for line in lines)
    assert any("100\N{NO-BREAK SPACE}%" in line for line in lines)


def test_width_grows_with_the_letters() -> None:
    assert width_of("mm", 6) == pytest.approx(2 * width_of("mm", 3))


def test_what_the_font_lacks() -> None:
    assert not_in_font("12 × 23,4 mm – złoty") == ""
    assert not_in_font("車a車") == "車"


# The check


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return Path(shutil.copytree(built_in_topic(), tmp_path / "topic"))


def test_the_topic_that_ships_is_all_right(topic: Topic) -> None:
    assert check_gauge(topic) == ()


def test_the_check_names_every_coin_without_a_name(folder: Path) -> None:
    gauges = folder / "gauges.yaml"
    more = "".join(f"  - {{id: {name}, mm: 20.0, source: coin-press}}\n" for name in ("nok-1", "dkk-2", "stick-1"))
    gauges.write_text(gauges.read_text(encoding="utf-8") + more, encoding="utf-8")
    problems = [str(problem) for problem in check_gauge(load_topic(folder))]
    assert len(problems) == 2
    assert "gauge-coin-dkk-2" in problems[0]
    assert "gauge-coin-nok-1" in problems[1]


def test_the_check_names_letters_that_the_font_lacks(folder: Path) -> None:
    ftl = folder / "text" / "en.ftl"
    ftl.write_text(ftl.read_text(encoding="utf-8") + "\ngauge-coins = 硬貨\n", encoding="utf-8")
    (problem,) = check_gauge(load_topic(folder))
    assert "硬 貨" in str(problem)


def test_the_check_tells_what_cannot_be_written(folder: Path) -> None:
    ftl = folder / "text" / "en.ftl"
    ftl.write_text(ftl.read_text(encoding="utf-8") + "\ngauge-bar = { $length }\n", encoding="utf-8")
    (problem,) = check_gauge(load_topic(folder))
    assert "gauge-bar" in str(problem)
