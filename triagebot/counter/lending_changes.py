"""What the staff put right of a loan: until when it is ("no, 3 days"), who has the tool ("it was Sara, not Lena"), or
that it never was ("undo").

Rules of this file:
- "no" and a time or a name, and "undo", are about what this member lent or took back last, within ten minutes;
- more time counts from when the tool was due, or from now if that is over or was not said.
"""

from datetime import datetime, timedelta

from triagebot.counter.lending import lending_said
from triagebot.counter.lending_commands import called
from triagebot.counter.lent_last import LENT, last, remembered
from triagebot.counter.times import until
from triagebot.counter.work import Attended, Work, answer
from triagebot.shop import fold
from triagebot.store.loans import Loan, Loans
from triagebot.store.staff import Staff


def undo(work: Work) -> Attended:
    """What was lent last never was, and what came home last is out again."""
    kept = last(work)
    if kept is None:
        return answer(work.texts("staff-undo-nothing"))
    Staff(work.tx).stand(work.member, {**work.member.standing, LENT: None})
    names = []
    for row in kept["rows"]:
        if kept["back"]:
            stored = work.tx.case_by_code(row["code"]) if row["code"] else None
            due = datetime.fromisoformat(row["due"]) if row["due"] else None
            Loans(work.tx).lend(row["tool"], row["to"], stored.id if stored else None, work.member.name, work.now, due)
        elif not Loans(work.tx).home(row["number"]):
            continue
        work.did("undid", None, tool=row["tool"])
        names.append(called(work, row["tool"]))
    if not names:
        return answer(work.texts("staff-undo-nothing"))
    rows = work.texts("staff-between").join(dict.fromkeys(names))
    return answer(work.texts("staff-undone-back" if kept["back"] else "staff-undone", names=rows))


def corrected(work: Work, text: str) -> Attended | None:
    """ "no, 3 days", "no, to Sara", "til 4": what was lent last is put right; None for any other words."""
    words = text.replace(",", " ").split()
    length = next((n for n in (3, 2, 1) if fold(" ".join(words[:n])) in work.words.corrects), 0)
    rest = " ".join(words[length:])
    alone = len(words) > 1 and fold(words[0]) in work.words.until_alone
    if not rest or not (length or alone):
        return None
    kept = last(work)
    if kept is None or kept["back"]:
        return None
    numbers = [row["number"] for row in kept["rows"]]
    when = until(work.words, rest, work.now, work.guide.shop.hours)
    when = when or until(work.words, f"{next(iter(work.words.times['until']))} {rest}", work.now, work.guide.shop.hours)
    to = " ".join(word for word in rest.split()[1:]) if fold(rest.split()[0]) in work.words.lent_to else ""
    if when is None and not to:
        return None
    for number in numbers:
        if when is not None:
            Loans(work.tx).due(number, when)
        else:
            Loans(work.tx).hand(number, to)
    tool = kept["rows"][0]["tool"]
    work.did("changed-loan", None, tool=tool)
    changed = [each for each in Loans(work.tx).out() if each.number in numbers]
    if changed:
        remembered(work, changed, back=False)
    loan = next((each for each in changed if each.tool == tool), None)
    return answer(_now(work, loan)) if loan is not None else answer(work.texts("staff-undo-nothing"))


def extend(work: Work, rest: str) -> Attended:
    """ "extend the twenty to Ben until fri": somebody keeps what they have for longer."""
    said = lending_said(work.guide, work.texts, work.words, rest, work.now)
    everything = fold(said.named) in work.words.everything
    out = [loan for loan in Loans(work.tx).out() if not loan.why and (everything or loan.tool in said.tools)]
    who = fold(said.to)
    theirs = [loan for loan in out if not who or fold(loan.to or loan.code or "") == who]
    people = {loan.to or loan.code for loan in theirs}
    if said.due is None:
        return answer(work.texts("staff-lend-when", said=said.unclear or rest))
    if not theirs:
        return answer(work.texts("staff-back-nothing", to=said.to or "none"))
    if len(people) > 1:
        names = work.texts("staff-between").join(sorted(str(each) for each in people))
        return answer(work.texts("staff-extend-whose", name=called(work, theirs[0].tool), names=names))
    more = _how_long(work, rest)
    rows = []
    for loan in theirs:
        begins = max(loan.due, work.now) if loan.due is not None else work.now
        Loans(work.tx).due(loan.number, begins + more if more is not None else said.due)
        work.did("changed-loan", None, tool=loan.tool)
    for loan in (each for each in Loans(work.tx).out() if each.number in {each.number for each in theirs}):
        rows.append(_now(work, loan))
    return answer("\n".join(rows))


def _how_long(work: Work, rest: str) -> timedelta | None:
    """How much more time, where that was said and no moment: what moves with the clock."""
    later = work.now + timedelta(minutes=1)
    first, second = (lending_said(work.guide, work.texts, work.words, rest, now).due for now in (work.now, later))
    moved = first is not None and second is not None and second - first == later - work.now
    return first - work.now if moved and first is not None else None


def _now(work: Work, loan: Loan) -> str:
    until_when = work.when(loan.due) if loan.due is not None else ""
    due = "yes" if until_when else "no"
    to = loan.to or loan.code or work.texts("staff-lent-forgotten")
    return work.texts("staff-lent", name=called(work, loan.tool), to=to, until=until_when, due=due, count=1)
