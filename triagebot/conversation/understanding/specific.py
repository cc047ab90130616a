"""Readings of one question put right by what the topic's words know of its choices and of the questions near it.

Rules of this file: while one question is open, words of the questions it covers are about it ("splines" while the
hub's body is asked for); a finer choice goes before the general one that its words name too ("notches on the rim"); and
where all that could be there is denied, the choice that is left is meant ("no teeth, no slots").
"""

from collections.abc import Sequence
from dataclasses import replace

from triagebot.conversation.understanding.choices import Found
from triagebot.conversation.understanding.layout import Layout
from triagebot.conversation.understanding.words import Words
from triagebot.identify.readings import ChoiceReading, CountReading, UnsureReading


def uncovered(layout: Layout, found: list[Found]) -> list[Found]:
    """Without denials that only repeat what is said beside them of the question above: "threaded, not splined"."""
    covers = layout.words.covers
    kept = found
    for f in found:
        beneath = covers.get(f.reading.question, frozenset())
        if not beneath or not isinstance(f.reading, ChoiceReading) or f.reading.denied:
            continue
        clause = layout.tokens[f.first].clause
        kept = [
            k
            for k in kept
            if not (
                k.reading.question in beneath
                and isinstance(k.reading, ChoiceReading)
                and k.reading.denied
                and layout.tokens[k.last].clause == clause
            )
        ]
    return kept


def without_single(layout: Layout, found: list[Found]) -> list[Found]:
    """Without a count of one, or of fewer than are counted beside, that is only of the pieces of which something is
    said: "one slot is broken", "rounded on 2 of them", "2 are broken off but 12 in
    total"."""
    counted = [f.reading for f in found if isinstance(f.reading, CountReading)]
    lone = {
        (counted, layout.tokens[f.first].clause)
        for f in found
        for counted in layout.words.single.get(f.reading.question, frozenset())
    }
    return [
        f
        for f in found
        if not (
            isinstance(f.reading, CountReading)
            and (
                f.reading.high == 1
                or any(_more(other, f.reading) for other in counted)
                or any(layout.key(at) in layout.words.pronouns for at in range(f.first, f.last + 1))
            )
            and (f.reading.question, layout.tokens[f.first].clause) in lone
        )
    ]


def _more(other: CountReading, than: CountReading) -> bool:
    return other.question == than.question and other.low > than.high


def unsure_of_open(layout: Layout, unsure: Sequence[Found]) -> list[Found]:
    """What is not known of a question that the open one covers is not known of the open one."""
    opened = layout.setting.open_question or ""
    hidden = layout.words.covers.get(opened, frozenset())
    return [replace(f, reading=UnsureReading(opened)) if f.reading.question in hidden else f for f in unsure]


def narrowed(words: Words, question: str, found: list[Found]) -> list[Found]:
    """The finest of the choices named, or the choice that is left when all others are denied."""
    named = {f.reading.choice for f in found if isinstance(f.reading, ChoiceReading) and not f.reading.denied}
    denied = {f.reading.choice for f in found if isinstance(f.reading, ChoiceReading) and f.reading.denied}
    general = {coarse for fine, row in words.finer.get(question, {}).items() if fine in named for coarse in row}
    if general & named:
        return [
            f
            for f in found
            if not (isinstance(f.reading, ChoiceReading) and not f.reading.denied and f.reading.choice in general)
        ]
    for left, others in words.denied.get(question, {}).items():
        if not named and denied.issuperset(others):
            return [replace(f, reading=ChoiceReading(question, left)) for f in found]
    return found
