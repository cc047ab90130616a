"""What is made of a photo, and what is none; in a process of its own as well, with whatever happens to that."""

import asyncio
import struct
import zlib
from io import BytesIO
from pathlib import Path

import pytest
from PIL import Image, ImageDraw

from tests.delivery.snapshots import COMMENT, MAKER, OF_THE_PIXELS, XMP, corners, encoded, quarters, segments, snapshot
from triagebot.delivery import image_cleaning, photos
from triagebot.delivery.image_cleaning import MOST_BYTES, SIDE, Unfit, clean
from triagebot.delivery.photos import cleaned


def opened(jpeg: bytes) -> Image.Image:
    image = Image.open(BytesIO(jpeg))
    image.load()
    return image


def unfit(data: bytes) -> str:
    with pytest.raises(Unfit) as told:
        clean(data)
    return told.value.why


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP", "MPO"])
def test_nothing_but_the_pixels_is_kept(kind: str) -> None:
    sent = snapshot(kind, orientation=6)
    assert MAKER.encode() in sent
    made = clean(sent)
    assert set(segments(made)) <= OF_THE_PIXELS
    for word in (MAKER, XMP, COMMENT, "Exif", "ICC_PROFILE", "http"):
        assert word.encode() not in made
    image = opened(made)
    assert image.format == "JPEG"
    assert (len(image.getexif()), image.info.keys() - {"jfif", "jfif_version", "jfif_unit", "jfif_density"}) == (
        0,
        set(),
    )
    assert image.size == (300, 400)
    assert quarters(made) == [2, 0, 3, 1]


@pytest.mark.parametrize(
    ("orientation", "seen"),
    [
        (1, [0, 1, 2, 3]),
        (2, [1, 0, 3, 2]),
        (3, [3, 2, 1, 0]),
        (4, [2, 3, 0, 1]),
        (5, [0, 2, 1, 3]),
        (6, [2, 0, 3, 1]),
        (7, [3, 1, 2, 0]),
        (8, [1, 3, 0, 2]),
        (9, [0, 1, 2, 3]),
    ],
)
def test_a_photo_is_turned_upright(orientation: int, seen: list[int]) -> None:
    assert quarters(clean(snapshot(orientation=orientation))) == seen


@pytest.mark.parametrize(
    ("sent", "kept"),
    [((5000, 3000), (SIDE, 1229)), ((3000, 5000), (1229, SIDE)), ((300, 200), (300, 200)), ((9000, 4), (SIDE, 1))],
)
@pytest.mark.parametrize("kind", ["JPEG", "PNG"])
def test_a_large_photo_is_made_smaller_and_a_small_one_left(
    kind: str, sent: tuple[int, int], kept: tuple[int, int]
) -> None:
    assert opened(clean(encoded(corners(*sent), kind))).size == kept


@pytest.mark.parametrize("progressive", [False, True])
def test_the_largest_photos_of_phones_are_made_smaller(progressive: bool) -> None:
    """50 million pixels, which is what a phone's largest setting gives (8160 by 6144); and 108 million."""
    for size, kept in (((8160, 6144), (SIDE, 1542)), ((12_000, 9000), (SIDE, 1536))):
        sent = encoded(Image.new("L", size, 90), "JPEG", progressive=progressive)
        assert opened(asyncio.run(cleaned(sent))).size == kept


def test_what_is_transparent_is_white() -> None:
    image = corners(80, 80).convert("RGBA")
    ImageDraw.Draw(image).rectangle((40, 0, 79, 79), fill=(0, 0, 0, 0))
    for kind, mode in (("PNG", "RGBA"), ("WEBP", "RGBA"), ("PNG", "LA")):
        made = opened(clean(encoded(image.convert(mode), kind)))
        assert min(made.getpixel((60, 40))) > 245  # type: ignore[type-var, arg-type]
    seen_through = encoded(corners(80, 80).quantize(8), transparency=0, kind="PNG")
    assert max(opened(clean(seen_through)).convert("L").histogram()[250:]) > 0


@pytest.mark.parametrize(("mode", "kind"), [("L", "PNG"), ("P", "PNG"), ("1", "PNG"), ("CMYK", "JPEG"), ("L", "JPEG")])
def test_other_ways_to_write_a_colour(mode: str, kind: str) -> None:
    image = Image.new("RGB", (60, 40), "white")
    image.paste((0, 0, 0), (0, 0, 30, 40))
    made = opened(clean(encoded(image.convert(mode), kind)))
    assert max(made.getpixel((10, 20))) < 15  # type: ignore[type-var, arg-type]
    assert min(made.getpixel((50, 20))) > 240  # type: ignore[type-var, arg-type]


def test_sixteen_bits_of_grey_stay_shades() -> None:
    image = Image.new("I;16", (60, 40), 100 * 256)
    red, *_ = opened(clean(encoded(image, "PNG"))).getpixel((30, 20))  # type: ignore[misc]
    assert abs(red - 100) < 4


def test_of_several_pictures_the_first_is_kept() -> None:
    first, second = corners(40, 40), corners(40, 40).rotate(180)
    for kind in ("PNG", "WEBP"):
        sent = encoded(first, kind, save_all=True, append_images=[second])
        assert quarters(clean(sent)) == [0, 1, 2, 3]


def test_a_photo_whose_facts_are_broken_is_kept_as_it_lies() -> None:
    """The decoder warns of them, which is an error in tests: so as it is done by ourselves."""
    for broken in (b"MM\0*\xff\xff\xff\xffnonsense", b"nonsense", b"MM\0*\0\0\0\x08\0\x05\x01\x12\0\x03"):
        sent = encoded(corners(40, 40), exif=b"Exif\0\0" + broken)
        assert quarters(asyncio.run(cleaned(sent))) == [0, 1, 2, 3]


