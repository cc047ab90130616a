"""What to take to a wheel that nobody has seen: as few and light tools as cover 95 and 99 of a hundred such wheels.

Rules of this file:
- how common each kind is: what this shop's closed cases teach, with the topic's priors as 200 cases seen already (as
  `study.learning` has it); where the shop's folder holds what was learned, that is in force and is not counted twice;
- a kind is covered by its remover and all that goes with it, of the tools that hang there now; where our tools take off
  fewer than are to be covered, 99 in a hundred of those that they do, and what stays uncovered is said;
- the next to go in is the kind that covers most for what it adds to the burden (`carry` of a tool); what is not needed
  in the end comes out again.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import numpy as np

from triagebot.conversation import Guide
from triagebot.conversation.wording import all_said, number
from triagebot.counter.bench_answer import apart
from triagebot.counter.bench_line import Line, at_the_bench, continued, read_line
from triagebot.counter.work import Attended, Work, answer
from triagebot.identify import belief
from triagebot.identify.information import Array
from triagebot.shop import Tool
from triagebot.store.staff import Staff
from triagebot.topics import PRIOR_WORTH, Fastening

#: The shares of such wheels that are to be covered, in turn.
AIMS = (0.95, 0.99)
#: Of so many kinds that no tool takes off the names are said.
_MOST_NAMED = 4
_SAME = 1e-9
#: A remover that covers less has no row of its own.
_A_ROW = 0.01
#: What is rarer is not spoken of.
_LEAST = 0.005


@dataclass(frozen=True, slots=True)
class Kit:
    """`tools` in the order in which they went in, and the share of such wheels that they cover."""

    tools: tuple[str, ...]
    covers: float


def kit(work: Work, rest: str) -> Attended:
    """What to take along, for what is known of the wheel."""
    line = continued(Line(), read_line(work.guide, work.texts.language, rest)) if rest else Line()
    shares = shares_of(work.guide, line, Staff(work.tx).closings().values())
    first, second = (packed(work.guide, shares, aim) for aim in AIMS)
    texts = work.texts
    said = all_said(work.guide, texts, line.readings)
    rows = [texts("staff-kit-for", clauses=said or "none", unread="yes" if rest and not said else "no")]
    if not first.tools:
        return answer("\n".join([*rows, texts("staff-kit-none")]))
    rows.append(texts("staff-kit-head", percent=_percent(work, first.covers), count=len(first.tools)))
    rows += _rows(work, first.tools, shares)
    more = [tool for tool in second.tools if tool not in first.tools]
    if more:
        rows.append(texts("staff-kit-more", percent=_percent(work, second.covers), count=len(more)))
        rows += _rows(work, more, shares)
    rows += _left(work, shares, second)
    return answer("\n".join(rows))


def shares_of(guide: Guide, line: Line, closed: Iterable[str | None]) -> dict[str, float]:
    """How likely each kind is of a wheel of which a line tells so much."""
    model = at_the_bench(guide.topic).model
    shares: Array = np.asarray(belief(model, line.readings), dtype=float)
    if guide.shop.learned is None:
        counts = np.array([0.0] * len(model.fastenings))
        for each in closed:
            if each in model.fastenings:
                counts[model.fastenings.index(each)] += 1
        taught = (PRIOR_WORTH * model.prior + counts) / (PRIOR_WORTH + counts.sum())
        shares = shares * np.divide(taught, model.prior, out=np.zeros_like(taught), where=model.prior > 0)
        shares = shares / shares.sum()
    return {name: float(share) for name, share in zip(model.fastenings, shares, strict=True)}


def packed(guide: Guide, shares: Mapping[str, float], aim: float) -> Kit:
    """The tools that cover so much, or all but the rarest of what can be covered."""
    needs = {name: _needs(guide, guide.topic.fastenings[name]) for name in shares}
    aim = min(aim, AIMS[1] * sum(shares[name] for name, tools in needs.items() if tools is not None))
    open_ = {name: tools for name, tools in needs.items() if tools is not None and shares[name] > 0}
    taken: list[str] = []
    while open_ and _covered(shares, needs, taken) < aim - _SAME:
        best = max(open_, key=lambda name: _worth(guide, shares, open_, taken, open_[name]))
        taken += [tool for tool in open_[best] if tool not in taken]
        open_ = {name: tools for name, tools in open_.items() if not set(tools) <= set(taken)}
    for tool in sorted(taken, key=lambda each: -_carry(guide, each)):
        without = [each for each in taken if each != tool]
        if _covered(shares, needs, without) >= aim - _SAME:
            taken = without
    return Kit(tuple(taken), _covered(shares, needs, taken))


def _needs(guide: Guide, fastening: Fastening) -> tuple[str, ...] | None:
    """All that takes it off, the remover first; None where there is no remover, or something of it is not there."""
    if fastening.remover is None:
        return None
    tools = (fastening.remover, *fastening.accessories)
    return tools if all(_here(guide, tool) for tool in tools) else None


def _here(guide: Guide, tool: str) -> Tool | None:
    own = guide.shop.tool_for(tool)
    return own if own is not None and own.count else None


def _carry(guide: Guide, tool: str) -> float:
    own = guide.shop.tool_for(tool)
    return own.carry if own is not None else 1.0


def _covered(shares: Mapping[str, float], needs: Mapping[str, tuple[str, ...] | None], taken: Iterable[str]) -> float:
    have = set(taken)
    return sum(shares[name] for name, tools in needs.items() if tools is not None and set(tools) <= have)


def _worth(
    guide: Guide, shares: Mapping[str, float], open_: Mapping[str, tuple[str, ...]], taken: Iterable[str],
    tools: Iterable[str],
) -> float:  # fmt: skip
    """What tools cover besides what was taken, for each of what they add to the burden."""
    have = {*taken, *tools}
    gain = sum(shares[name] for name, needed in open_.items() if set(needed) <= have)
    return gain / sum(_carry(guide, tool) for tool in have - set(taken))


def _rows(work: Work, tools: Iterable[str], shares: Mapping[str, float]) -> list[str]:
    """Each remover with how much it covers, those that cover little in one line, and in another what goes with them."""
    topic, rows, rare, beside = work.guide.topic, [], [], []
    for tool in tools:
        own = work.guide.shop.tool_for(tool)
        assert own is not None, "only what hangs there is taken"
        if tool in topic.removers:
            share = sum(shares[name] for name in shares if topic.fastenings[name].remover == tool)
            if share >= _A_ROW:
                told = {"name": own.name, "hangs": own.hangs, "percent": _percent(work, share)}
                rows.append(work.texts("staff-kit-row", **told))
            else:
                rare.append(work.texts("staff-fetch-row", name=own.name, hangs=own.hangs))
        else:
            beside.append(work.texts("staff-fetch-row", name=own.name, hangs=own.hangs))
    rows += [work.texts("staff-kit-rarely", names=apart(work.texts, rare))] if rare else []
    return [*rows, *([work.texts("staff-kit-beside", names=apart(work.texts, beside))] if beside else [])]


def _left(work: Work, shares: Mapping[str, float], kit: Kit) -> list[str]:
    """What stays uncovered because its tool is not here; and what no tool takes off."""
    texts, topic = work.texts, work.guide.topic
    away = [
        name
        for name in shares
        if shares[name] >= _LEAST
        and topic.fastenings[name].remover is not None
        and _needs(work.guide, topic.fastenings[name]) is None
    ]
    rows = []
    if away:
        rows.append(texts("staff-kit-away", names=apart(texts, [texts(f"fastening-{name}.short") for name in away])))
    none = {name: share for name, share in shares.items() if topic.fastenings[name].remover is None}
    if sum(none.values()) >= _LEAST:
        likeliest = sorted((name for name in none if none[name] >= _LEAST), key=lambda name: -none[name])
        named = [texts(f"fastening-{name}.short") for name in likeliest if not topic.fastenings[name].broad]
        said = apart(texts, named[:_MOST_NAMED]) or "none"
        rows.append(texts("staff-kit-no-tool", percent=_percent(work, sum(none.values())), names=said))
    rare = 1 - kit.covers - sum(none.values()) - sum(shares[name] for name in away)
    if rare >= _LEAST:
        rows.append(texts("staff-kit-rare", percent=_percent(work, rare)))
    return rows


def _percent(work: Work, share: float) -> str:
    return number(work.texts, 100 * share, 0)
