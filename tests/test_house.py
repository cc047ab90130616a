"""The house itself: what lies where, who may import whom, what is installed, and that it works away from home.

Nothing here knows what triagebot does; `tests/` has a folder for every room that does.
"""

import ast
import os
import re
import subprocess
import sys
import tomllib
from collections.abc import Iterable, Iterator
from functools import cache
from graphlib import CycleError, TopologicalSorter
from importlib.metadata import packages_distributions, requires
from pathlib import Path

import pytest
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

ROOT = Path(__file__).parents[1]
PACKAGE = ROOT / "triagebot"
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]

TOP_LEVEL = {
    *(".ci", ".gitattributes", ".gitignore", "DEVELOPERS.md", "LICENSE", "README.md", "pyproject.toml"),
    *("deploy", "flows", "tests", "triagebot"),
}

# From the ground up: a room may import the rooms of the rows above its own, never its own row's neighbours.
FLOORS = (
    {"compiled", "credentials", "errors", "rates"},
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
    {"channels", "pages", "study", "keeping", "logs", "signals"},
    {"serving", "loading"},
    {"commands"},
    {"cli"},
    {"__main__"},
)
FLOOR = {room: floor for floor, rooms in enumerate(FLOORS) for room in rooms}
# Modules that stand beside the stairs: what each may import, and who may import it.
BESIDE = {
    "settings": ({"credentials", "errors"}, {"cli", "commands", "loading", "serving", "channels", "pages", "testing"}),
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
TRAINING = tuple(PACKAGE / "study" / f"train_{what}.py" for what in ("reader", "enquiries", "lines"))

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
    """Every file of code below a folder, parsed; a folder within another takes the other's."""
    within = PACKAGE if folder != PACKAGE and folder.is_relative_to(PACKAGE) else None
    if within is not None:
        return tuple((path, tree) for path, tree in modules(within) if path.is_relative_to(folder))
    return tuple((path, ast.parse(path.read_bytes(), str(path))) for path in sorted(folder.rglob("*.py")))


@cache
def imported(path: Path, tree: ast.Module) -> tuple[tuple[int, str], ...]:
    """Line and dotted name of everything imported; `from a import b` gives a.b, since b may be a module."""
    found: list[tuple[int, str]] = []
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            found += ((node.lineno, alias.name) for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            near = path.relative_to(ROOT).parts[: -node.level] if node.level else ()
            start = ".".join((*near, node.module) if node.module else near)
            found += ((node.lineno, f"{start}.{alias.name}") for alias in node.names)
    return tuple(found)


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


def needed_by(wanted: Iterable[Requirement]) -> set[str]:
    """The distributions that these need, and those in turn, on the machine that runs this."""
    waiting, found = [(each, "") for each in wanted], set[tuple[str, str]]()
    while waiting:
        requirement, extra = waiting.pop()
        if requirement.marker is not None and not requirement.marker.evaluate({"extra": extra}):
            continue
        name = canonicalize_name(requirement.name)
        for of in {"", *requirement.extras}:
            if (name, of) not in found:
                found.add((name, of))
                waiting += [(Requirement(entry), of) for entry in requires(name) or ()]
    return {name for name, _ in found}


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


@pytest.mark.parametrize("folder", ["triagebot", "tests"])
def test_no_file_of_code_is_too_long_to_hold_in_mind(folder: str) -> None:
    lengths = {path: len(path.read_bytes().splitlines()) for path in (ROOT / folder).rglob("*.py")}
    assert lengths
    assert {str(path.relative_to(ROOT)): n for path, n in lengths.items() if n >= MOST_LINES} == {}


def test_files_name_no_registry_and_no_folder_of_one_machine() -> None:
    hosts = r"pypi\.org|pythonhosted\.org|npmjs\.(?:org|com)|crates\.io|deb\.debian\.org|golang\.org"
    folders = r"(?<![\w.~}-])/(?:work|root|home|Users)/\w"
    odd = re.compile(f"{hosts}|{folders}")
    parts = b"pypi pythonhosted npmjs crates. debian golang /work/ /root/ /home/ /Users/".split()
    found = []
    for path in files():
        content = path.read_bytes()
        if any(part in content for part in parts):  # looked through by pattern only then: some files are long
            text = content.decode("utf-8", "replace")
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
        if not rendering:
            continue
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
    extras = PROJECT["optional-dependencies"]
    optional = requirements(extras["train"] + extras["postgresql"])
    assert set(extras["postgresql"]) <= set(extras["test"]), "the tests run on other versions"
    known = declared.keys() | optional.keys()
    assert {name: place for name, place in used.items() if name not in known} == {}, "imported, not declared"
    assert declared.keys() - used.keys() - NOT_IMPORTED.keys() == set(), "declared, not imported"
    assert NOT_IMPORTED.keys() <= declared.keys() - used.keys(), "no exception any more"


def test_what_only_training_needs_is_imported_inside_its_functions_alone() -> None:
    extras = PROJECT["optional-dependencies"]
    optional = requirements(extras["train"])
    inside = {
        (path, line)
        for path in TRAINING
        for node in ast.walk(ast.parse(path.read_bytes()))
        if isinstance(node, ast.FunctionDef)
        for line in range(node.lineno, (node.end_lineno or node.lineno) + 1)
    }
    found = [(name, path, line) for name, path, line in uses(PACKAGE) if name in optional]
    wrong = [f"{path.relative_to(ROOT)}:{line}" for _, path, line in found if (path, line) not in inside]
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


def test_all_that_is_needed_is_deployed() -> None:
    entries = PROJECT["dependencies"] + PROJECT["optional-dependencies"]["build"]
    needed = needed_by(map(Requirement, entries))
    assert len(needed) > len(entries)
    assert needed - pins("deploy").keys() == set()


def test_the_tests_run_on_what_is_deployed() -> None:
    deployed, tested = pins("deploy"), pins("tests")
    assert deployed == {name: tested.get(name) for name in deployed}
