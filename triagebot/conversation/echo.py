"""What was understood, said back in a few words: "20 splines, then."

Rules of this file: a turn's echo begins otherwise than that of the turn before; one fact is said shorter than several;
"it" only stands for what was just asked about; where the number of splines is said, "it has splines" is not said too.
"""

from collections.abc import Sequence

from triagebot.conversation.case import Case
from triagebot.conversation.events import Answered
from triagebot.conversation.guide import Guide
from triagebot.conversation.policy import latest_choices
from triagebot.conversation.understood import Fact
from triagebot.conversation.wording import either, listing, makers_of, said, shown_value
from triagebot.identify import ChoiceReading, CountReading, Reading, UnsureReading
from triagebot.topics import Texts

#: The ways to begin, one after the other.
_WAYS = ("first", "second", "third", "fourth", "fifth")


def echo(guide: Guide, texts: Texts, before: Case, facts: Sequence[Fact]) -> str:
    """The facts of a message to the case `before` it, said back."""
    readings = [fact.reading for fact in facts]
    known = latest_choices((*before.now.readings, *readings))
    kept = _without_covered(texts, readings, known)
    way = _WAYS[sum(isinstance(event, Answered) and bool(event.facts) for event in before.events) % len(_WAYS)]
    if len(kept) == 1 and kept[0].question == before.now.question and isinstance(kept[0], UnsureReading):
        return texts(f"echo-unsure.{way}")
    brief = [words for each in kept if (words := _brief(guide, texts, each, known))]
    clauses = [
        _asked(guide, texts, each) if each.question == before.now.question else said(guide, texts, each)
        for each in kept
        if not _brief(guide, texts, each, known)
    ]
    groups = [listing(texts, group) for group in (brief, clauses) if group]
    words = texts("echo-both", before=groups[0], last=groups[1]) if len(groups) == 2 else groups[0]
    name = f"echo-one.{way}" if len(kept) == 1 else f"echo-several.{way}"
    return texts(name, said=words, start=words[:1].upper() + words[1:])


def _without_covered(texts: Texts, readings: Sequence[Reading], known: dict[str, str]) -> list[Reading]:
    """The readings, without choices that another one's words tell."""
    covered = {_tells(texts, reading, known) for reading in readings if isinstance(reading, CountReading)}
    return [
        each
        for each in dict.fromkeys(readings)
        if not isinstance(each, ChoiceReading) or each.denied or each.question not in covered
    ]


def _tells(texts: Texts, reading: Reading, known: dict[str, str]) -> str | None:
    """The question whose known answer is said together with this reading ("20 splines")."""
    name = f"question-{reading.question}"
    return next((other for other in known if texts.has(name, f"with-{other}")), None)


def _brief(guide: Guide, texts: Texts, reading: Reading, known: dict[str, str]) -> str:
    """A reading in a few words without a verb; nothing where there are none."""
    if isinstance(reading, UnsureReading):
        return ""
    if isinstance(reading, ChoiceReading):
        makers = () if reading.denied else makers_of(guide, reading)
        name = "said-marking" if makers else f"choice-{reading.question}-{reading.choice}"
        if reading.denied or not texts.has(name, "brief"):
            return ""
        return texts(f"{name}.brief", **({"makers": either(texts, makers)} if makers else {}))
    name, value = f"question-{reading.question}", shown_value(texts, reading)
    if (other := _tells(texts, reading, known)) is not None:
        return texts(f"{name}.with-{other}", value=value, **{other: known[other]})
    return texts(f"{name}.brief", value=value) if texts.has(name, "brief") else ""


def _asked(guide: Guide, texts: Texts, reading: Reading) -> str:
    """A reading that answers what was just asked, as a clause."""
    if isinstance(reading, ChoiceReading) and not reading.denied:
        name = f"choice-{reading.question}-{reading.choice}"
        if texts.has(name, "echo"):
            return texts(f"{name}.echo")
    return said(guide, texts, reading)
