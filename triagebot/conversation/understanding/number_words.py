"""Tokens of a message, with numbers in words and fractions put together into one token each.

Rules of this file: which words are one number ("twenty three point four", "an inch and a quarter", "minus two"), and
where a word that dictation writes for a number can be nothing else. `tokens` decides what is a number in figures.
"""

import re
from collections.abc import Mapping
from dataclasses import replace
from functools import lru_cache
from typing import Protocol

from text_to_num import alpha2digit

from triagebot.conversation.understanding.normalise import Plain
from triagebot.conversation.understanding.tokens import INCH_PARTS, Number, Token, cut, exactly, key_of

_FULL_NUMBER = re.compile(r"\d+(?:\.\d+)?")


#: No message that anybody writes has more words and marks than this; what comes behind them is not read.
MOST_TOKENS = 240
#: Who writes more words that are no words is not making slips of the finger.
MOST_MENDED = 40


class NumberWords(Protocol):
    """The tables of a language that numbers in words need."""

    def mended(self, word: str) -> tuple[str, bool]: ...
    def strange(self, word: str) -> bool: ...
    @property
    def number_language(self) -> str | None: ...
    @property
    def number_words(self) -> Mapping[tuple[str, ...], float]: ...
    @property
    def never_numbers(self) -> frozenset[str]: ...
    @property
    def fraction_words(self) -> Mapping[str, int]: ...
    @property
    def number_joints(self) -> frozenset[str]: ...
    @property
    def decimal_words(self) -> frozenset[str]: ...
    @property
    def minus_words(self) -> frozenset[str]: ...
    @property
    def articles(self) -> frozenset[str]: ...
    @property
    def ordinal_ends(self) -> frozenset[str]: ...
    @property
    def heard(self) -> Mapping[str, str]: ...
    @property
    def sure_heard(self) -> frozenset[str]: ...
    @property
    def length_words(self) -> Mapping[str, float]: ...


def tokenise(plain: Plain, words: NumberWords) -> list[Token]:
    """The first `MOST_TOKENS` tokens of a message, numbers in words and fractions already put together."""
    return _numbers(_heard(_spelled_right(cut(plain.text, MOST_TOKENS), words), words), words)


def tokenise_words(text: str, words: NumberWords) -> list[Token]:
    """Tokens of words that need no mending."""
    return _numbers(cut(text), words)


def _heard(tokens: list[Token], words: NumberWords) -> list[Token]:
    """Words that dictation writes for numbers, where they can be nothing else: "twenty to mm", "to point five"."""
    if not any(token.key in words.heard for token in tokens):
        return tokens
    heard: list[Token] = []
    for place, token in enumerate(tokens):
        number = words.heard.get(token.key) if token.kind == "word" else None
        hears = number is not None and _is_number_heard(heard, tokens, place, words)
        heard.append(replace(token, key=number) if number is not None and hears else token)
    return heard


def _is_number_heard(before: list[Token], tokens: list[Token], place: int, words: NumberWords) -> bool:
    key, clause = tokens[place].key, tokens[place].clause
    after = [token for token in tokens[place + 1 : place + 3] if token.clause == clause]
    last = before[-1] if before and before[-1].clause == clause else None
    if after and after[0].key in words.decimal_words:
        return len(after) > 1 and (
            after[1].number is not None or after[1].key in words.heard or _is_figure(after[1], words)
        )
    if last is None:
        return False
    if last.key in words.decimal_words:
        return len(before) > 1 and _is_figure(before[-2], words)
    if last.kind != "word" or not _is_tens(last, words):
        return False
    ends = not after or after[0].key in words.length_words or after[0].key in words.number_joints
    return ends or key in words.sure_heard


def _is_figure(token: Token, words: NumberWords) -> bool:
    return token.number is not None or (token.kind == "word" and is_number(token.key, words))


def _is_tens(token: Token, words: NumberWords) -> bool:
    """Whether it is a number word that goes on: twenty, thirty."""
    value = _spoken(token.key, words.number_language) if words.number_language and is_number(token.key, words) else None
    return value is not None and value in range(20, 100, 10)


def _spelled_right(tokens: list[Token], words: NumberWords) -> list[Token]:
    """The tokens with their slips of the finger mended; of more strange words than `MOST_MENDED` the first."""
    strange: set[str] = set()
    spelled: list[Token] = []
    for token in tokens:
        if token.kind == "word" and not (token.touching and len(token.key) < 4):
            if words.strange(token.key):
                strange.add(token.key)
            key, sure = words.mended(token.key) if len(strange) <= MOST_MENDED else (token.key, True)
            spelled.append(token if key == token.key else replace(token, key=key, guessed=not sure))
        else:
            spelled.append(token)
    return spelled


