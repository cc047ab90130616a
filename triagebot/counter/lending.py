"""Tools that go out of the shop and come home: "lend the small four to Ben until tomorrow", "returned small four".

No more of a tool go out than hang there, and a tool for use in the shop only stays there.
"""

from collections.abc import Collection, Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from functools import lru_cache

from triagebot.conversation import Guide
from triagebot.counter.times import until
from triagebot.counter.tool_lookup import tools_in, tools_named
from triagebot.counter.words import StaffWords
from triagebot.shop import Tool, fold
from triagebot.topics import Texts

#: Names of people are cut to so many characters; one that stands before a tool has so many words at most.
_LONGEST_NAME, _LONGEST_WHO = 60, 3
#: Nobody lends more of a tool at once.
_MOST = 20


@dataclass(frozen=True, slots=True)
class Lending:
    """What somebody said of a tool that goes out: which `tools` they may mean by `named`, `to` whom (as it was
    written), and until when; `count` how many. `unclear` is what was said about a time and means none."""

    named: str
    tools: tuple[str, ...]
    to: str
    due: datetime | None
    unclear: str = ""
    count: int = 1


def lending_said(guide: Guide, texts: Texts, words: StaffWords, text: str, now: datetime) -> Lending:
    """What stands behind "lend": a tool, who to and until when, the last two in either order; or who and then the tool.
    The name of somebody may hold any words but those that begin a time."""
    name, to = _parted(text, words.lent_to)
    to, when = _parted(to, words.lent_until)
    if not when:
        name, when = _parted(name, words.lent_until)
    count, name = counted(words, name)
    tools = tools_in(guide, texts, words, name)
    if not to:
        to, name, tools = _who_first(guide, texts, words, name) or (to, name, tools)
    hours, till = guide.shop.hours, next(iter(words.times["until"]))
    due = until(words, when, now, hours) or until(words, f"{till} {when}", now, hours) if when else None
    return Lending(
        named=name,
        tools=tools,
        to=to[:_LONGEST_NAME],
        due=due,
        unclear=when if due is None else "",
        count=count,
    )


def at_a_time(guide: Guide, words: StaffWords, text: str, now: datetime) -> tuple[str, str, datetime | None]:
    """A tool, who it is for, and the moment that the last words mean: "the twenty for Ana tuesday 10"."""
    name, behind = _parted(text, words.kept_for)
    said = (behind or name).split()
    for place in range(1, len(said)):
        first = fold(said[place])
        alone = said[place].isdecimal() and place + 1 == len(said)
        due = None if alone else until(words, " ".join(said[place:]), now, guide.shop.hours)
        if due is not None or first in words.lent_until:
            head = " ".join(said[:place])
            return (name, head, due) if behind else (head, "", due)
    return name, behind, None


def is_counted(words: StaffWords, word: str) -> bool:
    """Whether a number before this word is part of a tool's name: "4 notch"."""
    return word in words.kinds or words.tool_words.get(word, "") in words.kinds


def counted(words: StaffWords, name: str) -> tuple[int, str]:
    """How many of a tool, and its name: "2 big fours", "both big fours"."""
    first, _, rest = name.partition(" ")
    if not rest:
        return 1, name
    second, _, third = rest.partition(" ")
    if fold(second) in words.of_them and third:
        rest = third
    elif is_counted(words, fold(second)):
        return 1, name
    if first.isdecimal() and 1 <= int(first) <= _MOST:
        return int(first), rest
    return (words.numbers[fold(first)], rest) if fold(first) in words.numbers else (1, name)


def _who_first(guide: Guide, texts: Texts, words: StaffWords, text: str) -> tuple[str, str, tuple[str, ...]] | None:
    """ "Ben the big four": who it is for, and then a tool by its whole name."""
    if tools_named(guide, texts, words, text, exactly=True):
        return None
    parts = text.split()
    for place in range(1, min(len(parts), _LONGEST_WHO + 1)):
        name = " ".join(parts[place:])
        tools = tools_named(guide, texts, words, name, exactly=True)
        if tools:
            return " ".join(parts[:place]), name, tools
    return None


def returned_said(guide: Guide, texts: Texts, words: StaffWords, text: str) -> Lending:
    """What stands behind "returned": a tool, and perhaps who brought it."""
    name, to = _parted(text, words.returned_from)
    count, name = counted(words, name)
    return Lending(name, tools_in(guide, texts, words, name), to, None, count=count)


def whose(names: Mapping[int, str], said: str) -> tuple[int, ...]:
    """The loans, by number, of the person who is called so, however it is spelt; all of them where nobody was named."""
    return tuple(number for number, name in names.items() if not said or fold(name) == fold(said))


def at_home(guide: Guide, out: Mapping[str, int]) -> Guide:
    """The guide to a shop as it hangs there now, without so many of each tool."""
    return _without(guide, frozenset(out.items())) if out else guide


def may_go(tool: Tool | None, out: int) -> str:
    """Why a tool cannot go out: "none" of it hangs there, it "stays" in the shop; "" if it can."""
    if tool is None or tool.count <= out:
        return "none"
    return "stays" if "shop-use-only" in tool.offers else ""


@lru_cache(maxsize=4)
def _without(guide: Guide, out: frozenset[tuple[str, int]]) -> Guide:
    fewer = dict(out)
    rows = tuple(
        tool.model_copy(update={"count": max(tool.count - fewer.get(tool.tool, 0), 0)})
        for tool in guide.shop.tools_file.tools
    )
    tools_file = guide.shop.tools_file.model_copy(update={"tools": rows})
    return replace(guide, shop=replace(guide.shop, tools_file=tools_file))


def _parted(text: str, words: Collection[str]) -> tuple[str, str]:
    """What stands before and behind the first of these words; all of it before where there is none."""
    parts = text.split()
    for place, part in enumerate(parts):
        if place and fold(part) in words:
            return " ".join(parts[:place]), " ".join(parts[place + 1 :])
    return " ".join(parts), ""
