"""What is said of a tool without a command in front ("ana took the whip", "4n lost"): as the command that it means.

Rules of this file:
- the patterns are data, in the words file; one counts only where its tool is one of the shop's, by its name or by what
  it is for;
- who speaks of tools, or of somebody who has one, says nothing of a wheel, whether a pattern fits or not.
"""

import re
from collections.abc import Iterator
from functools import lru_cache

from triagebot.counter.lending import counted
from triagebot.counter.tool_lookup import tools_in
from triagebot.counter.words import Order, StaffWords
from triagebot.counter.work import Work
from triagebot.shop import fold

#: What stands for a part of a pattern.
_PARTS = {
    "WHO": r"(?P<who>[^\W\d_]+)",
    "TOOL": r"(?P<tool>.+?)",
    "WHEN": r"(?P<when>.+)",
    "WHERE": r"(?P<where>.+)",
    "REST": r"(?P<rest>.+)",
}


def order_of_tools(work: Work, text: str) -> Order | None:
    """The command that is meant; None where the words are about no tool of the shop's."""
    said = " ".join(fold(text).split())
    for command, pattern in _patterns(work.words):
        found = pattern.fullmatch(said)
        if found is None:
            continue
        given = found.groupdict()
        if command == "everything":
            return Order("returned", f"everything from {given['who']}")
        tool = _bare(work.words, given["tool"])
        if _means_a_tool(work, tool):
            return Order(command, _rest(command, tool, given.get("who"), given.get("when")))
    return None


def is_of_tools(words: StaffWords, text: str) -> bool:
    """Whether a text speaks of tools or of those who have them, and so says nothing of a wheel."""
    return any(word in words.not_of_a_wheel for word in fold(text).split())


def _rest(command: str, tool: str, who: str | None, when: str | None) -> str:
    if command == "lend":
        return f"{tool} to {who}" + (f" until {when}" if when else "")
    return f"{tool} from {who}" if command == "returned" and who else tool


def _means_a_tool(work: Work, said: str) -> bool:
    _, name = counted(work.words, said)
    return bool(tools_in(work.guide, work.texts, work.words, name))


def _bare(words: StaffWords, tool: str) -> str:
    parts = tool.split()
    while len(parts) > 1 and parts[0] in words.articles:
        parts = parts[1:]
    return " ".join(parts)


@lru_cache(maxsize=8)
def _patterns(words: StaffWords) -> tuple[tuple[str, re.Pattern[str]], ...]:
    return tuple((kind, _compiled(each)) for kind, rows in words.said_of_tools.items() for each in rows)


def _compiled(pattern: str) -> re.Pattern[str]:
    return re.compile("".join(_pieces(pattern)).replace(r"\b ", " "))


def _pieces(pattern: str) -> Iterator[str]:
    """A part in brackets with the space before or behind it, so that it can be left out."""
    first = True
    for optional, plain in re.findall(r"\[([^\]]+)\]|(\S+)", pattern):
        words = [_word(each) for each in (optional or plain).split()]
        inner = r"\s+".join(words)
        if optional:
            yield rf"(?:{inner}\s+)?" if first else rf"(?:\s+{inner})?"
        else:
            yield inner if first else rf"\s+{inner}"
            first = False


def _word(word: str) -> str:
    known = [_PARTS.get(each, re.escape(each)) for each in word.split("|")]
    return known[0] if len(known) == 1 else f"(?:{'|'.join(known)})"
