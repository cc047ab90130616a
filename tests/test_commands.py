"""The real commands as processes (contracts C1 to C4, C6 to C8): what they print, exit with, and survive."""

import json
import os
import pty
import shutil
import signal
import subprocess
import threading
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from tests.commands import COMMAND, PATIENCE, environment, everything_in, line, rows, run
from triagebot.shop import built_in_shop
from triagebot.topics import built_in_topic

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
    assert done.stdout.decode().startswith("The middle stays still, then.")


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


# --- a topic or a shop that cannot be used --------------------------------------------------------------------------

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


# --- talking and being killed ---------------------------------------------------------------------------------------


class Talking:
    """A `talk --lines` process that answers one line after another, until it is killed."""

    def __init__(self, data: Path, *more: str) -> None:
        self.process = subprocess.Popen(
            [*COMMAND, "talk", "--lines", *more],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            env=environment(data),
            text=True,
            encoding="utf-8",
        )

    def says(self, raw: str) -> dict[str, Any]:
        assert self.process.stdin is not None
        assert self.process.stdout is not None
        self.process.stdin.write(raw)
        self.process.stdin.flush()
        answer = self.process.stdout.readline()
        assert answer, self.process.stderr.read() if self.process.stderr else ""
        row: dict[str, Any] = json.loads(answer)
        return row

    def dies(self) -> None:
        self.process.send_signal(signal.SIGKILL)
        with self.process:
            pass


@pytest.fixture
def data(tmp_path: Path) -> Path:
    return tmp_path / "data"


@pytest.fixture
def processes() -> Iterator[list[Talking]]:
    begun: list[Talking] = []
    yield begun
    for talking in begun:
        if talking.process.poll() is None:
            talking.dies()


def test_lines_killed_and_taken_up_again(data: Path, processes: list[Talking]) -> None:
    said = ["the wheel is out", "the middle stays still", "12 splines", "2.3 mm", "yes"]
    last: dict[str, Any] = {}
    for number, text in enumerate(said):
        talking = Talking(data)
        processes.append(talking)
        if last:
            again = talking.says(line("p1", said[number - 1], id=f"m{number - 1}"))
            assert (again["case"], again["state"], again["question"]) == (last["case"], last["state"], last["question"])
            assert again["candidates"] == last["candidates"]
        last = talking.says(line("p1", text, id=f"m{number}"))
        talking.dies()
    assert last["candidates"][0]["probability"] > 0


def test_talk_killed_and_taken_up_again(data: Path) -> None:
    process = subprocess.Popen(
        [*COMMAND, "talk"],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        env=environment(data),
        text=True,
        encoding="utf-8",
    )
    assert process.stdin is not None
    assert process.stdout is not None
    process.stdin.write("the middle stays still, 12 splines\n")
    process.stdin.flush()
    shown = []
    for each in process.stdout:
        shown.append(each)
        if "12 splines" in "".join(shown) and each.startswith("  ("):
            break
    process.send_signal(signal.SIGKILL)
    with process:
        pass
    again = run("talk", data=data)
    assert again.returncode == 0
    assert "the middle stays still" in " ".join(again.stdout.split())
    assert shown[-1].strip() in again.stdout
    reasons = run("talk", said="why\n", data=data).stdout
    assert "12" in reasons


def test_talk_through_a_pipe_to_the_end(data: Path) -> None:
    done = run("talk", said="the middle stays still\n12 splines\nblub\nperson\nstop\nmore", data=data)
    assert done.returncode == 0
    assert done.stderr == ""
    assert done.stdout.rstrip().splitlines()[-1].startswith("Goodbye")
    assert "> more" not in done.stdout


def test_bytes_that_are_no_text(data: Path) -> None:
    raw = b'\xff\xfe\n{"person": "p1", "text": "it stays still \xff"}\r\n\r\n{"person": "p1", "text": "12 splines"}'
    done = run("talk", "--lines", said=raw, data=data)
    assert done.returncode == 0
    error, first, second = rows(done.stdout)
    assert list(error) == ["error"]
    assert first["person"] == second["person"] == "p1"
    assert first["candidates"] != second["candidates"]
    assert run("talk", said=b"it stays \xff still\n\xfe\n12 splines\n", data=data).returncode == 0


def test_a_huge_line(data: Path) -> None:
    huge = '{"person": "p1", "text": "' + "x" * 3_000_000 + '"}\n'
    done = run("talk", "--lines", said=huge + line("p1", "12 splines"), data=data)
    error, answer = rows(done.stdout)
    assert list(error) == ["error"]
    assert answer["status"] == "question"


def test_memory_keeps_nothing(data: Path) -> None:
    assert run("talk", "--memory", said="it stays still\n", data=data).returncode == 0
    assert not data.exists()


def together(talkings: list[Talking], scripts: list[list[str]]) -> list[list[dict[str, Any]]]:
    """Lets several processes answer at the same time."""
    answers: list[list[dict[str, Any]]] = [[] for _ in talkings]

    def hold(place: int) -> None:
        answers[place].extend(talkings[place].says(raw) for raw in scripts[place])

    threads = [threading.Thread(target=hold, args=(place,)) for place in range(len(talkings))]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(PATIENCE)
    return answers


def test_two_processes_two_people(data: Path, processes: list[Talking]) -> None:
    processes += [Talking(data), Talking(data)]
    texts = ["it stays still", "12 splines", "2.3 mm", "yes", "9 sprockets", "a plain hub", "back", "why"]
    first, second = together(processes, [[line("p1", text) for text in texts], [line("p2", text) for text in texts]])
    assert [row["question"] for row in first] == [row["question"] for row in second]
    assert first[-1]["candidates"] == second[-1]["candidates"]
    assert len({row["case"] for row in first}) == len({row["case"] for row in second}) == 1
    assert first[0]["case"] != second[0]["case"]


def test_two_processes_one_person(data: Path, processes: list[Talking]) -> None:
    processes += [Talking(data), Talking(data)]
    mine = ["it stays still", "9 sprockets", "a plain hub", "no torque is stamped on it"]
    theirs = ["it has splines", "23 mm by calliper", "no wire ring", "it coasts"]
    answers = together(processes, [[line("p1", text) for text in mine], [line("p1", text) for text in theirs]])
    assert all("error" not in row for each in answers for row in each)
    assert len({row["case"] for each in answers for row in each}) == 1
    words = processes[0].says(line("p1", "why"))["replies"][0]
    for part in ("stays still", "sprockets", "plain", "torque", "splines", "23", "wire ring", "roll"):
        assert part in words, part


# --- the data folder ------------------------------------------------------------------------------------------------


def test_in_a_terminal_it_talks(data: Path) -> None:
    """Without arguments in a terminal it greets, and goes on until the person stops or closes the input."""
    for ending in (b"stop\n", b"\x04"):
        ours, theirs = pty.openpty()
        process = subprocess.Popen(
            COMMAND, stdin=theirs, stdout=theirs, stderr=theirs, env=environment(data, TERM="dumb"), close_fds=True
        )
        os.close(theirs)
        shown, asked, answers = b"", 0, [b"the middle stays still, 12 splines\n", ending]
        while True:
            try:
                shown += os.read(ours, 65536)
            except OSError:  # the other side is closed
                break
            if answers and shown.count(b"\n> ") > asked:
                asked = shown.count(b"\n> ")
                os.write(ours, answers.pop(0))
        assert process.wait(PATIENCE) == 0
        os.close(ours)
        assert b"Traceback" not in shown
        assert b"So: 12 splines" in shown or b"already" in shown  # what is known from the first time


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
