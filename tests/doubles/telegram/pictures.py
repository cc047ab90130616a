"""Pictures as the platform takes them: which kinds, how large, and the sizes it keeps of each."""

import struct
import zlib
from typing import Any

from tests.doubles.telegram.rules import MOST_PICTURE_RATIO, MOST_PICTURE_SIDES, PICTURE_SIDES, Refusal
from tests.doubles.telegram.world import File


def measure(data: bytes) -> tuple[str, int, int]:
    """Kind ("png", "jpeg"), width and height in pixels. Raises Refusal for what is no such picture, or too large."""
    if data.startswith(b"\x89PNG\r\n\x1a\n") and data[12:16] == b"IHDR" and b"IEND" in data[-12:]:
        kind, (width, height) = "png", struct.unpack(">II", data[16:24])
    elif data.startswith(b"\xff\xd8") and (found := _jpeg_size(data)):
        kind, (width, height) = "jpeg", found
    else:
        raise Refusal("not-a-picture")
    sides = sorted((width, height))
    if not sides[0] or sum(sides) > MOST_PICTURE_SIDES or sides[1] > sides[0] * MOST_PICTURE_RATIO:
        raise Refusal("picture-sides")
    return kind, width, height


def _jpeg_size(data: bytes) -> tuple[int, int] | None:
    """From the first start-of-frame marker (ITU-T T.81, B.2.2)."""
    place = 2
    while place + 9 < len(data):
        if data[place] != 0xFF:
            return None
        marker, length = data[place + 1], int.from_bytes(data[place + 2 : place + 4], "big")
        if 0xC0 <= marker <= 0xCF and marker not in (0xC4, 0xC8, 0xCC):
            height, width = struct.unpack(">HH", data[place + 5 : place + 9])
            return width, height
        place += 2 + length
    return None


def sizes(file: File) -> list[dict[str, Any]]:
    """The picture's sizes as a message shows them, the largest last. All of them lead to the same bytes."""
    longer = max(file.width, file.height)
    scaled = [side for side in PICTURE_SIDES if side < longer] + [min(longer, PICTURE_SIDES[-1])]
    shown = []
    for side in dict.fromkeys(scaled):
        width, height = (max(1, round(each * side / longer)) for each in (file.width, file.height))
        is_largest = side == scaled[-1]
        name = file.id if is_largest else f"{file.id}.{side}"
        unique = file.unique if is_largest else f"{file.unique}.{side}"
        shown.append({"file_id": name, "file_unique_id": unique, "width": width, "height": height,
                      "file_size": max(1, len(file.data) * side // longer)})  # fmt: skip
    return shown


def plain_png(width: int, height: int) -> bytes:
    """A grey picture of that size, for people who have nothing better to send."""

    def chunk(kind: bytes, data: bytes) -> bytes:
        return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))

    head = struct.pack(">IIBBBBB", width, height, 8, 0, 0, 0, 0)
    rows = zlib.compress((b"\0" + b"\x80" * width) * height, 9)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", rows) + chunk(b"IEND", b"")
