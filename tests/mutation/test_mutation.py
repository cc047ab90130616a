"""The mutation run itself: what it puts into the code, and what it says of a room that is half tested."""

import ast
import shutil
from pathlib import Path

import pytest

from tests.mutation import __main__ as command
from tests.mutation.mutants import draw, places
from tests.mutation.worker import chosen, forked

ROOT = Path(__file__).resolve().parents[2]

HALF_TESTED = '''"""A room."""


def limited(n: int, most: int = 9) -> int:
    if n > most:
        return most
    return n


def never_tried(n: int) -> int:
    return n + 1
'''
ITS_TESTS = """
import pytest
from triagebot.toy import limited

@pytest.mark.parametrize("n", [1, 9, 10, 99])
def test_limited(n: int) -> None:
    assert limited(n) == min(n, 9)
    assert limited(n, 5) == min(n, 5)
"""


def test_a_seed_draws_the_same_mutants_again_each_on_a_line_of_its_own() -> None:
    drawn = draw(ROOT, "triagebot/identify", 8, seed=3)

    assert drawn == draw(ROOT, "triagebot/identify", 8, seed=3)
    assert drawn != draw(ROOT, "triagebot/identify", 8, seed=4)
    assert len({(mutant.file, mutant.line) for mutant in drawn}) == 8
    for mutant in drawn:
        ast.parse(mutant.source)
        assert mutant.source != (ROOT / mutant.file).read_text(encoding="utf-8")


@pytest.mark.parametrize(
    "source",
    [
        '"""What 1 + 1 is."""\n',
        "from a import b\n",
        "Pair = tuple[int, int]\n",
        "def pair(a: int | None, b: Literal['x']) -> int | str: ...\n",
        "@remembered(1)\ndef f(): ...\n",
        "if TYPE_CHECKING:\n    a = 1\n",
    ],
)
def test_what_no_test_could_notice_is_left_alone(source: str) -> None:
    assert places(source) == []


def test_a_branch_is_forced_and_a_call_left_out() -> None:
    found = places("if ready:\n    tell(1)\n")

    changed = {place.module.deep_replace(place.node, place.fault).code for place in found}
    assert "if (ready) and False:\n    tell(1)\n" in changed
    assert "if (ready) or True:\n    tell(1)\n" in changed
    assert "if ready:\n    None\n" in changed


def test_tests_that_run_the_line_come_first_and_the_quickest_of_them() -> None:
    seen = {
        "seconds": {"slow": 9.0, "quick": 0.1, "elsewhere": 0.01, "stranger": 0.001},
        "lines": {"a.py": {"1": [""], "5": ["slow", "quick", "failed"], "7": ["elsewhere"]}},
    }

    assert chosen(seen, "a.py", 5) == ["quick", "slow", "elsewhere"]
    assert chosen(seen, "a.py", 6) == ["elsewhere", "quick", "slow"]
    assert chosen(seen, "a.py", 1) == ["stranger", "elsewhere", "quick", "slow"]
    assert chosen(seen, "b.py", 1) == []


def test_a_mutant_that_never_comes_to_an_end_is_ended() -> None:
    def for_ever() -> int:
        while True:
            pass

    assert forked(lambda: 7, processor=60, clock=600) == 7
    assert forked(for_ever, processor=1, clock=600) is None


@pytest.mark.slow
def test_what_nobody_tests_survives_and_the_checkout_stays_as_it_was(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    checkout = tmp_path / "checkout"
    (checkout / "triagebot/toy").mkdir(parents=True)
    (checkout / "triagebot/__init__.py").touch()
    (checkout / "triagebot/toy/__init__.py").write_text(HALF_TESTED)
    (checkout / "tests/toy").mkdir(parents=True)
    (checkout / "tests/toy/test_toy.py").write_text(ITS_TESTS)
    shutil.copytree(ROOT / "tests/mutation", checkout / "tests/mutation")
    shutil.copy(ROOT / "pyproject.toml", checkout)
    before = {path: path.read_bytes() for path in checkout.rglob("*") if path.is_file()}
    monkeypatch.setattr(command, "ROOT", checkout)

    score = command.run("toy", sample=10, seed=1, jobs=1, folder=tmp_path)

    said = capsys.readouterr().out
    assert "toy: 3 mutants, 4 tests" in said
    assert "survived 4 tests: triagebot/toy/__init__.py:11" in said
    assert said.count("survived") == 1
    assert score.startswith("toy: 2 of 3 killed, 66.7%")
    assert {path: path.read_bytes() for path in checkout.rglob("*") if path.is_file()} == before
