"""Pictures as PNG, in the bundled font and no other, so that they look the same on every machine.

This file decides the widest that is rendered, and that a picture keeps its scale to a pixel.
"""

from math import ceil

from triagebot.pictures.elsewhere import rendered_elsewhere
from triagebot.pictures.geometry import number
from triagebot.pictures.raster import rendered
from triagebot.pictures.sheet import Picture

#: The widest PNG, pixels: enough for a sheet of A3 at 300 dpi.
WIDEST = 5000


def png(picture: Picture, width_px: int = 1000) -> bytes:
    """A picture as PNG, so many pixels wide. Raises ValueError for a width that is not from 1 to `WIDEST`. All threads
    of the process stand still meanwhile: where they must not, call `png_elsewhere`."""
    return rendered(_in_pixels(picture, width_px))


def png_elsewhere(picture: Picture, width_px: int = 1000) -> bytes:
    """The same bytes as `png` and the same errors, rendered in a process kept for it, so that other threads go on.
    Waits for it; call it from a thread. One picture at a time; should that process die, this one renders."""
    return rendered_elsewhere(_in_pixels(picture, width_px))


def _in_pixels(picture: Picture, width_px: int) -> str:
    """The SVG of a picture with its size in pixels.

    The renderer rounds a size in mm to whole pixels of 1/96 inch before it scales, which is wrong by up to 0.5 %. So
    the height is rounded up: then the width alone sets the scale.
    """
    if not 1 <= width_px <= WIDEST:
        raise ValueError(f"a picture is 1 to {WIDEST} pixels wide, not {width_px}")
    height_px = ceil(width_px * picture.height_mm / picture.width_mm)
    in_mm = f'width="{number(picture.width_mm)}mm" height="{number(picture.height_mm)}mm"'
    in_px = f'width="{width_px}" height="{height_px}" preserveAspectRatio="xMinYMin"'
    return picture.svg.replace(in_mm, in_px, 1)
