"""Pictures as PNG, in the bundled font and no other, so that they look the same on every machine.

Decided here and nowhere else: the finest and widest that is rendered, and that an SVG refers to nothing outside itself.
"""

from triagebot.pictures.lettering import FONT
from triagebot.pictures.picture import Picture

MM_PER_INCH = 25.4
#: The widest PNG, pixels: enough for a sheet of A3 at 300 dpi.
WIDEST = 5000


def png(picture: Picture, width_px: int = 1000) -> bytes:
    """A picture as PNG, so many pixels wide. Raises ValueError for a width that is not from 1 to `WIDEST`."""
    if not 1 <= width_px <= WIDEST:
        raise ValueError(f"a picture is 1 to {WIDEST} pixels wide, not {width_px}")
    import resvg_py

    # At 96 dots an inch a mm in the SVG is 96/25.4 pixels, as in browsers; the zoom then gives the width asked for.
    return resvg_py.svg_to_bytes(
        svg_string=picture.svg,
        width=width_px,
        dpi=96,
        skip_system_fonts=True,
        font_files=[str(FONT)],
        font_family="DejaVu Sans",
        sans_serif_family="DejaVu Sans",
    )


def png_true_size(picture: Picture, dpi: float = 300.0) -> bytes:
    """A picture as PNG that is true to size when printed at `dpi`. Raises ValueError when that is too wide."""
    return png(picture, round(picture.width_mm / MM_PER_INCH * dpi))
