"""Thanks, greetings and the like: answered in a word, and never read as work.

A line is small talk where each of its words is, and one of them says which kind; "morning, queue" is an order.
"""

from triagebot.counter.work import Attended, Work, answer
from triagebot.shop import fold

#: No phrase of small talk has more words, and no line of it.
_LONGEST, _MOST = 5, 9
#: Where a line says several things, the first of these is answered.
_KINDS = ("thanks", "greets", "leaves", "refused", "fine")


def small_talk(work: Work, text: str) -> Attended | None:
    """The answer to small talk; None for any other line."""
    kinds = _kinds(work, text)
    kind = next((each for each in _KINDS if each in kinds), None)
    if kind is None:
        return None
    return answer(work.texts(f"staff-talk-{kind}", name=work.member.name, waiting=work.tickets.waiting()))


def refuses(work: Work, text: str) -> bool:
    """Whether a line is a no, and nothing more."""
    return "refused" in _kinds(work, text)


def _kinds(work: Work, text: str) -> set[str]:
    """What the words of a line say; none where one of them says anything else."""
    words = fold(text.replace("’", "").replace("'", "").replace(",", " ")).strip(" .!?").split()
    words = [bare for word in words if (bare := word.strip(".!?"))]
    found: set[str] = set()
    place = 0
    while place < len(words) <= _MOST:
        length, kind = _longest(work, words[place : place + _LONGEST])
        if not length:
            return set()
        found.add(kind)
        place += length
    return found - {""}


def _longest(work: Work, words: list[str]) -> tuple[int, str]:
    """How many of the next words are one phrase, and what it says: "" for words that say nothing."""
    for length in range(len(words), 0, -1):
        said = " ".join(words[:length])
        kind = next((kind for kind, phrases in work.words.small_talk.items() if said in phrases), None)
        if kind is not None:
            return length, kind
        if said in work.words.small_words:
            return length, ""
    return 0, ""
