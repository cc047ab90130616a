"""The tools that a line of the staff's speaks of, by whatever name: the shop's, the topic's, or what they are for.

Rules of this file:
- a number before a tool is how many of it, unless it names the tool, or is how wide something is;
- a tool is known as `tool_lookup` knows it, whatever "tool" or "remover" stands behind it;
- several of a tool without a number may also be one that the shop calls so: "the pair of whips".
"""

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass
from functools import cache, lru_cache, partial
from itertools import islice
from typing import Protocol

from triagebot.conversation import Guide
from triagebot.counter.tool_lookup import tools_in, tools_named
from triagebot.counter.words import StaffWords
from triagebot.counter.work import Work
from triagebot.shop import fold
from triagebot.topics import Texts

#: What stands in the words for a tool.
TOOL = "TOOL"
#: No name of a tool has more words.
_LONGEST_TOOL = 5
#: Words that may be a name of a tool, mistyped, have so many letters at least.
_NEAR_FROM = 5
#: So many runs of words of one line are looked up as the name of a tool.
MOST_LOOKED_UP = 20
#: And so many of its words are compared with those of tools' names, where no name is right.
MOST_COMPARED = 40
#: Nobody has more of one tool in a hand.
_MOST = 11
#: A word of the shop's own name for a tool has so many letters at least.
_NAMED_FROM = 3
#: A word of what the topic calls a tool, so many.
_MENDED_FROM = 4


@dataclass(frozen=True, slots=True)
class Mention:
    """A tool as it was said, those of the topic that may be meant, and how many; `plural`: several, and nobody says how
    many."""

    said: str
    tools: tuple[str, ...]
    count: int = 1
    plural: bool = False


class Speaking(Protocol):
    """What it takes to know the tools in a line."""

    @property
    def guide(self) -> Guide: ...
    @property
    def words(self) -> StaffWords: ...
    @property
    def texts(self) -> Texts: ...


@lru_cache(maxsize=64)  # a branch each
def tool_words(guide: Guide, words: StaffWords, language: str) -> frozenset[str]:
    """The words by which tools are called: those of their names that no other word of a line is, and those for what
    they are for."""
    texts = guide.language(language).texts
    tools = (*guide.topic.removers, *guide.topic.accessories)
    kinds = [texts(f"{kind}-{t}") for t in tools for kind in ("remover", "accessory") if texts.has(f"{kind}-{t}")]
    own = [tool.name for tool in guide.shop.tools_file.tools]
    said = {word for name in (*tools, *kinds, *own) for word in fold(name).split()}
    named = {word for name in own for word in fold(name).split() if len(word) >= _NAMED_FROM}
    plain = named | {word for word in said if len(word) >= _MENDED_FROM or word.isdecimal() or word in words.tool_words}
    both = plain | {f"{word}s" for word in plain if word.isalpha() and not word.endswith("s")}
    return frozenset((both | set(words.tool_words)) - set(words.senses) - set(words.never_tools))


# --- tools ------------------------------------------------------------------------------------------------------------


def with_tools(speaking: Speaking, tokens: list[str]) -> list[str]:
    """The words with a sign for each tool."""
    return tools_heard(speaking, tokens)[0]


def tools_heard(work: Speaking, tokens: list[str]) -> tuple[list[str], tuple[Mention, ...]]:
    """The words with a sign for each tool, and the tools: those that come before `MOST_LOOKED_UP` names were looked
    up."""
    said: list[str] = []
    found: list[Mention] = []
    tried: list[Sequence[str]] = []
    place = 0
    while place < len(tokens):
        length, mention = next(_from(work, tokens, place, tried), (1, None))
        if mention is None:
            said.append(tokens[place])
        else:
            while said and said[-1] in work.words.articles:
                said.pop()
            said.append(TOOL)
            found.append(mention)
        place += length
    return said, tuple(found)


def _from(
    work: Speaking, tokens: Sequence[str], place: int, tried: list[Sequence[str]]
) -> Iterator[tuple[int, Mention]]:
    """The longest tool that begins here; `tried` are the names that were looked up in this line."""
    vocabulary = tool_words(work.guide, work.words, work.texts.language)
    for length in range(min(_LONGEST_TOOL, len(tokens) - place), 0, -1):
        span = tokens[place : place + length]
        if (
            span[-1].isdecimal()
            and work.words.shorthand.get("".join(tokens[place + length : place + length + 1])) == "size"
        ):
            continue  # so wide
        if any(word not in vocabulary and not _is_number(work.words, word) for word in span):
            continue
        if _two_tools(work, span):
            continue
        tried.append(span)
        if len(tried) > MOST_LOOKED_UP:
            return
        mention = _mention(work, span)
        if mention is not None:
            yield length, mention


