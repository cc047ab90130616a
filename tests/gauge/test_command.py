"""`triagebot gauge` as a process: what it writes, says, and refuses."""

from pathlib import Path

import pypdfium2
import pytest

from tests.commands import run

A4, LETTER = (210.0, 297.0), (215.9, 279.4)


def pages(file: Path) -> list[tuple[float, float, str]]:
    """Width and height in mm, and the words, of each page."""
    document = pypdfium2.PdfDocument(file)
    sizes = [document[place].get_size() for place in range(len(document))]
    words = [document[place].get_textpage().get_text_range() for place in range(len(document))]
    return [(round(w / 72 * 25.4, 1), round(h / 72 * 25.4, 1), text) for (w, h), text in zip(sizes, words, strict=True)]


@pytest.mark.parametrize(
    ("arguments", "file", "size", "coin"),
    [
        ((), "gauge-sheet-A4.pdf", A4, "10\u00a0pence"),
        (("--country", "us"), "gauge-sheet-letter.pdf", LETTER, "quarter"),
        (("--country", "de"), "gauge-sheet-A4.pdf", A4, "2\u00a0euro"),
        (("--paper", "a4", "--country", "US", "--out", "my sheet.pdf"), "my sheet.pdf", A4, "quarter"),
        (("--paper", "Letter", "--lang", "en"), "gauge-sheet-letter.pdf", LETTER, "10\u00a0pence"),
    ],
)
def test_it_writes_the_sheet_and_says_where(
    tmp_path: Path, arguments: tuple[str, ...], file: str, size: tuple[float, float], coin: str
) -> None:
    done = run("gauge", *arguments, cwd=tmp_path)
    assert (done.returncode, done.stderr) == (0, "")
    assert done.stdout.startswith(f"{file}: 2 pages")
    assert [path.name for path in tmp_path.iterdir()] == [file]
    written = pages(tmp_path / file)
    assert [page[:2] for page in written] == [size, size]
    assert coin.replace("\u00a0", " ") in written[1][2].replace("\u00a0", " ").replace("\r\n", " ")


@pytest.mark.parametrize(
    ("arguments", "code", "said"),
    [
        (("--paper", "A3"), 2, "there is: A4, letter"),
        (("--country", "atlantis"), 2, "no country's code"),
        (("--lang", "xx"), 2, "I do not speak 'xx'"),
        (("--out", "missing/sheet.pdf"), 1, "missing/sheet.pdf: No such file or directory"),
    ],
)
def test_what_cannot_be_written_is_said_in_a_line_and_leaves_nothing(
    tmp_path: Path, arguments: tuple[str, ...], code: int, said: str
) -> None:
    done = run("gauge", *arguments, cwd=tmp_path)
    assert (done.returncode, done.stdout) == (code, "")
    assert said in done.stderr
    assert len(done.stderr.splitlines()) == 1
    assert list(tmp_path.iterdir()) == []
