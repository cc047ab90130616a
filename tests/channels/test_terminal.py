"""The conversation through a pipe: shown as in a terminal, answered by number, word or free text."""

import io
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.conversation.guides import shipped_guide
from triagebot.channels import terminal
from triagebot.desk import Sitting
from triagebot.store import Store, open_store
from triagebot.testing import Clock, Codes

ME = "terminal:me"


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    with open_store(tmp_path / "data") as store:
        yield store


@pytest.fixture
def sitting(store: Store) -> Sitting:
    return Sitting(shipped_guide(), store, Clock(), Codes())


def talk(sitting: Sitting, *said: str, new: bool = False) -> str:
    out = io.StringIO()
    terminal.talk(sitting, ME, "en", io.StringIO("".join(f"{line}\n" for line in said)), out, new=new)
    return out.getvalue()


def known(sitting: Sitting) -> list[str]:
    heard = sitting.arrive(ME, "en")
    return [fact.reading.question for fact in heard.case.now.facts]


def test_choices_are_numbered_and_answered_by_number(sitting: Sitting) -> None:
    shown = talk(sitting, "it stays still, splines", "change", "1", "2")
    texts = sitting.guide.language("en").texts
    labels = [texts("choice-spin-turns"), texts("choice-spin-stays")]
    for number, label in enumerate(labels, 1):
        assert f"  {number}. {label}" in shown
    assert texts("choice-spin-stays.said") in shown
    assert texts("aside-unsure") in shown
    assert texts("aside-how") in shown


def test_the_end_of_the_input_keeps_all(sitting: Sitting) -> None:
    shown = talk(sitting, "it stays still", "12 splines")
    assert sitting.guide.language("en").texts("left-open", code="AAA-001") in " ".join(shown.split())
    assert known(sitting) == ["spin", "count", "fitting"]


def test_the_last_line_needs_no_end(sitting: Sitting) -> None:
    out = io.StringIO()
    terminal.talk(sitting, ME, "en", io.StringIO("it stays still\r\n12 splines"), out)
    assert known(sitting) == ["spin", "count", "fitting"]


def test_stop_ends_and_the_next_time_goes_on(sitting: Sitting) -> None:
    first = talk(sitting, "it stays still", "stop", "12 splines")
    assert "12 splines" not in first
    second = talk(sitting)
    assert "AAA-001" in second
    assert "\n  (" in second
    assert known(sitting) == ["spin"]


def test_stop_after_the_end_says_goodbye(sitting: Sitting) -> None:
    shown = talk(sitting, "person", "stop", "12 splines")
    assert shown.rstrip().endswith(sitting.guide.language("en").texts("goodbye", code="AAA-001"))


def test_a_new_case_when_asked_for(sitting: Sitting) -> None:
    talk(sitting, "it stays still")
    talk(sitting, "it turns", new=True)
    assert sitting.arrive(ME, "en").case.code == "AAA-002"


@pytest.mark.parametrize("line", ["", "🚲", "\x1b[31m\0", "x" * 20_000, "ا" * 500, "<b>", "\ufffd\ufffd"])
def test_odd_lines_are_answered(sitting: Sitting, line: str) -> None:
    shown = talk(sitting, "it stays still", line, "12 splines")
    assert known(sitting) == ["spin", "count", "fitting"]
    assert shown.count("\n> ") == 3


def test_nothing_is_styled_in_a_pipe(sitting: Sitting) -> None:
    assert "\033" not in talk(sitting, "it stays still", "help", "person")


def test_being_forgotten_shows_what_to_say_and_ends(sitting: Sitting) -> None:
    shown = talk(sitting, "9 sprockets", "forget me", "yes", "never read")
    texts = sitting.guide.language("en").texts
    assert f"({texts('forget-yes')} · {texts('forget-no')})" in shown
    assert texts("forgotten").split(".")[0] in shown
    assert "never read" not in shown
    with sitting.store.read() as view:
        assert view.cases(ME) == ()
