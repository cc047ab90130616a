"""Photos as phones make them, with all that they tell about the person who took them; and what a JPEG consists of."""

import struct
from io import BytesIO

from PIL import Image, ImageCms
from PIL.TiffImagePlugin import IFDRational

#: Words that stand in a photo beside its pixels, one for each place where something may stand.
MAKER, XMP, COMMENT = "Wilhelmina's phone", "taken-in-her-kitchen", "a remark of hers"
#: What EXIF calls them.
_ORIENTATION, _MAKE, _GPS = 0x0112, 0x010F, 0x8825

Colour = tuple[int, int, int]
CORNERS: tuple[Colour, ...] = ((200, 30, 30), (30, 200, 30), (30, 30, 200), (200, 200, 30))


def corners(width: int, height: int) -> Image.Image:
    """A picture with another colour in each quarter: red and green above, blue and yellow below."""
    image = Image.new("RGB", (width, height))
    for n, colour in enumerate(CORNERS):
        quarter = (n % 2 * width // 2, n // 2 * height // 2, (n % 2 + 1) * width // 2, (n // 2 + 1) * height // 2)
        image.paste(colour, quarter)
    return image


def encoded(image: Image.Image, kind: str = "JPEG", **how: object) -> bytes:
    made = BytesIO()
    image.save(made, kind, **how)
    return made.getvalue()


def snapshot(kind: str = "JPEG", orientation: int = 1, size: tuple[int, int] = (400, 300)) -> bytes:
    """A photo of four colours with the place where it was taken, the phone's name, a profile, XMP and a remark."""
    image = corners(*size)
    exif = Image.Exif()
    exif[_ORIENTATION] = orientation
    exif[_MAKE] = MAKER
    exif.get_ifd(_GPS).update({1: "N", 2: (IFDRational(48), IFDRational(31), IFDRational(12))})
    profile = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    how: dict[str, object] = {"exif": exif, "icc_profile": profile}
    if kind in ("JPEG", "WEBP"):
        how["xmp"] = f"<x:xmpmeta xmlns:x='adobe:ns:meta/'>{XMP}</x:xmpmeta>".encode()
    if kind == "JPEG":
        how |= {"comment": COMMENT, "quality": 95, "subsampling": 0}
    if kind == "MPO":
        how |= {"save_all": True, "append_images": [image.rotate(180)]}
    return encoded(image, kind, **how)


def segments(jpeg: bytes) -> list[int]:
    """The markers of a JPEG up to its pixels, and what follows these (ITU-T T.81, B.1.1)."""
    assert jpeg[:2] == b"\xff\xd8"
    found, place = [], 2
    while True:
        prefix, marker, length = struct.unpack_from(">BBH", jpeg, place)
        assert prefix == 0xFF
        found.append(marker)
        if marker == 0xDA:
            end = jpeg.index(b"\xff\xd9", place)
            assert end + 2 == len(jpeg), "something stands behind the picture"
            return found
        place += 2 + length


#: Those that hold nothing but the picture: JFIF, tables of numbers, the frame, the scan.
OF_THE_PIXELS = {0xE0, 0xDB, 0xC0, 0xC4, 0xDA}


def quarters(jpeg: bytes) -> list[int]:
    """Which of the four colours is in each quarter, and so how the picture is turned."""
    with Image.open(BytesIO(jpeg)) as image:
        seen = image.convert("RGB")
    across, down = seen.width // 4, seen.height // 4
    places = [(across, down), (3 * across, down), (across, 3 * down), (3 * across, 3 * down)]
    return [_nearest(seen.getpixel(place)) for place in places]  # type: ignore[arg-type]


def _nearest(colour: Colour) -> int:
    apart = [sum(abs(a - b) for a, b in zip(colour, corner, strict=True)) for corner in CORNERS]
    assert min(apart) < 60, colour
    return apart.index(min(apart))
