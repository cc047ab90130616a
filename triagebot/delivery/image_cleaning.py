"""Makes a picture of ours out of what somebody sent as a photo. This file knows nothing of the rest of the house, so
that it can be run as a program of its own (`photos.py` does): a file made to harm its reader may then take that
program's memory and time, or its life, but nothing of ours.

Decided here and nowhere else:
- what is read: JPEG, PNG and WebP, the first picture of several, of at most `MOST_BYTES` and `MOST_PIXELS`. A JPEG
  may have more of these, since it is decoded small. A file that breaks off is none. Why another one is none is said as
  exactly as its first bytes tell: a photo of a kind that is not read here, a broken one, or none at all;
- what is kept: the pixels, upright, on white, at most `SIDE` wide and high, written as a JPEG by ourselves. What else
  the file held (where and when it was taken, with which camera, a preview, comments) is never copied;
- what the program may use (`MOST_MEMORY`, `MOST_SECONDS`).

As a program it reads the photo from stdin to its end and writes the picture to stdout; its exit status says why it
could not (`STATUS`), and is another one when something else ended it.
"""

import resource
import signal
import sys
from contextlib import suppress
from io import BytesIO
from typing import TYPE_CHECKING, Literal
from warnings import simplefilter

if TYPE_CHECKING:
    from PIL import Image

#: The formats by the names that Pillow gives them. A JPEG with several pictures in it begins like any other.
FORMATS = ("JPEG", "PNG", "WEBP")
MOST_BYTES = 20 * 1024 * 1024
MOST_PIXELS = 50_200_000
MOST_PIXELS_OF_JPEG = 210_000_000
#: What a JPEG is called once it is open: with several pictures in it, it is an MPO.
JPEGS = ("JPEG", "MPO")
#: Pixels of the longer side, and the JPEG's quality.
SIDE, QUALITY = 2048, 85
#: Bytes of address space and seconds of the processor for one photo. A PNG of the most pixels takes two thirds of the
#: one and two seconds, a WebP nearly all of it and four.
MOST_MEMORY, MOST_SECONDS = 1 << 30, 10

Why = Literal["no-picture", "too-large", "broken", "heic", "empty"]
STATUS: dict[int, Why] = {3: "no-picture", 4: "too-large", 5: "broken", 6: "heic", 7: "empty"}
STATUS |= {-signal.SIGXCPU: "too-large"}

#: What a JPEG and a PNG begin with; the brands by which a HEIC photo, as many phones take them, calls itself.
_BEGINS = (b"\xff\xd8\xff", b"\x89PNG\r\n\x1a\n")
_HEIC = (b"heic", b"heix", b"heim", b"heis", b"hevc", b"hevx", b"mif1", b"msf1")

#: The tag of EXIF that says how the camera was held.
_ORIENTATION = 0x0112


class Unfit(ValueError):  # noqa: N818 - says what the photo is
    """What was sent cannot be kept; `why` is one of the reasons above."""

    def __init__(self, why: Why) -> None:
        super().__init__(why)
        self.why: Why = why


def clean(data: bytes) -> bytes:
    """The picture that is kept of a photo. Raises Unfit."""
    from PIL import Image

    if len(data) > MOST_BYTES:
        raise Unfit("too-large")
    if not data:
        raise Unfit("empty")
    Image.MAX_IMAGE_PIXELS = MOST_PIXELS_OF_JPEG
    simplefilter("error", Image.DecompressionBombWarning)
    try:
        with Image.open(BytesIO(data), formats=FORMATS) as sent:
            if sent.width * sent.height > (MOST_PIXELS_OF_JPEG if sent.format in JPEGS else MOST_PIXELS):
                raise Unfit("too-large")
            seen = _upright(sent)
    except Unfit:
        raise
    except (Image.DecompressionBombWarning, Image.DecompressionBombError, MemoryError):
        raise Unfit("too-large") from None
    except Exception:  # a broken file leads its decoder to raise anything
        raise Unfit(_what_it_is(data)) from None
    ours = Image.new("RGB", seen.size, "white")  # what the file said about its pixels stays behind with `seen`
    ours.paste(seen, mask=seen.getchannel("A") if seen.mode == "RGBA" else None)
    made = BytesIO()
    ours.save(made, "JPEG", quality=QUALITY)
    return made.getvalue()


def _what_it_is(data: bytes) -> Why:
    """Why a file that cannot be read is no photo, by its first bytes."""
    if data.startswith(_BEGINS) or (data[:4] == b"RIFF" and data[8:12] == b"WEBP"):
        return "broken"
    return "heic" if data[4:8] == b"ftyp" and data[8:12] in _HEIC else "no-picture"


def _upright(sent: "Image.Image") -> "Image.Image":
    """The pixels in grey, RGB or RGBA, small enough, and turned as the camera was held."""
    from PIL import Image

    sent.draft("RGB", (SIDE, SIDE))  # a large JPEG is decoded small at once
    sent.load()
    turns = {
        2: Image.Transpose.FLIP_LEFT_RIGHT,
        3: Image.Transpose.ROTATE_180,
        4: Image.Transpose.FLIP_TOP_BOTTOM,
        5: Image.Transpose.TRANSPOSE,
        6: Image.Transpose.ROTATE_270,
        7: Image.Transpose.TRANSVERSE,
        8: Image.Transpose.ROTATE_90,
    }
    turn = turns.get(_held(sent))
    if sent.mode.startswith("I"):  # 16 bits of grey; converted at once, all above 255 would be white
        seen = sent.convert("I").point(lambda value: value * (1 / 256)).convert("L")
    else:
        seen = sent.convert("RGBA" if sent.has_transparency_data else "RGB")
    seen.thumbnail((SIDE, SIDE), Image.Resampling.LANCZOS)
    return seen if turn is None else seen.transpose(turn)


def _held(sent: "Image.Image") -> int:
    """How the camera was held, by the number of EXIF; 1, upright, when that cannot be read."""
    try:
        return int(sent.getexif().get(_ORIENTATION, 1))
    except Exception:  # as above: what is said about a picture may be broken while the picture is not
        return 1


def main() -> int:
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # a stop key is for the process that started this
    limits = ((resource.RLIMIT_AS, MOST_MEMORY), (resource.RLIMIT_CPU, MOST_SECONDS), (resource.RLIMIT_CORE, 0))
    for what, most in limits:
        with suppress(ValueError, OSError):  # a system that knows no such limit, or has set a lower one
            resource.setrlimit(what, (most, resource.getrlimit(what)[1]))
    try:
        made = clean(sys.stdin.buffer.read(MOST_BYTES + 1))
    except Unfit as unfit:
        return next(status for status, why in STATUS.items() if why == unfit.why)
    sys.stdout.buffer.write(made)
    sys.stdout.buffer.flush()
    return 0


if __name__ == "__main__":
    sys.exit(main())
