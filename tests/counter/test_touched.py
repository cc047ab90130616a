"""Open cases that an edit, once it is live, would answer otherwise: what the staff see of them."""

import shutil
from datetime import timedelta
from pathlib import Path

import pytest

from tests.counter.shop import Shop
from triagebot.cases.outdated import RECENT
from triagebot.conversation import Guide, load_guide
from triagebot.counter import case_commands
from triagebot.topics import load_topic

ADA, BOB, CYD = "ada", "bob", "cyd"
TOLD = "it stays still, 4 notches, 40 mm by calliper"


def goes_live(shop: Shop, guide: Guide) -> None:
    shop.close()
    shop.guide = guide
    shop.open()


@pytest.fixture
def code(shop: Shop, tmp_path: Path) -> str:
    """Bob was told of the 40 mm remover; then the catalogue says that its fitting measures 32 mm and the other 40."""
    shop.staff(ADA)
    shop.says(BOB, TOLD)
    shop.says(CYD, "it stays still, 20 splines, 21.5 mm by calliper, 7 sprockets")
    assert shop.held(CYD).case.now.outcome == "answer"  # type: ignore[union-attr]
    assert shop.says(ADA, "touched") == "Today, each open case keeps its answer."
    folder = Path(shutil.copytree(shop.guide.topic.folder, tmp_path / "topic"))
    file = folder / "catalogue.yaml"
    text = file.read_text(encoding="utf-8")
    at_40, at_32 = (text.index(f"- id: freewheel-4-notch-{size}") for size in (40, 32))
    first, second = sorted((at_40, at_32))
    parts = [text[:first], text[first:second], text[second:]]
    size = {at_40: ("40", "32"), at_32: ("32", "40")}
    for number, place in ((1, first), (2, second)):
        old, new = size[place]
        assert f"mm: {old}.0" in parts[number]
        parts[number] = parts[number].replace(f"mm: {old}.0", f"mm: {new}.0", 1)
    file.write_text("".join(parts), encoding="utf-8")
    goes_live(shop, load_guide(load_topic(folder), shop.guide.shop))
    return shop.code(BOB)


def test_what_would_be_answered_otherwise_is_listed_and_nothing_else(shop: Shop, code: str) -> None:
    head, row = shop.says(ADA, "touched").splitlines()
    assert head == "Today, one open case would get a new answer:"
    assert row.startswith(f"– {code}, ")
    assert ": they were told single-speed freewheel, 4 notches, 40 mm; now it’s " in row
    assert "32 mm" in row.split("; now it’s ")[1]


@pytest.mark.parametrize(("most", "shown"), [(0, ["And 1 more."]), (1, [])])
def test_a_long_list_is_cut_and_counted(
    shop: Shop, code: str, monkeypatch: pytest.MonkeyPatch, most: int, shown: list[str]
) -> None:
    monkeypatch.setattr(case_commands, "MOST_LISTED", most)
    assert shop.says(ADA, "touched").splitlines()[1 + most :] == shown


def test_the_case_says_what_it_was_told(shop: Shop, code: str) -> None:
    was = "They were told something else: single-speed freewheel, 4 notches, 40 mm. Today’s edition wouldn’t say that."
    assert was in shop.says(ADA, f"case {code}")
    assert "They were told something else" not in shop.says(ADA, f"case {shop.code(CYD)}")


def test_one_that_staff_closed_or_that_is_long_ago_is_not(shop: Shop, code: str) -> None:
    shop.clock.wait(days=RECENT / timedelta(days=1) + 1)
    assert "each open case keeps its answer" in shop.says(ADA, "touched")
    shop.says(BOB, "why")
    shop.clock.wait(minutes=1)
    shop.says(ADA, f"close {code} 4n 40 fitted")
    assert "each open case keeps its answer" in shop.says(ADA, "touched")


def test_who_was_told_anew_is_not(shop: Shop, code: str) -> None:
    shop.says(BOB, "change the width")
    shop.says(BOB, "40 mm by calliper")
    assert shop.held(BOB).case.now.outcome is not None  # type: ignore[union-attr]
    assert "each open case keeps its answer" in shop.says(ADA, "touched")
