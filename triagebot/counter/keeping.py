"""Tools that hang there and are kept for somebody by word of the staff: "keep the twenty for Ana, Tuesday 10:00".

Rules of this file:
- a tool is kept until the shop closes on the day on which it is wanted; where no day is said, today, or the next day
  that it is open;
- "lend" gives it to the person it is kept for; for anybody else it is out;
- when that time is over, the tool is free again without a word from anybody.
"""

from datetime import datetime

from triagebot.counter.bench_answer import apart
from triagebot.counter.heard_tools import Mention
from triagebot.counter.lending import at_a_time, counted, may_go
from triagebot.counter.lending_commands import called, the_tool_named, with_whom
from triagebot.counter.times import closing_of
from triagebot.counter.work import Attended, Work, answer
from triagebot.shop import fold
from triagebot.store.loans import Loans
from triagebot.store.requests import Requests


def keep(work: Work, rest: str) -> Attended | None:
    """Keeps a tool for somebody; None where no tool is named."""
    tool_said, to, due = _said(work, rest)
    count, name = counted(work.words, tool_said)
    tool = the_tool_named(work, name, f"keep {rest}")
    if not isinstance(tool, str):
        return tool
    if not to:
        return answer(work.texts("staff-keep-whom", name=called(work, tool)))
    own, out = work.shop.tool_for(tool), Loans(work.tx).out(tool)
    if why_not := may_go(own, len(out) + count - 1):
        name = "staff-lend-all-out" if why_not == "none" and out else f"staff-lend-{why_not}"
        return answer(work.texts(name, name=called(work, tool), rows=apart(work.texts, with_whom(work, out))))
    until = _until(work, due)
    for _ in range(count):
        Loans(work.tx).keep(tool, to, work.member.name, work.now, due, until)
        work.did("kept", None, tool=tool)
    when = work.when(due) if due is not None and due < until else "none"
    said = {"name": called(work, tool), "to": to, "count": count, "when": when, "until": work.when(until)}
    return answer(work.texts("staff-kept", **said))


def unkeep(work: Work, rest: str) -> Attended | None:
    """A tool that was kept is free again; None where no tool is named."""
    tool_said, to, _ = _said(work, rest)
    _, name = counted(work.words, tool_said)
    kept = [loan for loan in Loans(work.tx).out() if loan.why == "kept" and fold(to) in ("", fold(loan.to))]
    tool = the_tool_named(work, name, f"unkeep {rest}", [loan.tool for loan in kept])
    if not isinstance(tool, str):
        return tool
    theirs = [loan for loan in kept if loan.tool == tool]
    if not theirs:
        return answer(work.texts("staff-kept-not", name=called(work, tool)))
    if len({fold(loan.to) for loan in theirs}) > 1:
        names = work.texts("staff-between").join(sorted(loan.to for loan in theirs))
        return answer(work.texts("staff-kept-whose", name=called(work, tool), names=names))
    for loan in theirs:
        Loans(work.tx).home(loan.number)
        work.did("unkept", None, tool=tool)
    return answer(work.texts("staff-kept-over", name=called(work, tool), to=theirs[0].to))


def unkept(work: Work, mention: Mention, who: str) -> str:
    """The command that frees a tool that is kept, of that person if one is named; "" where none of it is kept."""
    kept = [loan for loan in Loans(work.tx).out() if loan.why == "kept" and loan.tool in mention.tools]
    theirs = [loan for loan in kept if fold(loan.to) == fold(who)] or kept
    return f"unkeep {called(work, theirs[0].tool)} for {theirs[0].to}" if theirs else ""


def kept_here(work: Work) -> str:
    """The tools that are kept for somebody: by word of the staff, and on request."""
    kept = [loan for loan in Loans(work.tx).out() if loan.why == "kept"]
    rows = [_row(work, called(work, loan.tool), loan.to, loan.due or loan.kept) for loan in kept]
    for tool in work.shop.tools_file.tools:
        for held in Requests(work.tx).of_tool(tool.tool, work.now):
            rows.append(_row(work, tool.name, held.code, held.until))
    return "\n".join([work.texts("staff-kept-head", count=len(rows)), *rows])


def _row(work: Work, name: str, to: str, until: datetime | None) -> str:
    when = work.when(until) if until is not None else ""
    return work.texts("staff-kept-for-row", name=name, to=to, until=when)


def _said(work: Work, rest: str) -> tuple[str, str, datetime | None]:
    """Which tool, for whom, and on which day: "the twenty for Ana, Tuesday 10:00"."""
    return at_a_time(work.guide, work.words, rest.replace(",", " "), work.now)


def _until(work: Work, due: datetime | None) -> datetime:
    hours = work.guide.shop.hours
    if due is None and not hours.is_open(work.now) and (opening := hours.next_opening(work.now)) is not None:
        return closing_of(opening.opens, work.now, hours)
    return max(closing_of(due or work.now, work.now, hours), due or work.now)