@lru_cache(maxsize=4096)
def _spoken(run: str, language: str) -> float | None:
    """The one number that a run of words is, by text2num's grammar of that language."""
    if run.isascii() and run[:1].isdigit():
        return None
    try:
        written = alpha2digit(run, language, -1)
    except Exception:
        return None
    return float(written) if written != run and _FULL_NUMBER.fullmatch(written) else None


def is_number(word: str, words: NumberWords) -> bool:
    """Whether one word alone is a number in this language."""
    if (word,) in words.number_words:
        return True
    if words.number_language is None or word in words.never_numbers:
        return False
    return _spoken(word, words.number_language) is not None


def _numbers(tokens: list[Token], words: NumberWords) -> list[Token]:
    merged: list[Token] = []
    place = 0
    while place < len(tokens):
        token, taken = _one_number(tokens, place, words)
        if token is None:
            merged.append(tokens[place])
            place += 1
        else:
            merged.append(token)
            place += taken
    return _hyphens(_mixed(merged, words))


def _one_number(tokens: list[Token], place: int, words: NumberWords) -> tuple[Token | None, int]:
    first = tokens[place]
    after = tokens[place + 1] if place + 1 < len(tokens) else None
    if first.kind == "number" and after is not None and after.touching and after.key in words.ordinal_ends:
        return replace(first, kind="word", key=first.key + "th", end=after.end, number=None), 2
    if first.kind != "word":
        return None, 0
    if first.key in words.minus_words and after is not None and after.key not in words.minus_words:
        token, taken = _one_number(tokens, place + 1, words)
        figure = token or tokens[place + 1]
        if figure.number is not None:
            below = exactly(-figure.number.value, figure.number.step, spelt=True)
            return replace(figure, key=key_of(below), start=first.start, number=below), max(taken, 1) + 1
    keys = _run(tokens, place)
    for length in range(min(len(keys), 4), 0, -1):
        value = words.number_words.get(keys[:length])
        if value is not None:
            taken = _extent(tokens, place, length)
            return _said(tokens, place, taken, value), taken
    if not is_number(first.key, words) or words.number_language is None:
        return None, 0
    best = (1, _spoken(first.key, words.number_language) or 0.0)
    for length in range(2, min(len(keys), 8) + 1):
        value = _spoken(" ".join(keys[:length]), words.number_language)
        if value is not None and keys[length - 1] not in words.number_joints | words.never_numbers:
            best = (length, value)
    taken = _extent(tokens, place, best[0])
    return _said(tokens, place, taken, best[1]), taken


def _run(tokens: list[Token], place: int) -> tuple[str, ...]:
    """The words from `place` on, as far as nothing but hyphens stands between them."""
    keys: list[str] = []
    for token in tokens[place : place + 12]:
        if token.kind == "word" and token.clause == tokens[place].clause:
            keys.append(token.key)
        elif token.key != "-" or token.kind != "mark":
            break
    return tuple(keys)


def _extent(tokens: list[Token], place: int, words: int) -> int:
    """How many tokens the next `words` words take up, hyphens between them included."""
    end = place
    while words:
        words -= tokens[end].kind == "word"
        end += 1
    return end - place


def _said(tokens: list[Token], place: int, taken: int, value: float) -> Token:
    step = 1.0 if value == int(value) else 0.1
    number = exactly(value, step, spelt=True)
    return Token(
        "number", key_of(number), tokens[place].start, tokens[place + taken - 1].end, tokens[place].clause, number,
        guessed=any(token.guessed for token in tokens[place : place + taken]),
    )  # fmt: skip


def _mixed(tokens: list[Token], words: NumberWords) -> list[Token]:
    """Fractions in words joined to their whole: three quarters, 1 and a half, an inch and a quarter, half an inch."""
    merged: list[Token] = []
    place = 0
    while place < len(tokens):
        token = tokens[place]
        if (decimal := _decimal(tokens, place, words)) is not None:
            merged.append(decimal)
            place += 3
            continue
        if _has_an_untold_one(merged, tokens, place, words):
            one = exactly(1.0, spelt=True)
            merged += [Token("number", key_of(one), token.start, token.start, token.clause, one), token]
            place += 1
            continue
        if (mixed := _with_fraction(merged, tokens, place, words)) is not None:
            merged[-1] = mixed
            place += 2
            continue
        part, end = _part(tokens, place, words, bool(merged) and merged[-1].kind == "number")
        if merged and merged[-1].kind == "number" and (skipped := _of_a_length(tokens, place, words)):
            place += skipped
            continue
        if part is None and token.key in words.articles and _length_at(tokens, place + 1, words) >= 10:
            part, end = exactly(1.0, spelt=True), place + 1
        if part is None and token.kind == "word" and token.key in words.number_joints and merged:
            joined, end = _part(tokens, place + 1, words, True)
            whole = merged[-1] if merged[-1].kind == "number" else merged[-2] if len(merged) > 1 else None
            between = merged[-1].key in words.length_words
            if (
                joined is not None
                and whole is not None
                and whole.number is not None
                and (between or merged[-1].kind == "number")
            ):
                sum_ = exactly(whole.number.value + joined.value, joined.step, True, True)
                taller = replace(whole, key=key_of(sum_), number=sum_, end=tokens[end - 1].end)
                merged[-1 if merged[-1].kind == "number" else -2] = taller
                place = end
                continue
        if part is None:
            merged.append(token)
            place += 1
            continue
        merged.append(
            Token("number", key_of(part), token.start, tokens[max(end, place + 1) - 1].end, token.clause, part)
        )
        place = max(end, place + 1)
    return merged


