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
#: What stands between a name and a time.
_MARKS = " ,.;:-–—"
#: How long something is, or until which day.
_LENGTHS = ("minutes", "hours", "days", "weeks", "tomorrow", "weekend")
#: A time of day in figures alone has no more of them.
_DIGITS = 2


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
    if not when:
        to, when = with_time(guide, words, to, now)
    if not when:
        bare, behind = with_time(guide, words, name, now)
        plain = not behind.isdecimal() and fold(behind) not in words.clock.hours
        if plain and _due(guide, words, behind, now) and tools_in(guide, texts, words, bare):
            name, when, tools = bare, behind, tools_in(guide, texts, words, bare)
    due = _due(guide, words, when, now)
    return Lending(
        named=name,
        tools=tools,
        to=_name_alone(words, to)[:_LONGEST_NAME],
        due=due,
        unclear=when if due is None else "",
        count=count,
    )


def with_time(guide: Guide, words: StaffWords, said: str, now: datetime) -> tuple[str, str]:
    """A name, and the time that stands behind it without a word between: "jonas 1h", "sara fri", "mia, back tomorrow".
    Last words that speak of a time and mean none are given as that time: nobody is called so."""
    parts = said.split()
    for place in range(1, len(parts)):
        behind = parts[place:]
        while len(behind) > 1 and fold(behind[0].strip(_MARKS)) in words.before_a_time:
            behind = behind[1:]
        when = " ".join(behind).strip(_MARKS)
        if _due(guide, words, when, now) is not None:
            return _day_before(guide, words, parts[:place], when, now)
    last = parts[-1].strip(_MARKS) if len(parts) > 1 else ""
    if last and speaks_of_time(words, last):
        begins = next(place for place in range(1, len(parts)) if speaks_of_time(words, parts[place].strip(_MARKS)))
        return _name_alone(words, " ".join(parts[:begins])), " ".join(parts[begins:])
    return said, ""


def _day_before(guide: Guide, words: StaffWords, parts: list[str], when: str, now: datetime) -> tuple[str, str]:
    """A name and the time behind it, with a day that is said before that time: "ana back wed at the latest 12"."""
    days = {day for names in words.weekdays for day in names} | set(words.times["tomorrow"])
    said = [words.times_said.get(fold(part.strip(_MARKS)), fold(part.strip(_MARKS))) for part in parts]
    place = next((n for n in range(1, len(parts)) if said[n] in days and said[n - 1] not in words.articles), None)
    if place is None:
        return _name_alone(words, " ".join(parts)), when
    name, whole = _name_alone(words, " ".join(parts[:place])), f"{said[place]} {when}"
    return name, whole if _due(guide, words, whole, now) is not None else " ".join([*parts[place:], when])


def _due(guide: Guide, words: StaffWords, when: str, now: datetime) -> datetime | None:
    """The moment that a time means, with "until" in front of it or not."""
    if not when:
        return None
    hours, till = guide.shop.hours, next(iter(words.times["until"]))
    return until(words, when, now, hours) or (
        None if when.isdecimal() and len(when) > _DIGITS else until(words, f"{till} {when}", now, hours)
    )


def _name_alone(words: StaffWords, said: str) -> str:
    """A name without the marks and the words behind it that belong to a time: "mia, back"."""
    parts = said.strip(_MARKS).split()
    plain = [fold(part.strip(_MARKS)).replace("'", "").replace("’", "") for part in parts]
    ends = next((n for n, word in enumerate(plain) if n and word in words.after_a_name), len(parts))
    parts = parts[:ends]
    while len(parts) > 1 and _belongs_to_a_time(words, fold(parts[-1].strip(_MARKS))):
        parts = parts[:-1]
    return " ".join(parts).strip(_MARKS)


def _belongs_to_a_time(words: StaffWords, word: str) -> bool:
    return word in words.before_a_time or words.senses.get(word) == "returned"


def speaks_of_time(words: StaffWords, word: str) -> bool:
    """Whether a word is a number, or a day or a length of time."""
    said = words.times_said.get(fold(word), fold(word))
    units = [
        each for kind in ("minutes", "hours", "days", "weeks", "tomorrow", "weekend") for each in words.times[kind]
    ]
    days = [day for names in words.weekdays for day in names]
    figures = word[:1].isdecimal() and not (word.isdecimal() and len(word) > _DIGITS)
    return figures or (len(said) > 1 and said in (*units, *days))


def at_a_time(guide: Guide, words: StaffWords, text: str, now: datetime) -> tuple[str, str, datetime | None]:
    """A tool, who it is for, and the moment that the last words mean: "the twenty for Ana tuesday 10"."""
    name, behind = _parted(text, words.kept_for)
    said = (behind or name).split()
    for place in range(1, len(said)):
        first = fold(said[place])
        alone = said[place].isdecimal() and place + 1 == len(said)
        end = len(said)
        while end > place + 2 and words.senses.get(fold(said[end - 1])) == "filler":  # "until 3 he is coming"
            end -= 1
        tried = (said[place:], said[place:end])
        due = (
            None
            if alone
            else next((at for t in tried if (at := until(words, " ".join(t), now, guide.shop.hours))), None)
        )
        if due is not None or first in words.lent_until:
            head = " ".join(said[:place])
            return (name, _name_alone(words, head), due) if behind else (head, "", due)
    return name, _name_alone(words, behind), None


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
    """The loans, by number, of the person who is called so, however it is spelt, or else of the only one whose first
    name it is; all of them where nobody was named."""
    exactly = tuple(number for number, name in names.items() if not said or fold(name) == fold(said))
    if exactly:
        return exactly
    first = {number: name for number, name in names.items() if fold(name).split()[:1] == [fold(said)]}
    return tuple(first) if len({fold(name) for name in first.values()}) == 1 else ()


def at_home(guide: Guide, out: Mapping[str, int]) -> Guide:
    """The guide to a shop as it hangs there now, without so many of each tool."""
    return _without(guide, frozenset(out.items())) if out else guide


def may_go(tool: Tool | None, out: int) -> str:
    """Why a tool cannot go out: "none" of it hangs there, it "stays" in the shop; "" if it can."""
    if tool is None or tool.count <= out:
        return "none"
    return "stays" if "shop-use-only" in tool.offers else ""


@lru_cache(maxsize=64)  # a branch each
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
