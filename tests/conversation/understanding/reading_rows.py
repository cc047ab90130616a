"""Rows of phrases and what they must be taken for, written as short lines.

A row is `open question | message | expected`; parts of `expected` are parted by ` ; ` and come in any order:
`spin=stays`, `fitting!=splines` (denied), `count=12`, `count=11..12`, `size=23.4`, `size=24~0.75/gauge` (half-width,
means), `size>=23.25/gauge`, `size<=24.26`, `count=?` (unsure), a trailing `*` for one that corrects; `how(size)` a
command and its target, `>size` a target alone; `unit:size=23`, `range:count`, `choice:spin`, `conflict:spin` puzzles;
`@motor` a mention; `off-topic`, `hostile`, `empty`, `symbols`. Nothing expected is `-`.
"""

from pathlib import Path

from triagebot.conversation.understood import Meaning
from triagebot.identify.readings import BoundReading, ChoiceReading, CountReading, Reading, SizeReading, UnsureReading


def rows_of(file: Path) -> list[tuple[str | None, str, frozenset[str]]]:
    """The rows of a file; lines that begin with # are remarks."""
    rows = []
    for line in file.read_text(encoding="utf-8").splitlines():
        if not line.strip() or line.startswith("#"):
            continue
        said, _, expected = line.rpartition(" | ")
        opened, _, text = (part.strip() for part in said.partition(" | "))
        parts = frozenset(part.strip() for part in expected.split(" ; ") if part.strip() != "-")
        rows.append((None if opened == "-" else opened, text, parts))
    return rows


def describe(reading: Reading) -> str:
    """One reading in the notation of the rows."""
    match reading:
        case ChoiceReading(question, choice, denied):
            return f"{question}{'!=' if denied else '='}{choice}"
        case CountReading(question, low, high):
            return f"{question}={low}" if low == high else f"{question}={low}..{high}"
        case SizeReading(question, mm, half, means):
            return f"{question}={round(mm, 2):g}" + (f"~{round(half, 2):g}" if half else "") + _by(means)
        case BoundReading(question, low, high, means):
            return f"{question}{f'>={low:g}' if low is not None else f'<={high:g}'}" + _by(means)
        case UnsureReading(question):
            return f"{question}=?"


def _by(means: str) -> str:
    return "" if means == "unknown" else f"/{means}"


def parts_of(understood: Meaning) -> frozenset[str]:
    """Everything that was understood, in the notation of the rows."""
    parts = [describe(fact.reading) + ("*" if fact.corrects else "") for fact in understood.facts]
    if understood.command:
        parts.append(understood.command + (f"({understood.target})" if understood.target else ""))
    elif understood.target:
        parts.append(f">{understood.target}")
    for puzzle in understood.puzzles:
        proposed = describe(puzzle.proposed) if puzzle.proposed else puzzle.question
        parts.append(f"{puzzle.kind}:{proposed}")
    parts += [f"@{mention}" for mention in understood.mentions]
    if understood.tone != "plain":
        parts.append(understood.tone)
    return frozenset(parts)
