"""From a tool to what it is for, and from what is seen to the tools.

A tool is known by its id in the topic, by the topic's word for it, and by the shop's name for it.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

from triagebot.conversation import Guide, Reply
from triagebot.conversation.blocks import Compact, Understood
from triagebot.conversation.reply import told
from triagebot.conversation.wording import all_said, either
from triagebot.counter.bench_answer import apart, kind_of, none_takes_off, nothing_takes_off, tool, where
from triagebot.counter.bench_line import Line, at_the_bench, continued, read_line
from triagebot.counter.words import StaffWords
from triagebot.identify import CountReading, belief
from triagebot.shop import fold
from triagebot.topics import Fastening, Texts

#: A name is meant from so many hundredths on that are right; others as near as this to the best may be meant as well.
_RIGHT, _AS_GOOD = 84.0, 4.0
#: A part of a name must be at least so long to stand for it.
_SHORTEST = 4


@dataclass(frozen=True, slots=True)
class Served:
    """A tool (a remover or an accessory of the topic) and the fastenings that it is for."""

    tool: str
    fastenings: tuple[Fastening, ...]


#: So many tools may be meant by what is seen; more than that mean none.
_MOST_SEEN = 4
#: A rare kind that what was told speaks for fits from this share on: its tool may be the right one of two look-alikes.
_RARE = 0.01
#: What is seen names a tool by so many things at least: how many there are, and of what.
_SEEN_FROM = 2


def tools_named(guide: Guide, texts: Texts, words: StaffWords, text: str, *, exactly: bool = False) -> tuple[str, ...]:
    """The tools that a text may name, the best first; none where nothing is near."""
    said = _bare(words, text)
    if not said:
        return ()
    names = _bare_names(guide, texts, words)
    same = tuple(tool for tool, known in names.items() if said in known)
    if same or exactly:
        return same
    scores = {tool: max(_alike(said, name) for name in known) for tool, known in names.items()}
    best = max(scores.values(), default=0.0)
    if best < _RIGHT:
        return ()
    return tuple(sorted((t for t in scores if scores[t] >= best - _AS_GOOD), key=lambda t: -scores[t]))


def told_first(words: StaffWords, text: str) -> str:
    """What is told before anything else is asked: "2 notch 25 which is it and where" is "2 notch 25"."""
    said = text.split()
    asks = next((place for place, word in enumerate(said) if place and fold(word) in words.inquires), len(said))
    return " ".join(said[: asks - 1] if said[asks - 1 : asks] == ["and"] else said[:asks])


@lru_cache(maxsize=64)  # a branch each
def _bare_names(guide: Guide, texts: Texts, words: StaffWords) -> Mapping[str, tuple[str, ...]]:
    return {tool: tuple(_bare(words, name) for name in _names(guide, texts, tool)) for tool in _tools(guide)}


@lru_cache(maxsize=64)  # a branch each
def _words_of_names(guide: Guide, texts: Texts) -> Mapping[str, frozenset[str]]:
    names = {tool: _names(guide, texts, tool) for tool in _tools(guide)}
    return {tool: frozenset(word for name in known for word in fold(name).split()) for tool, known in names.items()}


def without_ending(words: StaffWords, name: str) -> str:
    """ "the small four fit" is about "the small four"."""
    for ending in sorted(words.fits_endings, key=len, reverse=True):
        if fold(name).endswith(f" {ending}"):
            return name[: -len(ending)].rstrip()
    return name


@lru_cache(maxsize=256)
def tools_in(guide: Guide, texts: Texts, words: StaffWords, text: str) -> tuple[str, ...]:
    """The tools that a text means, as people say them: by a name, in the plural, or by some words of it ("the 40")."""
    for tried in dict.fromkeys((text, _singular(text))):
        if found := tools_named(guide, texts, words, tried, exactly=True):
            return found
    wanted = set(_bare(words, _singular(text)).split())
    known = _words_of_names(guide, texts)
    some = tuple(tool for tool, parts in known.items() if wanted and wanted <= parts)
    own = tuple(tool for tool in some if guide.shop.tool_for(tool) is not None)
    return own or some or tools_named(guide, texts, words, text) or _seen(guide, texts, text)


def _seen(guide: Guide, texts: Texts, text: str) -> tuple[str, ...]:
    """The tools of the shop's for what is seen: "4n" is each that takes off something with four notches."""
    line = continued(Line(), read_line(guide, texts.language, text))
    counts = [reading for reading in line.readings if isinstance(reading, CountReading)]
    if not counts or len(line.facts) < _SEEN_FROM:
        return ()
    removers = dict.fromkeys(
        row.remover
        for row in fitting(guide, line)
        if row.remover and all(_has_so_many(row, reading) for reading in counts)
    )
    return tuple(tool for tool in removers if guide.shop.tool_for(tool) is not None)[:_MOST_SEEN]


def _has_so_many(row: Fastening, reading: CountReading) -> bool:
    """Whether a count is one that a fastening truly has, and not only near it."""
    truth = row.answers.get(reading.question)
    return str(reading.low) in (truth if isinstance(truth, Mapping) else (str(truth),))


