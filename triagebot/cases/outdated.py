"""Open cases that today's edition of the topic and the shop would answer otherwise than they were answered: somebody
may be on the way with the wrong tool.

A case is open until staff close it, for `RECENT` after it was last heard of; the latest `MOST` are looked at, and the
fastenings that were named are compared. Only those are folded whose summary does not say that today's edition answered
them.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import TYPE_CHECKING

from triagebot.cases.loaded import unfolded
from triagebot.conversation import Case, Guide, edition
from triagebot.conversation.edition import catch_up, edition_of, named_last
from triagebot.conversation.outcome import NAMED, leading
from triagebot.conversation.scene import Scene
from triagebot.store.summaries import Summaries

if TYPE_CHECKING:
    from triagebot.store import View

RECENT = timedelta(days=14)
MOST = 500


@dataclass(frozen=True, slots=True)
class Touched:
    """A case, and the fastenings that were named to it and would be `now`; none where nothing would be named."""

    case: Case
    named: tuple[str, ...]
    now: tuple[str, ...]


def named_then(case: Case) -> tuple[str, ...]:
    """What was named to a case when it reached the outcome that it has."""
    if case.now.outcome not in NAMED:
        return ()
    return named_last(case)


def named_now(guide: Guide, case: Case, now: datetime) -> tuple[str, ...]:
    """What the same answers would have named to it today."""
    scene = Scene(guide, case, now)
    catch_up(scene)
    step = scene.decide()
    if step.referral is not None or step.decision.kind not in NAMED:
        return ()
    return tuple(row.id for row in leading(guide, step, step.decision))


def touched(guide: Guide, case: Case, now: datetime) -> Touched | None:
    """A case of an older edition that would be answered otherwise today; None for any other."""
    before = named_then(case)
    if not before or edition_of(case) == edition(guide.topic.digest):
        return None
    after = named_now(guide, case, now)
    return Touched(case, before, after) if set(after) != set(before) else None


def open_and_touched(view: "View", guide: Guide, now: datetime) -> Iterator[Touched]:
    """All of them, the latest first."""
    old = Summaries(view).answered_otherwise(
        guide.topic.id, edition(guide.topic.digest), now - 2 * RECENT, now - RECENT, MOST
    )
    for stored in filter(None, map(view.case, old)):
        case = unfolded(stored).case
        if case.closed is None and now - case.touched <= RECENT:
            found = touched(guide, case, now)
            if found is not None:
                yield found
