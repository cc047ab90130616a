"""A sheet as PDF: lines as lines, words as words, at 100 % and the same bytes for the same sheet.

Decided here and nowhere else: what the file tells the printer (no scaling) and says about itself.
"""

from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

from triagebot.gauge.coins import coins_of, country_of
from triagebot.gauge.lettering import POINT, lettered, width_of
from triagebot.gauge.page import INK, Area, Line, Mark, Paper, Words
from triagebot.gauge.sheet import Sheet, gauge_sheet
from triagebot.topics import Texts, Topic

if TYPE_CHECKING:
    from fpdf import FPDF

#: The library insists on a date; this one says nothing, and keeps the bytes alike.
NO_DATE = datetime(2000, 1, 1, tzinfo=UTC)

#: Which part of a line of text lies left of its anchor.
_LEFT = {"start": 0.0, "middle": 0.5, "end": 1.0}


def gauge_pdf(sheet: Sheet) -> bytes:
    """The sheet as PDF. The same sheet gives the same bytes."""
    from fpdf.prefs import ViewerPreferences

    document = lettered()
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


def write_gauge(path: Path, topic: Topic, texts: Texts, paper: Paper = "A4", country: str | None = None) -> Sheet:
    """Writes the sheet to a file, which is replaced, and returns what was written. Without a country, the coins are
    those of the country whose numbers the texts write. Raises UsageError for an unknown paper or country, DataError for
    a text that is lacking, OSError for a file that cannot be written."""
    sheet = gauge_sheet(topic, texts, paper, coins_of(topic, country or country_of(texts)))
    path.write_bytes(gauge_pdf(sheet))
    return sheet


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
