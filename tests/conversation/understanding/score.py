"""How well messages are understood that were written without sight of the code or its word lists.

    python -m tests.conversation.understanding.score tests/conversation/understanding/rounds/*.jsonl [--show]

The rows are those of `triagebot.study.train_reader`, and `ask` is true where a mechanic would ask back first. Each set
is used for a figure once; then it joins the corpus of the tests.
"""

import argparse
import re
from collections import Counter
from dataclasses import replace
from pathlib import Path
from typing import Any, Literal

from tests.conversation.guides import shipped_guide
from triagebot.conversation import Guide
from triagebot.conversation.understanding import understand
from triagebot.conversation.understood import Meaning
from triagebot.identify.readings import BoundReading, ChoiceReading, CountReading, Reading, SizeReading, UnsureReading
from triagebot.study.train_reader import Labelled, labelled

Grade = Literal["exact", "asked", "missed", "wrong", "quiet", "taken"]

#: A size is read right within this many mm (a range's middle is nobody's exact word).
SAME_SIZE = 0.6


def says(reading: Reading, value: Any) -> bool:
    """Whether a reading says what a person who read the message noted as `value`."""
    match reading:
        case UnsureReading():
            return bool(value == "unsure")
        case ChoiceReading(_, choice, denied):
            return bool((value == choice and not denied) or (denied and value == f"not {choice}"))
        case CountReading(_, low, high):
            number = _number(value)
            if number is None:
                return False
            if isinstance(value, str) and value[0] in "<>":
                return low < high and abs((low if value[0] == ">" else high) - number) <= 1
            return low <= number <= high and high - low <= 4
        case SizeReading(_, mm, half, _):
            near = max(SAME_SIZE, half)
            return _number(value) is not None and abs(mm - (_number(value) or 0)) <= near
        case BoundReading(_, low, high, _):
            number = _number(value)
            if number is None:
                return isinstance(value, str)
            return (low is None or number >= low - 1.5) and (high is None or number <= high + 1.5)


def _number(value: Any) -> float | None:
    if isinstance(value, list):
        return float(sum(value) / len(value))
    if isinstance(value, str):
        digits = re.fullmatch(r"[<>~]?=?\s*(\d+(?:\.\d+)?)", value)
        return float(digits[1]) if digits else None
    return float(value)


def grade(row: Labelled, meant: Meaning) -> Grade:
    """`exact`: all of it and no more; `asked`: what is missing is asked back; `wrong`: something that was not said.
    Where there is nothing to read: `quiet`, or `taken` for a fact."""
    facts = {f.reading.question: f.reading for f in meant.facts if not _goes_without_saying(f.reading, row)}
    if not row.means:
        if row.command is not None:
            return "exact" if meant.command == row.command and not facts else "taken" if facts else "missed"
        return "taken" if facts else "quiet"
    if any(q not in row.means or not says(reading, row.means[q]) for q, reading in facts.items()):
        return "wrong"
    missing = {q for q in row.means if q not in facts}
    if not missing:
        return "exact"
    asked = {p.question for p in meant.puzzles if p.proposed is None or says(p.proposed, row.means.get(p.question, ""))}
    if missing <= asked:
        return "exact" if row.ask else "asked"
    return "missed"


def _goes_without_saying(reading: Reading, row: Labelled) -> bool:
    """Not knowing something that was not asked about is no fact, and who counts "4 notches" has said notches, whether
    that was noted or not."""
    if reading.question in row.means:
        return False
    if isinstance(reading, UnsureReading):
        return bool(row.means) or row.command is not None
    kind = reading.choice.rpartition("-")[2][:5] if isinstance(reading, ChoiceReading) else ""
    return bool(kind in ("splin", "notch") and row.means and kind in row.text.lower())


def score(rows: list[Labelled], guide: Guide, rules_only: bool = False) -> list[tuple[Labelled, Grade, Meaning]]:
    found = []
    for row in rows:
        place = guide.setting("en", row.opened)
        words = replace(place.words, guess=None) if rules_only else place.words
        meant = understand(row.text, replace(place, words=words))
        found.append((row, grade(row, meant), meant))
    return found


def table(graded: list[tuple[Labelled, Grade, Meaning]]) -> str:
    counts = Counter(grade for _, grade, _ in graded)
    said = sum(counts[g] for g in ("exact", "asked", "missed", "wrong"))
    nothing = counts["quiet"] + counts["taken"]
    parts = [f"{counts[g]} {g} ({counts[g] / said:.1%})" for g in ("exact", "asked", "missed", "wrong") if said]
    if nothing:
        parts.append(f"{counts['taken']} of {nothing} non-answers taken ({counts['taken'] / nothing:.1%})")
    return f"{said} answers: " + ", ".join(parts)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("files", nargs="+", type=Path)
    parser.add_argument("--show", action="store_true", help="print every message that was not read exactly")
    parser.add_argument("--rules", action="store_true", help="leave out what was learned")
    arguments = parser.parse_args()
    guide = shipped_guide()
    for file in arguments.files:
        graded = score(labelled(file), guide, arguments.rules)
        print(f"{file.stem}: {table(graded)}")
        for row, graded_as, meant in graded if arguments.show else ():
            if graded_as not in ("exact", "quiet"):
                got = {f.reading.question: f.reading for f in meant.facts}
                wanted = row.command or row.means
                print(f"  {graded_as:6} [{row.opened}] {row.text!r} means {wanted}; read {_short(got, meant)}")


def _short(got: dict[str, Reading], meant: Meaning) -> str:
    from tests.conversation.understanding.reading_rows import describe

    parts = [describe(reading) for reading in got.values()]
    parts += [meant.command] if meant.command else []
    parts += [f"{p.kind}?{describe(p.proposed) if p.proposed else p.question}" for p in meant.puzzles]
    return " ".join(parts) or "nothing"


if __name__ == "__main__":
    main()
