"""From a tool to what it is for, and from what is seen to the tools."""

from dataclasses import replace

import pytest

from tests.conversation.guides import shipped_guide
from tests.words import words_of
from triagebot.counter.bench_line import Line, continued, read_line
from triagebot.counter.tool_lookup import served, tell_served, tell_tools, tools_for, tools_named
from triagebot.counter.words import staff_words

GUIDE = shipped_guide()
TEXTS = GUIDE.language("en").texts
WORDS = staff_words("en")


def named(text: str) -> tuple[str, ...]:
    return tools_named(GUIDE, TEXTS, WORDS, text)


def line(text: str) -> Line:
    return continued(Line(), read_line(GUIDE, "en", text))


def test_every_tool_is_known_by_all_its_names() -> None:
    for tool in (*GUIDE.topic.removers, *GUIDE.topic.accessories):
        own = GUIDE.shop.tool_for(tool)
        assert own is not None
        kind = TEXTS(f"remover-{tool}" if tool in GUIDE.topic.removers else f"accessory-{tool}")
        for name in (tool, own.name, own.name.upper(), kind):
            assert named(name)[0] == tool, name


@pytest.mark.parametrize(
    ("text", "tool"),
    [
        ("small four", "remover-4-notch-24"),
        ("the smal four", "remover-4-notch-24"),
        ("four, small", "remover-4-notch-24"),
        ("crab-claw", "hook-spanner"),
        ("the cráb cläw", "hook-spanner"),
        ("remover 4 notch 24", "remover-4-notch-24"),
        ("the other twelve", "lockring-tool-12-spline-deep"),
        ("a flat blade", "small-flat-screwdriver"),
    ],
)
def test_names_may_be_written_as_they_come(text: str, tool: str) -> None:
    assert named(text) == (tool,)


@pytest.mark.parametrize("text", ["", "   ", "the", "elephant", "!!"])
def test_what_names_no_tool(text: str) -> None:
    assert named(text) == ()


def test_a_name_that_is_nearly_as_right_for_another_tool_may_be_that_one() -> None:
    assert named("chain whips") == ("two-chain-whips", "chain-whip"), "one of them at 97 hundredths, one at 95"
    assert named("chain whip") == ("chain-whip",)


def test_a_name_that_may_be_several_is_asked_about() -> None:
    found = named("four")
    assert {"remover-4-notch-24", "remover-4-notch-32", "remover-4-notch-40"} <= set(found)
    reply = tell_served(GUIDE, TEXTS, found, "four")
    assert words_of(reply).startswith("Which one?")
    for name in ("the small four", "the middle four", "the big four"):
        assert name in words_of(reply)


def test_a_remover_serves_what_the_catalogue_says() -> None:
    for fastening in GUIDE.topic.catalogue.fastenings:
        if fastening.remover is not None:
            assert fastening in served(GUIDE, fastening.remover).fastenings
        for accessory in fastening.accessories:
            assert fastening in served(GUIDE, accessory).fastenings


def test_what_a_tool_is_for_in_words() -> None:
    text = words_of(tell_served(GUIDE, TEXTS, ("lockring-tool-12-spline",), ""))
    assert text.startswith("“the everyday twelve” (the common 12-spline lockring tool) is for:")
    assert "cassette, common 12-spline lockring" in text
    assert "cassette, 12-spline threaded sleeve" in text
    assert "deep" not in text
    assert "wall A, peg 1. We have 4." in text


@pytest.mark.parametrize(
    ("text", "tools"),
    [
        ("4 notch 24-25", ["remover-4-notch-24"]),
        ("4n", ["remover-4-notch-40", "remover-4-notch-24", "remover-4-notch-32"]),
        ("12 spl turns", ["lockring-tool-12-spline", "lockring-tool-12-spline-deep"]),
        ("3 outer 40", ["hook-spanner"]),
    ],
)
def test_the_tools_for_what_is_seen(text: str, tools: list[str]) -> None:
    assert [each.tool for each in tools_for(GUIDE, line(text))] == tools


def test_a_tool_that_is_not_there_is_said_not_to_be() -> None:
    gone = tuple(
        tool.model_copy(update={"count": 0}) if tool.tool == "remover-4-notch-24" else tool
        for tool in GUIDE.shop.tools_file.tools
    )
    shop = replace(GUIDE.shop, tools_file=GUIDE.shop.tools_file.model_copy(update={"tools": gone}))
    guide = replace(GUIDE, shop=shop)
    assert "the 4-notch freewheel remover, 24 mm: none on the wall." in words_of(
        tell_tools(guide, TEXTS, line("4n 24"))
    )
    assert "None on the wall." in words_of(tell_served(guide, TEXTS, ("remover-4-notch-24",), ""))
