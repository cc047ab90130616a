"""What was learned is put into force whole or not at all, and the old file is kept."""

import shutil
from datetime import UTC, datetime
from pathlib import Path

import pytest

from tests.strategies import rear_sprockets
from triagebot.errors import UsageError
from triagebot.shop import LEARNED, built_in_shop, load_shop
from triagebot.study.applying import difference, write_learned
from triagebot.topics import Learned, taught

TOPIC = rear_sprockets()
NOW = datetime(2026, 3, 2, 10, 5, 9, tzinfo=UTC)
EVEN = Learned(topic=TOPIC.id, cases=9, priors=dict.fromkeys(TOPIC.fastenings, 1 / 16))


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return Path(shutil.copytree(built_in_shop(), tmp_path / "shop"))


def test_the_shop_reads_what_was_written(folder: Path) -> None:
    before = load_shop(folder, TOPIC)

    assert write_learned(folder, TOPIC, EVEN, NOW) is None
    after = load_shop(folder, TOPIC)
    assert after.learned == EVEN
    assert after.digest != before.digest
    assert [path.name for path in folder.iterdir() if path.name.startswith(".")] == []


def test_the_old_file_is_kept_each_time_and_is_no_part_of_the_shop(folder: Path) -> None:
    write_learned(folder, TOPIC, EVEN, NOW)
    first = (folder / LEARNED).read_bytes()
    digest = load_shop(folder, TOPIC).digest

    backups = [write_learned(folder, TOPIC, EVEN, NOW) for _ in range(2)]
    assert all(backup is not None and backup.read_bytes() == first for backup in backups)
    assert len(set(backups)) == 2
    assert load_shop(folder, TOPIC).digest == digest


def test_nothing_is_half_written(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    write_learned(folder, TOPIC, EVEN, NOW)
    before = (folder / LEARNED).read_bytes()

    def fails(descriptor: int) -> None:
        raise OSError("no space left")

    monkeypatch.setattr("os.fsync", fails)
    with pytest.raises(OSError, match="no space"):
        write_learned(folder, TOPIC, EVEN.model_copy(update={"cases": 10}), NOW)
    assert (folder / LEARNED).read_bytes() == before


def test_figures_that_put_a_fastening_out_of_reach_are_not_written(folder: Path) -> None:
    slips = {question.id: 0.4 for question in TOPIC.flow.questions if question.slip is not None}

    with pytest.raises(UsageError, match="cassette-threaded-sprocket"):
        write_learned(folder, TOPIC, Learned(topic=TOPIC.id, slips=slips), NOW)
    assert not (folder / LEARNED).exists()


def test_the_difference_is_to_what_is_in_use() -> None:
    first = Learned(topic=TOPIC.id, slips={"spin": 0.1})
    second = Learned(topic=TOPIC.id, slips={"spin": 0.1, "fitting": 0.2})

    assert difference(TOPIC, TOPIC, first) == [
        line for line in difference(TOPIC, TOPIC, first) if "slips at spin" in line
    ]
    (line,) = difference(TOPIC, taught(TOPIC, first), second)
    assert line.split() == ["slips", "at", "fitting", "7.00%", "->", "20.00%"]
    assert difference(TOPIC, taught(TOPIC, first), first) == []
    assert len(difference(TOPIC, taught(TOPIC, second), first)) == 1, "what is taken away goes back to the topic's own"