def _two_tools(work: Speaking, span: Sequence[str]) -> bool:
    """Whether a run of words names a tool, and then how many of another: "whip 1 big 4"."""
    kinds, numbers, weak = work.words.kinds, work.words.numbers, work.words.weak_tool_words
    for place in range(1, len(span) - 1):
        before, count, behind = span[place - 1 : place + 2]
        few = _is_number(work.words, count) and numbers.get(count, _MOST) <= _MOST
        few = few and (not count.isdecimal() or int(count) <= _MOST)
        other = behind.isalpha() and behind not in kinds and work.words.tool_words.get(behind, behind) not in kinds
        if few and other and before.isalpha() and before not in weak and _called(work, span[:place]):
            return True
    return False


def near_tool(work: Work, text: str) -> Mention | None:
    """The tool whose name some words of a text are nearest to, however they are spelt; None where none is near. Of a
    long text its first `MOST_COMPARED` words are compared."""
    words = [word for word in fold(text).split() if word.isalpha()][:MOST_COMPARED]
    common = work.guide.language(work.texts.language).words.common
    vocabulary = tool_words(work.guide, work.words, work.texts.language)
    near = cache(partial(_near, vocabulary=vocabulary))

    def may_be(span: tuple[str, ...]) -> bool:
        strange = any(len(w) >= _NAMED_FROM and not common(w) and w not in work.words.senses for w in span)
        return strange and len(" ".join(span)) >= _NEAR_FROM and all(common(w) or near(w) for w in span)

    spans = (tuple(words[n : n + length]) for length in (3, 2, 1) for n in range(len(words) - length + 1))
    for span in islice(filter(may_be, dict.fromkeys(spans)), MOST_LOOKED_UP):
        if tools := tools_named(work.guide, work.texts, work.words, said := " ".join(span)):
            return Mention(said, tools)
    return None


def _near(word: str, vocabulary: Collection[str]) -> bool:
    """Whether a word is a slip or two away from one by which tools are called; somebody's name is none."""
    from rapidfuzz.distance import OSA  # late: see `answering`

    slips = 2 if len(word) > _NEAR_FROM else 1
    return any(OSA.distance(word, each, score_cutoff=slips) <= slips for each in vocabulary)


def _mention(work: Speaking, span: Sequence[str]) -> Mention | None:
    words = [work.words.tool_words.get(word) or word for word in span]
    name = [word for word in words if word not in work.words.tool_endings]
    if len(name) > 1 and name[-1] in work.words.one_of_them:  # "the everyday one"
        tools = _called(work, name[:-1])
        return Mention(" ".join(name[:-1]), tools) if len(tools) == 1 else None
    if not name or (len(name) == 1 and name[0] in work.words.weak_tool_words and name[0] not in work.words.tool_names):
        return None
    count, rest = _how_many(work.words, name)
    if len(rest) < len(name) and any(word.isalpha() and word not in work.words.kinds for word in rest):
        tools = _called(work, rest)
        if tools and not tools_named(work.guide, work.texts, work.words, " ".join(name), exactly=True):
            return Mention(" ".join(rest), tools, count)
    tools = _called(work, name)
    if tools and (several := _in_the_plural(work, name)):
        return Mention(" ".join(name), tuple(dict.fromkeys((*tools, *several))), 1, plural=True)
    return Mention(" ".join(name), tools, 1) if tools else None


def _in_the_plural(work: Speaking, name: Sequence[str]) -> tuple[str, ...]:
    """The tools whose own names have a word in the plural that others have in the singular: "the pair of whips"."""
    own = {tool.tool: fold(tool.name).split() for tool in work.guide.shop.tools_file.tools}
    word = name[-1]
    singles = any(word.removesuffix("s") in names for names in own.values())
    plural = word.endswith("s") and len(word) > _NAMED_FROM and singles
    return tuple(tool for tool, names in own.items() if word in names) if plural else ()


def _called(work: Speaking, name: Sequence[str]) -> tuple[str, ...]:
    """The tools of this name; a number or two alone must be the whole name of one."""
    said = " ".join(name)
    return tools_in(work.guide, work.texts, work.words, work.words.tool_names.get(said, said))


def _how_many(words: StaffWords, name: Sequence[str]) -> tuple[int, list[str]]:
    first, rest = name[0], list(name[1:])
    if rest and _is_number(words, first):
        number = int(first) if first.isdecimal() else words.numbers[first]
        if number <= _MOST:
            return number, rest
    return 1, list(name)


def _is_number(words: StaffWords, word: str) -> bool:
    return word.isdecimal() or word in words.numbers
