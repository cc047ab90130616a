"""A message that asks something and tells something of the wheel: both count. The rows were invented with sight of the
code, so they are a yardstick for changes and say little of messages not seen yet."""

import json

from tests.conversation.enquiries.rows import FOLDER, Row, after, right, standing_at
from triagebot.conversation import Guide, Turn
from triagebot.identify import ChoiceReading, CountReading, Reading, SizeReading

ROWS = [json.loads(line) for line in (FOLDER / "facts-beside.jsonl").read_text(encoding="utf-8").splitlines()]
#: The share of the rows of which all that was told counts and what was asked is answered.
BOTH = 0.95
#: What speaks of the wheel only in what it asks.
TELLS_NOTHING = (
    ("count", "can I use a tool with 20 splines?"),
    ("axle", "is it a problem if it has axle nuts?"),
    ("fitting", "what do notches look like?"),
    ("size", "do you have a 24 mm remover in stock?"),
    ("wire-ring", "need a plumber, 3 bed house, ballpark cost?"),
)


def value(reading: Reading) -> str:
    match reading:
        case ChoiceReading():
            return reading.choice
        case CountReading():
            return str(reading.low)
        case SizeReading():
            return f"{reading.mm:g}"
    return ""


def told(made: Turn) -> dict[str, str]:
    """What was read of the wheel, or is asked back with the next words."""
    found = {fact.reading.question: value(fact.reading) for fact in made.understood}
    puzzle = made.case.now.puzzle
    return {**found, puzzle.question: value(puzzle.proposed)} if puzzle and puzzle.proposed is not None else found


def test_what_is_told_beside_a_question_counts_and_the_question_is_answered(guide: Guide) -> None:
    missed = []
    for row in ROWS:
        asked = Row(row["open"], row["text"], row["asks"])
        made = after(guide, standing_at(guide, asked.open), asked)
        if not (row["means"].items() <= told(made).items() and right(asked, made)):
            missed.append((asked.text, told(made)))
    assert len(missed) <= (1 - BOTH) * len(ROWS), missed


def test_a_question_alone_tells_nothing(guide: Guide) -> None:
    for question, text in TELLS_NOTHING:
        made = after(guide, standing_at(guide, question), Row(question, text, ""))
        assert told(made) == {}, text
