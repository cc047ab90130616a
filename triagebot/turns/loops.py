"""Whether the bot talks with a program: one that says its words again, or writes faster than people do.

Rules of this file:
- words that the bot has just said in that conversation, said back a few times running, are an echo; where others talk
  beside, so are those that it said to them lately: bridges bring back every word, whoever it was for;
- messages that come faster than anybody types are a program's too;
- then the bot says one sentence, and nothing more there until it has been left alone for a while;
- what was nothing but an answer to the open question is no echo, and is not even looked at;
- this is remembered by one process, for the people who wrote last, and no word of it is kept for longer.
"""

import re
from collections import OrderedDict
from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from time import monotonic
from typing import Literal

from triagebot.rates import Buckets, Rate

#: People who are remembered, the last ones.
MOST = 2_000
#: An echo: so many messages running, each of which has this share of its runs of words from what was said last, its end
#: among them. A shorter message than so many words is none.
ECHOES, SHARE, WORDS, RUN = 3, 0.6, 6, 4
#: So many replies are remembered of a place where several people talk, and so many such places, the last ones.
LATELY, PLACES = 10, 100
#: What nobody types: so many messages at once, and the rate at which more may follow.
FASTEST = Rate(120, 1.0)
#: How long nothing must come before the bot listens there again.
REST = timedelta(minutes=10)

#: How the channels name a conversation among others: the room, the thread and the person.
_SHARED = re.compile(r"(\S+) .+|([^/\s]+)/\d+/\d+\Z", re.DOTALL)

Verdict = Literal["", "echo", "stop", "silent"]


@dataclass(frozen=True, slots=True)
class _Talk:
    """What is remembered of one conversation."""

    said: frozenset[int] = frozenset()
    echoes: int = 0
    silent_since: datetime | None = None


class Loops:
    """For one thread at a time."""

    def __init__(self, clock: Callable[[], float] = monotonic) -> None:
        self._pace = Buckets(FASTEST, MOST, clock)
        self._talks: OrderedDict[str, _Talk] = OrderedDict()
        self._places: OrderedDict[str, tuple[frozenset[int], ...]] = OrderedDict()

    def judged(self, who: str, words: str, now: datetime, *, typed: bool = True, place: str = "") -> Verdict:
        """Takes a message in: nothing to say against it, or the bot hears its own words, or stops, or has stopped.
        What is not `typed` may come as fast as it likes."""
        talk = self._talks.get(who, _Talk())
        if talk.silent_since is not None and now - talk.silent_since < REST:
            self._keep(who, replace(talk, silent_since=now))
            return "silent"
        said = talk.said.union(*self._places.get(place, ()))
        talk = replace(talk, silent_since=None, echoes=talk.echoes + 1 if _again(words, said) else 0)
        if talk.echoes >= ECHOES or (typed and self._pace.wait(who)):
            self._keep(who, _Talk(silent_since=now))
            return "stop"
        self._keep(who, talk)
        return "echo" if talk.echoes else ""

    def said(self, who: str, words: str, place: str = "") -> None:
        """The bot said this there."""
        talk, said = self._talks.get(who, _Talk()), frozenset(_runs(words))
        if talk.silent_since is None:
            self._keep(who, replace(talk, said=said))
        if place:
            self._places[place] = (*self._places.pop(place, ()), said)[-LATELY:]
            while len(self._places) > PLACES:
                self._places.popitem(last=False)

    def forget(self, who: str) -> None:
        self._talks.pop(who, None)

    def _keep(self, who: str, talk: _Talk) -> None:
        self._talks[who] = talk
        self._talks.move_to_end(who)
        if len(self._talks) > MOST:
            self._talks.popitem(last=False)


def shared_place(person: str) -> str:
    """Where somebody talks beside others, by the name of their conversation; "" in private."""
    found = _SHARED.match(person)
    return found[1] or found[2] if found is not None else ""


def _runs(words: str) -> list[int]:
    """A hash of every run of so many words, without signs and capitals."""
    each = re.findall(r"\w+", words.casefold())
    return [hash(tuple(each[place : place + RUN])) for place in range(len(each) - RUN + 1)]


def _again(words: str, said: frozenset[int]) -> bool:
    """Whether this is mostly what was said."""
    runs = _runs(words)
    return len(runs) > WORDS - RUN and runs[-1] in said and sum(run in said for run in runs) >= SHARE * len(runs)
