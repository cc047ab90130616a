"""The house itself: what lies where, who may import whom, what is installed, and that it works away from home.

Nothing here knows what triagebot does; `tests/` has a folder for every room that does.
"""

import ast
import json
import os
import re
import shutil
import subprocess
import sys
import tomllib
import zipfile
from collections.abc import Iterator
from functools import cache
from graphlib import CycleError, TopologicalSorter
from importlib.metadata import packages_distributions
from pathlib import Path
from subprocess import DEVNULL, PIPE

import pytest
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

import triagebot

ROOT = Path(__file__).parents[1]
PACKAGE = ROOT / "triagebot"
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]

TOP_LEVEL = {
    *(".ci", ".gitattributes", ".gitignore", "DEVELOPERS.md", "LICENSE", "README.md", "pyproject.toml"),
    *("deploy", "flows", "tests", "triagebot"),
}

# From the ground up: a room may import the rooms of the rows above its own, never its own row's neighbours.
FLOORS = (
    {"errors", "rates"},
    {"identify"},
    {"topics"},
    {"shop", "pictures"},
    {"gauge"},
    {"conversation"},
    {"store"},
    {"messages"},
    {"cases"},
    {"counter"},
    {"helping"},
    {"handover"},
    {"turns"},
    {"delivery"},
    {"channels", "pages", "study"},
    {"serving", "loading"},
    {"commands"},
    {"cli"},
    {"__main__"},
)
FLOOR = {room: floor for floor, rooms in enumerate(FLOORS) for room in rooms}
# Modules that stand beside the stairs: what each may import, and who may import it.
BESIDE = {
    "settings": ({"errors"}, {"cli", "commands", "loading", "serving", "channels", "pages", "testing"}),
    "testing": (set(FLOOR) - {"cli", "__main__"} | {"settings"}, {"cli", "channels"}),
}

MOST_LINES = 400
NOT_IMPORTED = {
    "tzdata": "read by the standard library's zoneinfo, where the system has no time zones of its own",
    "python-multipart": "starlette parses forms with it",
}

# The extra `train` of pyproject.toml: scikit-learn and scipy take up about 200 MB, and only teaching the reader needs
# them. A shop answers its customers with what was learned and installs neither, so no other file may import them, and
# this one only inside functions.
TRAINING = PACKAGE / "study" / "train_reader.py"

ONLY_WHERE = r"[a-z_]+ [!=]= '\w[\w.*]*'"
PIN = re.compile(rf"^(?P<name>[a-z0-9-]+)==(?P<version>[0-9][0-9a-z.]*)(?: ; {ONLY_WHERE}(?: and {ONLY_WHERE})*)? \\$")
HASH = re.compile(r"^    --hash=sha256:[0-9a-f]{64}(?P<more> \\)?$")


@cache
def files() -> tuple[Path, ...]:
    """Every file that is, or is about to be, part of the project."""
    if not (ROOT / ".git").exists():
        pytest.skip("this is no checkout, so it cannot be told which files belong to the project")
    command = ["git", "ls-files", "-z", "--cached", "--others", "--exclude-standard"]
    listed = subprocess.run(command, cwd=ROOT, capture_output=True, check=True)
    paths = (ROOT / name for name in listed.stdout.decode().split("\0") if name)
    return tuple(sorted(path for path in paths if path.is_file()))


@cache
def modules(folder: Path) -> tuple[tuple[Path, ast.Module], ...]:
    return tuple((path, ast.parse(path.read_bytes(), str(path))) for path in sorted(folder.rglob("*.py")))


