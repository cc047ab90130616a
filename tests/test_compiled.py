"""What is compiled from the words files is kept, and never used for other words or by other code."""

import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from triagebot import compiled as room
from triagebot.compiled import KEPT, compiled
from triagebot.conversation.understanding import load_words
from triagebot.errors import DataError
from triagebot.topics import built_in_topic


class Made:
    """Counts how often something is made of a text."""

    def __init__(self) -> None:
        self.times = 0

    def __call__(self) -> list[int]:
        self.times += 1
        return [self.times]


@pytest.fixture
def keeps(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Callable[..., list[int]]:
    monkeypatch.setattr(sys, "dont_write_bytecode", False)
    monkeypatch.setattr(room, "cache_from_source", lambda _: str(tmp_path / "kept" / "of.pyc"))
    code = tmp_path / "code"
    code.mkdir()
    (code / "rules.py").write_text("1")
    return lambda made, *texts: compiled("words", texts, (code,), made)


def test_what_was_made_is_read_the_next_time(keeps: Callable[..., list[int]]) -> None:
    made = Made()
    assert [keeps(made, "one", "two") for _ in range(3)] == [[1]] * 3
    assert made.times == 1


def test_another_text_or_another_order_is_made_anew(keeps: Callable[..., list[int]]) -> None:
    made = Made()
    for texts in (("one", "two"), ("one", "three"), ("two", "one"), ("onetwo",), ("one", "two", "")):
        keeps(made, *texts)
    assert made.times == 5


def test_other_code_makes_it_anew(keeps: Callable[..., list[int]], tmp_path: Path) -> None:
    made = Made()
    keeps(made, "one")
    (tmp_path / "code" / "rules.py").write_text("22")
    keeps(made, "one")
    assert made.times == 2


@pytest.mark.parametrize("damage", [b"", b"x", b"x" * 100])
def test_what_is_damaged_is_made_anew(keeps: Callable[..., list[int]], tmp_path: Path, damage: bytes) -> None:
    made = Made()
    keeps(made, "one")
    (file,) = (tmp_path / "kept").iterdir()
    file.write_bytes(damage or file.read_bytes()[:-1])
    assert keeps(made, "one") == [2]
    assert keeps(made, "one") == [2]


def test_what_cannot_be_made_is_not_kept(keeps: Callable[..., list[int]], tmp_path: Path) -> None:
    def fails() -> None:
        raise DataError("words", ())

    with pytest.raises(DataError):
        keeps(fails, "one")
    assert not (tmp_path / "kept").exists()


def test_only_so_many_are_kept(keeps: Callable[..., list[int]], tmp_path: Path) -> None:
    for each in range(KEPT + 3):
        keeps(Made(), str(each))
    assert len(list((tmp_path / "kept").iterdir())) == KEPT


def test_nothing_is_kept_where_nothing_can_be_written(
    keeps: Callable[..., list[int]], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    made = Made()
    (tmp_path / "kept").write_text("a file where the folder would be")
    assert [keeps(made, "one") for _ in range(2)] == [[1], [2]]
    (tmp_path / "kept").unlink()
    monkeypatch.setattr(sys, "dont_write_bytecode", True)
    assert keeps(made, "one") == [3]
    assert not (tmp_path / "kept").exists()


READS = """
from triagebot.conversation.understanding import understand
from tests.conversation.guides import shipped_guide
setting = shipped_guide().setting("en", "count")
print(understand("6 cogs, middle dosent trun, 4 notches", setting).facts)
"""


def test_kept_words_read_as_fresh_ones_do(tmp_path: Path) -> None:
    """The same in a process that compiles them and in one that finds them."""
    environment = {**os.environ, "PYTHONPYCACHEPREFIX": str(tmp_path), "PYTHONPATH": os.pathsep.join(sys.path)}
    environment.pop("PYTHONDONTWRITEBYTECODE", None)
    root = Path(__file__).parents[1]
    read = [sys.executable, "-c", READS]
    runs = [
        subprocess.run(read, cwd=root, env=environment, capture_output=True, text=True, check=True, timeout=300)
        for _ in range(2)
    ]
    said = [run.stdout for run in runs]
    kept = [file.name for file in tmp_path.rglob("*.pickle")]
    assert any(name.startswith("words-en-") for name in kept), kept
    assert said[0] == said[1] != ""
    assert "notches" in said[0]


def test_kept_words_know_where_their_topic_lies() -> None:
    words = load_words("en", built_in_topic())
    assert words.topic_file == str(built_in_topic() / "text" / "en.words.yaml")
    assert len(words.common_words) > 100_000
