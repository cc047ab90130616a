"""A sheet as PDF: lines as lines, words as words, at 100 % and the same bytes for the same sheet.

The library that writes it needs some 25 MB and never gives them back; a process that goes on for long calls
`pdf_elsewhere`.
"""

import pickle
import subprocess
import sys
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

from triagebot.gauge.coins import coins_of, country_of
from triagebot.gauge.page import INK, Area, Line, Mark, Paper, Words
from triagebot.gauge.sheet import Sheet, gauge_sheet
from triagebot.pictures import FONT, width_of
from triagebot.topics import Texts, Topic

if TYPE_CHECKING:
    from fpdf import FPDF

FAMILY = "dejavu"
POINT = 25.4 / 72

#: The library insists on a date; this one says nothing, and keeps the bytes alike.
NO_DATE = datetime(2000, 1, 1, tzinfo=UTC)

#: Which part of a line of text lies left of its anchor.
_LEFT = {"start": 0.0, "middle": 0.5, "end": 1.0}


def gauge_pdf(sheet: Sheet) -> bytes:
    """The sheet as PDF. The same sheet gives the same bytes."""
    from fpdf.prefs import ViewerPreferences

    document = _lettered()
    document.viewer_preferences = ViewerPreferences(print_scaling="None", display_doc_title=True)
    document.set_lang(sheet.language)
    document.set_title(sheet.title)
    document.set_creator("triagebot")
    document.creation_date = NO_DATE
    for page in sheet.pages:
        document.add_page(format=(page.width, page.height))
        for mark in page.marks:
            _draw(document, mark)
    return bytes(document.output())


def pdf_elsewhere(sheet: Sheet) -> bytes:
    """The same bytes as `gauge_pdf`, written by a process of its own that ends with them."""
    program = "from triagebot.gauge.pdf import answer; answer()"
    command = [sys.executable, "-P", "-c", program]  # -P: no module of the folder that we run in gets in
    return subprocess.run(command, input=pickle.dumps(sheet), stdout=subprocess.PIPE, check=True).stdout


def answer() -> None:
    """In that process: the sheet comes on stdin, from nobody but us, and its PDF goes to stdout."""
    sys.stdout.buffer.write(gauge_pdf(pickle.load(sys.stdin.buffer)))


def write_gauge(path: Path, topic: Topic, texts: Texts, paper: Paper = "A4", country: str | None = None) -> Sheet:
    """Writes the sheet to a file, which is replaced, and returns what was written. Without a country, the coins are
    those of the country whose numbers the texts write. Raises UsageError for an unknown paper or country, DataError for
    a text that is lacking, OSError for a file that cannot be written."""
    sheet = gauge_sheet(topic, texts, paper, coins_of(topic, country or country_of(texts)))
    path.write_bytes(gauge_pdf(sheet))
    return sheet


def _lettered() -> "FPDF":
    """An empty document in mm that writes in the bundled font."""
    from fpdf import FPDF

    document = FPDF(unit="mm")
    document.set_auto_page_break(False)
    document.c_margin = 0
    document.add_font(FAMILY, "", FONT)
    document.set_font(FAMILY)
    return document


def _draw(document: "FPDF", mark: Mark) -> None:
    if isinstance(mark, Words):
        document.set_font_size(mark.em / POINT)
        document.text(mark.at[0] - _LEFT[mark.anchor] * width_of(mark.text, mark.em), mark.at[1], mark.text)
        return
    from fpdf.drawing import PaintedPath
    from fpdf.drawing_primitives import Transform
    from fpdf.svg import svg_path_converter

    path = PaintedPath()
    path.transform = Transform.translation(*mark.at)
    svg_path_converter(path, mark.path)
    match mark:
        case Area():
            path.style.paint_rule = "FILL_EVENODD"
            path.style.fill_color = INK
        case Line():
            path.style.paint_rule = "STROKE"
            path.style.stroke_color = INK
            path.style.stroke_width = mark.weight
    with document.drawing_context() as drawn:
        drawn.add_item(path)
