"""What the staff do with tools that go out: give some out, take them back, see what is out; and with those that are
lost, broken, sold or found.

The borrower is a name, or a case by its code. What is not clear is asked, never guessed. Both are written down, without
the borrower's name.
"""

from collections.abc import Sequence
from dataclasses import replace

from triagebot.conversation.shop_offers import money
from triagebot.conversation.wording import either
from triagebot.counter.asked_back import MOST_OFFERED, ask_back
from triagebot.counter.bench_answer import apart, kind_of
from triagebot.counter.lending import Lending, counted, lending_said, may_go, returned_said, whose
from triagebot.counter.lent_last import last, remembered
from triagebot.counter.tool_lookup import tools_in, tools_named
from triagebot.counter.work import Attended, Work, answer, looks_like_a_code, named_case
from triagebot.shop import fold
from triagebot.store.loans import Loan, Loans
from triagebot.store.requests import Requests

#: What is said of a tool beside that it goes out.
_DONE = ("returned", "found", "lost", "broken", "sold", "undo")


def lend(work: Work, rest: str) -> Attended:
    """Gives a tool out."""
    said = lending_said(work.guide, work.texts, work.words, rest, work.now)
    tool = _the_tool(work, said, f"lend {rest}")
    if isinstance(tool, Attended):
        return tool
    name = called(work, tool)
    if not said.to or fold(said.to) in work.words.somebody:
        return _to_whom(work, said, name)
    if fold(said.to) in work.words.oneself:
        said = replace(said, to=work.member.name)
    if said.unclear:
        return answer(work.texts("staff-lend-when", said=said.unclear))
    if (alone := _name_before(work, said.to)) != said.to:
        return _to_whom(work, said, name, alone)
    for loan in kept_for(work, said.to, tool)[: said.count]:
        Loans(work.tx).home(loan.number)
    out = Loans(work.tx).out(tool)
    own = work.shop.tool_for(tool)
    why_not = may_go(own, len(out) + said.count - 1)
    if not why_not and own is not None and (kept := _kept_for_others(work, said, own.count - len(out))):
        return answer(work.texts("staff-lend-kept", name=name, rows=kept))
    if why_not == "none" and own is not None and own.count > len(out):
        return answer(work.texts("staff-lend-fewer", name=name, count=own.count - len(out)))
    if why_not == "none" and out:
        return answer(work.texts("staff-lend-all-out", name=name, rows=apart(work.texts, with_whom(work, out))))
    if why_not:
        return answer(work.texts(f"staff-lend-{why_not}", name=name))
    found = named_case(work.tx, said.to)
    if found is None and looks_like_a_code(said.to):
        return answer(work.texts("staff-no-case", code=said.to.upper()))
    case = found[0] if found is not None and not found[1] else None
    number = None if case is None else case.id
    if number is not None:
        Requests(work.tx).over(number, "hold")
    before = {loan.number for loan in out}
    for _ in range(said.count):
        Loans(work.tx).lend(tool, _as_a_name(said.to), number, work.member.name, work.now, said.due)
        work.did("lent", number, tool=tool)
    remembered(work, [loan for loan in Loans(work.tx).out(tool) if loan.number not in before], back=False)
    to = _as_a_name(said.to) if case is None else case.code
    until = work.when(said.due) if said.due is not None else ""
    text = work.texts("staff-lent", name=name, to=to, until=until, due="yes" if until else "no", count=said.count)
    if own is not None and own.deposit:
        deposit = money(work.guide, work.texts, said.count * own.deposit)
        text = f"{text} {work.texts('staff-lend-deposit', money=deposit)}"
    return answer(text)


def _as_a_name(to: str) -> str:
    """A name of one word in small letters with a capital; anything else as it was written."""
    return to.capitalize() if to.isalpha() and to.islower() else to


def _name_before(work: Work, to: str) -> str:
    """A name without what stands behind its comma, where that says what was done: "Bo, found it"."""
    name, _, behind = to.partition(",")
    done = any(work.words.senses.get(fold(word)) in _DONE for word in behind.split())
    return name.strip() if done else to


def _to_whom(work: Work, said: Lending, name: str, to: str = "") -> Attended:
    """Who gets a tool, where nobody was named, or not for certain: the one who got a tool last is offered for "him"."""
    kept = last(work) if said.to and not to else None
    before = to or ((kept["rows"][0]["code"] or kept["rows"][0]["to"]) if kept is not None else "")
    if not before:
        return answer(work.texts("staff-lend-whom", name=name))
    many = f"{said.count} " if said.count > 1 else ""
    till = f" until {work.when(said.due)}" if said.due is not None else ""
    return ask_back(work, [f"lend {many}{name} to {before}{till}"])


