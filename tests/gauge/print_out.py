"""A sheet as it comes out of a printer: dots, measured with no knowledge of how it was drawn."""

from dataclasses import dataclass
from io import BytesIO

import numpy as np
import numpy.typing as npt
import pypdfium2
from PIL import Image
from scipy.ndimage import find_objects, label, map_coordinates

from triagebot.gauge import Sheet
from triagebot.pictures import Picture, png

DPI = 300
DOTS = DPI / 25.4  # a mm

Values = npt.NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class PrintOut:
    """One page: `ink` is 0 where it is white and 255 where it is black, a byte a dot (eight pages are kept)."""

    ink: npt.NDArray[np.uint8]

    @property
    def dark(self) -> Values:
        """How dark every dot is: 0 white, 1 black."""
        return self.ink / 255

    @property
    def size(self) -> tuple[float, float]:
        """Width and height of the paper, mm."""
        return self.ink.shape[1] / DOTS, self.ink.shape[0] / DOTS

    def at(self, x: npt.ArrayLike, y: npt.ArrayLike) -> Values:
        """How dark it is at points (mm from the upper left), between dots by interpolation."""
        down, right = np.broadcast_arrays(np.asarray(y, dtype=float), np.asarray(x, dtype=float))
        places = [down * DOTS - 0.5, right * DOTS - 0.5]
        return np.asarray(map_coordinates(self.ink, places, output=np.float64, order=1, mode="nearest")) / 255

    def strip(self, left: float, top: float, right: float, bottom: float) -> Values:
        """The dots of a rectangle (mm)."""
        rows, columns = slice(round(top * DOTS), round(bottom * DOTS)), slice(round(left * DOTS), round(right * DOTS))
        return self.ink[rows, columns] / 255

    def drawings(self) -> list["Drawing"]:
        """Everything that hangs together and is at least 15 mm wide and high, row by row from the upper left."""
        parts, _ = label(self.ink > 0.2 * 255, structure=np.ones((3, 3)))
        found = []
        for rows, columns in find_objects(parts):
            drawing = Drawing(self, columns.start / DOTS, rows.start / DOTS, columns.stop / DOTS, rows.stop / DOTS)
            if min(drawing.wide, drawing.high) >= 15:
                found.append(drawing)
        return sorted(found, key=lambda drawing: (round(drawing.bottom), drawing.left))

    def circles(self) -> list["Drawing"]:
        """The drawings whose outermost line is a circle."""
        return [drawing for drawing in self.drawings() if abs(drawing.wide - drawing.high) < 0.4]


@dataclass(frozen=True, eq=False)
class Drawing:
    """What hangs together on a page, and the box round it, mm."""

    page: PrintOut
    left: float
    top: float
    right: float
    bottom: float

    @property
    def wide(self) -> float:
        return self.right - self.left

    @property
    def high(self) -> float:
        return self.bottom - self.top

    @property
    def middle(self) -> tuple[float, float]:
        return (self.left + self.right) / 2, (self.top + self.bottom) / 2

    def lies_in(self, other: "Drawing") -> bool:
        """Whether the box round this lies within the box round another."""
        return (
            other.left < self.left and self.right < other.right and other.top < self.top and self.bottom < other.bottom
        )

    def round_about(self, radius: float, angles: int = 3600) -> npt.NDArray[np.bool_]:
        """Where there is ink along a circle round the middle, from the top clockwise."""
        turn = np.linspace(0, 2 * np.pi, angles, endpoint=False)
        x, y = self.middle
        return self.page.at(x + radius * np.sin(turn), y - radius * np.cos(turn)) > 0.3

    def across(self) -> float:
        """The diameter of the outermost line, from the middle of the line to the middle of the line, mm. It must be a
        circle; only where another line meets it may the picture say otherwise."""
        least, usual, most = np.percentile(self._diameters(), [20, 50, 80])
        assert most - least < 0.1, "it is not round"
        return float(usual)

    def across_the_teeth(self) -> float:
        """The same where notches interrupt the circle: the tops of the teeth, at least two fifths of it, lie on it."""
        least, usual, most = np.percentile(self._diameters(), [60, 78, 96])
        assert most - least < 0.1, "the tops of the teeth are not on one circle"
        return float(usual)

    def _diameters(self) -> Values:
        """How far the outermost line is from the one opposite, in each of 360 directions, mm."""
        turn = np.linspace(0, 2 * np.pi, 720, endpoint=False)[:, None]
        radii = np.arange(0, self.wide / 2 + 1, 0.01)[None, ::-1]
        x, y = self.middle
        dark = self.page.at(x + radii * np.sin(turn), y - radii * np.cos(turn))
        first = np.argmax(dark > 0.2, axis=1)[:, None]
        places = np.arange(dark.shape[1])[None, :]
        line = np.where((places >= first - 10) & (places < first + 30), dark, 0)  # one line and its soft edges
        reach = (line * radii).sum(axis=1) / line.sum(axis=1)
        return np.asarray(reach[:360] + reach[360:])


def from_pdf(pdf: bytes) -> tuple[PrintOut, ...]:
    with pypdfium2.PdfDocument(pdf) as document:
        images = [page.render(scale=DPI / 72, grayscale=True).to_numpy() for page in document]
    return tuple(PrintOut(255 - np.squeeze(image)) for image in images)


def true_size(picture: Picture, dpi: float = DPI) -> bytes:
    """A picture as PNG that is true to size when printed at `dpi`."""
    return png(picture, round(picture.width_mm / 25.4 * dpi))


def from_pictures(sheet: Sheet) -> tuple[PrintOut, ...]:
    images = [Image.open(BytesIO(true_size(page.picture()))).convert("L") for page in sheet.pages]
    return tuple(PrintOut(255 - np.asarray(image)) for image in images)


@dataclass(frozen=True, slots=True)
class Line:
    """A line of text and the box of its ink, mm."""

    text: str
    left: float
    top: float
    right: float
    bottom: float


def lines_of_text(pdf: bytes, place: int) -> list[Line]:
    """The text of one page of a PDF, as a reader finds it there: one entry a piece that was set at one go."""
    with pypdfium2.PdfDocument(pdf) as document:
        page = document[place]
        height, words = page.get_height(), page.get_textpage()
        boxes = [words.get_rect(index) for index in range(words.count_rects())]
        mm = 25.4 / 72
        return [
            Line(words.get_text_bounded(*box), box[0] * mm, (height - box[3]) * mm, box[2] * mm, (height - box[1]) * mm)
            for box in boxes
        ]
