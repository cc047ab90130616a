"""`triagebot serve` as a process: what it checks, what it says, and how it ends."""

import json
import os
import shutil
import signal
import socket
import stat
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any
from urllib.error import HTTPError
from urllib.request import urlopen

import pytest

from tests import commands
from tests.channels.telegram.stage import fresh_token, said_back
from tests.commands import PATIENCE, Piped
from tests.doubles.telegram import Telegram
from triagebot.shop import built_in_shop


@pytest.fixture
def home(tmp_path: Path, platform: Telegram) -> dict[str, str]:
    """An environment with nothing set up but folders of its own and the fake platform."""
    kept = {name: value for name, value in os.environ.items() if not name.startswith(("TRIAGEBOT_", "PTB_"))}
    return kept | {
        "TRIAGEBOT_SETTINGS": os.devnull,
        "TRIAGEBOT_DATA_FOLDER": str(tmp_path / "data"),
        "TRIAGEBOT_KEY_FILE": str(tmp_path / "triagebot.key"),
        "TRIAGEBOT_WEB_PORT": "0",
        "TRIAGEBOT_TELEGRAM_SERVER": platform.base_url.removesuffix("/bot"),
    }


@pytest.fixture
def token(platform: Telegram) -> str:
    made = fresh_token()
    platform.add_bot(made, f"bot{made[:9]}_bot")
    return made


def run(environment: dict[str, str], *arguments: str) -> subprocess.CompletedProcess[str]:
    return commands.run("serve", *arguments, **environment)


Begins = Callable[..., "subprocess.Popen[str] | Piped"]


@pytest.fixture
def begin(tmp_path: Path) -> Iterator[Begins]:
    """Starts the command, forked from a process that has imported all, or `fresh`; what still runs is ended."""
    begun: list[subprocess.Popen[str] | Piped] = []

    def start(
        environment: dict[str, str], stdin: Path = Path(os.devnull), fresh: bool = False
    ) -> "subprocess.Popen[str] | Piped":
        if fresh:
            command = [sys.executable, "-m", "triagebot", "serve"]
            pipes = {"stdin": subprocess.DEVNULL, "stdout": subprocess.PIPE, "stderr": subprocess.PIPE}
            begun.append(subprocess.Popen(command, env=environment, text=True, **pipes))  # type: ignore[call-overload]
        else:
            begun.append(Piped(["serve"], environment, tmp_path / f"streams-{len(begun)}", stdin))
        return begun[-1]

    yield start
    for process in begun:
        if process.poll() is None:
            process.kill()
        process.communicate()


def address_in(process: "subprocess.Popen[str] | Piped") -> str:
    """Where it says that its pages are."""
    assert process.stderr is not None
    for line in process.stderr:
        if "pages and chat: " in line:
            return line.split("pages and chat: ")[1].strip()
    raise AssertionError("it ended without serving")


def test_without_any_setting_it_serves_pages_and_says_how_to_add_a_channel(home: dict[str, str], begin: Begins) -> None:
    process = begin(home, fresh=True)
    address = address_in(process)
    assert process.stderr is not None
    assert "TRIAGEBOT_TELEGRAM_TOKEN" in process.stderr.readline()
    with urlopen(f"{address}health", timeout=PATIENCE) as health:
        assert health.status == 200
    with urlopen(f"{address}metrics", timeout=PATIENCE) as metrics:
        assert b"triagebot_received_total 0.0" in metrics.read()
    process.send_signal(signal.SIGTERM)
    process.communicate(timeout=PATIENCE)
    assert process.returncode == 0


def test_with_the_data_folder_moved_away_both_addresses_say_so(home: dict[str, str], token: str, begin: Begins) -> None:
    process = begin(home | {"TRIAGEBOT_TELEGRAM_TOKEN": token})
    address, folder = address_in(process), Path(home["TRIAGEBOT_DATA_FOLDER"])
    end = time.monotonic() + PATIENCE
    while status_of(f"{address}ready")[0] == 503 and time.monotonic() < end:
        time.sleep(0.1)  # until the platform has answered once
    status, told = status_of(f"{address}ready")
    assert (status, told["ok"]) == (200, True)
    assert {row["what"] for row in told["rows"]} >= {"telegram", "database", "backlog"}
    folder.rename(folder.with_name("elsewhere"))
    for path in ("health", "ready"):
        while status_of(f"{address}{path}")[0] == 200 and time.monotonic() < end:
            time.sleep(0.1)  # what was found stands for a moment
        status, told = status_of(f"{address}{path}")
        assert (status, told["ok"]) == (503, False)
        assert any("moved" in row["said"] for row in told["rows"] if not row["well"])


