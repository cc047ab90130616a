"""Why a message was read as it was: the rules and rows that are named are those that made the reading."""

import ast
import re
import sys
from datetime import UTC, datetime

import pytest

from tests.commands import run
from tests.conversation.guides import shipped_guide
from triagebot.conversation import Message, ask_first, open_case, turn
from triagebot.conversation.understanding import reader
from triagebot.conversation.understanding.loading import PROGRAM
from triagebot.study.trace import watched
from triagebot.study.why import explained

NOW = datetime(2026, 11, 2, 10, tzinfo=UTC)
UNDERSTANDING = PROGRAM.parent / "understanding"
RULE = re.compile(r"^    (?:read|changed to [\d.]+|changed|left out) +(\w+\.py):(\d+) +(\w+)$", re.MULTILINE)
ROW = re.compile(r"^    by the row +([\w./]+\.yaml):(\d+) +[\w.-]+: (.*?)…?$", re.MULTILINE)


def why(text: str, opened: str | None = None) -> str:
    guide = shipped_guide()
    case = open_case(guide, "AAA-001", "en", NOW)
    if opened is not None:
        case = ask_first(guide, case, opened, NOW)
    taken, looks, enquiry = watched(lambda: turn(guide, case, Message(text), NOW))
    return explained(guide, looks, enquiry, taken)


#: text, the open question, and the beginnings of lines that must be there, in this order.
SHOWN = [
    ("4", "count", ["reading     count is 4, from “4”, sure 1.00: a fact", "read            plain_answer.py"]),
    (
        "the cogs go round but the middle stays",
        "spin",
        ["spin is stays, from “the middle stays”", "read            choices.py", "by the row      text/en.words.yaml"],
    ),
    (
        "my mate said 20 splines",
        None,
        [
            "speaks of   hearsay",
            "left out        judging.py",
            "reading     count is 20, from “20 splines”, sure 1.00: passed over (hearsay)",
        ],
    ),
    ("23 cm", "size", ["number      “23 cm” is length", "doubt       size: unit “23 cm”"]),
    (
        "it stays still, maybe 4 notches",
        None,
        ["tentative  “maybe 4", "asked back (likely)", "changed to 0.60 judging.py", "changed         roles.py"],
    ),
    ("can you tell me the price?", None, ["asked in between: price"]),
    ("let me speak to a human please", None, ["besides     command person", "by the row      words/en.yaml"]),
    ("hmm, the weather is awful", "count", ["besides     tone off-topic"]),
]  # fmt: skip


@pytest.mark.parametrize(("text", "opened", "shown"), SHOWN, ids=[row[0] for row in SHOWN])
def test_what_was_read_is_told_with_its_rule_and_what_became_of_it(
    text: str, opened: str | None, shown: list[str]
) -> None:
    told = why(text, opened)
    places = [told.find(line) for line in shown]
    assert -1 not in places, told
    assert places == sorted(places), told


@pytest.mark.parametrize(("text", "opened"), [row[:2] for row in SHOWN], ids=[row[0] for row in SHOWN])
def test_every_rule_and_row_that_is_named_stands_where_it_is_said_to(text: str, opened: str | None) -> None:
    told = why(text, opened)
    for file, line, name in RULE.findall(told):
        tree = ast.parse((UNDERSTANDING / file).read_text(encoding="utf-8"))
        functions = [node for node in ast.walk(tree) if isinstance(node, ast.FunctionDef) and node.name == name]
        assert any(node.lineno <= int(line) <= (node.end_lineno or 0) for node in functions), (file, line, name)
    topic = shipped_guide().topic.folder
    for file, line, pattern in ROW.findall(told):
        source = PROGRAM.parent / file if file.startswith("words/") else topic / file
        assert pattern in source.read_text(encoding="utf-8").splitlines()[int(line) - 1]


def test_being_watched_changes_nothing_and_ends() -> None:
    setting = shipped_guide().setting("en", "count")
    for text, _, _ in SHOWN:
        meaning, looks, _ = watched(lambda text=text: reader.understand(text, setting))  # type: ignore[misc]
        assert sys.getprofile() is None
        assert meaning == reader.understand(text, setting) == looks[0].meaning


def test_the_command_shows_it_beside_what_a_person_reads() -> None:
    done = run("ask", "4 notches", "--why", "--open", "count")
    assert done.returncode == 0
    assert "read “4 notches” while the open question is count" in done.stdout
    reply = run("ask", "4 notches", "--open", "count").stdout
    assert "while the open question" not in reply
    assert "4 notches" in reply
    assert done.stdout.endswith(f"\n\n{reply}")


def test_a_question_that_is_not_there_is_told() -> None:
    done = run("ask", "4", "--open", "colour")
    assert done.returncode == 2
    assert "there is no question 'colour'" in done.stderr


def test_what_each_question_would_have_saved_is_told_the_most_first() -> None:
    told = why("9 gears, 12 splines, they spin round with it")
    asked = re.search(r"^answered: .* question ([\w-]+)$", told, re.MULTILINE)
    rows = re.findall(r"^  worth       ([\w-]+) .* (-?[\d.]+) an effort", told, re.MULTILINE)
    assert "likeliest: cassette-12-spline 0." in told
    assert asked is not None
    assert asked[1] in {row[0] for row in rows[:2]}
    assert [float(row[1]) for row in rows] == sorted((float(row[1]) for row in rows), reverse=True)
    assert "count" in {row[0] for row in rows[1:]}


def test_the_question_that_was_chosen_is_priced_as_when_it_was_chosen() -> None:
    told = why("12 splines, stays still")
    rows = re.findall(r"^  worth       ([\w-]+) +saves ([\d.]+) at once, .* ([\d.]+) an effort", told, re.MULTILINE)
    saves, an_effort = next((float(saves), float(effort)) for name, saves, effort in rows if name == "sprockets")
    question = shipped_guide().topic.questions["sprockets"]
    assert "question sprockets" in told
    assert an_effort == pytest.approx(saves / question.price, abs=0.02)