def returned(work: Work, rest: str) -> Attended:
    """Takes a tool back."""
    said = returned_said(work.guide, work.texts, work.words, rest)
    if fold(said.named) in work.words.everything:
        return _everything(work, said.to)
    lent = [loan for loan in Loans(work.tx).out() if not loan.why and fold(said.to) in ("", fold(_who(work, loan)))]
    tool = _the_tool(work, said, f"returned {rest}", [loan.tool for loan in lent])
    if isinstance(tool, Attended):
        return tool
    out = tuple(loan for loan in Loans(work.tx).out(tool) if not loan.why)
    name = called(work, tool)
    if not out:
        return answer(work.texts("staff-not-lent", name=name))
    held = {loan.number: _who(work, loan) for loan in out}
    theirs = whose(held, said.to)
    if not theirs:
        return answer(work.texts("staff-not-lent-to", name=name, rows=apart(work.texts, with_whom(work, out))))
    if len(set(map(held.__getitem__, theirs))) > 1:
        return answer(work.texts("staff-back-whose", name=name, names=either(work.texts, list(held.values()))))
    loan = next(each for each in out if each.number == theirs[0])
    back = theirs[: said.count]
    remembered(work, [each for each in out if each.number in back], back=True)
    for number in back:
        Loans(work.tx).home(number)
        work.did("took-back", None, tool=tool)
    own = work.shop.tool_for(tool)
    hangs = own.hangs if own is not None else ""
    return answer(work.texts("staff-back", name=name, to=held[loan.number], hangs=hangs, count=len(back)))


def brought_back(work: Work, text: str) -> Attended | None:
    """ "the whip is back": a tool by its whole name that is out; None for anything else."""
    said = fold(text.strip(" .!"))
    for ending in sorted(work.words.is_back, key=len, reverse=True):
        if said.endswith(f" {ending}"):
            name = said[: -len(ending)].strip()
            tools = tools_named(work.guide, work.texts, work.words, name, exactly=True)
            return returned(work, name) if len(tools) == 1 else None
    return None


def _everything(work: Work, who: str) -> Attended:
    """All that somebody has comes home."""
    out = {loan.number: (loan, _who(work, loan)) for loan in Loans(work.tx).out() if not loan.why}
    theirs = whose({number: name for number, (_, name) in out.items()}, who)
    names = list(dict.fromkeys(out[number][1] for number in theirs))
    if not theirs:
        return answer(work.texts("staff-back-nothing", to=who or "none"))
    if len(names) > 1:
        return answer(work.texts("staff-back-all-whose", names=either(work.texts, names)))
    rows = []
    remembered(work, [out[number][0] for number in theirs], back=True)
    for number in theirs:
        loan = out[number][0]
        Loans(work.tx).home(number)
        work.did("took-back", None, tool=loan.tool)
        own = work.shop.tool_for(loan.tool)
        rows.append(
            work.texts("staff-back-row", name=called(work, loan.tool), hangs=own.hangs if own is not None else "")
        )
    return answer("\n".join([work.texts("staff-back-all", to=names[0], count=len(rows)), *rows]))


def gone(why: str, work: Work, rest: str) -> Attended | None:
    """One of a tool is "lost", "broken" or "sold"; None where no tool is named."""
    count, name = counted(work.words, rest)
    tool = the_tool_named(work, name, f"{why} {rest}")
    if not isinstance(tool, str):
        return tool
    own, away = work.shop.tool_for(tool), len(Loans(work.tx).out(tool))
    if own is None or own.count < away + count:
        return answer(work.texts("staff-gone-none", name=called(work, tool)))
    if why == "sold" and "sells" not in own.offers:
        return answer(work.texts("staff-not-for-sale", name=own.name))
    for _ in range(count):
        Loans(work.tx).gone(tool, why, work.member.name, work.now)
        work.did(why, None, tool=tool)
    price = money(work.guide, work.texts, count * own.price) if why == "sold" and own.price else "none"
    left = own.count - away - count
    return answer(work.texts("staff-gone", name=own.name, why=why, count=count, left=left, price=price))


def found(work: Work, rest: str) -> Attended | None:
    """One that was lost or broken hangs there again; None where no tool is named."""
    away = [loan.tool for loan in Loans(work.tx).out() if loan.why in ("lost", "broken")]
    tool = the_tool_named(work, rest, f"found {rest}", away)
    if not isinstance(tool, str):
        return tool
    missing = [loan for loan in Loans(work.tx).out(tool) if loan.why in ("lost", "broken")]
    own = work.shop.tool_for(tool)
    if not missing:
        return answer(work.texts("staff-not-gone", name=called(work, tool)))
    Loans(work.tx).home(missing[0].number)
    work.did("found", None, tool=tool)
    hangs = own.hangs if own is not None else ""
    return answer(work.texts("staff-found-again", name=called(work, tool), hangs=hangs))


def lent_out(work: Work) -> Attended:
    """Everything that is out, longest first."""
    out = Loans(work.tx).out()
    if not out:
        return answer(work.texts("staff-out-none"))
    rows = [
        work.texts("staff-out-row", name=called(work, loan.tool), who=_kept_row(work, loan, "staff-kept-out") or who)
        for loan, who in _told(work, out)
    ]
    return answer("\n".join([work.texts("staff-out-head", count=len(out)), *rows]))