def status_of(address: str) -> tuple[int, Any]:
    try:
        with urlopen(address, timeout=PATIENCE) as answer:
            return answer.status, json.load(answer)
    except HTTPError as error:
        return error.code, json.load(error)


def test_hanging_up_starts_it_again_with_what_is_new_or_is_refused_with_a_word(
    home: dict[str, str], begin: Begins, tmp_path: Path
) -> None:
    shop = Path(shutil.copytree(built_in_shop(), tmp_path / "shop"))
    process = begin(home | {"TRIAGEBOT_SHOP": str(shop)}, fresh=True)  # starts itself again
    address = address_in(process)
    before = status_of(f"{address}health")[1]["edition"]
    tools = (shop / "tools.yaml").read_text("utf-8")
    (shop / "tools.yaml").write_text(f"{tools}\nno such thing: 1\n", "utf-8")
    process.send_signal(signal.SIGHUP)
    said = until_it_says(process, "no such thing")
    assert any("not started again" in line for line in said)
    assert status_of(f"{address}health")[1]["edition"] == before
    (shop / "tools.yaml").write_text(f"{tools}\n# a word\n", "utf-8")
    process.send_signal(signal.SIGHUP)
    until_it_says(process, "stopped; what waits is on the disk")
    address = address_in(process)
    assert status_of(f"{address}health")[1]["edition"] != before
    process.send_signal(signal.SIGTERM)
    _, log = process.communicate(timeout=PATIENCE)
    assert process.returncode == 0, log


def test_on_a_terminal_hanging_up_ends_it(home: dict[str, str], begin: Begins) -> None:
    ours, theirs = os.openpty()
    try:
        process = begin(home, stdin=Path(os.ttyname(theirs)))
        address_in(process)
        process.send_signal(signal.SIGHUP)
        _, log = process.communicate(timeout=PATIENCE)
    finally:
        os.close(ours)
        os.close(theirs)
    assert process.returncode == 0
    assert "starting again" not in log


def until_it_says(process: "subprocess.Popen[str] | Piped", what: str) -> list[str]:
    assert process.stderr is not None
    said = []
    for line in process.stderr:
        said.append(line)
        if what in line:
            return said
    raise AssertionError(said)


def test_a_port_that_is_taken_is_named(home: dict[str, str]) -> None:
    with socket.create_server(("127.0.0.1", 0)) as taken:
        port = str(taken.getsockname()[1])
        for arguments in ((), ("--check",)):
            done = run(home | {"TRIAGEBOT_WEB_PORT": port}, *arguments)
            assert done.returncode == 1
            assert f"port {port} of 127.0.0.1 cannot be had" in done.stdout + done.stderr


def test_the_check_says_whose_the_token_is(home: dict[str, str], token: str) -> None:
    done = run(home | {"TRIAGEBOT_TELEGRAM_TOKEN": token}, "--check")
    assert done.returncode == 0
    assert f"telegram: the token is that of @bot{token[:9]}_bot" in done.stdout.splitlines()


def test_the_check_says_what_is_wrong_and_shows_no_token(home: dict[str, str]) -> None:
    unknown = fresh_token()
    refused = run(home | {"TRIAGEBOT_TELEGRAM_TOKEN": unknown}, "--check")
    assert refused.returncode == 1
    assert "does not accept the token" in refused.stdout
    away = run(
        home | {"TRIAGEBOT_TELEGRAM_TOKEN": unknown, "TRIAGEBOT_TELEGRAM_SERVER": "http://127.0.0.1:9"}, "--check"
    )
    assert away.returncode == 1
    assert "cannot be reached" in away.stdout
    odd = run(home | {"TRIAGEBOT_TELEGRAM_TOKEN": "123:secret!"}, "--check")
    assert odd.returncode == 1
    assert "telegram_token is not right" in odd.stderr
    missing = run(home, "--check")
    assert missing.returncode == 0
    assert "to answer on Telegram, too" in missing.stdout
    for done in (refused, away, odd, missing):
        assert unknown.split(":")[1] not in done.stdout + done.stderr
        assert "secret!" not in done.stdout + done.stderr


