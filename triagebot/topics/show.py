"""A topic shown to the people who run it: its catalogue as a table, its machine as a Mermaid diagram.

Both are made from the data alone, so what the documentation shows cannot drift from what the program does.
"""

import re
from collections.abc import Iterator, Sequence
from itertools import zip_longest
from typing import Any

from triagebot.topics.flowchart import GROUPS, sources
from triagebot.topics.schema import Fastening, Flow, State, Transition, TrueSize
from triagebot.topics.texts import Texts
from triagebot.topics.topic import Topic

#: Characters across a table, and between its columns.
WIDTH = 120
GAP = 2

#: A true answer rarer than this is not shown in the table.
SHOWN_SHARE = 0.1


def catalogue_table(topic: Topic, texts: Texts) -> str:
    """The fastenings as an aligned plain-text table, at most 120 columns wide; long cells go on below.

    One column for each question of the fixed chart, the remover in words, torque in N·m, sources by id.
    """
    asked = topic.flow.chart.order
    head = ["fastening", "system", *asked, "remover", "turns loose", "torque", "source"]
    rows = [[cell.strip() for cell in _row(topic, texts, fastening, asked)] for fastening in topic.catalogue.fastenings]
    widths = _fitting([max(len(cell) for cell in column) for column in zip(head, *rows, strict=True)], head, rows)
    lines = [_line(head, widths), "-" * (sum(widths) + GAP * (len(widths) - 1))]
    for row in rows:
        broken = [_broken(cell, width) for cell, width in zip(row, widths, strict=True)]
        lines += [_line(cells, widths) for cells in zip_longest(*broken, fillvalue="")]
    return "\n".join(lines) + "\n"


def _row(topic: Topic, texts: Texts, row: Fastening, asked: Sequence[str]) -> list[str]:
    torque = row.refitting.torque if row.refitting else None
    return [
        row.id,
        row.system,
        *(_truth(row.answers.get(name)) for name in asked),
        texts(f"remover-{row.remover}") if row.remover else "-",
        row.direction if row.remover else "-",
        "-" if torque is None else f"{torque:g}",
        _sources(row, asked),
    ]


def _truth(truth: Any) -> str:
    if truth is None:
        return "-"
    if isinstance(truth, TrueSize):
        return f"{truth.mm:g}" if truth.mm is not None else f"{truth.low:g}-{truth.high:g}"
    if isinstance(truth, dict):
        return "/".join(label for label, share in truth.items() if share >= SHOWN_SHARE)
    return str(truth)


def _sources(row: Fastening, asked: Sequence[str]) -> str:
    shown = (*asked, "direction")
    rest = [f"{name}: {source}" for name, source in row.sources.items() if name in shown]
    return ", ".join([*filter(None, [row.sources.get("default")]), *rest])


def _fitting(widths: list[int], head: list[str], rows: list[list[str]]) -> list[int]:
    """Narrow the widest columns, a character at a time, until the table fits; never below their longest word.

    The first column holds the ids that people look for, so it gives way last."""
    columns = list(zip(head, *rows, strict=True))
    least = [max(len(word) for cell in column for word in _words(cell)) for column in columns]
    widths = list(widths)
    while sum(widths) + GAP * (len(widths) - 1) > WIDTH:
        loose = [place for place in range(len(widths)) if widths[place] > least[place]]
        if not loose:
            break
        widths[max(loose, key=lambda place: widths[place] * (0.5 if place == 0 else 1))] -= 1
    return widths


def _words(cell: str) -> list[str]:
    """The pieces that a cell may be broken between: after a space, a hyphen or a stroke."""
    return re.findall(r"[^\s/-]*[/-]|[^\s/-]+", cell) or [cell]


def _broken(cell: str, width: int) -> list[str]:
    lines = [""]
    for piece in re.findall(r"[^\s/-]*[/-]\s*|[^\s/-]+\s*", cell):
        if lines[-1] and len(lines[-1] + piece.rstrip()) > width:
            lines.append("")
        lines[-1] += piece
    return [line.rstrip() for line in lines]


