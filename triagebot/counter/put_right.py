"""What a line without a tool puts right of a loan: who has what was lent last, and until when somebody has it.

Rules of this file:
- "not tom, tim has it" is about what this member lent last; "gus has it til fri not tomorrow" about what Gus has;
- a day is nobody's name.
"""

from collections.abc import Sequence

from triagebot.counter.heard import Heard
from triagebot.counter.lending import speaks_of_time
from triagebot.counter.lending_commands import called
from triagebot.counter.lent_last import last
from triagebot.counter.meant import Sense, until_said
from triagebot.counter.work import Work
from triagebot.shop import fold
from triagebot.store.loans import Loans

#: The one who has not got it, and the one who has.
_BOTH = 2


def put_right(work: Work, heard: Heard, said: Sequence[Sense], who: str) -> list[str] | None:
    """The commands that put it right, each for one loan that may be meant; none where nothing was lent. None for any
    other line."""
    if heard.tools or not any(each.sense == "not" for each in said):
        return None
    if heard.due is not None:
        return _until_then(work, heard, who)
    names = [each.said for each in said if each.sense == "" and not speaks_of_time(work.words, each.said)]
    common = work.guide.language(work.texts.language).words.common
    if len(names) != _BOTH or all(common(name) for name in names):
        return None
    kept = last(work)
    if kept is None or kept["back"]:
        return []
    wrong = {fold(row["to"]) for row in kept["rows"]}
    right = [name for name in names if name not in wrong]
    return [f"{next(iter(work.words.corrects))}, to {right[0]}"] if len(right) == 1 else []


def _until_then(work: Work, heard: Heard, who: str) -> list[str] | None:
    """For each tool that somebody has, that they have it until then; None for somebody who has none."""
    out = [loan for loan in Loans(work.tx).out() if not loan.why]
    theirs = [loan for loan in out if who and fold(loan.to or loan.code or "") == fold(who)]
    tools = list(dict.fromkeys(called(work, loan.tool) for loan in theirs))
    return [f"extend {name} to {who}{until_said(work, heard.when)}" for name in tools] or None
