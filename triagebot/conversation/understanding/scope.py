"""What each part of a message speaks of, and in which mood: this wheel, or something that is no news of it.

Rules of this file: a message is cut into statements, at punctuation, at words like "but", and where "and" begins a new
one. A statement that asks, wishes, plans, supposes, quotes somebody, remembers or speaks of another thing gives no
reading; so does the next one of the same sentence while it has no subject of its own. What is only guessed or ends
with a question mark is `tentative`: likely, and asked back.
"""

from collections.abc import Sequence

from triagebot.conversation.understanding.lexicon import Scope
from triagebot.conversation.understanding.normalise import Plain
from triagebot.conversation.understanding.phrases import longest
from triagebot.conversation.understanding.tokens import Token
from triagebot.conversation.understanding.words import Words

#: What a pronoun behind goes on about: "the tool I bought is cheap. It has 20 splines".
_GOES_ON = frozenset({"other", "memory"})
#: These hold for their own statement alone.
_BRIEF = frozenset({"tentative", "front", "own"})
#: A supposition is behind what is thought, so a statement keeps the strongest of what it has.
_STRENGTH: tuple[Scope, ...] = ("other", "hearsay", "memory", "question", "if", "wish", "plan", "belief", "front")


def scopes(tokens: Sequence[Token], text: Plain, words: Words) -> tuple[Scope, ...]:
    """The scope of each token."""
    found: list[Scope] = []
    carried: Scope = "own"
    for first, last in _statements(tokens, words):
        after = text.text[tokens[last].end : tokens[last + 1].start if last + 1 < len(tokens) else None]
        between = text.text[tokens[first - 1].end : tokens[first].start] if first else "."
        if any(mark in between for mark in ".!?;\n") and carried not in _GOES_ON:
            carried = "own"
        scope = _scope(tokens, first, last, words, "?" in after)
        if scope == "own" and carried != "own" and _continues(tokens, first, words, carried):
            scope = carried
        elif scope not in _BRIEF or scope == "own":
            carried = scope
        found += [scope] * (last + 1 - first)
    return tuple(found)


def _statements(tokens: Sequence[Token], words: Words) -> list[tuple[int, int]]:
    """First and last token of each statement."""
    cuts = [0]
    for place in range(1, len(tokens)):
        token = tokens[place]
        new = tokens[place - 1].clause != token.clause or token.key in words.turning
        behind = tokens[place + 1].key if place + 1 < len(tokens) else ""
        if new or (token.key in words.number_joints and behind in words.beginning):
            cuts.append(place)
    return [
        (first, (cuts[at + 1] if at + 1 < len(cuts) else len(tokens)) - 1)
        for at, first in enumerate(cuts)
        if first < len(tokens)
    ]


def _scope(tokens: Sequence[Token], first: int, last: int, words: Words, asked: bool) -> Scope:
    keys = [token.key for token in tokens[: last + 1]]
    numbers = [token.number is not None for token in tokens[: last + 1]]

    def at(place: int, opening: bool) -> tuple[int, tuple[str, ...]]:
        root = words.openings if opening else words.scopes
        end, meanings = longest(root, keys, place, last + 1, numbers, None, True)
        return end, tuple(meaning.subject for meaning in meanings)

    start = first
    while start < last and (keys[start] in words.opening_fillers or not keys[start]):
        start += 1
    named: set[str] = set()
    for opening in dict.fromkeys((first, start)):
        named |= set(at(opening, True)[1])
    place = first
    while place <= last:
        end, subjects = at(place, False)
        named |= set(subjects)
        place = max(end, place + 1)
    if "job" in named:
        return "own"
    if "own" in named and not named & {"other", "memory", "question"}:
        return "tentative" if asked else "own"
    for scope in _STRENGTH:
        if scope in named:
            return scope
    return "tentative" if asked or "tentative" in named else "own"


def _continues(tokens: Sequence[Token], first: int, words: Words, carried: Scope) -> bool:
    """Whether a statement with nothing of its own goes on with what the one before spoke of."""
    key = tokens[first].key
    if key in words.turning or key in words.mine:
        return False
    behind = tokens[first + 1].key if first + 1 < len(tokens) else ""
    if key in words.number_joints or key in words.opening_fillers:
        key = behind
    if carried in _GOES_ON:
        return key in words.pronouns or key not in words.subjects
    return key not in words.subjects and key not in words.mine and not _answers(tokens, first, words)


def _answers(tokens: Sequence[Token], first: int, words: Words) -> bool:
    """Whether the statement begins with a plain yes or no."""
    return words.alone.get(tokens[first].key) in ("yes", "no")