def imported(path: Path, tree: ast.Module) -> Iterator[tuple[int, str]]:
    """Line and dotted name of everything imported; `from a import b` gives a.b, since b may be a module."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            yield from ((node.lineno, alias.name) for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            near = path.relative_to(ROOT).parts[: -node.level] if node.level else ()
            start = ".".join((*near, node.module) if node.module else near)
            yield from ((node.lineno, f"{start}.{alias.name}") for alias in node.names)


def room_of(path: Path) -> str:
    return path.relative_to(PACKAGE).parts[0].removesuffix(".py")


def rooms_imported(path: Path, tree: ast.Module) -> Iterator[tuple[int, str]]:
    for line, name in imported(path, tree):
        parts = name.split(".")
        if parts[0] == "triagebot" and len(parts) > 1 and parts[1] != "__version__":
            yield line, parts[1]


providers = cache(packages_distributions)


def uses(folder: Path) -> Iterator[tuple[str, Path, int]]:
    """Every import of a package from elsewhere by the code in `folder`: the package, the file and the line."""
    for path, tree in modules(folder):
        for line, name in imported(path, tree):
            top = name.split(".")[0]
            if top in sys.stdlib_module_names or top in {"triagebot", "tests"}:
                continue
            given_by = {canonicalize_name(provider) for provider in providers().get(top, [top])}
            if len(given_by) > 1:  # a namespace that several packages share names them by its second part
                given_by &= {canonicalize_name(".".join(name.split(".")[:2]))}
            yield from ((provider, path, line) for provider in given_by)


def distributions(folder: Path) -> dict[str, str]:
    """The packages from elsewhere that the code in `folder` imports, each with a place where it does."""
    return {provider: f"{path.relative_to(ROOT)}:{line}" for provider, path, line in uses(folder)}


def requirements(entries: list[str]) -> dict[str, Requirement]:
    return {canonicalize_name(requirement.name): requirement for requirement in map(Requirement, entries)}


def pins(kind: str) -> dict[str, str]:
    lines = (ROOT / kind / "requirements.txt").read_text(encoding="utf-8").splitlines()
    return {match["name"]: match["version"] for match in map(PIN.match, lines) if match}


# What lies where


def test_the_top_level_holds_only_what_was_agreed() -> None:
    assert {path.relative_to(ROOT).parts[0] for path in files()} <= TOP_LEVEL


def test_ci_runs_what_people_run() -> None:
    run = ROOT / ".ci" / "run"
    assert os.access(run, os.X_OK)
    assert "bash tests/run.sh" in run.read_text(encoding="utf-8")


def test_every_room_has_a_door() -> None:
    for door in (path / "__init__.py" for path in PACKAGE.iterdir() if any(path.glob("*.py"))):
        named = re.search(r"^__all__\b", door.read_text(encoding="utf-8"), re.MULTILINE)
        assert named, f"{door.relative_to(ROOT)} does not say what others may use"


def test_no_file_of_code_is_too_long_to_hold_in_mind() -> None:
    lengths = {path: len(path.read_bytes().splitlines()) for path in PACKAGE.rglob("*.py")}
    assert {str(path.relative_to(ROOT)): n for path, n in lengths.items() if n >= MOST_LINES} == {}


def test_files_name_no_registry_and_no_folder_of_one_machine() -> None:
    hosts = r"pypi\.org|pythonhosted\.org|npmjs\.(?:org|com)|crates\.io|deb\.debian\.org|golang\.org"
    folders = r"(?<![\w.~}-])/(?:work|root|home|Users)/\w"
    odd = re.compile(f"{hosts}|{folders}")
    found = []
    for path in files():
        text = path.read_text(encoding="utf-8", errors="replace")
        found += [f"{path.relative_to(ROOT)}: {match[0]}" for match in odd.finditer(text)]
    assert found == []


# Who may import whom


def test_imports_point_downwards() -> None:
    wrong = []
    for path, tree in modules(PACKAGE):
        room = room_of(path)
        if room == "__init__":
            allowed: set[str] = set()
        elif room in BESIDE:
            allowed = BESIDE[room][0]
        else:
            assert room in FLOOR, f"{room} has no floor yet: give it one here"
            allowed = {other for other in FLOOR if FLOOR[other] < FLOOR[room]}
            allowed |= {other for other, (_, users) in BESIDE.items() if room in users}
        wrong += [
            f"{path.relative_to(ROOT)}:{line} imports {other}"
            for line, other in rooms_imported(path, tree)
            if other not in allowed | {room}
        ]
    assert wrong == []


def test_no_imports_go_in_circles() -> None:
    """Not within a room either, and not for the sake of types: what two files need of each other has a third home."""
    names = {
        path: ".".join(path.relative_to(ROOT).with_suffix("").parts).removesuffix(".__init__")
        for path in PACKAGE.rglob("*.py")
    }
    known = set(names.values())
    needs = {
        names[path]: {
            found for _, name in imported(path, tree) if (found := name if name in known else name.rpartition(".")[0])
        }
        & known - {names[path]}
        for path, tree in modules(PACKAGE)
    }
    try:
        TopologicalSorter(needs).prepare()
    except CycleError as error:
        pytest.fail(" -> ".join(reversed(error.args[1])))


def test_identify_needs_numbers_and_nothing_else() -> None:
    wrong = [
        f"{path.relative_to(ROOT)}:{line} imports {name}"
        for path, tree in modules(PACKAGE / "identify")
        for line, name in imported(path, tree)
        if not name.startswith(("numpy", "triagebot.identify")) and name.split(".")[0] not in sys.stdlib_module_names
    ]
    assert wrong == []


def test_nobody_takes_the_plain_text_of_a_reply_apart() -> None:
    """What is to be shown, shared or left out of a reply is chosen by block; its plain text is only handed on whole."""
    wrong = []
    for path, tree in modules(PACKAGE):
        rendering = {"plain", "plain_of"} & {
            alias.asname or alias.name
            for node in ast.walk(tree)
            if isinstance(node, ast.ImportFrom) and str(node.module).startswith("triagebot.conversation")
            for alias in node.names
        }
        parents = {child: node for node in ast.walk(tree) for child in ast.iter_child_nodes(node)}
        rendered = [
            node
            for node in ast.walk(tree)
            if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id in rendering
        ]
        kept = {
            target.id
            for node in rendered
            if isinstance(assigned := parents[node], ast.Assign | ast.NamedExpr | ast.AnnAssign)
            for target in ast.walk(assigned.targets[0] if isinstance(assigned, ast.Assign) else assigned.target)
            if isinstance(target, ast.Name)
        }
        again = [node for node in ast.walk(tree) if isinstance(node, ast.Name) and node.id in kept]
        taken_apart = ast.Attribute | ast.Subscript | ast.BinOp | ast.Compare | ast.FormattedValue
        wrong += [
            f"{path.relative_to(ROOT)}:{node.lineno}"
            for node in (*rendered, *again)
            if isinstance(parents[node], taken_apart)
        ]
    assert wrong == []


# What is installed


def test_what_is_imported_is_declared_and_what_is_declared_is_imported() -> None:
    declared, used = requirements(PROJECT["dependencies"]), distributions(PACKAGE)
    optional = requirements(PROJECT["optional-dependencies"]["train"])
    known = declared.keys() | optional.keys()
    assert {name: place for name, place in used.items() if name not in known} == {}, "imported, not declared"
    assert declared.keys() - used.keys() - NOT_IMPORTED.keys() == set(), "declared, not imported"
    assert NOT_IMPORTED.keys() <= declared.keys() - used.keys(), "no exception any more"


def test_what_only_training_needs_is_imported_inside_its_functions_alone() -> None:
    extras = PROJECT["optional-dependencies"]
    optional = requirements(extras["train"])
    functions = [node for node in ast.walk(ast.parse(TRAINING.read_bytes())) if isinstance(node, ast.FunctionDef)]
    inside = {line for node in functions for line in range(node.lineno, (node.end_lineno or node.lineno) + 1)}
    found = [(name, path, line) for name, path, line in uses(PACKAGE) if name in optional]
    wrong = [f"{path.relative_to(ROOT)}:{line}" for _, path, line in found if path != TRAINING or line not in inside]
    assert wrong == []
    assert optional.keys() == {name for name, _, _ in found}, "declared, not imported"
    assert optional.keys().isdisjoint(requirements(PROJECT["dependencies"]))
    assert set(extras["train"]) <= set(extras["test"]), "the tests run on other versions"


def test_what_the_tests_import_is_declared() -> None:
    extras = PROJECT["optional-dependencies"]
    declared = requirements(PROJECT["dependencies"] + extras["test"] + extras["build"])
    assert {name: place for name, place in distributions(ROOT / "tests").items() if name not in declared} == {}


@pytest.mark.parametrize("kind", ["deploy", "tests"])
def test_requirements_are_pins_and_hashes_and_nothing_else(kind: str) -> None:
    hashes, more = 1, False
    for number, line in enumerate((ROOT / kind / "requirements.txt").read_text(encoding="utf-8").splitlines(), 1):
        place = f"{kind}/requirements.txt:{number}: {line}"
        if PIN.match(line):
            assert hashes, f"{place}: the one before has no hash"
            assert not more, place
            hashes, more = 0, True
        else:
            match = HASH.match(line)
            assert match, place
            assert more, place
            hashes, more = hashes + 1, bool(match["more"])
    assert hashes
    assert not more


@pytest.mark.parametrize(("kind", "extras"), [("deploy", ["build"]), ("tests", ["build", "test"])])
def test_requirements_are_those_of_the_project(kind: str, extras: list[str]) -> None:
    entries = PROJECT["dependencies"] + [entry for extra in extras for entry in PROJECT["optional-dependencies"][extra]]
    pinned = pins(kind)
    for name, requirement in requirements(entries).items():
        assert name in pinned, f"{name} is not in {kind}/requirements.txt: pyproject.toml says how to renew that"
        assert pinned[name] in requirement.specifier


def test_the_tests_run_on_what_is_deployed() -> None:
    deployed, tested = pins("deploy"), pins("tests")
    assert deployed == {name: tested.get(name) for name in deployed}


# Away from home


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


@pytest.mark.slow
def test_a_fresh_machine_sets_itself_up_once(tmp_path: Path) -> None:
    """Two starts at once, after one that was cut off; both leave the program's input alone. Then one more."""
    house = fresh_house(tmp_path)
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
