"""Stored cases beside an edited topic or shop: whose answer would change, from what to what, and which edit does it.

Rules of this file:
- Both editions take each case up again from its readings and say what comes next. Compared are the outcomes in ids,
  with how sure they are, or the questions; where these agree, each line of wording that differs is a change of its own.
- Staff hear first of open cases: not closed, not stopped, heard of within `RECENT`.
- An edit is to blame if it alone leads from the live edition to the edited answer. If none does, the smallest set found
  by taking edits away one by one is named. What only the order of rows changes has no edit.
- Nothing that a person wrote is read or shown: only readings, codes, and our own words.
"""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from difflib import SequenceMatcher
from itertools import zip_longest

from triagebot.conversation import Case, Guide, look, next_step
from triagebot.conversation.at_hand import everything
from triagebot.conversation.case import Place, Standing
from triagebot.conversation.outcome import band, leading
from triagebot.conversation.reply import lines_of
from triagebot.study.edits import Edit, Edition, edits_between, mixed

RECENT = timedelta(days=14)
_LONGEST = 160


@dataclass(frozen=True, slots=True)
class Answer:
    """What a case would be told: `what` in ids, with the `cautions` that go with it, and its `lines` in words."""

    what: str
    lines: tuple[str, ...]
    cautions: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Change:
    """Cases whose answer changes alike, by code; the person may still come about the `open` ones. `together`: only
    all of `edits` at once do it, else each does it alone; no edits: only the order of rows can be it. `wording`: the
    outcome stays, one line of its wording does not."""

    open: tuple[str, ...]
    others: tuple[str, ...]
    before: str
    after: str
    edits: tuple[Edit, ...]
    together: bool = False
    wording: bool = False


@dataclass(frozen=True, slots=True)
class _Step:
    """One thing that changes about an answer; empty where nothing was, or is, said."""

    before: str
    after: str
    wording: bool


@dataclass(frozen=True, slots=True)
class Replayed:
    """All changes, those with open cases first; `edits` are all rows that differ, whatever they do."""

    cases: int
    edits: tuple[Edit, ...]
    changes: tuple[Change, ...]


def replay(cases: Iterable[Case], live: Edition, edited: Edition, now: datetime) -> Replayed:
    """Run cases against both editions; cases of other topics, and those that were stopped, are passed over."""
    edits = edits_between(live, edited)
    told = _Mixtures(live, edited)
    known: dict[Case, tuple[tuple[_Step, tuple[Edit, ...], bool], ...]] = {}
    groups: dict[tuple[_Step, tuple[Edit, ...], bool], tuple[list[str], list[str]]] = {}
    count = 0
    for case in cases:
        if case.topic != live.topic.id or case.now.outcome == "stopped":
            continue
        count += 1
        plain_case = bare(case, now)
        if plain_case not in known:
            before = answer(live.guide, plain_case)
            steps = _steps(before, answer(edited.guide, plain_case))
            known[plain_case] = tuple((step, *_culprits(told, plain_case, before, step, edits)) for step in steps)
        still_open = case.closed is None and now - case.touched <= RECENT
        for group in known[plain_case]:
            groups.setdefault(group, ([], []))[0 if still_open else 1].append(case.code)
    changes = [
        Change(tuple(open_ones), tuple(others), step.before, step.after, found, together, step.wording)
        for (step, found, together), (open_ones, others) in groups.items()
    ]
    changes.sort(key=lambda change: (change.wording, -len(change.open), -len(change.others)))
    return Replayed(count, edits, tuple(changes))


def answer(guide: Guide, case: Case) -> Answer:
    """What a bare case would be told if it were taken up again, with all that can be asked about it."""
    reply = look(guide, case, case.touched)
    lines = tuple(line.plain for line in lines_of((*reply.blocks, *everything(guide, case))))
    step = next_step(guide.topic, case.now.readings, case.now.asks, case.now.mentioned, guide.barred)
    if reply.status == "question":
        what = f"asks {reply.question.id}" if reply.question else "asks back"
    elif reply.status == "person":
        what = "a person must look" + (f" ({step.referral.choice})" if step.referral else "")
    else:
        named = leading(guide, step, step.decision)
        kinds = " or ".join(f"{row.id} ({row.remover}, {row.direction})" for row in named)
        share = float(guide.topic.model.by_remedy(step.shares).max())
        sure = f"{band(guide, share)}: " if reply.status == "answer" else ""
        return Answer(f"{sure}{kinds}", lines, reply.result.cautions)
    return Answer(what, lines)


def bare(case: Case, now: datetime) -> Case:
    """A case reduced to what decides the answer: equal for equal readings. It has no digest, so both editions drop what
    they do not know, and decide anew."""
    standing = case.now
    asked = list(standing.asked)
    for open_now in (standing.question, standing.first) if standing.outcome is None else ():
        if open_now in asked:  # it waits for an answer: not asked yet, as the next step sees it
            asked.reverse()
            asked.remove(open_now)
            asked.reverse()
    facts = tuple(replace(fact, text="") for fact in standing.facts)
    kept = Standing((Place("", "begun"),), facts=facts, asked=tuple(sorted(asked)), mentioned=standing.mentioned)
    return Case((), "", case.topic, "", case.language, now, now, kept)


def _steps(before: Answer, after: Answer) -> list[_Step]:
    """Everything that changes: the outcome, or line by line what is said about the same one."""
    if before.what != after.what:
        return [_Step(before.what, after.what, wording=False)]
    if before.cautions != after.cautions:
        said = [f"{each.what}; cautions: {', '.join(each.cautions)}" for each in (before, after)]
        return [_Step(said[0], said[1], wording=False)]
    found = []
    old, new = before.lines, after.lines
    for kind, a, b, c, d in SequenceMatcher(None, old, new, autojunk=False).get_opcodes():
        if kind != "equal":
            pairs = zip_longest(old[a:b], new[c:d], fillvalue="")
            found += [_Step(gone[:_LONGEST], come[:_LONGEST], wording=True) for gone, come in pairs if gone != come]
    return list(dict.fromkeys(found))  # the same line may be told with more than one thing


class _Mixtures:
    """What each mixture of the two editions would say; each mixture is made once."""

    def __init__(self, live: Edition, edited: Edition) -> None:
        self._editions = live, edited
        self._guides: dict[frozenset[Edit], Guide | None] = {}

    def __call__(self, chosen: Iterable[Edit], case: Case) -> Answer | None:
        """None where the mixture does not hold together: a row that names another which is not there."""
        key = frozenset(chosen)
        try:
            if key not in self._guides:
                self._guides[key] = None
                self._guides[key] = mixed(*self._editions, key)
            guide = self._guides[key]
            return None if guide is None else answer(guide, case)
        except Exception:  # two halves of two editions may disagree about anything, anywhere
            return None


def _culprits(
    told: Callable[[Iterable[Edit], Case], Answer | None],
    case: Case,
    before: Answer,
    step: _Step,
    edits: Sequence[Edit],
) -> tuple[tuple[Edit, ...], bool]:
    """The edits that each do it alone, or the fewest that do it together and True; none if no set of rows does."""

    def does(chosen: Sequence[Edit]) -> bool:
        found = told(chosen, case)
        return found is not None and step in _steps(before, found)

    alone = tuple(edit for edit in edits if does([edit]))
    if alone or not does(edits):
        return alone, False
    needed = list(edits)
    for edit in edits:
        without = [other for other in needed if other != edit]
        if does(without):
            needed = without
    return tuple(needed), True
