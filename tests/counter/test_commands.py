"""The commands about who is staff, beside a delivery that may be at work."""

import re
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

import pytest

from triagebot.cli import app
from triagebot.counter import redeem
from triagebot.counter.login import lets_in
from triagebot.errors import UsageError
from triagebot.messages.codes import STAFF_CODE, read_secret
from triagebot.store import Store, open_store
from triagebot.store.bikes import Bikes
from triagebot.store.staff import Role, Staff, Tickets
from triagebot.testing import START, Clock

Run = Callable[..., str]


@pytest.fixture
def data(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("TRIAGEBOT_DATA_FOLDER", str(tmp_path / "data"))
    return tmp_path / "data"


@pytest.fixture
def run(data: Path, capsys: pytest.CaptureFixture[str]) -> Run:
    """Runs a command; gives what it printed."""

    def command(*arguments: str) -> str:
        app(["staff", *arguments], result_action="return_value")
        return capsys.readouterr().out

    return command


def store_of(data: Path) -> Store:
    return open_store(data)


def admitted(data: Path, name: str, role: Role = "staff") -> str:
    """Somebody who is staff; gives their mark."""
    with store_of(data) as store, store.begin() as tx:
        return Staff(tx).admit(tx.lookup_hash(f"telegram:{name}"), role, name, START).person


def test_an_invitation_is_printed_and_counts(run: Run, data: Path) -> None:
    printed = run("invite", "--role", "owner", "--name", "  Ada   B ")
    code = read_secret(printed.splitlines()[0], STAFF_CODE)
    assert code is not None
    assert re.search(r"Counts once, until [A-Z][a-z]{2} \d\d [A-Z][a-z]{2} \d\d:\d\d \(Europe/London\)\.", printed)
    assert "http" not in printed  # the pages have no address
    with store_of(data) as store, store.begin() as tx:
        member = redeem(tx, tx.lookup_hash("telegram:1"), code, Clock().now.replace(year=2020), str)
    assert member is not None
    assert (member.name, member.role) == ("Ada B", "owner")
    assert re.fullmatch(r"Ada B  owner  since 2020-03-02  -\n", run("list"))


def test_an_invitation_and_a_link_lead_to_the_counter_page(
    run: Run, data: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    admitted(data, "Ada")
    with pytest.raises(UsageError, match="TRIAGEBOT_WEB_ADDRESS"):
        run("link", "Ada")
    monkeypatch.setenv("TRIAGEBOT_WEB_ADDRESS", "https://wheels.example")
    code, *_, last = run("invite").split()
    assert last == f"https://wheels.example/counter/enter/{code}"
    secret = run("link", "ada").split()[0].removeprefix("https://wheels.example/counter/enter/")
    with store_of(data) as store, store.read() as view:
        assert lets_in(view, secret, datetime.now(UTC)) == "Ada"
    with pytest.raises(UsageError, match="nobody called 'Bob' is staff"):
        run("link", "Bob")


def test_the_code_lies_nowhere_on_the_disk(run: Run, data: Path) -> None:
    printed = run("invite").splitlines()[0]
    held = b"".join(path.read_bytes() for path in data.iterdir() if path.is_file())
    assert printed.encode() not in held
    assert printed.replace("-", "").encode() not in held


@pytest.mark.parametrize("span", ["", "2", "h", "2 weeks", "1h2", "0h", "31d", "99999d"])
def test_a_time_that_cannot_be(run: Run, span: str) -> None:
    with pytest.raises(UsageError):
        run("invite", "--for", span)


@pytest.mark.parametrize("span", ["90m", "48h", "30d", "1 H"])
def test_a_time_that_can_be(run: Run, span: str) -> None:
    assert read_secret(run("invite", "--for", span).splitlines()[0], STAFF_CODE) is not None


def test_two_cannot_have_a_name(run: Run, data: Path) -> None:
    admitted(data, "Ada")
    with pytest.raises(UsageError, match="Ada is one of the staff already"):
        run("invite", "--name", "ada")


def test_nobody_is_staff_yet(run: Run) -> None:
    assert run("list") == "nobody is staff yet: triagebot staff invite\n"


def test_who_is_removed_gives_back_what_they_had(run: Run, data: Path) -> None:
    mark = admitted(data, "Ada")
    admitted(data, "Eve")
    with store_of(data) as store, store.begin() as tx:
        case = tx.open_case("terminal:me", "K7M-4QX", "rear-sprockets", START)
        Tickets(tx).open(case, "asked", START)
        assert Tickets(tx).claim(case, mark)
    assert run("remove", "ADA") == "Ada is staff no more; cases that wait again: 1\n"
    assert "Ada" not in run("list")
    assert "Eve" in run("list")
    with store_of(data) as store, store.read() as view:
        assert Tickets(view).waiting() == 1
    with pytest.raises(UsageError, match="nobody called 'Ada' is staff; there is: Eve"):
        run("remove", "Ada")


def test_it_works_beside_a_delivery(run: Run, data: Path) -> None:
    from triagebot.delivery import staffed

    admitted(data, "Ada")
    with staffed(data):
        assert "Ada" in run("list")
        assert run("invite")
        assert run("remove", "Ada") == "Ada is staff no more\n"


def test_a_label_is_written_for_a_bike(run: Run, data: Path, tmp_path: Path) -> None:
    with store_of(data) as store, store.begin() as tx:
        case = tx.open_case("bike:K7M-4QX", "K7M-4QX", "rear-sprockets", START)
        tx.open_case("terminal:me", "K7M-4QY", "rear-sprockets", START)
        Bikes(tx).take_in(case, "blue tourer", "Sam", "", "", START, None, apart=True)
    path = tmp_path / "label.svg"
    assert run("label", "k7m4qx", "--out", str(path)) == f"{path}\n"
    assert ">blue tourer</text>" in path.read_text(encoding="utf-8")
    for code in ("K7M-4QY", "ZZ9-ZZ9"):
        with pytest.raises(UsageError, match="the case of no bike"):
            run("label", code)