def served(guide: Guide, tool: str) -> Served:
    """What a tool is for: what it takes off, or what it is needed with."""
    rows = guide.topic.catalogue.fastenings
    return Served(tool, tuple(row for row in rows if tool == row.remover or tool in row.accessories))


def tools_for(guide: Guide, line: Line) -> tuple[Served, ...]:
    """The removers for all that fits what was told, the likeliest first, each with the fastenings that fit."""
    found: dict[str, list[Fastening]] = {}
    for fastening in fitting(guide, line, rare=True):
        if fastening.remover is not None:
            found.setdefault(fastening.remover, []).append(fastening)
    return tuple(Served(remover, tuple(rows)) for remover, rows in found.items())


def fitting(guide: Guide, line: Line, *, rare: bool = False) -> list[Fastening]:
    """The kinds that fit what was told, the likeliest first; with `rare`, those that it speaks for as well."""
    topic = at_the_bench(guide.topic)
    shares = belief(topic.model, line.readings)
    ranked = sorted(range(len(shares)), key=lambda place: -shares[place])
    kinds = [topic.fastenings[topic.model.fastenings[place]] for place in ranked]
    return [
        kind
        for kind, place in zip(kinds, ranked, strict=True)
        if _fits(kind, shares[place], topic.model.plausible, rare=rare)
    ]


def _fits(kind: Fastening, share: float, plausible: float, *, rare: bool) -> bool:
    """Whether a kind is likely, or with `rare` less so but more likely for what was told."""
    return share >= plausible or (rare and share >= _RARE and share > kind.prior and not kind.broad)


# --- in words -----------------------------------------------------------------------------------------------------


def tell_served(
    guide: Guide, texts: Texts, tools: Sequence[str], said: str, lent: Callable[[str], str] = lambda tool: ""
) -> Reply:
    """What the tool that was named is for; which are meant, where it may be several. `lent` says who has those of a
    tool that do not hang there."""
    if not tools:
        return told(texts("staff-no-such-tool", name=said))
    if len(tools) > 1:
        return told(texts("staff-which-tool", names=either(texts, [_called(guide, texts, tool) for tool in tools])))
    found, own = served(guide, tools[0]), guide.shop.tool_for(tools[0])
    name, kind = _called(guide, texts, tools[0]), kind_of(texts, tools[0])
    rows = [texts("staff-kind-row", fastening=texts(f"fastening-{row.id}.short")) for row in found.fastenings]
    hangs = texts("staff-hangs", **where(own)) if own is not None and own.count else texts("staff-hangs-nowhere")
    head = texts("staff-serves" if rows else "staff-serves-none", name=name, tool=kind)
    return told("\n".join(filter(None, [head, *rows, hangs, lent(tools[0])])))


def tell_tools(guide: Guide, texts: Texts, line: Line, *, among: Sequence[str] = ()) -> Reply:
    """Which of our tools fit what was told, where they hang and how many there are; none where it is most likely a
    kind that nothing takes off. `among`: only these tools are meant, if one of them fits."""
    fits = fitting(guide, line)
    if fits and nothing_takes_off(fits[0]):
        return told(none_takes_off(texts, fits))
    found = tools_for(guide, line)
    found = tuple(each for each in found if each.tool in among) or found
    if not found:
        return told(texts("staff-no-tool"))
    rows = []
    for each in found:
        own = tool(guide, texts, each.tool, alone=False)
        kinds = apart(texts, [texts(f"fastening-{row.id}.short") for row in each.fastenings])
        rows.append(replace(own, text=texts("staff-tools-row", tool=own.text, fastenings=kinds), listed=True))
    questions = tuple(dict.fromkeys(reading.question for reading in line.readings))
    heard = Understood(texts("staff-heard", clauses=all_said(guide, texts, line.readings)), questions)
    return Reply((Compact((heard, *rows)),), "question")


def _tools(guide: Guide) -> tuple[str, ...]:
    return (*guide.topic.removers, *guide.topic.accessories)


def _names(guide: Guide, texts: Texts, tool: str) -> list[str]:
    own = guide.shop.tool_for(tool)
    return [tool, kind_of(texts, tool), *([own.name] if own is not None else [])]


def _called(guide: Guide, texts: Texts, tool: str) -> str:
    own = guide.shop.tool_for(tool)
    return own.name if own is not None else kind_of(texts, tool)


def _singular(text: str) -> str:
    """ "big fours" is "big four" for a start."""
    return text[:-1] if len(text) > _SHORTEST and text.endswith("s") and not text.endswith("ss") else text


def _bare(words: StaffWords, text: str) -> str:
    """A name without case, accents, signs and articles in front."""
    parts = fold(text).split()
    while parts and parts[0] in words.articles:
        parts = parts[1:]
    return " ".join(parts)


def _alike(said: str, name: str) -> float:
    """How much of what was said is right, in hundredths: slips of the hand cost little, words in another order
    nothing; words of the name that were left out cost a little."""
    from rapidfuzz import fuzz  # late: see `answering`

    whole = fuzz.token_sort_ratio(said, name)
    part = 0.97 * fuzz.token_set_ratio(said, name) if len(said) >= _SHORTEST else 0.0
    return max(whole, part)
