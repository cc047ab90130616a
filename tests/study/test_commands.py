"""`report` and `replay` as processes: what they print, write and exit with."""

import json
import shutil
from pathlib import Path

import pytest

from tests.commands import everything_in, run
from tests.study.shelf import FOUR_NOTCH, TWELVE, closed, keep, said
from triagebot.shop import LEARNED, built_in_shop
from triagebot.topics import built_in_topic


@pytest.fixture
def data(tmp_path: Path) -> tuple[Path, Path]:
    """A data folder with closed cases, and where its key lies."""
    kinds = ("freewheel-4-notch-24", "freewheel-4-notch-24", "freewheel-4-notch-24", "freewheel-2-notch")
    cases = [closed(said(*FOUR_NOTCH, code=f"AAA-{n:03}", days=n), kind) for n, kind in enumerate(kinds)]
    folder = tmp_path / "data"
    return folder, keep(folder, [*cases, said(*TWELVE, code="AAA-009", days=9)])


@pytest.fixture
def shop(tmp_path: Path) -> Path:
    return Path(shutil.copytree(built_in_shop(), tmp_path / "shop"))


def test_a_report_as_json_and_as_a_page(data: tuple[Path, Path], tmp_path: Path) -> None:
    page = tmp_path / "page.html"
    done = run("report", "--json", "--html", page, data=data[0], TRIAGEBOT_KEY_FILE=str(data[1]))
    later = run("report", "--json", "--since", "2026-03-06", data=data[0], TRIAGEBOT_KEY_FILE=str(data[1]))

    assert (done.returncode, done.stderr) == (0, "")
    row = json.loads(done.stdout)
    assert (row["runs"], row["closed"], row["tally"]["right"], row["tally"]["wrong"]) == (5, 4, 3, 1)
    assert page.read_text(encoding="utf-8").startswith("<!doctype html>")
    assert json.loads(later.stdout)["runs"] == 1
    assert run("report", "--since", "yesterday", data=data[0], TRIAGEBOT_KEY_FILE=str(data[1])).returncode == 2


def test_applying_shows_the_difference_and_asks(data: tuple[Path, Path], shop: Path) -> None:
    before = everything_in(shop)
    command = ("report", "--apply", "--shop", shop)
    refused = run(*command, said="n\n", data=data[0], TRIAGEBOT_KEY_FILE=str(data[1]))
    assert refused.returncode == 0
    assert "prior of freewheel-4-notch-24" in refused.stderr
    assert "nothing was written" in refused.stderr
    assert everything_in(shop) == before

    done = run(*command, said="y\n", data=data[0], TRIAGEBOT_KEY_FILE=str(data[1]))
    assert done.returncode == 0, done.stderr
    assert set(everything_in(shop)) - set(before) == {LEARNED}
    assert run("check", "--shop", shop).returncode == 0
    again = run(*command, "--yes", data=data[0], TRIAGEBOT_KEY_FILE=str(data[1]))
    assert "nothing to apply" in again.stderr
    assert set(everything_in(shop)) - set(before) == {LEARNED}


def test_the_example_shop_is_nobodys_to_write_into(data: tuple[Path, Path]) -> None:
    done = run("report", "--apply", "--yes", data=data[0], TRIAGEBOT_KEY_FILE=str(data[1]))

    assert done.returncode == 2
    assert "--shop" in done.stderr
    assert not (built_in_shop() / LEARNED).exists()


@pytest.mark.parametrize("command", [("report",), ("replay", "--shop", built_in_shop())])
def test_where_nothing_is_kept_nothing_is_made(command: tuple[str | Path, ...], tmp_path: Path) -> None:
    done = run(*command, data=tmp_path / "nowhere")

    assert done.returncode == 2
    assert "no cases are kept in" in done.stderr
    assert list(tmp_path.iterdir()) == []


def test_a_replay_says_by_its_exit_status_whether_anything_changes(data: tuple[Path, Path], tmp_path: Path) -> None:
    topic = Path(shutil.copytree(built_in_topic(), tmp_path / "topic"))
    key = {"TRIAGEBOT_KEY_FILE": str(data[1])}
    same = run("replay", "--topic", topic, data=data[0], **key)
    assert (same.returncode, same.stderr) == (0, "")

    texts = topic / "text" / "en.ftl"
    written = texts.read_text(encoding="utf-8")
    texts.write_text(written.replace("caution-teeth-cut = ", "caution-teeth-cut = Mind: "), encoding="utf-8")
    other = run("replay", "--topic", topic, "--json", data=data[0], **key)
    assert other.returncode == 3
    (change,) = json.loads(other.stdout)["changes"]
    assert change["by"] == ["text/en.ftl: caution-teeth-cut"]
    assert len(change["open"] + change["other"]) == 5

    assert run("replay", data=data[0], **key).returncode == 2
    (topic / "flow.yaml").write_text("topic: x\n", encoding="utf-8")
    broken = run("replay", "--topic", topic, data=data[0], **key)
    assert broken.returncode == 1
    assert "flow.yaml" in broken.stderr


def test_what_was_said_at_the_terminal_is_reported_and_replayed(tmp_path: Path) -> None:
    folder, key = tmp_path / "data", str(tmp_path / "key")
    said = "it stays still\n4 notches\n24 mm by calliper\n6 sprockets\n"
    assert run("talk", said=said, data=folder, TRIAGEBOT_KEY_FILE=key).returncode == 0

    report = run("report", "--json", data=folder, TRIAGEBOT_KEY_FILE=key)
    assert (report.returncode, report.stderr) == (0, "")
    assert json.loads(report.stdout)["runs"] == 1
    same = run("replay", "--topic", built_in_topic(), data=folder, TRIAGEBOT_KEY_FILE=key)
    assert (same.returncode, same.stderr) == (0, "")


def test_people_who_speak_are_counted_beside_the_same_people_by_readings() -> None:
    by_readings = json.loads(run("simulate", "--people", "8", "--seed", "3", "--json").stdout)
    done = run("simulate", "--people", "8", "--seed", "3", "--spoken", "--show", "--json")

    assert (done.returncode, done.stderr) == (0, "")
    report = json.loads(done.stdout)
    shown = report.pop("shown")
    assert set(report) == {"planner", "chart", "spoken"}
    assert {name: report[name] for name in by_readings} == by_readings
    assert set(report["spoken"]) == {*report["planner"], "misread", "asked_back", "messages"}
    spoken = report["spoken"]
    assert len(shown) == round(spoken["misread"] * spoken["messages"] * 8)
    assert all(set(row) == {"open", "text", "meant", "taken"} for row in shown)
    table = run("simulate", "--people", "8", "--seed", "3", "--spoken", "--delivered").stdout.splitlines()
    assert table[0].split() == ["planner", "chart", "spoken"]
    assert table[-1].split() == ["messages", f"{spoken['messages']:.4f}"]


@pytest.mark.parametrize("flag", ["--delivered", "--show"])
def test_what_goes_with_speaking_needs_people_who_speak(flag: str) -> None:
    done = run("simulate", "--people", "1", flag)

    assert done.returncode == 2
    assert "--spoken" in done.stderr
