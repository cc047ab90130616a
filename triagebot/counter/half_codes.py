"""The first half of a case's code, as people shorten it: "say TTH bring it in", "note tth pays cash".

Rules of this file:
- behind a command about cases it is that of an open case, or asked about; elsewhere, that of an open case, in capital
  letters or without a vowel ("bcd back in the pot");
- an ordinary word behind a command is none, however it is written;
- the name of a bike's owner stands for its code as well, but where something is said to somebody;
- what looks like one and begins no code is said to be none, and goes to no customer.
"""

from triagebot.counter.asked_back import MOST_OFFERED, ask_back
from triagebot.counter.work import Attended, Work, answer, is_ordinary, looks_like_a_code
from triagebot.messages.codes import ALPHABET, LENGTH, read_code
from triagebot.shop import fold
from triagebot.store.bikes import Bikes

_HALF = LENGTH // 2
#: Those behind which it may be named by whose bike it is; what is said to somebody is not.
_BY_NAME = (
    "note", "case", "claim", "release", "snooze", "photos", "close", "history", "reopen", "label", "hand",
    "forget-bike",
)  # fmt: skip
_VOWELS = set("aeyAEY")
#: Where a code stands behind a command and an article.
_BEHIND = 2
#: No further a case is named in a line.
_MOST_WORDS = 40
#: Commands behind which a case is named.
_ABOUT_CASES = (
    "say", "tell", "note", "case", "claim", "release", "snooze", "photos", "close", "history", "reopen", "label",
    "accept", "refuse", "hand", "bikes", "forget-bike",
)  # fmt: skip


def with_whole_code(work: Work, text: str) -> str | Attended:
    """The line with the whole code in place of its first half; what is asked where several begin so, or none does."""
    words = _without_articles(work, text.split())
    text = " ".join(words) if len(words) < len(text.split()) else text
    order = work.words.order(text)
    behind = len(words) - len(order.rest.split()) if order is not None and order.command in _ABOUT_CASES else -1
    for place, word in enumerate(words[:_MOST_WORDS]):
        half = word.strip(",.:;?!")
        if not _may_be_half(work, half, ordered=place == behind) or _goes_on(words, place):
            continue
        codes = _beginning(work, half.upper()) or (work.tx.codes_beginning(half.upper()) if place == behind else [])
        if len(codes) == 1:
            return " ".join([*words[:place], codes[0], *words[place + 1 :]])
        if codes and place == behind:
            lines = [" ".join([*words[:place], code, *words[place + 1 :]]) for code in codes[:MOST_OFFERED]]
            return ask_back(work, lines)
        if place == behind and half.isupper():
            return answer(work.texts("staff-no-case", code=half))
    return _by_its_owner(work, text, words, behind) if order is not None and order.command in _BY_NAME else text


def _without_articles(work: Work, words: list[str]) -> list[str]:
    """The words without an article before the first code, which stands behind the command: "accept the K7M-4QX"."""
    if len(words) > _BEHIND and fold(words[1]) in work.words.articles and looks_like_a_code(words[_BEHIND]):
        return [words[0], *words[_BEHIND:]]
    return words


def _by_its_owner(work: Work, text: str, words: list[str], place: int) -> str | Attended:
    """The line with the code of the bike whose owner is named behind the command ("close tess 4n 40 fitted")."""
    named = words[place].strip(",.:;?!").replace("’", "'") if place < len(words) else ""
    name = fold(named.removesuffix("'s"))
    if not name or is_ordinary(work, name):
        return text
    theirs = [bike for bike in Bikes(work.tx).all() if name in fold(bike.whose).split()]
    here = [bike.code for bike in theirs if bike.done is None] or [bike.code for bike in theirs]
    end = place + 1
    while end < len(words) and any(fold(words[end].strip(",.;?!")) in fold(each.whose).split() for each in theirs):
        end += 1
    lines = [" ".join([*words[:place], code, *words[end:]]) for code in here[:MOST_OFFERED]]
    return text if not lines else lines[0] if len(lines) == 1 else ask_back(work, lines)


def _may_be_half(work: Work, word: str, *, ordered: bool) -> bool:
    if len(word) != _HALF or not set(word.upper()) <= set(ALPHABET):
        return False
    if not ordered and (not word.isalpha() or word.isupper()):
        return word.isalpha()
    return not is_ordinary(work, fold(word)) and (ordered or not _VOWELS & set(word))


def _goes_on(words: list[str], place: int) -> bool:
    """Whether the other half of a code stands behind it."""
    return place + 1 < len(words) and read_code(" ".join(words[place : place + 2])) is not None


def _beginning(work: Work, half: str) -> list[str]:
    """The codes of open cases that begin so."""
    theirs = [work.tx.code_of(ticket.case) for ticket in work.tickets.queue()]
    codes = [*theirs, *(bike.code for bike in Bikes(work.tx).here())]
    return [code for code in dict.fromkeys(codes) if code.startswith(half)]
