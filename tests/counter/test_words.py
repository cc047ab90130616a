"""The staff's own words: every language that is spoken has some, and no phrase means two commands."""

from collections import Counter
from pathlib import Path

import pytest

from triagebot import counter
from triagebot.counter.words import Order, staff_words
from triagebot.shop import fold
from triagebot.topics import read_yaml

TABLES = sorted((Path(counter.__file__).parent / "words").glob("*.yaml"))


@pytest.mark.parametrize("table", TABLES, ids=lambda path: path.stem)
def test_no_phrase_means_two_commands(table: Path) -> None:
    data, _ = read_yaml(table)
    phrases = Counter(fold(str(phrase)) for row in data["commands"].values() for phrase in row)
    assert [phrase for phrase, times in phrases.items() if times > 1] == []
    assert "" not in phrases


@pytest.mark.parametrize("table", TABLES, ids=lambda path: path.stem)
def test_every_language_has_words_for_the_same_commands(table: Path) -> None:
    words, english = staff_words(table.stem), staff_words("en")
    assert set(words.commands.values()) == set(english.commands.values())
    assert words.times.keys() == english.times.keys()
    assert all((words.fitted, words.not_fitted, words.not_tried, words.unlisted, words.abbreviations))


def test_a_language_without_words_of_its_own_is_served_in_english() -> None:
    assert staff_words("tlh").commands == staff_words("en").commands


@pytest.mark.parametrize(
    ("text", "order"),
    [
        ("queue", Order("queue", "")),
        ("  Queue? ", Order("queue", "")),
        ("who’s waiting?", Order("queue", "")),
        ("claim K7M-4QX", Order("claim", "K7M-4QX")),
        ("Give back k7m 4qx", Order("release", "k7m 4qx")),
        ("snooze K7M-4QX until 15:00", Order("snooze", "K7M-4QX until 15:00")),
        ("tools for 4 notch 24-25", Order("tools", "4 notch 24-25")),
        ("4n 40", None),
        ("", None),
    ],
)
def test_a_command_is_what_a_message_begins_with(text: str, order: Order | None) -> None:
    assert staff_words("en").order(text) == order