def _line(cells: Sequence[str], widths: Sequence[int]) -> str:
    return (" " * GAP).join(cell.ljust(width) for cell, width in zip(cells, widths, strict=True)).rstrip()


# --- the machine ------------------------------------------------------------------------------------------------------

_HEAD = ["stateDiagram-v2", "    direction LR"]
#: States that are drawn in one box.
_BOXES = ("asking", "ended")


def mermaid(flow: Flow) -> str:
    """The machine as a Mermaid state diagram.

    Drawn arrow by arrow, a machine in which every question may follow every other is a thicket. States that ask and
    states that end are therefore boxes, and transitions that leave from the same states share one junction; the guards
    of a question stand under its name.
    """
    lines = [*_HEAD, f"    [*] --> {_name(flow.start)}"]
    lines += _states(flow)
    from_where: dict[tuple[str, ...], list[Any]] = {}
    for transition in flow.transitions:
        leaving = {name for word in transition.source for name in sources(word, flow.states)}
        key = tuple(state.id for state in flow.states if state.id in leaving)
        from_where.setdefault(key, []).append(transition)
    for number, (states, transitions) in enumerate(from_where.items(), start=1):
        junction = f"junction{number}"
        lines.append(f"    state {junction} <<choice>>")
        lines += [f"    {start} --> {junction}" for start in _starts(flow, states)]
        lines += dict.fromkeys(_arrows(flow, junction, transitions))
    return "\n".join(lines) + "\n"


def _states(flow: Flow) -> list[str]:
    lines: list[str] = []
    boxed: set[str] = set()
    for box in _BOXES:
        inside = [state for state in flow.states if GROUPS[box](state)]
        boxed.update(state.id for state in inside)
        if inside:
            lines.append(f"    state {box} {{")
            lines += [f"        {_name(state.id)} : {_label(flow, state)}" for state in inside]
            lines.append("    }")
    lines += [f"    {_name(state.id)} : {state.id}" for state in flow.states if state.id not in boxed]
    return lines


def _label(flow: Flow, state: State) -> str:
    ways = [transition.guards for transition in flow.transitions if transition.to == state.id]
    guards = " or ".join(" and ".join(way) for way in ways if way) if all(ways) else ""
    if state.question is not None:
        return f"{state.question} [{guards}]" if guards else state.question
    return state.id


def _starts(flow: Flow, states: Sequence[str]) -> list[str]:
    """The boxes and single states that together are `states`."""
    left = list(states)
    starts: list[str] = []
    for box in _BOXES:
        inside = [state.id for state in flow.states if GROUPS[box](state)]
        if inside and set(inside) <= set(left):
            starts.append(box)
            left = [name for name in left if name not in inside]
    return sorted(_name(name) for name in left) + starts


def _arrows(flow: Flow, junction: str, transitions: Sequence[Transition]) -> Iterator[str]:
    """One arrow to a box for all that lead to the states in it by the same trigger, whatever guards stand there."""
    reached: dict[str, set[str]] = {}
    for transition in transitions:
        reached.setdefault(transition.trigger, set()).add(transition.to)
    for transition in transitions:
        to, trigger = next(state for state in flow.states if state.id == transition.to), transition.trigger
        boxes = (box for box in _BOXES if GROUPS[box](to))
        box = next((box for box in boxes if reached[trigger] >= {s.id for s in flow.states if GROUPS[box](s)}), None)
        if box is not None or (to.question is not None and trigger == "ask"):
            yield f"    {junction} --> {box or 'asking'} : {trigger}"
        else:
            guards = f" [{' and '.join(transition.guards)}]" if transition.guards else ""
            yield f"    {junction} --> {_name(to.id)} : {trigger}{guards}"


def _name(state: str) -> str:
    return state.replace("-", "_")