@pytest.mark.parametrize("kind", ["GIF", "BMP", "TIFF", "EPS", "PPM", "ICO", "PDF"])
def test_other_formats_are_none(kind: str) -> None:
    assert unfit(encoded(corners(40, 40), kind)) == "no-picture"


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP"])
def test_what_breaks_off_is_none(kind: str) -> None:
    whole = encoded(Image.effect_noise((400, 300), 80).convert("RGB"), kind)
    for part in (0.02, 0.5, 0.98):
        assert unfit(whole[: int(len(whole) * part)]) == "broken"


@pytest.mark.parametrize(
    ("data", "why"),
    [
        (b"", "empty"),
        (b"hello", "no-picture"),
        (b"<svg/>", "no-picture"),
        (b"\xff\xd8" * 50, "broken"),
        (b"RIFF\0\0\0\0WAVE", "no-picture"),
        (b"\0\0\0\x18ftypmp42", "no-picture"),
        (b"\0\0\0\x18ftypheic", "heic"),
        (b"\0\0\0\x18ftypmif1", "heic"),
        (b"\xff\xd8\xff\xe0", "broken"),
        (b"\x89PNG\r\n\x1a\n", "broken"),
        (b"RIFF\0\0\0\0WEBP", "broken"),
    ],
)
def test_what_is_no_picture_says_what_it_is(data: bytes, why: str) -> None:
    assert unfit(data) == why
    with pytest.raises(Unfit, match=why):
        asyncio.run(cleaned(data))


def png_of(width: int, height: int) -> bytes:
    """A few kilobytes that become a picture of that size, in one bit a pixel."""

    def chunk(kind: bytes, data: bytes) -> bytes:
        return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))

    packer, row = zlib.compressobj(9), bytes(1 + (width + 7) // 8)
    rows = b"".join(packer.compress(row) for _ in range(height)) + packer.flush()
    head = struct.pack(">IIBBBBB", width, height, 1, 0, 0, 0, 0)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", rows) + chunk(b"IEND", b"")


@pytest.mark.parametrize("size", [(7100, 7100), (9600, 9500), (20_000, 20_000)])
def test_what_would_take_too_much_memory_is_not_decoded(size: tuple[int, int]) -> None:
    bomb = png_of(*size)
    assert len(bomb) < 100_000
    assert unfit(bomb) == "too-large"


def test_what_has_too_many_bytes_is_not_looked_at() -> None:
    assert unfit(snapshot() + bytes(MOST_BYTES)) == "too-large"


# --- in a process of its own ------------------------------------------------------------------------------------------


def test_it_is_the_same_in_a_process_of_its_own() -> None:
    sent = snapshot(orientation=8)
    assert asyncio.run(cleaned(sent)) == clean(sent)
    for data, why in (
        (b"hello", "no-picture"),
        (png_of(20_000, 20_000), "too-large"),
        (bytes(30_000_000), "too-large"),
    ):
        with pytest.raises(Unfit, match=why):
            asyncio.run(cleaned(data))


def program(monkeypatch: pytest.MonkeyPatch, folder: Path, *lines: str) -> None:
    """Another program in place of ours."""
    path = folder / "program.py"
    path.write_text("\n".join(("import os, signal, sys, time", *lines)), encoding="utf-8")
    monkeypatch.setattr(photos, "_PROGRAM", path)


def test_it_does_not_know_our_secrets(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setenv("TRIAGEBOT_TELEGRAM_TOKEN", "123456:secret")
    program(monkeypatch, tmp_path, "print(sorted(os.environ))")
    named = asyncio.run(cleaned(b"")).decode()
    assert "PATH" in named
    assert "TRIAGEBOT" not in named


def test_when_something_ends_it_that_is_no_word_about_the_photo(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    for line in ("os.kill(os.getpid(), signal.SIGKILL)", "os.kill(os.getpid(), signal.SIGTERM)", "sys.exit(1)"):
        program(monkeypatch, tmp_path, line)
        with pytest.raises(ChildProcessError):
            asyncio.run(cleaned(b"x" * 1_000_000))
    program(monkeypatch, tmp_path, "os.kill(os.getpid(), signal.SIGXCPU)")
    with pytest.raises(Unfit, match="too-large"):
        asyncio.run(cleaned(b""))


def test_it_is_not_waited_for_for_ever_and_does_not_stay(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    program(monkeypatch, tmp_path, f"open({str(tmp_path / 'pid')!r}, 'w').write(str(os.getpid()))", "time.sleep(100)")
    with pytest.raises(TimeoutError):
        asyncio.run(cleaned(b"", within=1.0))
    assert not Path(f"/proc/{(tmp_path / 'pid').read_text()}").exists()


@pytest.mark.slow
def test_a_photo_that_would_take_hours_is_given_up(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A picture that is refined in thousands of rounds, each of which changes nothing; here a second is too long."""
    limit, program = "MOST_MEMORY, MOST_SECONDS = 1 << 30, 10", tmp_path / "program.py"
    source = Path(image_cleaning.__file__).read_text("utf-8")
    assert source.count(limit) == 1
    program.write_text(source.replace(limit, limit.replace("10", "1")), "utf-8")
    monkeypatch.setattr(photos, "_PROGRAM", program)
    whole = encoded(Image.new("L", (7000, 7000)), progressive=True)
    last_round = whole[whole.rindex(b"\xff\xda") : -2]
    data = whole[:-2] + last_round * 20_000 + whole[-2:]
    assert len(data) < 2_000_000
    with pytest.raises(Unfit, match="too-large"):
        asyncio.run(cleaned(data))
    assert image_cleaning.MOST_SECONDS < photos.CLEANED_WITHIN