def lent_to(work: Work, who: str) -> str:
    """What somebody has of the shop's tools."""
    theirs = [(loan, row) for loan, row in _told(work, Loans(work.tx).out()) if not loan.why and _is_theirs(loan, who)]
    if not theirs:
        return work.texts("staff-back-nothing", to=who)
    return "\n".join(work.texts("staff-out-row", name=called(work, loan.tool), who=row) for loan, row in theirs)


def late_row(work: Work, loan: Loan, text: str = "staff-late-row") -> str:
    """A tool that ought to be back, and who has it."""
    due = work.when(loan.due) if loan.due is not None else ""
    return work.texts(text, name=called(work, loan.tool), to=_who(work, loan), due=due)


def _is_theirs(loan: Loan, who: str) -> bool:
    return fold(loan.to or loan.code or "") == fold(who)


def where_else(work: Work, tool: str) -> str:
    """Who has those of a tool that do not hang there; "" where all do."""
    out = Loans(work.tx).out(tool)
    lines = []
    for name, loans in (
        ("staff-lent-line", [loan for loan in out if not loan.why]),
        ("staff-gone-line", [loan for loan in out if loan.why not in ("", "kept")]),
        ("staff-kept-line", [loan for loan in out if loan.why == "kept"]),
    ):
        if loans:
            lines.append(work.texts(name, rows=apart(work.texts, with_whom(work, loans))))
    return " ".join(lines)


def called(work: Work, tool: str) -> str:
    """A tool as this shop calls it."""
    own = work.shop.tool_for(tool)
    return own.name if own is not None else kind_of(work.texts, tool)


def kept_for(work: Work, to: str, tool: str) -> list[Loan]:
    """Those of a tool that are kept for somebody by word of the staff."""
    return [loan for loan in Loans(work.tx).out(tool) if loan.why == "kept" and fold(loan.to) == fold(to)]


def _kept_row(work: Work, loan: Loan, text: str = "staff-kept-for") -> str:
    """Who a tool is kept for, and until when; "" for one that is not kept."""
    until = loan.due or loan.kept
    return work.texts(text, to=loan.to, until=work.when(until)) if loan.why == "kept" and until is not None else ""


def _kept_for_others(work: Work, said: Lending, left: int) -> str:
    """Who the last ones of a tool are kept for; "" where enough are free, or the borrower is the one they are kept
    for."""
    theirs = named_case(work.tx, said.to)
    kept = [
        request
        for request in Requests(work.tx).of_tool(said.tools[0], work.now)
        if theirs is None or request.case != theirs[0].id
    ]
    if left - len(kept) >= said.count:
        return ""
    rows = [
        work.texts("staff-kept-row", code=request.code, until=work.when(request.until))
        for request in kept
        if request.until is not None
    ]
    return apart(work.texts, rows)


def _the_tool(work: Work, said: Lending, line: str, likely: Sequence[str] = ()) -> str | Attended:
    """The tool that is named; which one is meant, where it may be several: one of the `likely` ones, if only one of
    them is named. `line` is what was written."""
    named = tuple(tool for tool in said.tools if tool in likely) or said.tools
    if len(named) == 1:
        return named[0]
    if named:
        names = [called(work, tool) for tool in named]
        text = work.texts("staff-which-tool", names=either(work.texts, names))
        if len(names) > MOST_OFFERED or said.named not in line:
            return answer(text)
        return ask_back(work, [line.replace(said.named, name, 1) for name in names], labels=names, text=text)
    return answer(work.texts("staff-no-such-tool", name=said.named))


def the_tool_named(work: Work, name: str, line: str, likely: Sequence[str] = ()) -> str | Attended | None:
    """The tool that is named; which one is meant, where it may be several; None where none is named."""
    tools = tools_in(work.guide, work.texts, work.words, name)
    return _the_tool(work, Lending(name, tools, "", None), line, likely) if tools else None


def with_whom(work: Work, out: Sequence[Loan]) -> list[str]:
    return [who for _, who in _told(work, out)]


def _told(work: Work, out: Sequence[Loan]) -> list[tuple[Loan, str]]:
    """Each loan, with who has it, since when, and when it ought to be back."""
    rows = []
    for loan in out:
        if loan.why == "kept":
            rows.append((loan, _kept_row(work, loan)))
            continue
        if loan.why:
            gone = work.texts("staff-gone-row", why=loan.why, since=work.when(loan.since), by=loan.by)
            rows.append((loan, gone))
            continue
        late = loan.due is not None and loan.due < work.now
        due = work.when(loan.due) if loan.due is not None else ""
        state = "late" if late else "due" if due else "open"
        rows.append(
            (loan, work.texts("staff-lent-to", to=_who(work, loan), since=work.when(loan.since), due=due, state=state))
        )
    return rows


def _who(work: Work, loan: Loan) -> str:
    return loan.to or loan.code or work.texts("staff-lent-forgotten")
