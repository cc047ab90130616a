"""`python -m tests.counter.lines FILE…`: lines that staff might write, by authors who knew nothing of the program, and
what comes of each. What a reading says is compared; all else is printed, to be judged by hand.

Each line is a JSON object: its `text`, its `kind`, and what it `means` (a reading) or what its author wants of it
(`want`). The codes of cases in it stand for three that there are. Nothing that a line does is kept for the next.
"""

import json
import re
import sys
import tempfile
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import timedelta
from pathlib import Path
from typing import Any

from tests.counter.shop import Shop
from triagebot.conversation import plain
from triagebot.counter.bench_line import read_line
from triagebot.counter.staff_message import Counter
from triagebot.identify import ChoiceReading, CountReading, SizeReading
from triagebot.messages.message import Incoming, Said
from triagebot.store.loans import Loans
from triagebot.store.staff import Tickets

#: What is compared of a reading, and how a size may differ, in mm.
COMPARED, NEAR = ("fitting", "count", "size", "spin", "sprockets"), 0.6
#: A count that there is of one kind alone says which: whether it is written down beside the count makes no difference.
IMPLIED = {12: "splines", 20: "splines"}
#: What is out before each line: the tool, who has it, and until how many hours from now.
OUT = (
    ("remover-20-spline", "Jonas", 2),
    ("chain-whip", "Lena", 4),
    ("chain-whip", "Pete", 4),
    ("hook-spanner", "Tomas", 5),
)
_CODE = re.compile(r"\b(?:[A-Za-z][A-Za-z0-9]{4}|[A-Za-z]{3} ?-? ?\d{3})\b")
#: The lines are of a Saturday noon.
NOON = timedelta(days=5, hours=2)


class _Undone(Exception):  # noqa: N818 - no error: what a line did is undone by it
    pass


@dataclass(frozen=True)
class Came:
    """What came of a line: the words, and what it changed."""

    said: str
    changed: str


class Bench:
    """A shop in the middle of its day: Ada writes, three cases wait, some tools are out, one is lost."""

    def __init__(self, folder: Path) -> None:
        self.shop = Shop(folder)
        self.shop.clock.wait(hours=NOON / timedelta(hours=1))
        self.shop.staff("ada")
        self.codes = [self.shop.needs_a_person(who) for who in ("bob", "kim", "lou")]
        self.shop.says("ada", f"claim {self.codes[0]}")
        self.shop.says("ada", "20 spl stays")
        with self.shop.writing() as tx:
            for tool, who, hours in OUT:
                Loans(tx).lend(tool, who, None, "Ada", self.shop.clock(), self.shop.clock() + timedelta(hours=hours))
            Loans(tx).gone("remover-4-notch-24", "lost", "Ada", self.shop.clock())

    def comes(self, text: str) -> Came:
        found: list[Came] = []
        counter = Counter(self.shop.guide, self.shop.clock, self.shop.delivery.memory)
        try:
            with self.shop.writing() as tx:
                before = _state(tx)
                incoming = Incoming(self.shop.recorded.name, "k", "ada", {}, Said(text), self.shop.clock())
                made = counter.attend(tx, self.shop.mark("ada"), incoming, incoming.content)
                assert made is not None
                assert made.reply is not None
                after = _state(tx)
                told = [plain(each.reply) for each in made.to_others]
                changed = [f"-{row}" for row in before if row not in after] + [
                    f"+{row}" for row in after if row not in before
                ]
                found.append(Came(plain(made.reply), "; ".join([*changed, *(f"told: {words}" for words in told)])))
                raise _Undone
        except _Undone:
            return found[0]


def _state(tx: Any) -> list[str]:
    loans = [f"{loan.tool} {loan.why or 'out'} {loan.to} {loan.due}" for loan in Loans(tx).out()]
    return loans + [f"ticket {ticket.case} {ticket.state} {ticket.until}" for ticket in Tickets(tx).queue()]


@contextmanager
def bench() -> Iterator[Bench]:
    with tempfile.TemporaryDirectory() as folder:
        made = Bench(Path(folder))
        try:
            yield made
        finally:
            made.shop.end()


def graded(made: Bench, text: str, means: Mapping[str, Any]) -> tuple[str, str]:
    """`exact`, `missed` where something was not read, or `wrong`; and what was read."""
    got: dict[str, Any] = {}
    for fact in read_line(made.shop.guide, "en", text).facts:
        match fact.reading:
            case ChoiceReading(question=question, choice=choice):
                got[question] = choice
            case CountReading(question=question, low=low, high=high):
                got[question] = low if low == high else f"{low}-{high}"
            case SizeReading(question=question, mm=mm):
                got[question] = mm
            case _:
                continue
    wanted = {name: means[name] for name in COMPARED if name in means}
    read = {name: got[name] for name in COMPARED if name in got}
    if (kind := IMPLIED.get(got.get("count"))) and kind in (wanted.get("fitting", kind), read.get("fitting", kind)):
        wanted["fitting"] = read["fitting"] = wanted.get("fitting", kind)
    wrong = [name for name in read if name in wanted and not _same(read[name], wanted[name])]
    wrong += [name for name in read if name not in wanted]
    missed = [name for name in wanted if name not in read]
    return ("wrong" if wrong else "missed" if missed else "exact"), str(got)


def _same(got: Any, wanted: Any) -> bool:
    if isinstance(got, str) and isinstance(wanted, int) and "-" in got:
        low, high = got.split("-")
        return int(low) <= wanted <= int(high)
    return abs(got - wanted) <= NEAR if isinstance(wanted, float | int) and not isinstance(got, str) else got == wanted


def main(files: list[str]) -> None:
    with bench() as made:
        known = iter(made.codes)
        codes: dict[str, str] = {}
        for row in (json.loads(line) for file in files for line in Path(file).read_text(encoding="utf-8").splitlines()):
            text = row["text"]
            for word in _CODE.findall(text):
                if any(letter.isdigit() for letter in word) and row["kind"] != "reading":
                    name = re.sub(r"[ -]", "", word.upper())
                    codes[name] = codes.get(name) or next(known, made.codes[-1])
                    text = text.replace(word, codes[name])
            if row["kind"] == "reading":
                grade, got = graded(made, text, row["means"])
                print(f"{grade.upper():7}| {text}")
                if grade != "exact":
                    print(f"         {row['means']}\n         {got}\n         {made.comes(text).said[:600]!r}")
            else:
                came = made.comes(text)
                print(f"{row['kind']:8}| {text} | {row['want']}\n         {came.said[:600]!r}\n         {came.changed}")


if __name__ == "__main__":
    main(sys.argv[1:])
