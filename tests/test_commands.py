"""The real commands as processes (contracts C2 to C4): what they print, and what they exit with."""

import json
import subprocess
from pathlib import Path
from typing import Any

import pytest

from tests.commands import COMMAND, environment, run

STATUSES = {"answer", "question", "look-alike", "person"}


# --- one shot -------------------------------------------------------------------------------------------------------


def asked(text: str, *more: str) -> dict[str, Any]:
    done = run("ask", text, "--json", *more)
    assert done.returncode == 0, done.stderr
    row: dict[str, Any] = json.loads(done.stdout)
    return row


def check_row(row: dict[str, Any]) -> None:
    """What contract C2 says of every outcome."""
    assert list(row) == [
        "status",
        "understood",
        "candidates",
        "fastening",
        "remover",
        "next_question",
        "cautions",
        "notes",
        "text",
    ]
    assert row["status"] in STATUSES
    shares = [each["probability"] for each in row["candidates"]]
    assert sum(shares) == pytest.approx(1, abs=1e-6)
    assert shares == sorted(shares, reverse=True)
    assert all(set(each) == {"fastening", "remover", "probability"} for each in row["candidates"])
    assert "unlisted" in [each["fastening"] for each in row["candidates"]]
    assert all({"question", "reading", "text"} == set(each) for each in row["understood"])
    assert all({"title", "url"} == set(each) for each in row["notes"])
    assert (row["remover"] is not None) == (row["status"] == "answer")
    if row["status"] == "question":
        assert row["next_question"] in row["text"] or row["next_question"]
    assert row["text"].strip()


def test_ask_a_question_comes_back() -> None:
    row = asked("12 splines, about 23,4 mm")
    check_row(row)
    assert row["status"] == "question"
    assert {each["question"] for each in row["understood"]} == {"count", "fitting", "size"}
    size = next(each for each in row["understood"] if each["question"] == "size")
    assert size["reading"]["mm"] == pytest.approx(23.4)
    assert row["next_question"]
    assert row["cautions"] == []


def test_ask_an_answer_comes_back() -> None:
    row = asked(
        "wheel is out, it coasts, the middle stays still, 20 splines, 21.5 mm by calliper, 7 sprockets, plain hub, "
        "no torque stamped on it, no wire ring, a body without splines"
    )
    check_row(row)
    assert (row["status"], row["fastening"], row["remover"]) == ("answer", "freewheel-20-spline", "remover-20-spline")
    assert row["cautions"]
    assert row["notes"]
    warned = min(row["text"].find(word) for word in ("WARNING", "CAUTION") if word in row["text"])
    assert 0 <= warned < row["text"].find("Remover: ")


def test_ask_for_a_person() -> None:
    row = asked("I want to talk to a person")
    check_row(row)
    assert row["status"] == "person"


@pytest.mark.parametrize("text", ["", "🚲", "-4", "NaN", "'; DROP TABLE cases; --", "x" * 10_000, "\x1b[31m<b>"])
def test_ask_nonsense(text: str) -> None:
    row = asked(text)
    check_row(row)
    assert row["understood"] == []
    assert row["status"] == "question"


def test_ask_prints_what_a_person_would_read() -> None:
    words, row = run("ask", "it stays still"), asked("it stays still")
    assert words.stdout == row["text"] + "\n"
    assert words.stderr == ""


def test_ask_bytes_that_are_no_text() -> None:
    words = [*COMMAND, b"ask", b"it stays still \xff\xfe"]
    done = subprocess.run(words, capture_output=True, check=False, env=environment())
    assert done.returncode == 0
    assert "The middle stays still, then." in done.stdout.decode()


@pytest.mark.parametrize(
    "locale", [{"LC_ALL": "C"}, {"LC_ALL": "POSIX", "PYTHONIOENCODING": "ascii"}, {"LANG": "pl_PL"}]
)
def test_ask_in_any_locale(locale: dict[str, str]) -> None:
    done = run("ask", "", fresh=True, **locale)
    assert done.returncode == 0
    assert "“I don’t know”" in done.stdout


