"""Staff ask who has a tool, and hear of the branches that share theirs: that it hangs there and is in, and no more."""

from collections.abc import Iterator, Mapping
from dataclasses import replace
from datetime import datetime
from pathlib import Path

import pytest

from tests.conversation.guides import shipped_guide
from tests.counter.shop import Shop
from tests.delivery.recorded import RecordedChannel
from triagebot.errors import StoreError
from triagebot.shop import Neighbour
from triagebot.store.loans import Loans

HARBOUR = "The Marlinspike"


@pytest.fixture
def harbour(tmp_path: Path) -> Iterator[Shop]:
    """Another branch, with two of each tool, which hang elsewhere."""
    known = shipped_guide()
    rows = tuple(
        tool.model_copy(update={"hangs": "the blue board", "count": 2}) for tool in known.shop.tools_file.tools
    )
    shop = replace(
        known.shop,
        about=known.shop.about.model_copy(update={"name": HARBOUR}),
        tools_file=known.shop.tools_file.model_copy(update={"tools": rows}),
    )
    branch = Shop(tmp_path / "harbour", RecordedChannel(), guide=replace(known, shop=shop))
    yield branch
    branch.end()


@pytest.fixture
def north(tmp_path: Path, harbour: Shop) -> Iterator[Shop]:
    """A branch with which it shares them, and Ada on its staff."""

    def away(now: datetime) -> Mapping[str, int]:
        with harbour.reading() as view:
            return Loans(view).away(now, 0)

    shared = Neighbour(harbour.guide.shop, away)
    branch = Shop(tmp_path / "north", RecordedChannel(), guide=replace(shipped_guide(), neighbours=(shared,)))
    branch.staff("ada")
    yield branch
    branch.end()


@pytest.mark.parametrize(
    "asked",
    [
        "who has the big four",
        "who has a 40 mm four?",
        "who has the 40",
        "whos got the big four?",
        "has anyone got the big four",
    ],
)
def test_who_has_a_tool_is_answered_for_the_others_too(north: Shop, asked: str) -> None:
    told = north.says("ada", asked)
    assert "“the big four”: " in told
    assert f"At {HARBOUR}: “the big four”, the blue board. 2 are in." in told


def test_of_one_that_is_out_there_nobody_hears_who_has_it(north: Shop, harbour: Shop) -> None:
    harbour.staff("bo")
    harbour.says("bo", "lend the big four to Zebediah")
    told = north.says("ada", "who has the big four")
    assert f"At {HARBOUR}: “the big four”, the blue board. One is in." in told
    harbour.says("bo", "lend the big four to Zebediah")
    told = north.says("ada", "who has the big four")
    assert f"At {HARBOUR}: “the big four”. All 2 are out just now." in told
    assert "Zebediah" not in told
    assert "Zebediah" in harbour.says("bo", "who has the big four")


def test_where_a_tool_is_tells_of_the_others_only_when_none_is_in(north: Shop) -> None:
    assert HARBOUR not in north.says("ada", "where is the big four")
    (own,) = [tool for tool in north.guide.shop.tools_file.tools if tool.name == "the big four"]
    for _ in range(own.count):
        north.says("ada", "lend the big four to Sam")
    assert f"At {HARBOUR}: “the big four”, the blue board. 2 are in." in north.says("ada", "where is the big four")


def test_a_branch_that_shares_nothing_is_told_nothing(harbour: Shop) -> None:
    harbour.staff("bo")
    assert "At The" not in harbour.says("bo", "who has the big four")


def test_a_branch_that_cannot_be_asked_is_said_to_be_silent(tmp_path: Path) -> None:
    def away(now: datetime) -> Mapping[str, int]:
        raise StoreError("gone")

    known = shipped_guide()
    shop = replace(known.shop, about=known.shop.about.model_copy(update={"name": HARBOUR}))
    branch = Shop(tmp_path, RecordedChannel(), guide=replace(known, neighbours=(Neighbour(shop, away),)))
    branch.staff("ada")
    told = branch.says("ada", "who has the big four")
    branch.end()
    assert f"At {HARBOUR}: “the big four”. I can’t see just now whether it’s in." in told


def test_customers_are_told_nothing_of_it(north: Shop) -> None:
    assert HARBOUR not in north.says("eve", "who has the big four?")
