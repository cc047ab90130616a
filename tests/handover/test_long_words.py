"""Words of any length that a platform takes pass both ways, whole."""

from pathlib import Path

import pytest

from tests.counter.shop import Shop
from tests.handover.workshop import RoomyChannel, Workshop

#: Just over what the library of the texts takes as a value, and as long as the two platforms allow.
LENGTHS = (2_501, 4_096, 30_000)


def long_words(length: int) -> str:
    return ("a blue commuter, bent axle. " * (length // 28 + 1))[: length - 4] + " end"


@pytest.mark.parametrize("length", LENGTHS)
def test_long_words_pass_through_the_room(shop: Workshop, length: int) -> None:
    words = long_words(length)
    assert len(words) == length
    shop.needs_a_person("bob")
    shop.says("bob", words)
    assert words in shop.room()[-1]
    shop.says_in_room("ada", words)
    assert words in shop.told("bob")[-1]


@pytest.mark.parametrize("length", LENGTHS)
def test_long_words_pass_without_a_room(tmp_path: Path, length: int) -> None:
    words = long_words(length)
    shop = Shop(tmp_path, RoomyChannel())
    try:
        shop.staff("ada")
        code = shop.needs_a_person("bob")
        shop.says("bob", words)
        assert words in shop.recorded.texts("ada")[-1]
        assert words in shop.says("ada", f"case {code}")
        shop.says("ada", f"say {code} {words}")
        assert words in shop.recorded.texts("bob")[-1]
    finally:
        shop.end()
