"""Words that speak of tools or of those who have them."""

from triagebot.counter.words import StaffWords
from triagebot.shop import fold


def is_of_tools(words: StaffWords, text: str) -> bool:
    """Whether a text speaks of tools or of those who have them, and so says nothing of a wheel."""
    return any(word in words.not_of_a_wheel for word in fold(text).split())
