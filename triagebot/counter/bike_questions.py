"""What is asked or said of a bike that is here by what it is called or whose it is: "is sams bike ready", "the blue
tourer is done".

Rules of this file:
- a bike is named by its owner's name, by two words of what it is, or by one that is no ordinary word; where that leaves
  several, they are listed;
- what is asked is answered; that one is done is only offered to be closed, or told to who wrote from the chat.
"""

import re
from collections.abc import Callable, Collection, Sequence
from functools import partial
from itertools import pairwise

from triagebot.counter.asked_back import ask_back
from triagebot.counter.bike_commands import rows_of_bikes
from triagebot.counter.bikes import in_full
from triagebot.counter.work import Attended, Work, answer, is_ordinary
from triagebot.shop import fold
from triagebot.store.bikes import Bike, Bikes

#: Two words of what a bike is, or a name, tell which it is.
_ENOUGH = 2
#: Somebody's name with what belongs to them behind it.
_APOSTROPHE = re.compile(r"([^\W\d_]+)['’]s\b")


def bike_meant(work: Work, text: str) -> Attended | None:
    """What comes of a line about a bike by its name; None for any other."""
    words = fold(text.replace("’", "").replace("'", "")).strip(" ?!.").split()
    ready, noun = (any(word in known for word in words) for known in (work.words.bike_ready, work.words.bike_nouns))
    if not ready or work.words.order(text) is not None:
        return None
    asks = "?" in text or words[0] in work.words.asking
    owner = _owner(work, text, words)
    found = [bike for bike in _named(work, words) if not owner or _is_called(bike, owner)]
    if not found:
        return answer(work.texts("staff-bikes-not-named")) if noun and (asks or owner) else None
    if len(found) > 1:
        return answer("\n".join([work.texts("staff-find-several", count=len(found)), *rows_of_bikes(work, found)]))
    (bike,) = found
    done = work.when(bike.done) if bike.done is not None else "none"
    if asks or bike.done is not None:
        return answer(work.texts("staff-bike-stands", code=bike.code, bike=in_full(work, bike), done=done))
    tells = [] if bike.apart else [f"say {bike.code} {work.texts('staff-bike-tell', what=bike.what)}"]
    return ask_back(work, [f"close {bike.code}", *tells])


def _named(work: Work, words: Sequence[str]) -> list[Bike]:
    """The bikes that these words name best; those that are here before those that were."""
    nouns = work.words.bike_nouns
    ordinary = partial(is_ordinary, work)
    scored = [(_names(bike, words, ordinary, nouns), bike) for bike in Bikes(work.tx).all()]
    best = max((score for score, _ in scored), default=0)
    found = [bike for score, bike in scored if score == best] if best >= _ENOUGH else []
    return [bike for bike in found if bike.done is None] or found


def _names(bike: Bike, words: Sequence[str], ordinary: Callable[[str], bool], nouns: Collection[str]) -> int:
    """How many of these words name a bike; one that no other thing is called counts for two. What every bike is called,
    and ordinary words beside somebody's name ("mum is Jo"), name none."""
    whose = [name for name in fold(bike.whose).split() if _stands(name, words) and not ordinary(name)]
    what = {word for word in fold(bike.what).split() if _stands(word, words) and word not in nouns}
    return _ENOUGH * bool(whose) + sum(1 if ordinary(word) else _ENOUGH for word in what)


def _stands(name: str, words: Sequence[str]) -> bool:
    """Whether a name stands among these words, perhaps with the "s" of what belongs to somebody."""
    return name in words or f"{name}s" in words


def _owner(work: Work, text: str, words: Sequence[str]) -> str:
    """Whose bike is spoken of, with the "s" behind it: "lenas bike", "lena's blue tourer"; "" where nobody's is."""
    apart = [fold(word) for word in _APOSTROPHE.findall(text)]
    before = [word for word, noun in pairwise(words) if noun in work.words.bike_nouns and word.endswith("s")]
    theirs = [word for word in (*(f"{name}s" for name in apart), *before) if not is_ordinary(work, word)]
    return next(iter(theirs), "")


def _is_called(bike: Bike, owner: str) -> bool:
    """Whether a bike belongs to somebody of this name, which has an "s" behind it."""
    names = {*fold(bike.whose).split(), *fold(bike.what).split()}
    return owner in names or owner.removesuffix("s") in names
