"""Which command about a bike does what, or about going to one; and what a photo at a bike does."""

from collections.abc import Callable
from dataclasses import replace
from typing import TYPE_CHECKING

from triagebot.counter.bike_commands import away, bikes, find, forget, label, new_bike
from triagebot.counter.bikes import on_the_stand
from triagebot.counter.kit import kit
from triagebot.counter.request_commands import request_ordered
from triagebot.counter.words import Order
from triagebot.counter.work import Attended, Work, answer, named_case

if TYPE_CHECKING:
    from triagebot.store import StoredCase

_BIKEWORK: dict[str, Callable[[Work, str], Attended | None]] = {
    "new-bike": new_bike,
    "away": away,
    "bikes": bikes,
    "find": find,
    "kit": kit,
}
_OF_A_CASE: "dict[str, Callable[[Work, StoredCase, str], Attended]]" = {"label": label, "forget-bike": forget}
#: Without anything behind them these are read otherwise.
_NAMES_ONE = frozenset({"new-bike", "find"})
_READS = frozenset({"find", "label", "kit"})


def also_ordered(work: Work, order: Order, text: str, *, only_reads: bool) -> Attended | None:
    """What comes of an answer to what somebody asked for, or of a command about a bike; None for any other."""
    if (made := request_ordered(work, order, text, only_reads=only_reads)) is not None:
        return made
    name = order.command
    if (name not in _BIKEWORK and name not in _OF_A_CASE) or (name in _NAMES_ONE and not order.rest):
        return None
    if only_reads and name not in _READS:
        return answer(work.texts("staff-corrected"))
    if name in _BIKEWORK:
        return _BIKEWORK[name](work, order.rest)
    at, named = work.on_the_stand(), named_case(work.tx, order.rest)
    found = (at, "") if at is not None and not order.rest else named
    return answer(work.which_case(order, text)) if found is None else _OF_A_CASE[name](work, *found)


def photographed(work: Work, what: str, note: str) -> Callable[[Attended | None], Attended] | None:
    """A photo at a bike is kept for its case: what then comes of the words beside it, if there were any. None where
    it is no photo, or there is no bike."""
    at = on_the_stand(work)
    if what != "photo" or at is None:
        return None
    stored, bike = at

    def kept(said: Attended | None) -> Attended:
        return replace(said or answer(work.texts("staff-bike-photo", what=bike.what)), photos_of=stored.id)

    return kept
