"""Inputs made of a corpus, by a seeded draw: the same seed makes the same inputs.

What is to be met for certain, and is too long or too odd for `corpus.yaml`, is in `ODD`.
"""

import random
from collections.abc import Iterator
from pathlib import Path

import yaml

CORPUS = Path(__file__).with_name("corpus.yaml")

#: Met by every parser before anything is drawn.
ODD: tuple[bytes, ...] = (
    b"",
    b"\x00",
    "\ufeff".encode(),
    "\ufeff6 sprockets".encode(),
    b"\xff\xfe6\x00",
    b"{}" * 100_000,
    b"[" * 100_000,
    b'{"a":' * 20_000,
    b"returned lend small " + b"9" * 5000,
    b"9" * 100_000,
    b"-" * 5000,
    b"1e999999",
    b'{"update_id": ' + b"9" * 5000 + b"}",
    b"9" * 400 + b" 1/2 mm",
    b"why" + b"9" * 4000,
    b"a." * 1000 + b" @",
    b"snoo" + b"%0" * 70,
    b"12sp " + b"-1" * 80,
    b"invite" + b" " * 3200 + b"Sam",
    b"invite" + b" ," * 1600 + b"Sam",
    b"whip 4 small big five " * 15,
    b"1/" + b"9" * 1900,
    b"lend" + b" mm" * 600,
    b"lend" + b" 7" * 600,
    b"6 sprockets, " * 400,
    b"6 sprockets" + b"\n" * 3300,
    b"> " * 20_000,
    b"![" * 5000,
    b"a: " * 5000,
    b"\n- " * 5000,
    ("\u202e" + "\u0301" * 3000 + "\U0001f1e6" * 1000).encode(),
    ("ﷺ" * 2000).encode(),
    b"(" * 10_000 + b")" * 10_000,
    "\ud800".encode("utf-8", "surrogatepass"),
    b"\x1b[2J\x07\x08\r",
)
_TOKENS: tuple[bytes, ...] = (
    *(b"0", b"-1", b"9" * 40, b"1e400", b"NaN", b"null", b"true", b"[]", b"{}", b'"', b"\\", b"\\u0000", b"\\ud800"),
    *(b"\n", b"\r\n", b"\t", b"\x00", b"\xff", b": ", b"- ", b"#", b"*", b"&a", b"---\n", b"> ", b"](", b"<b>", b"%00"),
    *("½".encode(), "١".encode(), "é".encode(), "e\u0301".encode(), "\u200b".encode(), "😀".encode(), "ẞ".encode()),
    *(b" mm", b" not ", b" or ", b"?", b" lend ", b" to ", b" till ", b"friday", b" 6 ", b"twenty one ", b"half "),
)
#: Bytes that an input that was drawn has at most, as many as a messenger lets through and more.
MOST = 16_384


def corpus(parser: str) -> tuple[bytes, ...]:
    return tuple(str(each).encode() for each in yaml.safe_load(CORPUS.read_text("utf-8")).get(parser, ()))


def inputs(seeds: tuple[bytes, ...], seed: int) -> Iterator[bytes]:
    """`ODD` and the seeds as they are, then what is drawn, without end."""
    yield from (*ODD, *seeds)
    draw = random.Random(seed)
    pool = list(seeds or ODD)
    while True:
        made = draw.choice(pool)
        for _ in range(draw.randint(1, 8)):
            made = _changed(draw, made, pool)[:MOST]
        if draw.random() < 0.02:
            pool.append(made)  # goes on from there
            if len(pool) > 500:
                pool.pop(draw.randrange(len(seeds or ODD), len(pool)))
        yield made


def _changed(draw: random.Random, given: bytes, pool: list[bytes]) -> bytes:
    at = draw.randint(0, len(given))
    end = min(len(given), at + draw.choice((1, 1, 2, 8, 64)))
    match draw.randrange(8):
        case 0:
            return given[:at] + draw.choice(_TOKENS) + given[at:]
        case 1:
            return given[:at] + draw.choice(_TOKENS) + given[end:]
        case 2:
            return given[:at] + given[end:]
        case 3:
            return given[:at] + bytes((draw.randrange(256),)) + given[end:]
        case 4:
            return given[:at] + given[at:end] * draw.choice((2, 3, 50, 400)) + given[end:]
        case 5:
            other = draw.choice(pool)
            return given[:at] + other[draw.randint(0, len(other)) :]
        case 6:
            return given[:at] + draw.choice(_TOKENS) * draw.choice((1, 2, 100)) + given[at:]
        case _:
            return given[:at]
