"""What staff say when they close a case: what it really was, and whether the remover fitted.

A fastening is named by its id, by a tool that takes off
nothing else, or by what is seen; what leaves two of them open is asked about, never guessed.
"""

from dataclasses import dataclass

from triagebot.conversation import Guide
from triagebot.counter.bench_line import Line, at_the_bench, continued, read_line
from triagebot.counter.tool_lookup import served, tools_named
from triagebot.counter.words import StaffWords
from triagebot.identify import belief
from triagebot.shop import fold
from triagebot.topics import Texts

#: What is seen names a fastening that keeps at least this share.
_CERTAIN = 0.9


@dataclass(frozen=True, slots=True)
class Outcome:
    """`fastening` is None where nothing was said about it; `fitted` None where no remover was tried, or nothing said.
    `could_be` are the fastenings that are left where it is not certain; `unknown` are words that say nothing."""

    fastening: str | None = None
    fitted: bool | None = None
    could_be: tuple[str, ...] = ()
    unknown: str = ""
    said: bool = False


def outcome_said(guide: Guide, texts: Texts, words: StaffWords, text: str) -> Outcome:
    """What a text says of how a case ended. Empty text says nothing."""
    rest, fitted, said = _fitting(words, text)
    if not rest:
        return Outcome(None, fitted, said=said)
    fastening, could_be = _fastening(guide, texts, words, rest)
    if fastening is None and not could_be and any(f" {each} " in f" {fold(rest)} " for each in words.no_kind):
        return Outcome(None, fitted, said=True)
    if fastening is None:
        return Outcome(None, fitted, could_be, "" if could_be else rest, said=True)
    return Outcome(fastening, fitted, said=True)


def _fitting(words: StaffWords, text: str) -> tuple[str, bool | None, bool]:
    """The rest of a text, whether the remover fitted, and whether that was said."""
    parts = text.split()
    folded = [fold(part) for part in parts]
    if " ".join(folded) in words.no_kind:
        return text.strip(" ,.;"), None, False
    found: list[tuple[int, int, bool | None]] = []
    for phrases, meaning in ((words.not_fitted, False), (words.fitted, True), (words.not_tried, None)):
        for phrase in phrases:
            length = len(phrase.split())
            places = range(len(folded) - length + 1)
            found += [(length, at, meaning) for at in places if " ".join(folded[at : at + length]) == phrase]
    if not found:
        return text.strip(" ,.;"), None, False
    length, at, meaning = max(found, key=lambda each: (each[0], each[1]))
    if meaning and at and folded[at - 1] in words.not_so:  # "nothing fitted", "never came off"
        length, at, meaning = length + 1, at - 1, False
    return " ".join([*parts[:at], *parts[at + length :]]).strip(" ,.;"), meaning, True


def _fastening(guide: Guide, texts: Texts, words: StaffWords, text: str) -> tuple[str | None, tuple[str, ...]]:
    broad = next(row.id for row in guide.topic.catalogue.fastenings if row.broad)
    plain = fold(text)
    if plain in words.unlisted:
        return broad, ()
    kinds = [row for row in guide.topic.catalogue.fastenings if not row.mistaken]
    by_name = {fold(name): row.id for row in kinds for name in (row.id, _short(texts, row.id))}
    if plain in by_name:
        return by_name[plain], ()
    tools = tools_named(guide, texts, words, text, exactly=True)
    for_tool = tuple(row.id for tool in tools for row in served(guide, tool).fastenings)
    if for_tool:
        return (for_tool[0], ()) if len(for_tool) == 1 else (None, for_tool)
    line = continued(Line(), read_line(guide, texts.language, text))
    if not line.facts:  # "was a seized freewheel"
        alone = (continued(Line(), read_line(guide, texts.language, word)) for word in text.split())
        line = next((each for each in alone if each.facts), line)
    if not line.facts:
        return None, ()
    model = at_the_bench(guide.topic).model
    shares = belief(model, line.readings)
    ranked = sorted(range(len(model.fastenings)), key=lambda place: -shares[place])
    if shares[ranked[0]] >= _CERTAIN:
        return model.fastenings[ranked[0]], ()
    return None, tuple(model.fastenings[place] for place in ranked if shares[place] >= model.plausible)


def _short(texts: Texts, fastening: str) -> str:
    return texts(f"fastening-{fastening}.short")
