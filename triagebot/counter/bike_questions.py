"""What is asked or said of a bike that is here by what it is called or whose it is: "is sams bike ready", "the blue
tourer is done".

Rules of this file:
- a bike is named by its owner's name, by two words of what it is, or by one that is no ordinary word; where that leaves
  several, they are listed;
- what is asked is answered; that one is done is only offered to be closed, or told to who wrote from the chat.
"""

from collections.abc import Callable, Sequence

from triagebot.counter.asked_back import ask_back
from triagebot.counter.bike_commands import rows_of_bikes
from triagebot.counter.bikes import in_full
from triagebot.counter.work import Attended, Work, answer
from triagebot.shop import fold
from triagebot.store.bikes import Bike, Bikes

#: Two words of what a bike is, or a name, tell which it is.
_ENOUGH = 2


def bike_meant(work: Work, text: str) -> Attended | None:
    """What comes of a line about a bike by its name; None for any other."""
    words = fold(text.replace("’", "").replace("'", "")).split()
    ready, noun = (any(word in known for word in words) for known in (work.words.bike_ready, work.words.bike_nouns))
    if not ready or work.words.order(text) is not None:
        return None
    asks = "?" in text or words[0] in work.words.asking
    found = _named(work, words)
    if not found:
        return answer(work.texts("staff-bikes-not-named")) if noun and asks else None
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
    common = work.guide.language(work.texts.language).words.common
    scored = [(_names(bike, words, common), bike) for bike in Bikes(work.tx).all()]
    best = max((score for score, _ in scored), default=0)
    found = [bike for score, bike in scored if score == best] if best >= _ENOUGH else []
    return [bike for bike in found if bike.done is None] or found


def _names(bike: Bike, words: Sequence[str], common: Callable[[str], bool]) -> int:
    """How many of these words name a bike; one that no other thing is called counts for two."""
    whose = [word for word in words if any(word in (name, f"{name}s") for name in fold(bike.whose).split())]
    what = {word for word in fold(bike.what).split() if word in words}
    return _ENOUGH * bool(whose) + sum(1 if common(word) else _ENOUGH for word in what)