def test_an_unknown_language_says_which_there_are() -> None:
    for command in (("ask", "hello"), ("talk",)):
        done = run(*command, "--lang", "tlh")
        assert done.returncode == 2
        assert "'tlh'" in done.stderr
        assert "en" in done.stderr
        assert done.stdout == ""


def test_ask_keeps_nothing(tmp_path: Path) -> None:
    assert run("ask", "it stays still", data=tmp_path / "data").returncode == 0
    assert list(tmp_path.iterdir()) == []


# --- usage ----------------------------------------------------------------------------------------------------------


def test_without_arguments_and_without_a_terminal_it_shows_the_help() -> None:
    done = run()
    assert done.returncode == 0
    assert "Usage: triagebot" in done.stdout
    for command in ("ask", "talk", "check", "simulate", "topics"):
        assert command in done.stdout


@pytest.mark.parametrize(
    "arguments",
    [("ask",), ("ask", "two", "words"), ("bogus",), ("talk", "--bogus"), ("simulate", "--people", "many")],
)
def test_wrong_usage_exits_with_2(arguments: tuple[str, ...]) -> None:
    done = run(*arguments)
    assert done.returncode == 2
    assert len(done.stderr.splitlines()) < 8


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (("simulate", "--people", "0"), "from 1"),
        (("simulate", "--profile", "angels", "--people", "1"), "household"),
        (("topics", "show", "--only", "weather"), "machine"),
    ],
)
def test_what_a_command_cannot_do_exits_with_2(arguments: tuple[str, ...], told: str) -> None:
    done = run(*arguments)
    assert done.returncode == 2
    assert told in done.stderr
    assert len(done.stderr.splitlines()) == 1


def test_closed_and_full_streams() -> None:
    for shell in ('"$@" <&-', '"$@" >&-', '"$@" | true'):
        done = subprocess.run(
            ["sh", "-c", shell, "sh", *COMMAND, "ask", "it stays still"],
            capture_output=True,
            check=False,
            env=environment(),
        )
        assert done.stderr == b"", shell
    full = subprocess.run(
        ["sh", "-c", '"$@" >/dev/full', "sh", *COMMAND, "ask", "it stays still"],
        capture_output=True,
        check=False,
        env=environment(),
        text=True,
    )
    assert full.returncode == 1
    assert full.stderr == "triagebot: standard output: No space left on device\n"


# --- check, simulate, topics show -----------------------------------------------------------------------------------


def test_check_and_simulate_keep_their_contract() -> None:
    done = run("check")
    assert done.returncode == 0
    assert len(done.stdout.splitlines()) == 1
    done = run("simulate", "--people", "8", "--seed", "3", "--json")
    assert done.returncode == 0
    report = json.loads(done.stdout)
    assert set(report) == {"planner", "chart"}
    for scores in report.values():
        assert set(scores) >= {
            "right",
            "wrong",
            "person",
            "look_alike",
            "unfinished",
            "mean_questions",
            "p95_questions",
            "brier",
            "calibration_error",
        }
        assert all(isinstance(score, float | int) for score in scores.values())
        fractions = [scores[name] for name in ("right", "wrong", "person", "look_alike", "unfinished")]
        assert sum(fractions) == pytest.approx(1)
    assert run("simulate", "--people", "8", "--seed", "3", "--json").stdout == done.stdout


def test_topics_show() -> None:
    done = run("topics", "show")
    assert done.returncode == 0
    catalogue, _, drawing = done.stdout.partition("stateDiagram")
    for fastening in ("cassette-12-spline", "snap-ring-", "unlisted"):
        assert fastening in catalogue
    for state in ("begin", "ask_spin", "answered", "two_kinds_fit", "with_a_person", "stopped"):
        assert state in drawing
    assert "stateDiagram" not in run("topics", "show", "--only", "catalogue").stdout
