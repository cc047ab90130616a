"""SVG to PNG. This file knows nothing of the rest of the house, so that it can be run as a program of its own
(`elsewhere.py` does), which is ready in a tenth of a second.

This file decides the font, and that a PNG has a palette, which halves its size. Half-tones may be off by
up to 6 %, and the ground stays white.

As a program it answers requests on stdin with PNGs on stdout, until stdin ends. Both ways a length of four bytes, the
greatest first, comes before the bytes; a length of 0 says that this one could not be rendered.
"""

import signal
import struct
import sys
from io import BytesIO
from pathlib import Path
from typing import IO

FONT = Path(__file__).resolve().parent / "font" / "DejaVuSans-subset.ttf"
FAMILY = "DejaVu Sans"
#: So many colours at most.
COLOURS = 128

LENGTH = struct.Struct(">I")


def rendered(svg: str) -> bytes:
    """A picture as PNG, as wide and high as its SVG says (in px). Its upper left corner must be of its ground. Raises
    ValueError for what is no SVG."""
    import resvg_py
    from PIL import Image

    full = resvg_py.svg_to_bytes(
        svg_string=svg,
        dpi=96,
        skip_system_fonts=True,
        font_files=[str(FONT)],
        font_family=FAMILY,
        sans_serif_family=FAMILY,
    )
    with Image.open(BytesIO(full)) as image:
        drawn = image.convert("RGB")
    few = drawn.quantize(COLOURS, method=Image.Quantize.FASTOCTREE, dither=Image.Dither.NONE)
    corner = (0, 0, 1, 1)
    palette, ground = few.getpalette(), few.crop(corner).tobytes()[0]
    assert palette is not None
    palette[3 * ground : 3 * ground + 3] = drawn.crop(corner).tobytes()
    few.putpalette(palette)
    found = BytesIO()
    few.save(found, "PNG")
    return found.getvalue()


def received(source: IO[bytes]) -> bytes | None:
    """The bytes that come next; None when the source has ended."""
    head = source.read(LENGTH.size)
    if len(head) < LENGTH.size:
        return None
    (length,) = LENGTH.unpack(head)
    body = source.read(length)
    return body if len(body) == length else None


def send(target: IO[bytes], body: bytes) -> None:
    """Bytes with their length before them."""
    target.write(LENGTH.pack(len(body)) + body)
    target.flush()


def main() -> None:
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # a stop key is for the process that asks here, and then stdin ends
    source, target = sys.stdin.buffer, sys.stdout.buffer
    while (asked := received(source)) is not None:
        try:
            answer = rendered(asked.decode())
        except ValueError:
            answer = b""
        send(target, answer)


if __name__ == "__main__":
    main()
