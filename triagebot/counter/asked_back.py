"""What is asked back where a line may mean one thing or another: the likeliest of them, each a word away.

Rules of this file:
- what is offered stands until the member writes anything else, for ten minutes at most;
- a number, its button or, where one thing is offered, a yes takes it; then it is done as if they had written it.
"""

from collections.abc import Sequence
from datetime import datetime, timedelta

from triagebot.conversation import Choice, Reply
from triagebot.conversation.blocks import Question
from triagebot.counter.said_in_full import in_full
from triagebot.counter.work import Attended, Work
from triagebot.shop import fold
from triagebot.store.staff import Staff

#: What a member's standing has of what they were offered: the lines, and when.
OFFERED = "offered"
#: No more are offered.
MOST_OFFERED = 6
#: So long it can be taken.
_STANDS = timedelta(minutes=10)
#: The buttons of what is offered.
_BUTTON = "offered-"


def ask_back(work: Work, lines: Sequence[str], *, labels: Sequence[str] = (), text: str = "") -> Attended:
    """Asks which of these lines is meant; `labels` are how they are called, `text` the question, else those in the
    program's words."""
    shown = tuple(dict.fromkeys(lines))
    called = dict(zip(lines, labels or [in_full(work, line) for line in lines], strict=True))
    called = {line: label.replace("\n", "; ") for line, label in called.items()}
    offered = {"lines": list(shown), "labels": [called[line] for line in shown], "at": work.now.isoformat()}
    Staff(work.tx).stand(work.member, {**work.member.standing, OFFERED: offered})
    question = text or work.texts("staff-meant", count=len(shown), line=called[shown[0]])
    stamp = _stamp(work.now)
    choices = tuple(Choice(f"{_BUTTON}{stamp}-{place}", called[line]) for place, line in enumerate(shown))
    if len(shown) == 1:
        choices = (Choice(choices[0].id, work.texts("staff-meant-yes")),)
    return Attended(Reply((Question(OFFERED, "choice", question, choices),), "question"))


def taken(work: Work, text: str) -> str | None:
    """The line that was offered and is taken now; None where nothing is, or these words are something else. Either way
    nothing is offered any more."""
    offered = work.member.standing.get(OFFERED)
    if offered is None:
        return None
    Staff(work.tx).stand(work.member, {**work.member.standing, OFFERED: None})
    if work.now - datetime.fromisoformat(offered["at"]) > _STANDS:
        return None
    lines, said = offered["lines"], fold(text)
    if said.isdecimal() and 1 <= int(said) <= len(lines):
        return str(lines[int(said) - 1])
    if len(lines) == 1 and said in work.words.agrees:
        return str(lines[0])
    named = [line for line, label in zip(lines, offered["labels"], strict=True) if said == fold(label)]
    return str(named[0]) if named else None


def pressed(work: Work, choice: str) -> str | None:
    """The line whose button was pressed; None for another button, or one of an earlier question."""
    offered = work.member.standing.get(OFFERED)
    if offered is None or not choice.startswith(_BUTTON):
        return None
    stamp, _, place = choice.removeprefix(_BUTTON).partition("-")
    if stamp != _stamp(datetime.fromisoformat(offered["at"])):
        return None
    Staff(work.tx).stand(work.member, {**work.member.standing, OFFERED: None})
    return str(offered["lines"][int(place)])


def _stamp(moment: datetime) -> str:
    return f"{int(moment.timestamp())}"
