"""What a command cannot work with stops it before anything is written: a topic, a shop, a data folder, settings."""

import os
import shutil
import subprocess
from pathlib import Path

import pytest

from tests.commands import everything_in, line, rows, run
from triagebot.shop import built_in_shop
from triagebot.topics import built_in_topic


@pytest.fixture
def data(tmp_path: Path) -> Path:
    return tmp_path / "data"


TOPIC_FAULTS = {
    "wrong type": ("catalogue.yaml", "handle-mm: 300", "handle-mm: long"),
    "unknown key": ("flow.yaml", "start: begin\n", "start: begin\nfinish: never\n"),
    "duplicate key": ("flow.yaml", "start: begin\n", "start: begin\nstart: begin\n"),
    "missing text": ("text/en.ftl", "question-spin =", "question-spun ="),
    "unreachable state": ("flow.yaml", "  - {id: confirm}\n", "  - {id: confirm}\n  - {id: limbo}\n"),
    "no YAML": ("gauges.yaml", "gauges:\n", "gauges: [\n"),
    "no UTF-8": ("sources.yaml", "", ""),
}
SHOP_FAULTS = {
    "wrong type": ("shop.yaml", "name:", "name: [1]\nnam:"),
    "unknown key": ("tools.yaml", "tools:", "tols: []\ntools:"),
    "duplicate key": ("shop.yaml", "name:", "name: Twice\nname:"),
    "no YAML": ("makers.yaml", "", "]["),
}


@pytest.fixture
def topic(tmp_path: Path) -> Path:
    return Path(shutil.copytree(built_in_topic(), tmp_path / "topic"))


@pytest.fixture
def shop(tmp_path: Path) -> Path:
    return Path(shutil.copytree(built_in_shop(), tmp_path / "shop"))


def spoil(folder: Path, file: str, old: str, new: str) -> Path:
    path = folder / file
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new, 1), encoding="utf-8")
    if not old and not new:
        path.write_bytes(b"\xff" + path.read_bytes())
    return path


def refused(arguments: tuple[str | Path, ...], folder: Path, data: Path) -> str:
    """A command that must not start: exit 1, and nothing on disk but what was there; gives what it said."""
    before = everything_in(folder)
    done = run(*arguments, data=data)
    assert done.returncode == 1
    assert everything_in(folder) == before
    assert not data.exists()
    return done.stdout + done.stderr


@pytest.mark.parametrize("name", TOPIC_FAULTS)
def test_a_topic_that_cannot_be_used_stops_the_start(topic: Path, tmp_path: Path, name: str) -> None:
    path = spoil(topic, *TOPIC_FAULTS[name])
    for arguments in (("check",), ("ask", "it stays still"), ("talk",)):
        told = refused((*arguments, "--topic", topic), topic, tmp_path / "data")
        places = [each for each in told.splitlines() if each.startswith(f"{path}:")]
        assert places, (arguments, told)
        assert all(part.isdecimal() for part in places[0].removeprefix(f"{path}:").split(":")[:2])


@pytest.mark.parametrize("name", SHOP_FAULTS)
def test_a_shop_that_cannot_be_used_stops_the_start(shop: Path, tmp_path: Path, name: str) -> None:
    path = spoil(shop, *SHOP_FAULTS[name])
    for arguments in (("check",), ("ask", "it stays still"), ("talk",)):
        told = refused((*arguments, "--shop", shop), shop, tmp_path / "data")
        assert any(each.startswith(f"{path}:") for each in told.splitlines()), (arguments, told)


def test_every_problem_is_told_in_one_go(topic: Path, shop: Path, tmp_path: Path) -> None:
    paths = [
        spoil(topic, *TOPIC_FAULTS["wrong type"]),
        spoil(topic, *TOPIC_FAULTS["unknown key"]),
        spoil(shop, *SHOP_FAULTS["unknown key"]),
    ]
    for command in (("check",), ("ask", "hello"), ("talk",)):
        told = refused((*command, "--topic", topic, "--shop", shop), topic, tmp_path / "data")
        for path in paths:
            assert str(path) in told, command


