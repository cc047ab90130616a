"""The conversation through a pipe: shown as in a terminal, answered by number, word or free text."""

import io
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.conversation.guides import shipped_guide
from tests.store.reading import cases_of
from triagebot.channels import terminal
from triagebot.delivery import WaitingClient
from triagebot.store import Store, open_store
from triagebot.testing import Clock, Codes

ME = "terminal:me"


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    with open_store(tmp_path / "data") as store:
        yield store


@pytest.fixture
def waiting_client(store: Store) -> WaitingClient:
    return WaitingClient(shipped_guide(), store, Clock(), Codes())


def talk(waiting_client: WaitingClient, *said: str, new: bool = False) -> str:
    out = io.StringIO()
    terminal.talk(waiting_client, ME, "en", io.StringIO("".join(f"{line}\n" for line in said)), out, new=new)
    return out.getvalue()


def known(waiting_client: WaitingClient) -> list[str]:
    heard = waiting_client.arrive(ME, "en")
    return [fact.reading.question for fact in heard.case.now.facts]


def test_choices_are_numbered_and_answered_by_number(waiting_client: WaitingClient) -> None:
    shown = talk(waiting_client, "it stays still, splines", "change", "1", "2")
    texts = waiting_client.guide.language("en").texts
    labels = [texts("choice-spin-turns"), texts("choice-spin-stays")]
    for number, label in enumerate(labels, 1):
        assert f"  {number}. {label}" in shown
    assert texts("choice-spin-stays.said") in shown
    assert texts("aside-unsure") in shown
    assert texts("aside-how") in shown


def test_the_end_of_the_input_keeps_all(waiting_client: WaitingClient) -> None:
    shown = talk(waiting_client, "it stays still", "12 splines")
    assert waiting_client.guide.language("en").texts("left-open", code="AAA-001") in " ".join(shown.split())
    assert known(waiting_client) == ["spin", "count", "fitting"]


def test_the_last_line_needs_no_end(waiting_client: WaitingClient) -> None:
    out = io.StringIO()
    terminal.talk(waiting_client, ME, "en", io.StringIO("it stays still\r\n12 splines"), out)
    assert known(waiting_client) == ["spin", "count", "fitting"]


def test_stop_ends_and_the_next_time_goes_on(waiting_client: WaitingClient) -> None:
    first = talk(waiting_client, "it stays still", "stop", "12 splines")
    assert "12 splines" not in first
    second = talk(waiting_client)
    assert "AAA-001" in second
    assert "\n  (" in second
    assert known(waiting_client) == ["spin"]


def test_stop_after_the_end_says_goodbye(waiting_client: WaitingClient) -> None:
    shown = talk(waiting_client, "person", "stop", "12 splines")
    assert shown.rstrip().endswith(waiting_client.guide.language("en").texts("goodbye", code="AAA-001"))


def test_a_new_case_when_asked_for(waiting_client: WaitingClient) -> None:
    talk(waiting_client, "it stays still")
    talk(waiting_client, "it turns", new=True)
    assert waiting_client.arrive(ME, "en").case.code == "AAA-002"


@pytest.mark.parametrize("line", ["", "🚲", "\x1b[31m\0", "x" * 20_000, "ا" * 500, "<b>", "\ufffd\ufffd"])
def test_odd_lines_are_answered(waiting_client: WaitingClient, line: str) -> None:
    shown = talk(waiting_client, "it stays still", line, "12 splines")
    assert known(waiting_client) == ["spin", "count", "fitting"]
    assert shown.count("\n> ") == 3


def test_nothing_is_styled_in_a_pipe(waiting_client: WaitingClient) -> None:
    assert "\033" not in talk(waiting_client, "it stays still", "help", "person")


def test_being_forgotten_shows_what_to_say_and_ends(waiting_client: WaitingClient) -> None:
    shown = talk(waiting_client, "9 sprockets", "forget me", "yes", "never read")
    texts = waiting_client.guide.language("en").texts
    assert f"({texts('forget-yes')} · {texts('forget-no')})" in shown
    assert texts("forgotten").split(".")[0] in shown
    assert "never read" not in shown
    with waiting_client.store.read() as view:
        assert cases_of(view, ME) == ()
