"""The project away from this checkout: as a wheel, and set up on a machine that has nothing."""

import json
import os
import re
import shutil
import subprocess
import sys
import zipfile
from pathlib import Path
from subprocess import DEVNULL, PIPE

import pytest
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

import triagebot
from tests.test_house import ROOT, files, needed_by


def run(*command: str | Path, cwd: Path, **environment: str) -> subprocess.CompletedProcess[str]:
    kept = {name: value for name, value in os.environ.items() if not name.startswith(("TRIAGEBOT_", "PYTHON", "COV_"))}
    return subprocess.run(
        [str(part) for part in command],
        cwd=cwd,
        env=kept | environment,
        stdin=DEVNULL,
        capture_output=True,
        text=True,
        check=False,
        timeout=600,
    )


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("wheel")
    built = run(sys.executable, "-m", "hatchling", "build", "-t", "wheel", "-d", folder, cwd=ROOT)
    assert built.returncode == 0, built.stderr
    (made,) = folder.glob("*.whl")
    return made


def test_the_wheel_carries_every_file_of_the_package_the_topics_and_the_example_shop(wheel: Path) -> None:
    inside = {"triagebot": "triagebot", "flows": "triagebot/_data/flows"}
    inside["deploy/example-shop"] = "triagebot/_data/example-shop"
    wanted = {
        f"{there}/{path.relative_to(ROOT / here).as_posix()}"
        for here, there in inside.items()
        for path in files()
        if path.is_relative_to(ROOT / here)
    }
    assert any(name.startswith("triagebot/_data/example-shop/") for name in wanted)
    with zipfile.ZipFile(wheel) as opened:
        carried = {name for name in opened.namelist() if ".dist-info/" not in name}
    assert carried == wanted


@pytest.mark.slow
def test_the_wheel_works_outside_the_checkout(wheel: Path, tmp_path: Path) -> None:
    """Installed alone; the libraries are those of the present environment, so nothing is fetched."""
    place, elsewhere = tmp_path / "venv", tmp_path / "elsewhere"
    elsewhere.mkdir()
    assert run(sys.executable, "-m", "venv", "--without-pip", place, cwd=tmp_path).returncode == 0
    python = place / "bin" / "python"
    purelib = "import sysconfig; print(sysconfig.get_path('purelib'))"
    here, there = (Path(run(each, "-c", purelib, cwd=elsewhere).stdout.strip()) for each in (sys.executable, python))
    # A line in a .pth file adds that folder, but not what the .pth files in that folder add: so not the checkout.
    (there / "libraries.pth").write_text(f"{here}\n", encoding="utf-8")
    install: list[str | Path] = [
        sys.executable,
        "-m",
        "pip",
        "--python",
        python,
        "install",
        "--no-deps",
        "--no-index",
        "--quiet",
    ]
    installed = run(*install, wheel, cwd=elsewhere, PIP_DISABLE_PIP_VERSION_CHECK="1")
    assert installed.returncode == 0, installed.stderr

    home = {"HOME": str(elsewhere)} | {f"XDG_{kind}_HOME": str(elsewhere / kind) for kind in ("DATA", "CONFIG")}
    show = "import sys, triagebot; print(triagebot.__file__, *sys.path, sep='\\n')"
    where = run(python, "-c", show, cwd=elsewhere, **home)
    found, *path = where.stdout.splitlines()
    assert Path(found).is_relative_to(there)
    assert str(ROOT) not in path

    command = place / "bin" / "triagebot"
    checked = run(command, "check", cwd=elsewhere, **home)
    assert checked.returncode == 0, checked.stdout + checked.stderr
    message = "the wheel is out, it does not turn, it has four notches and is 24.0 mm by calliper"
    asked = run(command, "ask", message, "--json", cwd=elsewhere, **home)
    assert asked.returncode == 0, asked.stderr
    outcome = json.loads(asked.stdout)
    assert outcome["candidates"][0]["fastening"] == "freewheel-4-notch-24"
    assert sum(candidate["probability"] for candidate in outcome["candidates"]) == pytest.approx(1, abs=1e-6)
    assert {"spin", "fitting", "count", "size"} <= {fact["question"] for fact in outcome["understood"]}


