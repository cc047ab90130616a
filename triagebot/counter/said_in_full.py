"""A command as it is asked back: with the day and the hour that its time means, so that a yes agrees to that."""

from datetime import datetime

from triagebot.counter.lending import at_a_time, lending_said
from triagebot.counter.times import awake
from triagebot.counter.work import Work, named_case


def in_full(work: Work, lines: str) -> str:
    """Commands, a line each, as they are shown."""
    return "; ".join(_in_full(work, line) for line in lines.splitlines())


def _in_full(work: Work, line: str) -> str:
    order = work.words.order(line)
    if order is None or not order.rest:
        return line
    if order.command == "lend":
        said = lending_said(work.guide, work.texts, work.words, order.rest, work.now)
        due = None if said.unclear else said.due
        return _until(work, line, line[: line.rfind(said.to) + len(said.to)] if said.to else line, due)
    if order.command == "keep":
        tool, to, due = at_a_time(work.guide, work.words, order.rest.replace(",", " "), work.now)
        return work.texts("staff-offer-keep", tool=tool, to=to, at=work.when(due)) if due is not None else line
    if order.command == "snooze" and (found := named_case(work.tx, order.rest)) is not None:
        due = awake(work.words, found[1], work.now, work.guide.shop.hours)
        return _until(work, line, line.removesuffix(found[1]).strip(), due)
    return line


def _until(work: Work, line: str, head: str, due: datetime | None) -> str:
    return line if due is None else work.texts("staff-offer-until", line=head, until=work.when(due))
