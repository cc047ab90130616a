"""What happened in a case, run by run: what was asked and said, where it ended, and what it really was.

A restart begins the next run, since it may be about another wheel. An answer counts as taken back if it stood before an
event and does not stand after it. A run keeps readings, and nothing that a person wrote.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Annotated

from triagebot.conversation import Case, Event, edition_of, follow
from triagebot.conversation.events import (
    Adopted,
    Answered,
    Asked,
    Closed,
    Concluded,
    Outcome,
    Restarted,
    Undid,
)
from triagebot.conversation.journal import Tagged
from triagebot.identify import Reading


@dataclass(frozen=True, slots=True)
class Run:
    """One wheel of one case. `asked`, `said` and `taken_back` are in the order of time, with repeats.

    `evidence` is what was in force when the outcome was reached (now, if none was); `questions` how many had been put
    by then; `open` the question that waits for an answer. `edition` is the one that answered.
    """

    code: str
    opened: datetime
    touched: datetime
    edition: str
    asked: tuple[str, ...] = ()
    said: tuple[Annotated[Reading, Tagged("kind")], ...] = ()
    taken_back: tuple[str, ...] = ()
    outcome: Outcome | None = None
    evidence: tuple[Annotated[Reading, Tagged("kind")], ...] = ()
    questions: int = 0
    open: str | None = None
    closed: Closed | None = None

    @property
    def last(self) -> datetime:
        """When something happened in it last, or it was closed."""
        return self.touched if self.closed is None else self.closed.at


def runs_of(events: Iterable[Event]) -> Iterator[Run]:
    """The runs of one case, oldest first. Raises ValueError when the events do not begin with `Opened`."""
    case: Case | None = None
    run: Run | None = None
    seen: list[Event] = []
    for event in events:
        before = case
        case = follow(None if case is None else replace(case, events=()), event)
        if run is None or before is None or isinstance(event, Restarted):
            if run is not None and before is not None:
                yield _ended(run, before, seen)
            run = Run(case.code, event.at, event.at, "")
        else:
            run = _more(run, before, case, event)
        seen.append(event)
    if run is not None and case is not None:
        yield _ended(run, case, seen)


def _more(run: Run, before: Case, case: Case, event: Event) -> Run:
    """The run after one more event, which made `case` of `before`."""
    if isinstance(event, Closed):
        return replace(run, closed=event)
    run = replace(run, touched=event.at)
    if isinstance(event, Asked):
        run = replace(run, asked=(*run.asked, *event.put))
    if isinstance(event, Answered):
        run = replace(run, said=(*run.said, *(fact.reading for fact in event.facts)))
    if isinstance(event, Concluded | Undid) and case.now.outcome not in (None, "stopped"):
        run = replace(run, evidence=case.now.readings, questions=len(case.now.asked))
    if not isinstance(event, Adopted):
        gone = [fact.reading.question for fact in before.now.facts if fact not in case.now.facts]
        run = replace(run, taken_back=(*run.taken_back, *dict.fromkeys(gone)))
    return run


def _ended(run: Run, case: Case, events: list[Event]) -> Run:
    """The run as it stands when it ends in `case`."""
    now = case.now
    run = replace(run, outcome=now.outcome, open=now.question, edition=edition_of(replace(case, events=tuple(events))))
    if now.outcome in (None, "stopped"):
        run = replace(run, evidence=now.readings, questions=len(now.asked))
    return run