def test_a_folder_that_is_not_there(tmp_path: Path) -> None:
    for option in ("--topic", "--shop"):
        done = run("ask", "hello", option, tmp_path / "nowhere")
        assert done.returncode == 1
        assert str(tmp_path / "nowhere") in done.stderr


def complains(done: "subprocess.CompletedProcess[str]", *told: str) -> None:
    """One clear line, exit 1."""
    assert done.returncode == 1
    assert len(done.stderr.splitlines()) == 1, done.stderr
    for part in told:
        assert part in done.stderr


def test_a_data_folder_that_is_a_file(tmp_path: Path) -> None:
    (tmp_path / "data").write_text("mine")
    complains(run("talk", said="hi\n", data=tmp_path / "data"), str(tmp_path / "data"))
    assert (tmp_path / "data").read_text() == "mine"


def test_a_read_only_data_folder(tmp_path: Path) -> None:
    """Root may write anywhere, so as root this is tried on a file system that refuses."""
    data = tmp_path / "data"
    data.mkdir()
    if os.geteuid():
        data.chmod(0o500)
        complains(run("talk", said="hi\n", data=data), str(data), "cannot be written")
        data.chmod(0o700)
        return
    mounted = ["unshare", "--mount", "sh", "-c", 'mount -t tmpfs -o ro tmpfs "$0" && exec "$@"', str(data)]
    if subprocess.run([*mounted, "true"], capture_output=True, check=False).returncode:
        pytest.skip("this user may not mount")
    complains(run("talk", said="hi\n", data=data, wrapped_in=mounted), str(data), "cannot be written")


def test_a_full_disk(tmp_path: Path) -> None:
    disk = tmp_path / "disk"
    disk.mkdir()
    mounted = ["unshare", "--mount", "sh", "-c", 'mount -t tmpfs -o size=700k tmpfs "$0" && exec "$@"', str(disk)]
    if subprocess.run([*mounted, "true"], capture_output=True, check=False).returncode:
        pytest.skip("this user may not mount")
    much = "".join(line("p1", f"it stays still, {n} sprockets, " + "so it is " * 200) for n in range(2, 150))
    done = run("talk", "--lines", said=much, data=disk / "data", wrapped_in=mounted)
    answers = rows(done.stdout)
    assert done.returncode == 0
    assert len(answers) == 148
    failed = [row for row in answers if "error" in row]
    assert failed
    assert all("disk is full" in row["error"] for row in failed)
    assert all(row["person"] == "p1" for row in answers)
    done = run("talk", said="it stays still\n" + "so it is\n" * 2000, data=disk / "data", wrapped_in=mounted)
    complains(done, "disk is full")


def test_a_database_of_a_newer_version(data: Path) -> None:
    import sqlite3

    assert run("talk", "--lines", said=line("p1", "it stays still"), data=data).returncode == 0
    database = next(data.glob("*.sqlite3"))
    with sqlite3.connect(database) as connection:
        connection.execute("UPDATE alembic_version SET version_num = '9999'")
    connection.close()
    before = database.read_bytes()
    complains(run("talk", said="hi\n", data=data), str(database), "newer", "upgrade")
    complains(run("talk", "--lines", said=line("p1", "hi"), data=data), "newer")
    assert database.read_bytes() == before


def test_settings_that_cannot_be_used(tmp_path: Path) -> None:
    done = run("talk", said="hi\n", data=tmp_path / "data", TRIAGEBOT_LANGAUGE="en", TRIAGEBOT_TOPIC="/nowhere")
    assert done.returncode == 1
    assert "TRIAGEBOT_LANGAUGE" in done.stderr
    assert "TRIAGEBOT_TOPIC" in done.stderr
    assert len(done.stderr.splitlines()) == 2
    assert not (tmp_path / "data").exists()
