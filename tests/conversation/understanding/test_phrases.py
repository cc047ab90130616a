"""Patterns and the longest phrase."""

import pytest

from triagebot.conversation.understanding.phrases import (
    PatternError,
    PhraseMeaning,
    Root,
    longest,
    parse,
    phrases,
    plant,
)

PARTS = {"size": "big|(very|) small", "ring": "<ring>"}


def spelled(pattern: str) -> set[str]:
    return set(phrases(parse(pattern, PARTS, str.split)))


def test_a_pattern_stands_for_every_way_to_say_it() -> None:
    assert spelled("a <size> (dog|cat|)") == {
        f"a {size}{animal}" for size in ("big", "very small", "small") for animal in (" dog", " cat", "")
    }


@pytest.mark.parametrize("pattern", ["a (b", "a b)", "<nothing>", "<ring>", "", "(|)", "(" * 20 + ")" * 20])
def test_a_pattern_that_cannot_be_read_says_so(pattern: str) -> None:
    with pytest.raises(PatternError):
        parse(pattern, PARTS, str.split)


def test_too_many_phrases_are_refused() -> None:
    with pytest.raises(PatternError):
        list(phrases(parse(" ".join(["(a|b)"] * 14), PARTS, str.split)))


def find(
    patterns: dict[str, str], text: str, open_question: str | None = None, short: bool = False
) -> tuple[int, set[str]]:
    root = Root()
    for name, pattern in patterns.items():
        plant(root, parse(pattern, PARTS, str.split), PhraseMeaning("choice", name, when_open=name.startswith("open-")))
    keys = text.split()
    numbers = [key.isdigit() for key in keys]
    end, meanings = longest(root, keys, 0, len(keys), numbers, open_question, short)
    return end, {m.subject for m in meanings}


def test_the_longest_phrase_wins_and_equals_share() -> None:
    patterns = {"short": "no", "long": "no (teeth|slots)", "other": "no teeth"}
    assert find(patterns, "no teeth here") == (2, {"long", "other"})
    assert find(patterns, "no idea") == (1, {"short"})
    assert find(patterns, "idea") == (0, set())


def test_wild_cards_stand_for_words_numbers_and_the_end() -> None:
    patterns = {"gap": "not * turn", "number": "# mm", "end": "it is not $"}
    assert find(patterns, "not turn") == (2, {"gap"})
    assert find(patterns, "not really ever turn") == (4, {"gap"})
    assert find(patterns, "not a b c turn")[0] == 0
    assert find(patterns, "not 12 turn")[0] == 0
    assert find(patterns, "12 mm") == (2, {"number"})
    assert find(patterns, "it is not") == (3, {"end"})
    assert find(patterns, "it is not so")[0] == 0


def test_a_loose_word_answers_only_the_open_question_in_a_short_message() -> None:
    patterns = {"open-a": "still", "open-b": "not them"}
    assert find(patterns, "still")[0] == 0
    assert find(patterns, "still", "open-a")[0] == 0
    assert find(patterns, "still", "open-a", short=True)[0] == 1
    assert find(patterns, "not them", "open-b")[0] == 2


def test_of_many_phrases_with_one_first_word_none_is_lost() -> None:
    patterns = {f"second-{word}": f"a {word}" for word in "bcdefghijklm"}
    patterns |= {"alone": "a", "gap": "a * z", "number": "a # mm", "end": "a $"}
    assert find(patterns, "a d") == (2, {"second-d"})
    assert find(patterns, "a n") == (1, {"alone"})
    assert find(patterns, "a") == (1, {"alone", "end"})
    assert find(patterns, "a n d z") == (4, {"gap"})
    assert find(patterns, "a 12 mm") == (3, {"number"})
