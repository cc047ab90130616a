"""How sure each reading is, by what the statement speaks of, how it is spelled, and what labelled messages taught.

Rules of this file: what is no news of this wheel is passed over; a reading counts, is asked back, or is dropped by how
sure it is (`sureness` in the words file). What was learned never writes what the rules read otherwise.
"""

from collections.abc import Iterator, Mapping
from dataclasses import replace
from typing import cast

from triagebot.conversation.understanding import choices, commands
from triagebot.conversation.understanding.choices import Found
from triagebot.conversation.understanding.counts_and_sizes import Doubt
from triagebot.conversation.understanding.finding import find
from triagebot.conversation.understanding.guess import ANYTHING, NOTHING, SOMETHING, UNSURE, VALUE, answer_of, features
from triagebot.conversation.understanding.layout import Layout
from triagebot.conversation.understanding.lexicon import Scope
from triagebot.conversation.understanding.settling import in_force
from triagebot.conversation.understood import Aside
from triagebot.identify.readings import BoundReading, ChoiceReading, SizeReading, UnsureReading

#: A message that is one phrase of at most this many words is left to the rules.
ALONE = 3


def of_this_wheel(
    layout: Layout, found: list[Found], doubts: list[Doubt]
) -> tuple[list[Found], list[Doubt], list[tuple[Found, Aside]]]:
    """What is said of this wheel, with how sure it is; and what is passed over, with what it speaks of."""
    kept: list[Found] = []
    asides: list[tuple[Found, Aside]] = []
    for f in found:
        scope = _scope_of(layout, f.first, f.last)
        if scope == "own" or f.picked or _holds_anyway(layout, f, scope):
            kept.append(f)
        elif scope in ("tentative", "belief"):
            kept.append(
                f
                if isinstance(f.reading, SizeReading | BoundReading)
                else replace(f, sure=layout.words.sureness.tentative)
            )
        else:
            asides.append((f, cast(Aside, scope)))
    spoken = [d for d in doubts if _scope_of(layout, d.first, d.first) in ("own", "tentative", "belief")]
    return [_as_sure_as_spelt(layout, f) for f in kept], spoken, asides


def _holds_anyway(layout: Layout, found: Found, scope: Scope) -> bool:
    """Whether a reading holds whatever its statement speaks of: not knowing, and what is said of the front itself
    ("motor in the front wheel")."""
    of_the_front = any(layout.key(place) in layout.words.at_the_front for place in range(found.first, found.last + 1))
    return isinstance(found.reading, UnsureReading) or (scope == "front" and of_the_front)


def _scope_of(layout: Layout, first: int, last: int) -> Scope:
    scopes = layout.scopes[first : last + 1]
    return next((scope for scope in scopes if scope not in ("own", "tentative")), scopes[-1])


def _as_sure_as_spelt(layout: Layout, found: Found) -> Found:
    """A reading from a word that was typed otherwise is no surer than the word is, unless the whole is like a label."""
    guessed = any(token.guessed for token in layout.tokens[found.first : found.last + 1])
    if not guessed or found.picked:
        return found
    if (label := choices.labelled(layout, exact=False)) is not None and label.reading == found.reading:
        return found
    return replace(found, sure=min(found.sure, layout.words.sureness.mistyped))


def seen(layout: Layout) -> dict[str, float]:
    """What the learned part of the reader sees of a message."""
    said = commands.whole(layout)
    found, doubts, _ = find(layout, said)
    kept, _, asides = of_this_wheel(layout, found, doubts)
    return _seen(layout, in_force(layout, kept), asides, said)


def _seen(
    layout: Layout, kept: list[Found], asides: list[tuple[Found, Aside]], said: commands.Said | None
) -> dict[str, float]:
    readings = [(f.reading, True) for f in kept] + [(f.reading, False) for f, _ in asides]
    return features(layout, readings, said.command if said is not None else None)


def judged(
    layout: Layout, found: list[Found], asides: list[tuple[Found, Aside]], said: commands.Said | None
) -> list[Found]:
    """Each reading as sure as the learned part makes it, and the open question's likeliest answer where the rules read
    nothing."""
    guess = layout.words.guess
    if guess is None:
        return found
    shares = guess.shares(_seen(layout, found, asides, said))
    limits = layout.words.sureness
    about = shares.get(ANYTHING, {}).get(SOMETHING, 1.0)
    several = len({f.reading.question for f in found}) > 1
    judged = []
    alone = _alone(layout, found)
    for f in found:
        share = shares.get(f.reading.question, {}).get(answer_of(f.reading), 1.0)
        learned = f.reading.question in shares and f.reading.question != layout.words.makers
        opened = f.reading.question == layout.setting.open_question
        enough = limits.doubted if opened and not several else limits.volunteered
        enough = limits.fact if isinstance(f.reading, UnsureReading) else enough
        said_of_it = about >= limits.gate or share >= limits.certain
        trusted = f.plain or f.picked or f is alone or not learned or (share >= enough and said_of_it)
        if trusted or not isinstance(f.reading, UnsureReading):  # nobody is asked back whether they do not know
            judged.append(f if trusted else replace(f, sure=min(share, about, f.sure)))
    if said is None and not _picks_only(layout, found):
        judged += _guessed(layout, shares, {f.reading.question for f in found})
    return judged


def _alone(layout: Layout, found: list[Found]) -> Found | None:
    """The one reading of a short message that is one phrase of the open question, or of not knowing, and no more."""
    if len(found) != 1 or len(layout.spans) != 1 or len(layout.tokens) > ALONE or layout.scopes[0] != "own":
        return None
    opened = found[0].reading.question == layout.setting.open_question
    kinds = {meaning.kind for meaning in layout.spans[0].meanings}
    return found[0] if opened and kinds in ({"choice"}, {"unsure"}) else None


def _picks_only(layout: Layout, found: list[Found]) -> bool:
    """Whether the message is a shown choice, which says no more than when it is pressed."""
    return any(f.picked and (f.first, f.last) == (0, len(layout.tokens) - 1) for f in found)


def _guessed(layout: Layout, shares: Mapping[str, Mapping[str, float]], read: set[str]) -> Iterator[Found]:
    """The likeliest answer of each question of which the rules read nothing; to one that is not open only if it is
    sure enough to count."""
    for question, row in shares.items():
        answer = max(row, key=row.__getitem__)
        opened = question == layout.setting.open_question
        if (
            question in read
            or answer in (NOTHING, VALUE, SOMETHING)
            or (row[answer] < layout.words.sureness.learned and not opened)
        ):
            continue
        if answer != UNSURE:
            yield Found(ChoiceReading(question, answer), 0, len(layout.tokens) - 1, sure=row[answer])
        elif opened:
            yield Found(UnsureReading(question), 0, len(layout.tokens) - 1, sure=row[answer])
