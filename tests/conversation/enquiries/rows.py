"""Rows of questions that people put in between: what each asks, and what comes of it.

`open` is the question that the bot has asked (null: none yet, answered: the remover is named), `text` what was said and
`asks` what it asks for: an enquiry, `what-is:<word>`, or a word that always works. The rows were invented by authors
without sight of the code; no customer wrote any. `python -m tests.conversation.enquiries.rows FILE` scores a file.
"""

import json
import sys
from dataclasses import dataclass
from datetime import timedelta
from functools import cache
from pathlib import Path

from tests.conversation.guides import shipped_guide
from triagebot.conversation import Case, Guide, Message, Turn, open_case, turn
from triagebot.conversation.blocks import Remark, Step, Tool
from triagebot.conversation.events import Concluded, Remarked
from triagebot.conversation.scene import Scene
from triagebot.testing import START, ScriptedPerson

FOLDER = Path(__file__).parent
#: What an outcome with a remover takes.
ANSWERED = ("6 sprockets, the middle stays still", "4 notches", "24 mm with a calliper", *["don't know"] * 4)
#: Words that always work end a conversation or say what they are by the name under which they are noted.
_NOTED = {"why": "said", "language-one": "language", "another-language": "language", "cautions": "danger"}
#: What answers these too: when the shop is open on a day answers "can I come then?", and whether one must book; who
#: wants a person and a telephone number gets the number; and the answer about the price names the deposit too.
_SINCE = {
    "come-at": ("open-day", "open-now", "book"),
    "keep-tool": ("book", "tool-here"),
    "is-it-ready": ("how-long-shop",),
    "what-to-buy": ("buy-part",),
    "motor-shock": ("danger",),
    "telephone": ("person",),
    "price": ("deposit",),
}


@dataclass(frozen=True)
class Row:
    open: str | None
    text: str
    asks: str


def rows(file: Path) -> list[Row]:
    return [Row(**json.loads(line)) for line in file.read_text(encoding="utf-8").splitlines()]


@cache
def standing_at(guide: Guide, question: str | None) -> Case:
    """A case in which this question has just been put."""
    if question == "answered":
        person = ScriptedPerson(guide)
        person.says(*ANSWERED)
        return person.case
    scene = Scene(guide, open_case(guide, "AAA-001", "en", START), START)
    if question is None:
        scene.go_on()
    else:
        scene.ask_again(question)
    return scene.turn().case


@cache
def after(guide: Guide, case: Case, row: Row) -> Turn:
    """What comes of the question. Worked out once, since several things are asked of it."""
    return turn(guide, case, Message(row.text), START + timedelta(hours=1))


def understood(made: Turn) -> str:
    """What a message was taken to ask, by what was answered."""
    for block in made.reply.blocks:
        if isinstance(block, Remark) and block.about.startswith("enquiry-"):
            return block.about.removeprefix("enquiry-")
        if isinstance(block, Remark) and block.about.startswith("glossary-"):
            return f"what-is:{block.about.removeprefix('glossary-')}"
        if isinstance(block, Step):
            return "how-tight"
        if isinstance(block, Tool):
            return "which-tool"
        if isinstance(block, Remark) and block.about.startswith("direction-"):
            return "which-way"
    concluded = [event.outcome for event in made.events if isinstance(event, Concluded)]
    noted = [event.what for event in made.events if isinstance(event, Remarked)]
    return (*concluded, *noted, "nothing")[0]


def right(row: Row, made: Turn) -> bool:
    """Whether what was asked is what was answered."""
    got = understood(made)
    return got == row.asks or _NOTED.get(got) == row.asks or row.asks in _SINCE.get(got, ())


def unchanged(before: Case, made: Turn) -> bool:
    """Whether the belief stands where it stood and the conversation goes on from there."""
    now = made.case.now
    return (now.readings, now.outcome, now.question) == (before.now.readings, before.now.outcome, before.now.question)


def main(file: Path) -> None:
    guide = shipped_guide()
    made = [(row, before, after(guide, before, row)) for row in rows(file) for before in [standing_at(guide, row.open)]]
    for row, before, each in made:
        if not right(row, each) or not unchanged(before, each):
            changed = "" if unchanged(before, each) else "  CHANGED"
            print(f"{row.asks:20} {understood(each):20} {row.open} | {row.text}{changed}")
    good = sum(right(row, each) for row, _, each in made)
    kept = sum(unchanged(before, each) for _, before, each in made)
    print(
        f"{good} of {len(made)} right ({good / len(made):.1%}); {kept} leave the belief and the question as they were"
    )


if __name__ == "__main__":
    main(Path(sys.argv[1]))