def fresh_house(folder: Path) -> Path:
    """A copy of the project as a newcomer gets it, in a folder with spaces in its name."""
    house = folder / "a fresh house"
    for path in files():
        (house / path.relative_to(ROOT)).parent.mkdir(parents=True, exist_ok=True)
        shutil.copy(path, house / path.relative_to(ROOT))
    return house


def test_without_a_python_that_is_new_enough_it_says_so_and_leaves_no_trace(tmp_path: Path) -> None:
    house, programs = fresh_house(tmp_path), tmp_path / "programs"
    programs.mkdir()
    (programs / "python3").write_text("#!/bin/sh\nexit 1\n", encoding="utf-8")
    (programs / "python3").chmod(0o755)
    before = sorted(house.rglob("*"))
    outcome = run(shutil.which("bash") or "bash", house / "deploy" / "run.sh", cwd=tmp_path, PATH=str(programs))
    assert outcome.returncode == 1
    assert outcome.stdout == ""
    assert "needs Python 3.11 or newer" in outcome.stderr
    assert len(outcome.stderr.splitlines()) == 1
    assert sorted(house.rglob("*")) == before


def only(names: set[str], requirements: str) -> str:
    """The pins of these alone, with their hashes."""
    blocks = re.split(r"\n(?=\S)", requirements)
    kept = [block for block in blocks if canonicalize_name(block.partition("==")[0].strip()) in names]
    assert len(kept) == len(names)
    return "\n".join(kept) + "\n"


@pytest.mark.slow
@pytest.mark.parametrize("whole", [False, pytest.param(True, marks=pytest.mark.campaign)], ids=["some", "all"])
def test_a_fresh_machine_sets_itself_up_once(tmp_path: Path, whole: bool) -> None:
    """Two starts at once, after one that was cut off; both leave the program's input alone. Then one more.

    To unpack all libraries takes most of a minute. An ordinary run takes those with which the command begins, and
    `test_house` reads that the list has the others; `-m campaign` takes all of them.
    """
    house = fresh_house(tmp_path)
    if not whole:
        listed = house / "deploy" / "requirements.txt"
        least = needed_by([Requirement("cyclopts"), Requirement("hatchling")])
        listed.write_text(only(least, listed.read_text(encoding="utf-8")), encoding="utf-8")
    half_made = house / ".venv" / "lib" / "half-made"
    half_made.mkdir(parents=True)
    start = ["bash", str(house / "deploy" / "run.sh"), "--version"]
    first = ["bash", "-c", '"$@" && cat', "-", *start]
    # What was fetched to set up this checkout is taken from there, and not compiled: little is started here.
    given = {name: value for name, value in os.environ.items() if name != "XDG_CACHE_HOME"} | {"PIP_NO_COMPILE": "1"}
    both = [
        subprocess.Popen(first, cwd=tmp_path, env=given, stdin=PIPE, stdout=PIPE, stderr=PIPE, text=True) for _ in "12"
    ]
    for process in both:
        assert process.stdin is not None
        process.stdin.write("left over")
        process.stdin.flush()
    said = [process.communicate(timeout=600) for process in both]
    if any("needs the network" in errors for _, errors in said) and not os.environ.get("CI"):
        pytest.skip("the network cannot be reached, and setting up needs it once")
    assert [process.returncode for process in both] == [0, 0], said
    assert [words for words, _ in said] == [f"{triagebot.__version__}\nleft over"] * 2, said
    assert sum(len(errors.splitlines()) for _, errors in said) == 1, said
    assert not half_made.exists()

    stamp = house / ".venv" / "deploy.stamp"
    written = stamp.stat().st_mtime_ns
    again = run(*start, cwd=tmp_path)
    assert (again.returncode, again.stderr, stamp.stat().st_mtime_ns) == (0, "", written)
    direct = run(house / ".venv" / "bin" / "triagebot", "--version", cwd=tmp_path)
    assert direct.stdout == again.stdout
