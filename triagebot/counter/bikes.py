"""Bikes without their owners as the staff read of them, and the one that a member is at.

What a member writes belongs to the bike on their stand until they put it away, take up another one, or close its case.
"""

from dataclasses import replace
from typing import TYPE_CHECKING

from triagebot.cases.labels import wanted_day
from triagebot.conversation import Guide
from triagebot.counter.bench_line import at_the_bench
from triagebot.counter.work import BIKE, Work
from triagebot.store.bikes import Bike, Bikes
from triagebot.store.staff import Staff

if TYPE_CHECKING:
    from triagebot.store import StoredCase


def on_the_stand(work: Work) -> "tuple[StoredCase, Bike] | None":
    """The bike that this member is at; None where its case is closed or gone."""
    stored = work.on_the_stand()
    bike = Bikes(work.tx).of(stored.id) if stored is not None else None
    return None if bike is None or stored is None else (stored, bike)


def put_on_the_stand(work: Work, case: int) -> None:
    """From now on what this member writes belongs to the bike of a case; what they were at before is over."""
    Staff(work.tx).stand(work.member, {BIKE: case})


def put_away(work: Work, case: int) -> None:
    """The bike of a case is on this member's stand no more."""
    if work.member.standing.get(BIKE) == case:
        Staff(work.tx).stand(work.member, {BIKE: None})


def closed(work: Work, case: int) -> None:
    """The case of a bike was closed: it is done, and on this member's stand no more."""
    Bikes(work.tx).done(case, work.now)
    put_away(work, case)


def opened_again(work: Work, case: int) -> None:
    """The case of a bike is open again."""
    Bikes(work.tx).done(case, None)


def called(work: Work, bike: Bike) -> str:
    """ "blue tourer, Sam": what it is and whose, as far as that was said."""
    return work.texts("staff-bike-called", what=bike.what, whose=bike.whose or "none")


def in_full(work: Work, bike: Bike) -> str:
    """All that is known of a bike, in a line."""
    return work.texts(
        "staff-bike-full",
        called=called(work, bike),
        contact=bike.contact or "none",
        note=bike.note or "none",
        wanted=wanted_day(work.guide, work.texts, bike) or "none",
    )


def about_the_bike(work: Work, case: int) -> list[str]:
    """What stands with a case that has a bike."""
    bike = Bikes(work.tx).of(case)
    return [] if bike is None else [in_full(work, bike)]


def guide_to(work: Work, case: int) -> Guide:
    """The guide by which a case is read: that for people at the bench, where it was opened for a bike."""
    bike = Bikes(work.tx).of(case)
    apart = bike is not None and bike.apart
    return replace(work.guide, topic=at_the_bench(work.guide.topic)) if apart else work.guide
