"""What the staff do with tools that go out: give one out, take it back, see what is out.

The borrower is a name, or a case by its code. What is not clear is asked, never guessed. Both are written down, without
the borrower's name.
"""

from collections.abc import Sequence

from triagebot.conversation.shop_offers import money
from triagebot.conversation.wording import either
from triagebot.counter.bench_answer import apart, kind_of
from triagebot.counter.lending import Lending, lending_said, may_go, returned_said, whose
from triagebot.counter.work import Attended, Work, answer, looks_like_a_code, named_case
from triagebot.store.loans import Loan, Loans


def lend(work: Work, rest: str) -> Attended:
    """Gives a tool out."""
    said = lending_said(work.guide, work.texts, work.words, rest, work.now)
    tool = _the_tool(work, said)
    if isinstance(tool, Attended):
        return tool
    name = called(work, tool)
    if not said.to:
        return answer(work.texts("staff-lend-whom", name=name))
    if said.unclear:
        return answer(work.texts("staff-lend-when", said=said.unclear))
    out = Loans(work.tx).out(tool)
    own = work.shop.tool_for(tool)
    why_not = may_go(own, len(out))
    if why_not == "none" and out:
        return answer(work.texts("staff-lend-all-out", name=name, rows=apart(work.texts, _with(work, out))))
    if why_not:
        return answer(work.texts(f"staff-lend-{why_not}", name=name))
    found = named_case(work.tx, said.to)
    if found is None and looks_like_a_code(said.to):
        return answer(work.texts("staff-no-case", code=said.to.upper()))
    case = found[0] if found is not None and not found[1] else None
    number = None if case is None else case.id
    Loans(work.tx).lend(tool, said.to, number, work.member.name, work.now, said.due)
    work.did("lent", number, tool=tool)
    to = said.to if case is None else case.code
    until = work.when(said.due) if said.due is not None else ""
    text = work.texts("staff-lent", name=name, to=to, until=until, due="yes" if until else "no")
    if own is not None and own.deposit:
        text = f"{text} {work.texts('staff-lend-deposit', money=money(work.guide, work.texts, own.deposit))}"
    return answer(text)


def returned(work: Work, rest: str) -> Attended:
    """Takes a tool back."""
    said = returned_said(work.guide, work.texts, work.words, rest)
    tool = _the_tool(work, said)
    if isinstance(tool, Attended):
        return tool
    out = Loans(work.tx).out(tool)
    name = called(work, tool)
    if not out:
        return answer(work.texts("staff-not-lent", name=name))
    held = {loan.number: _who(work, loan) for loan in out}
    theirs = whose(held, said.to)
    if not theirs:
        return answer(work.texts("staff-not-lent-to", name=name, rows=apart(work.texts, _with(work, out))))
    if len(set(map(held.__getitem__, theirs))) > 1:
        return answer(work.texts("staff-back-whose", name=name, names=either(work.texts, list(held.values()))))
    loan = next(each for each in out if each.number == theirs[0])
    Loans(work.tx).home(loan.number)
    work.did("took-back", None, tool=tool)
    own = work.shop.tool_for(tool)
    return answer(work.texts("staff-back", name=name, to=held[loan.number], hangs=own.hangs if own is not None else ""))


def lent_out(work: Work) -> Attended:
    """Everything that is out, longest first."""
    out = Loans(work.tx).out()
    if not out:
        return answer(work.texts("staff-out-none"))
    rows = [work.texts("staff-out-row", name=called(work, loan.tool), who=who) for loan, who in _told(work, out)]
    return answer("\n".join([work.texts("staff-out-head", count=len(out)), *rows]))


def where_else(work: Work, tool: str) -> str:
    """Who has those of a tool that do not hang there; "" where all do."""
    out = Loans(work.tx).out(tool)
    return work.texts("staff-lent-line", rows=apart(work.texts, _with(work, out))) if out else ""


def called(work: Work, tool: str) -> str:
    """A tool as this shop calls it."""
    own = work.shop.tool_for(tool)
    return own.name if own is not None else kind_of(work.texts, tool)


def _the_tool(work: Work, said: Lending) -> str | Attended:
    if len(said.tools) == 1:
        return said.tools[0]
    if said.tools:
        names = either(work.texts, [called(work, tool) for tool in said.tools])
        return answer(work.texts("staff-which-tool", names=names))
    return answer(work.texts("staff-no-such-tool", name=said.named))


def _with(work: Work, out: Sequence[Loan]) -> list[str]:
    return [who for _, who in _told(work, out)]


def _told(work: Work, out: Sequence[Loan]) -> list[tuple[Loan, str]]:
    """Each loan, with who has it, since when, and when it ought to be back."""
    rows = []
    for loan in out:
        late = loan.due is not None and loan.due < work.now
        due = work.when(loan.due) if loan.due is not None else ""
        state = "late" if late else "due" if due else "open"
        rows.append(
            (loan, work.texts("staff-lent-to", to=_who(work, loan), since=work.when(loan.since), due=due, state=state))
        )
    return rows


def _who(work: Work, loan: Loan) -> str:
    return loan.to or loan.code or work.texts("staff-lent-forgotten")
