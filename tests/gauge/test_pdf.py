"""What the file says about itself and to the printer, and that it is the same bytes every time."""

import subprocess
import sys
from pathlib import Path

import pypdfium2
import pytest

from tests.commands import PATIENCE
from tests.gauge.conftest import sheet_on
from tests.gauge.print_out import lines_of_text
from triagebot.errors import UsageError
from triagebot.gauge import PAPERS, Paper, gauge_pdf, write_gauge
from triagebot.topics import Texts, Topic, built_in_topic

AGAIN = """
import sys
from pathlib import Path
from triagebot.gauge import write_gauge
from triagebot.topics import load_texts, load_topic
topic = load_topic(Path(sys.argv[1]))
write_gauge(Path(sys.argv[2]), topic, load_texts(topic.folder, "en"), "A4", "de")
"""


def test_every_page_is_exactly_as_large_as_the_paper(pdf: bytes, paper: Paper) -> None:
    with pypdfium2.PdfDocument(pdf) as document:
        for page in document:
            left, bottom, right, top = page.get_mediabox()
            assert (left, bottom) == (0, 0)
            assert (right * 25.4 / 72, top * 25.4 / 72) == pytest.approx(PAPERS[paper], abs=0.002)
            assert page.get_cropbox() == page.get_mediabox()
            assert page.get_rotation() == 0


def test_the_printer_is_told_not_to_scale(pdf: bytes) -> None:
    assert b"/PrintScaling /None" in pdf


def test_it_has_a_title_a_language_and_its_own_letters(pdf: bytes) -> None:
    with pypdfium2.PdfDocument(pdf) as document:
        assert document.get_metadata_value("Title") == "Gauge sheet: Rear sprockets"
    assert b"/Lang (en)" in pdf
    assert b"/DisplayDocTitle true" in pdf
    assert b"/FontFile2" in pdf
    assert b"/Helvetica" not in pdf


def test_its_words_are_words(pdf: bytes, paper: Paper) -> None:
    for place, page in enumerate(sheet_on(paper).pages):
        there = sorted("".join(line.text.split()) for line in lines_of_text(pdf, place))
        assert "".join(sorted("".join(there))) == "".join(sorted("".join("".join(page.words).split())))
    with pypdfium2.PdfDocument(pdf) as document:
        words = document[0].get_textpage()
        found = words.search("Print at 100")
        assert found.get_next() is not None


def test_it_is_small(pdf: bytes) -> None:
    assert len(pdf) < 40_000


def test_the_same_sheet_gives_the_same_bytes(pdf: bytes, paper: Paper) -> None:
    assert gauge_pdf(sheet_on(paper)) == pdf


def test_other_processes_at_other_times_and_places_write_the_same_bytes(tmp_path: Path) -> None:
    for number, zone in enumerate(("UTC", "Asia/Kolkata")):
        environment = {"TZ": zone, "PYTHONHASHSEED": str(number), "LC_ALL": "C"}
        command = [sys.executable, "-c", AGAIN, str(built_in_topic()), str(tmp_path / f"{number}.pdf")]
        subprocess.run(command, env=environment, check=True, timeout=PATIENCE)
    first, second = ((tmp_path / f"{number}.pdf").read_bytes() for number in range(2))
    assert first == second == gauge_pdf(sheet_on("A4"))


def test_a_file_is_written_and_replaced(tmp_path: Path, topic: Topic, texts: Texts) -> None:
    file = tmp_path / "gauge.pdf"
    file.write_bytes(b"old" * 100_000)
    written = write_gauge(file, topic, texts, "letter", "US")
    assert file.read_bytes() == gauge_pdf(written)
    assert written.paper == "letter"
    assert any("quarter" in word for word in written.pages[1].words)


def test_without_a_country_the_texts_say_whose_coins(tmp_path: Path, topic: Topic, texts: Texts) -> None:
    written = write_gauge(tmp_path / "gauge.pdf", topic, texts)
    assert any("penny" in word for word in written.pages[1].words)
    assert written.paper == "A4"


def test_a_paper_or_country_that_there_is_not_is_refused_and_nothing_written(
    tmp_path: Path, topic: Topic, texts: Texts
) -> None:
    with pytest.raises(UsageError, match=r"'A5'.*A4, letter"):
        write_gauge(tmp_path / "gauge.pdf", topic, texts, "A5")  # type: ignore[arg-type]
    with pytest.raises(UsageError, match="country"):
        write_gauge(tmp_path / "gauge.pdf", topic, texts, "A4", "Germany")
    assert list(tmp_path.iterdir()) == []


def test_a_folder_that_is_not_there_is_told(tmp_path: Path, topic: Topic, texts: Texts) -> None:
    with pytest.raises(FileNotFoundError):
        write_gauge(tmp_path / "nowhere" / "gauge.pdf", topic, texts)