def test_a_token_file_must_be_the_owners_alone(home: dict[str, str], token: str, tmp_path: Path) -> None:
    file = tmp_path / "token"
    file.write_text(f"{token}\n", encoding="utf-8")
    named = home | {"TRIAGEBOT_TELEGRAM_TOKEN_FILE": str(file)}
    file.chmod(0o640)
    assert f"chmod 600 {file}" in run(named, "--check").stderr
    file.chmod(stat.S_IRUSR)
    assert run(named, "--check").returncode == 0
    both = run(named | {"TRIAGEBOT_TELEGRAM_TOKEN": token}, "--check")
    assert "both set" in both.stderr


@pytest.mark.parametrize("form", ["text", "json"])
def test_it_serves_until_it_is_told_to_stop_and_logs_nothing_personal(
    home: dict[str, str], token: str, platform: Telegram, begin: Begins, form: str
) -> None:
    home = home | {"TRIAGEBOT_LOG_LEVEL": "debug", "TRIAGEBOT_LOG_FORMAT": form}
    process = begin(home | {"TRIAGEBOT_TELEGRAM_TOKEN": token})
    ada = platform.add_person("Ada", language="en", bot=token)
    ada.start()
    ada.wait_for(lambda screen: bool(screen.from_bots))
    ada.write("6 sprockets, and a very odd word: xylophone")
    ada.wait_for(lambda screen: len(screen.from_bots) == 2)
    process.send_signal(signal.SIGTERM)
    out, log = process.communicate(timeout=PATIENCE)
    assert process.returncode == 0
    assert out == ""
    assert "telegram: fetching messages" in log
    last = log.splitlines()[-1]
    assert (json.loads(last)["message"] if form == "json" else last).endswith("stopped; what waits is on the disk")
    for private in (token, token.split(":")[1], "xylophone", "Ada", str(ada.id)):
        assert private not in log
    again = begin(home | {"TRIAGEBOT_TELEGRAM_TOKEN": token})
    ada.write("why")
    screen = ada.wait_for(lambda screen: len(screen.from_bots) == 3)
    assert said_back(screen, "6 sprockets")
    again.send_signal(signal.SIGINT)
    again.communicate(timeout=PATIENCE)
    assert again.returncode == 0


def test_a_second_one_in_the_same_folder_does_not_begin(
    home: dict[str, str], token: str, platform: Telegram, begin: Begins
) -> None:
    begin(home | {"TRIAGEBOT_TELEGRAM_TOKEN": token})
    ada = platform.add_person("Ada", bot=token)
    ada.start()
    ada.wait_for(lambda screen: bool(screen.from_bots))
    second = run(home | {"TRIAGEBOT_TELEGRAM_TOKEN": token})
    assert second.returncode == 1
    assert "the delivery is staffed already" in second.stderr


def test_a_dead_link_in_a_note_is_told_at_the_start(home: dict[str, str], begin: Begins, tmp_path: Path) -> None:
    shop = shutil.copytree(built_in_shop(), tmp_path / "shop")
    with (shop / "notes" / "freewheel-2-notch.md").open("a", encoding="utf-8") as note:
        note.write("\nSee [nothing](no-such-note.md).\n")
    there = home | {"TRIAGEBOT_SHOP": str(shop)}
    assert "no-such-note" in run(there, "--check").stdout
    process = begin(there)
    assert process.stderr is not None
    lines = iter(process.stderr.readline, "")
    assert any("shop: " in line and "freewheel-2-notch.md" in line for line in lines)
    process.send_signal(signal.SIGTERM)
    process.communicate(timeout=PATIENCE)
