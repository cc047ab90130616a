"""What a shop sells in place of what comes off: in a file of its own, which a shop may do without."""

from collections.abc import Callable
from decimal import Decimal
from pathlib import Path

import pytest

from triagebot.errors import DataError
from triagebot.shop import load_shop
from triagebot.topics import Topic

Edit = Callable[[str, str, str], int]


def test_a_part_is_found_by_system_and_sprockets(folder: Path, topic: Topic) -> None:
    shop = load_shop(folder, topic)
    assert [part.id for part in shop.parts_for("cassette-12-spline", 9)] == ["cassette-9"]
    assert [part.id for part in shop.parts_for("freewheel-2-notch", 5)] == ["freewheel-6"]
    assert [part.id for part in shop.parts_for("freewheel-4-notch-40", 1)] == ["freewheel-1"]
    assert [part.id for part in shop.parts_for("freewheel-4-notch-40")] == ["freewheel-1"]
    assert [part.id for part in shop.parts_for("cassette-12-spline")] == ["cassette-8", "cassette-9"]
    assert shop.parts_for("cassette-12-spline", 11) == ()
    assert shop.parts_for("snap-ring-sprocket") == ()
    part = shop.parts_for("freewheel-2-notch", 7)[0]
    assert (part.thread, part.price, part.in_stock) == ("1.375 in x 24", Decimal("16.00"), 0)


def test_a_shop_may_have_none(folder: Path, topic: Topic, complaints: Callable[..., list[str]]) -> None:
    (folder / "parts.yaml").unlink()
    assert load_shop(folder, topic).parts_for("cassette-12-spline") == ()
    assert complaints() == []


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("id: cassette-9", "id: cassette-8", "'cassette-8' stands twice (also in parts.yaml)"),
        ("systems: [cassette]", "systems: [casette]", "'casette' is no system of this topic; did you mean 'cassette'?"),
        ("fastenings: [freewheel-4-notch-40]", "fastenings: [freewheel-4-notch-41]", "is no fastening of this topic"),
        (
            "    fastenings: [freewheel-4-notch-40]\n",
            "",
            "say which fastenings or systems this is for",
        ),
        ("sprockets: 7", "sprockets: 70", "less than or equal to 14"),
        ("in-stock: 3", "in-stock: -1", "greater than or equal to 0"),
        ("in-stock: 3", "stock: 3", "stock"),
        ("price: 14.00", "price: cheap", "price"),
    ],
)
def test_what_is_wrong_is_told_with_its_place(
    folder: Path, topic: Topic, edit: Edit, old: str, new: str, said: str
) -> None:
    line = edit("parts.yaml", old, new)
    with pytest.raises(DataError) as caught:
        load_shop(folder, topic)
    problem = next(p for p in caught.value.problems if said in str(p))
    assert problem.file == str(folder / "parts.yaml")
    assert abs(problem.line - line) <= 9


def test_a_price_needs_a_currency(folder: Path, edit: Edit, complaints: Callable[..., list[str]]) -> None:
    edit("shop.yaml", "currency: GBP\n", "")
    line = 1 + (folder / "parts.yaml").read_text(encoding="utf-8").split("price: 19.50")[0].count("\n")
    assert f"parts.yaml:{line}:12: parts[cassette-8].price: an amount, but shop.yaml names no currency" in complaints()


@pytest.mark.parametrize(
    ("added", "said"),
    [
        ("visits: {morning: 2, evening: 1}\nholds: {days: 2}\n", ""),
        ("visits: {}\n", "say how many may come: morning, afternoon or evening"),
        ("visits: {morning: many}\n", "visits.morning"),
        ("visits: {midnight: 2}\n", "visits.midnight"),
        ("holds: {days: 0}\n", "holds.days"),
        ("holds: 2\n", "holds"),
    ],
)
def test_visits_and_holds_are_turned_on_in_shop_yaml(
    folder: Path, complaints: Callable[..., list[str]], added: str, said: str
) -> None:
    path = folder / "shop.yaml"
    path.write_text(f"{path.read_text(encoding='utf-8')}\n{added}", encoding="utf-8")
    found = complaints()
    assert (found == []) if not said else any(row.startswith("shop.yaml:") and said in row for row in found)
