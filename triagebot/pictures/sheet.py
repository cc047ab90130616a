"""A finished picture, and the sheet that it is drawn on.

This file decides the colours, the weights of lines, and how a picture is told to those who cannot see it.
What a person should look at is hatched, boldly outlined and warm in colour; all else is grey. No meaning hangs on
colour: the hatching and the outline say the same in grey. Nothing outside the picture is referred to, and all ids begin
with the picture's own name, so that several can stand in one page.
"""

from dataclasses import dataclass
from math import sqrt
from xml.sax.saxutils import escape, quoteattr

from triagebot.pictures.geometry import Point, number, spot

FAMILY = "'DejaVu Sans', Verdana, Arial, sans-serif"

INK, PAPER = "#1a1a1a", "#ffffff"
PALE, GREY, DARK, EDGE = "#efefef", "#d9d9d9", "#bdbdbd", "#8a8a8a"
#: The bottom of a slot: the darkest grey, since it lies deepest.
DEEP = "#5c5c5c"
WARM, WARM_LINE, WARM_EDGE = "#ffd9a0", "#c26a00", "#7a3c00"

#: How much wider than a line its light edge is, as a share of the picture's width.
HALO = 0.0045

#: From one stripe of a hatching to the next, and how wide its edges are blurred, as shares of the picture's width; and
#: the share of a hatching that is stripes.
HATCH, HATCH_EDGE, HATCHED = 0.02, 0.001, 0.28

#: Height of letters (em) as a share of a picture's width: 12 pixels on a phone that is 360 wide and shows it 290 wide.
LETTERS = 0.042


@dataclass(frozen=True, slots=True)
class Picture:
    """A drawing as SVG, its size in mm at scale 1:1, what it is, and the same in words for who cannot see it."""

    svg: str
    width_mm: float
    height_mm: float
    title: str
    alt: str


