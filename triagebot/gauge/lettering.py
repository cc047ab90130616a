"""How wide words are in the bundled font, and how they break into lines.

The library that sets them in the PDF measures them here, too, so that what fits on the page fits in the file.
"""

from functools import cache
from importlib.resources import as_file, files
from threading import Lock
from typing import TYPE_CHECKING, cast

if TYPE_CHECKING:
    from fpdf import FPDF

FAMILY = "dejavu"
POINT = 25.4 / 72

#: From one base line to the next, in em.
LEADING = 1.3

#: One ruler serves all threads, and it is set to one size of letters at a time.
_MEASURING = Lock()


def lettered() -> "FPDF":
    """An empty document in mm that writes in the bundled font."""
    from fpdf import FPDF

    document = FPDF(unit="mm")
    document.set_auto_page_break(False)
    document.c_margin = 0
    with as_file(files("triagebot.pictures") / "font" / "DejaVuSans-subset.ttf") as font:
        document.add_font(FAMILY, "", font)
    document.set_font(FAMILY)
    return document


def width_of(text: str, em: float) -> float:
    """Width of one line of text in letters of `em` mm, mm."""
    with _MEASURING:
        ruler = _ruler()
        ruler.set_font_size(em / POINT)
        return float(ruler.get_string_width(text))


def lines_of(text: str, width: float, em: float) -> tuple[str, ...]:
    """A text broken at its own line ends and at spaces into lines no wider than `width` mm; a word that is wider is
    broken, too."""
    with _MEASURING:
        ruler = _ruler()
        ruler.set_font_size(em / POINT)
        lines = cast("list[str]", ruler.multi_cell(width, text=text, align="L", dry_run=True, output="LINES"))
    return tuple(line.rstrip() for line in lines)


@cache
def _ruler() -> "FPDF":
    """A document that is never written. Reading its font costs more than all measuring together."""
    document = lettered()
    document.add_page()
    return document
