"""What is counted of each case, worked out from its events: how the day goes, and what happened run by run.

Rules of this file:
- a turn only notes that its case changed (`store.transactions`): to work it out then would cost as much as a turn;
- the delivery works out anew what has been left alone for `QUIET`, a few cases at a time;
- a count before that folds only the cases that changed since;
- `rebuild` works out all of them, and whatever is counted is the same as if every case had been folded.
"""

import logging
from collections import Counter
from collections.abc import Callable, Collection, Iterable, Iterator
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from functools import cache
from typing import TYPE_CHECKING

from pydantic import TypeAdapter

from triagebot.cases.loaded import unfolded
from triagebot.cases.runs import Run, runs_of
from triagebot.conversation import Case
from triagebot.errors import StoreError
from triagebot.store.staff import Staff
from triagebot.store.summaries import Summaries, Summary

if TYPE_CHECKING:
    from triagebot.store import Store, Transaction, View

log = logging.getLogger(__name__)

#: Who writes goes on within this time, as a rule.
QUIET = timedelta(minutes=1)
#: Cases worked out in one transaction: some 20 ms, for which a turn may have to wait.
FEW = 5


@dataclass(frozen=True, slots=True)
class Day:
    """What was begun, by outcome ("open" for none), and what was closed, by whether the remover fitted."""

    begun: Counter[str] = field(default_factory=Counter)
    closed: Counter[bool | None] = field(default_factory=Counter)


@cache
def _runs() -> TypeAdapter[tuple[Run, ...]]:
    return TypeAdapter(tuple[Run, ...])


def summary_of(case: Case) -> Summary:
    """What is counted of a case."""
    runs = tuple(runs_of(case.events))
    closed = case.closed
    return Summary(
        touched=case.touched,
        outcome=case.now.outcome or "",
        edition=runs[-1].edition,
        closed=None if closed is None else closed.at,
        fitted=None if closed is None else closed.fitted,
        runs=_runs().dump_json(runs).decode(),
    )


def refresh(tx: "Transaction", before: datetime | None = None, most: int = FEW) -> int:
    """Works out a few cases that changed `before` then, the longest ago first; gives how many."""
    summaries = Summaries(tx)
    due = summaries.out_of_date(before=before, most=most)
    for number in due:
        try:
            stored = tx.case(number)
            assert stored is not None, "a summary goes with its case"
            summaries.put(number, summary_of(unfolded(stored).case))
        except StoreError as error:  # tried again when it changes; a count of it says why
            log.warning("summary of case number %d: %s", number, error)
            summaries.put(number, None)
    return len(due)


def rebuild(store: "Store", now: datetime, told: Callable[[int, int], None]) -> int:
    """Works out every case anew, some at a time so that others can write in between; `told` hears how far it is. Gives
    the number of cases."""
    with store.begin() as tx:
        number = Summaries(tx).all_changed(now)
    done = 0
    while True:
        with store.begin() as tx:
            some = refresh(tx, now, most=20 * FEW)
        if not some:
            return number
        done += some
        told(done, number)


def counted(cases: Iterable[Case], begin: datetime, now: datetime) -> Day:
    """What was begun and closed from `begin` to `now`, of these cases."""
    day = Day()
    for case in cases:
        day.begun[case.now.outcome or "open"] += begin <= case.opened <= now
        if case.closed is not None and begin <= case.closed.at <= now:
            day.closed[case.closed.fitted] += 1
    return day


def day_of(view: "View", topic: str, begin: datetime, now: datetime) -> Day:
    """The day so far. Staff are left out, who say hello before they bring the code that makes them staff, and try it
    out: no customers."""
    summaries, staff = Summaries(view), [member.person for member in Staff(view).members()]
    changed = filter(None, map(view.case, summaries.out_of_date(since=begin)))
    theirs = (each for each in changed if each.topic == topic and each.person not in staff)
    day = counted((unfolded(each).case for each in theirs), begin, now)
    for outcome, count in summaries.begun(topic, begin, now, staff).items():
        day.begun[outcome or "open"] += count
    day.closed.update(summaries.closings(topic, begin, now, staff))
    return day


def kept_runs(
    view: "View", topic: str, since: datetime | None = None, among: tuple[int, int] | None = None
) -> Iterator[Run]:
    """The runs of every stored case of a topic in which anything happened, or that were closed, `since` then; only of
    those `among` these, by the first number and the last. Those who work at the shop are no customers of it."""
    staff: Collection[str] = [member.person for member in Staff(view).members()]
    runs = _runs()
    for kept in Summaries(view).kept(topic, staff, among):
        if kept.current:
            found = runs.validate_json(kept.runs)
        else:
            stored = view.case(kept.number)
            found = () if stored is None or not stored.events else tuple(runs_of(unfolded(stored).case.events))
        for run in found:
            if since is None or run.last >= since:
                yield run
