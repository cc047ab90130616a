"""Lines from the bench that belong to a bike: what is seen of its wheel is kept in its case, and ends it when it is
enough.

Rules of this file:
- in a case that was opened for the bike, a line goes on with all that was seen of it, however long ago; what is seen
  otherwise now replaces what was seen before, and the case ends as soon as a line names a tool or none;
- in a case from the chat, what the customer said stays as it is: the line stands among what was done with it.
"""

from dataclasses import replace
from typing import TYPE_CHECKING

from triagebot.cases.loaded import rows_of, unfolded
from triagebot.conversation import NextStep, Reply
from triagebot.conversation.blocks import Remark
from triagebot.conversation.edition import catch_up
from triagebot.conversation.events import Answered, Withdrew
from triagebot.conversation.scene import Scene
from triagebot.counter.bench_line import Line, Seen, settled
from triagebot.counter.bikes import called, on_the_stand
from triagebot.counter.work import Work
from triagebot.store.bikes import Bike

if TYPE_CHECKING:
    from triagebot.store import StoredCase


def open_line(work: Work, before: Line) -> Line:
    """What was seen of the bike on the stand, with what is missing still; the line as it was `before` where there is no
    bike, or its case is a customer's."""
    at = on_the_stand(work)
    if at is None or not at[1].apart:
        return before
    known = unfolded(at[0]).case.now.facts
    if not known:
        return Line(number=before.number)
    line, _ = settled(work.guide, Line(tuple(known), None, before.number))
    return line


def gone_on(work: Work, before: Line, seen: Seen, fresh: Line) -> Line:
    """The line with what is seen now: with all that was seen of the bike on the stand, but for what is seen otherwise
    now; `fresh` where there is no bike, or its case is a customer's."""
    at = on_the_stand(work)
    if at is None or not at[1].apart:
        return fresh
    now = {fact.reading.question for fact in seen.facts}
    kept = tuple(fact for fact in before.facts if fact.reading.question not in now)
    return Line((*kept, *seen.facts), None, before.number + 1)


def keep(work: Work, seen: Seen, text: str, step: NextStep) -> None:
    """What was seen is kept in the case of the bike on the stand."""
    at = on_the_stand(work)
    if at is None or not seen.facts:
        return
    stored, bike = at
    if not bike.apart:
        work.did("seen", stored.id, text=text)
        return
    _append(work, stored, seen, text, step)


def _append(work: Work, stored: "StoredCase", seen: Seen, text: str, step: NextStep) -> None:
    held = unfolded(stored).case
    scene = Scene(work.guide, held, work.now)
    catch_up(scene)
    now = {fact.reading.question for fact in seen.facts}
    known = {fact.reading.question for fact in scene.case.now.facts}
    for question in sorted(now & known):
        scene.add(Withdrew(work.now, question))
    scene.add(Answered(work.now, seen.facts, (), text, "staff"))
    if step.question is None:
        scene.conclude(step)
    events = scene.case.events[len(held.events) :]
    work.tx.append(stored.id, len(held.events), rows_of(events, {}))


def headed(work: Work, reply: Reply) -> Reply:
    """The answer to a line, with the bike that it belongs to before it."""
    at = on_the_stand(work)
    return reply if at is None else _headed(work, reply, at[1])


def _headed(work: Work, reply: Reply, bike: Bike) -> Reply:
    head = Remark(work.texts("staff-bike-line", code=bike.code, called=called(work, bike)), "staff-bike-line")
    return replace(reply, blocks=(head, *reply.blocks))