def _with_fraction(merged: list[Token], tokens: list[Token], place: int, words: NumberWords) -> Token | None:
    """ "1 and 1/8", the joint at `place`."""
    if not merged or tokens[place].key not in words.number_joints or place + 1 >= len(tokens):
        return None
    whole, part = merged[-1].number, tokens[place + 1].number
    if whole is None or part is None or whole.step != 1 or not part.fraction or not 0 < part.value < 1:
        return None
    number = exactly(whole.value + part.value, part.step, True)
    return replace(merged[-1], key=key_of(number), number=number, end=tokens[place + 1].end)


def _has_an_untold_one(merged: list[Token], tokens: list[Token], place: int, words: NumberWords) -> bool:
    """ "Inch and a quarter": a length word with a part behind and no number before."""
    if _length_at(tokens, place, words) < 10 or (merged and merged[-1].kind == "number"):
        return False
    joined = place + 1 < len(tokens) and tokens[place + 1].key in words.number_joints
    return joined and _part(tokens, place + 2, words, True)[0] is not None


def _decimal(tokens: list[Token], place: int, words: NumberWords) -> Token | None:
    """ "23 point 4", the figures typed and the point said."""
    if place + 2 >= len(tokens) or tokens[place + 1].key not in words.decimal_words:
        return None
    whole, part = tokens[place].number, tokens[place + 2].number
    if whole is None or part is None or whole.step != 1 or part.step != 1 or not 0 <= part.value < 100:
        return None
    places = len(f"{part.value:g}")
    number = exactly(whole.value + part.value / 10**places, 10.0**-places)
    return replace(tokens[place], key=key_of(number), number=number, end=tokens[place + 2].end)


def _of_a_length(tokens: list[Token], place: int, words: NumberWords) -> int:
    """How many words of "of an" stand between a number and its length word here."""
    if tokens[place].key not in words.number_joints or place + 1 >= len(tokens):
        return 0
    if tokens[place + 1].key in words.articles and _length_at(tokens, place + 2, words):
        return 2
    return 1 if _length_at(tokens, place + 1, words) else 0


def _length_at(tokens: list[Token], place: int, words: NumberWords) -> float:
    return words.length_words.get(tokens[place].key, 0.0) if place < len(tokens) else 0.0


def _part(tokens: list[Token], place: int, words: NumberWords, joined: bool) -> tuple[Number | None, int]:
    """A fraction in words at `place` and where it ends: `[a|N] half|eighths [of] [an]` before a length, or joined."""
    top, at = 1.0, place
    if at < len(tokens) and tokens[at].key in words.articles:
        at += 1
    elif at < len(tokens) and (number := tokens[at].number) is not None and number.value == int(number.value) < 64:
        top, at = number.value, at + 1
    if at >= len(tokens) or (bottom := _bottom(tokens[at], words)) is None or not 0 < top < bottom:
        return None, place
    end = at + 1
    ahead = end
    while (
        ahead < len(tokens)
        and ahead < end + 2
        and (tokens[ahead].key in words.articles or tokens[ahead].key in words.number_joints)
    ):
        ahead += 1
    if _length_at(tokens, ahead, words):
        return exactly(top / bottom, 1 / bottom, True, True), ahead
    if (joined and at > place) or top > 1:
        return exactly(top / bottom, 1 / bottom, True, True), end
    return None, place


def _bottom(token: Token, words: NumberWords) -> int | None:
    if token.kind != "word":
        return None
    if token.key in words.fraction_words:
        return words.fraction_words[token.key]
    digits = token.key.removesuffix("th")
    return (
        int(digits) if digits.isascii() and digits.isdigit() and len(digits) < 3 and int(digits) in INCH_PARTS else None
    )


def _hyphens(tokens: list[Token]) -> list[Token]:
    """Drop hyphens between words; keep those that may stand for a range, before a number and after one or its unit."""
    kept: list[Token] = []
    for place, token in enumerate(tokens):
        if token.kind == "mark" and token.key == "-":
            after = tokens[place + 1] if place + 1 < len(tokens) else None
            numbers_before = kept and (kept[-1].number or (len(kept) > 1 and kept[-2].number and kept[-1].touching))
            if after is None or after.number is None or not numbers_before:
                continue
        kept.append(token)
    return kept