class Sheet:
    """Collects the parts of one picture, back to front. Lengths in mm, letters `em` mm tall, origin at upper left."""

    def __init__(self, name: str, width: float, em: float | None = None) -> None:
        self.name = name
        self.width = width
        self.em = LETTERS * width if em is None else em
        self._parts: list[str] = []

    # --- shapes ---------------------------------------------------------------------------------------------------

    def shape(self, at: Point, outline: str, fill: str, edge: str = EDGE, weight: float = 0.004) -> None:
        """A filled outline round `at`; `weight` of its edge as a share of the picture's width."""
        rule = ' fill-rule="evenodd"' if outline.count("M") > 1 else ""
        width = number(weight * self.width)
        drawn = "" if edge == "none" else f' stroke="{edge}" stroke-width="{width}" stroke-linejoin="round"'
        self._parts.append(f'<path{_moved(at)} d="{outline}" fill="{fill}"{rule}{drawn}/>')

    def pointed_out(self, at: Point, outline: str) -> None:
        """The one outline that a person should look at: warm, hatched and boldly outlined."""
        self.shape(at, outline, f"url(#{self.name}-hatch)", WARM_EDGE, 0.0075)

    def line(self, path: str, at: Point = (0, 0), weight: float = 0.004, colour: str = INK) -> None:
        """An open line."""
        self._line(path, at, weight, colour, "")

    def haloed(self, path: str, at: Point = (0, 0), weight: float = 0.005) -> None:
        """A dark line with a light edge, that stays visible over anything."""
        self._line(path, at, weight + HALO, PAPER, "")
        self._line(path, at, weight, INK, "")

    def dashed(self, path: str, at: Point = (0, 0), weight: float = 0.006) -> None:
        """A dashed dark line on a light one."""
        self._line(path, at, weight + HALO, PAPER, "")
        dash = f' stroke-dasharray="{number(0.02 * self.width)} {number(0.012 * self.width)}"'
        self._line(path, at, weight, INK, dash)

    def _line(self, path: str, at: Point, weight: float, colour: str, dash: str) -> None:
        self._parts.append(
            f'<path{_moved(at)} d="{path}" fill="none" stroke="{colour}" '
            f'stroke-width="{number(weight * self.width)}"{dash}/>'
        )

    def arrow_head(self, tip: Point, towards: Point, size: float = 0.022) -> None:
        """A filled arrow head whose tip is at `tip`, coming from the side away from `towards` (a direction)."""
        length = size * self.width
        scale = length / ((towards[0] ** 2 + towards[1] ** 2) ** 0.5)
        dx, dy = towards[0] * scale, towards[1] * scale
        left = (tip[0] - dx - dy * 0.42, tip[1] - dy + dx * 0.42)
        right = (tip[0] - dx + dy * 0.42, tip[1] - dy - dx * 0.42)
        self._parts.append(
            f'<path d="M{spot(tip)} L{spot(left)} L{spot(right)}Z" fill="{INK}" stroke="{PAPER}" '
            f'stroke-width="{number(0.003 * self.width)}" paint-order="stroke"/>'
        )

    def dot(self, at: Point, radius: float = 0.009) -> None:
        """A filled dot with a light edge."""
        self._parts.append(
            f'<circle cx="{number(at[0])}" cy="{number(at[1])}" r="{number(radius * self.width)}" fill="{INK}" '
            f'stroke="{PAPER}" stroke-width="{number(0.004 * self.width)}"/>'
        )

    # --- words ----------------------------------------------------------------------------------------------------

    def words(self, at: Point, text: str, anchor: str = "start", scale: float = 1.0, colour: str = INK) -> None:
        """One line of text; `at` is on its base line, and `anchor` says which end of the text lies there."""
        anchored = "" if anchor == "start" else f' text-anchor="{anchor}"'
        self._parts.append(
            f'<text x="{number(at[0])}" y="{number(at[1])}" font-size="{number(self.em * scale)}" fill="{colour}"'
            f"{anchored}>{escape(text)}</text>"
        )

    def words_over(self, at: Point, text: str) -> None:
        """One line of text in the middle of `at`, with a light edge, so that it can be read over a drawing."""
        self._parts.append(
            f'<text x="{number(at[0])}" y="{number(at[1])}" font-size="{number(self.em)}" fill="{INK}" '
            f'stroke="{PAPER}" stroke-width="{number(0.008 * self.width)}" stroke-linejoin="round" '
            f'paint-order="stroke" text-anchor="middle">{escape(text)}</text>'
        )

    def badge(self, at: Point, text: str) -> None:
        """A short text, white on a dark disc: the number of a choice."""
        self._parts.append(
            f'<circle cx="{number(at[0])}" cy="{number(at[1])}" r="{number(self.em * 0.85)}" fill="{INK}"/>'
        )
        self.words((at[0], at[1] + self.em * 0.36), text, "middle", colour=PAPER)

    # --- the whole ------------------------------------------------------------------------------------------------

    def picture(self, height: float, title: str, alt: str) -> Picture:
        """The finished picture. `title` says what it is, `alt` says in words all that it shows."""
        body = "\n".join(self._parts)
        used = f"<defs>{self._hatch()}</defs>\n" if f"#{self.name}-hatch" in body else ""
        return on_paper(self.name, self.width, height, title, alt, body, used)

    def _hatch(self) -> str:
        """Slanting stripes, as a gradient that is repeated: it is painted in a third of a pattern's time."""
        step = number(HATCH * self.width / sqrt(2))
        soft = HATCH_EDGE / HATCH
        stops = ((0.0, WARM), (1 - HATCHED - soft, WARM), (1 - HATCHED, WARM_LINE), (1 - soft, WARM_LINE), (1.0, WARM))
        colours = "".join(f'<stop offset="{number(at)}" stop-color="{colour}"/>' for at, colour in stops)
        return (
            f'<linearGradient id="{self.name}-hatch" gradientUnits="userSpaceOnUse" spreadMethod="repeat" '
            f'x1="0" y1="0" x2="{step}" y2="{step}">{colours}</linearGradient>'
        )


def _moved(at: Point) -> str:
    """The attribute that moves a path to `at`; none for one that is there already, since pages are to be light."""
    return f' transform="translate({spot(at)})"' if any(at) else ""


def on_paper(name: str, width: float, height: float, title: str, alt: str, body: str, before: str = "") -> Picture:
    """What is drawn (`body`, SVG in mm), on paper so wide and high, as a picture. The ids of its title and its words
    begin with `name`; `before` is what the ground is preceded by, such as definitions."""
    wide, tall = number(width), number(height)
    labelled = quoteattr(f"{name}-title {name}-desc")
    svg = (
        f'<svg xmlns="http://www.w3.org/2000/svg" role="img" aria-labelledby={labelled} width="{wide}mm" '
        f'height="{tall}mm" viewBox="0 0 {wide} {tall}" font-family="{FAMILY}">\n'
        f'<title id="{name}-title">{escape(title)}</title>\n<desc id="{name}-desc">{escape(alt)}</desc>\n'
        f'{before}<rect width="{wide}" height="{tall}" fill="{PAPER}"/>\n{body}\n</svg>\n'
    )
    return Picture(svg, width, height, title, alt)
