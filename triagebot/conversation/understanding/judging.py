"""How sure each reading is, by what the statement speaks of, how it is spelled, and what labelled messages taught.

Rules of this file: what is no news of this wheel is passed over; a reading counts, is asked back, or is dropped by how
sure it is (`sureness` in the words file). What was learned never writes what the rules read otherwise.
"""

from collections.abc import Iterator, Mapping
from collections.abc import Set as AbstractSet
from dataclasses import replace
from typing import cast

from triagebot.conversation.understanding import choices, commands
from triagebot.conversation.understanding.choices import Found
from triagebot.conversation.understanding.counts_and_sizes import Doubt
from triagebot.conversation.understanding.finding import find
from triagebot.conversation.understanding.guess import (
    ANYTHING,
    NOTHING,
    SOMETHING,
    UNSURE,
    VALUE,
    answer_of,
    features,
    of_some_words,
    of_words_alone,
)
from triagebot.conversation.understanding.layout import Layout, clause_ends
from triagebot.conversation.understanding.lexicon import Scope, Sureness
from triagebot.conversation.understanding.model import Guess
from triagebot.conversation.understanding.phrases import longest
from triagebot.conversation.understanding.settling import in_force, settle
from triagebot.conversation.understanding.whole_thoughts import (
    ALONE,
    alone,
    answers_and_goes_on,
    begins_with_not_knowing,
    ends_with_it,
    fills_its_clause,
    last_thought,
    leads,
    lone_count,
    one_of_two,
    only_of_the_open,
    outright,
    with_little_words,
)
from triagebot.conversation.understood import Aside
from triagebot.identify.readings import BoundReading, ChoiceReading, CountReading, Reading, SizeReading, UnsureReading

#: Where nothing was asked yet, a count with what is counted needs a message only this likely to be of this wheel.
FIRST = 0.15


def of_this_wheel(
    layout: Layout, found: list[Found], doubts: list[Doubt]
) -> tuple[list[Found], list[Doubt], list[tuple[Found, Aside]]]:
    """What is said of this wheel, with how sure it is; and what is passed over, with what it speaks of."""
    kept: list[Found] = []
    asides: list[tuple[Found, Aside]] = []
    for f in found:
        scope = _scope_of(layout, f.first, f.last)
        if scope == "tentative" and _only_wondered(layout, f):
            continue
        if scope == "own" or f.picked or _holds_anyway(layout, f, scope):
            kept.append(f)
        elif scope in ("tentative", "belief"):
            kept.append(
                f
                if isinstance(f.reading, SizeReading | BoundReading) or one_of_two(layout, f)
                else replace(f, sure=layout.words.sureness.tentative)
            )
        else:
            asides.append((f, cast(Aside, scope)))
    told = {f.reading.question for f in kept if _scope_of(layout, f.first, f.last) == "own"}
    kept = [f for f in kept if f.reading.question not in told or _scope_of(layout, f.first, f.last) != "belief"]
    if " ".join(token.key for token in layout.tokens) in layout.words.acknowledging:
        kept = [f if f.picked else replace(f, sure=layout.words.sureness.tentative) for f in kept]
    kept = _without_wavering(layout, kept)
    spoken = [d for d in doubts if _scope_of(layout, d.first, d.first) in ("own", "tentative", "belief")]
    return [_as_sure_as_spelt(layout, f) for f in kept], spoken, asides


def _without_wavering(layout: Layout, found: list[Found]) -> list[Found]:
    """With each choice less sure of which the message says that it is only half so: "half out", "it turns, but only
    sometimes"."""
    wavering = _wavering(layout)
    if not wavering:
        return found
    kept = [f for f in found if not (isinstance(f.reading, UnsureReading) and f.reading.question in wavering)]
    half = layout.words.sureness.tentative
    return [
        replace(f, sure=min(f.sure, half))
        if f.reading.question in wavering and isinstance(f.reading, ChoiceReading) and not f.picked
        else f
        for f in kept
    ]


def _wavering(layout: Layout) -> frozenset[str]:
    """The questions of which the message says two things at once."""
    keys = [token.key for token in layout.tokens]
    numbers = [token.number is not None for token in layout.tokens]
    ends = clause_ends(layout.tokens)
    found: set[str] = set()
    for place, end in enumerate(ends):
        _, meanings = longest(layout.words.wavering, keys, place, end, numbers, None, True)
        found.update(meaning.subject for meaning in meanings)
    return frozenset(found)


def _holds_anyway(layout: Layout, found: Found, scope: Scope) -> bool:
    """Whether a reading holds whatever its statement speaks of: not knowing, unless a question is asked, and what is
    said of the front itself ("motor in the front wheel")."""
    of_the_front = any(layout.key(place) in layout.words.at_the_front for place in range(found.first, found.last + 1))
    if isinstance(found.reading, UnsureReading):
        denies = any(layout.key(place) in layout.words.denials for place in range(found.first, found.last + 1))
        return scope != "question" or denies or "?" not in layout.plain.text
    return scope == "front" and of_the_front


def _only_wondered(layout: Layout, found: Found) -> bool:
    """Whether it is asked about in words that do not say that it is not known: "the whole wheel goes round too??"."""
    told = any(s.of("unsure") for s in layout.spans if found.first <= s.first <= found.last)
    return isinstance(found.reading, UnsureReading) and not told and "?" in layout.plain.text


def _scope_of(layout: Layout, first: int, last: int) -> Scope:
    scopes = layout.scopes[first : last + 1]
    if scopes[0] == "own" and set(scopes) == {"own", "question"}:
        return "own"  # "40 nm is that normal"
    return next((scope for scope in scopes if scope not in ("own", "tentative")), scopes[-1])


def _as_sure_as_spelt(layout: Layout, found: Found) -> Found:
    """A reading from a word that was typed otherwise is no surer than the word is, unless the whole is like a label."""
    guessed = any(token.guessed for token in layout.tokens[found.first : found.last + 1])
    alone = len(layout.tokens) == 1 and found.reading.question == layout.setting.open_question
    counts = alone and isinstance(found.reading, CountReading)  # "sevn"
    if not guessed or found.picked or counts or isinstance(found.reading, UnsureReading):
        return found
    if (label := choices.labelled(layout, exact=False)) is not None and label.reading == found.reading:
        return found
    return replace(found, sure=min(found.sure, layout.words.sureness.mistyped))


def seen(layout: Layout) -> dict[str, float]:
    """What the learned part of the reader sees of a message."""
    said = commands.whole(layout)
    found, doubts, _ = find(layout, said)
    kept, _, asides = of_this_wheel(layout, found, doubts)
    return _seen(layout, in_force(kept, settle(layout, kept)[0]), asides, said)


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
    looked_at = _seen(layout, found, asides, said)
    shares = guess.shares(looked_at)
    by_words: dict[str, dict[str, float]] = {}
    limits = layout.words.sureness
    about = shares.get(ANYTHING, {}).get(SOMETHING, 1.0)
    answered = any(f.reading.question == layout.setting.open_question for f in found)
    several = len({f.reading.question for f in found}) > 1
    judged: list[Found] = []
    doubted: list[Found] = []
    lone = alone(layout, found)
    only_open = only_of_the_open(layout, found)
    plainly_told = set(layout.scopes) == {"own"} and "?" not in layout.plain.text
    for f in _without_denials_beside(found):
        share = _share(f.reading, shares.get(f.reading.question, {}))
        opened = f.reading.question == layout.setting.open_question
        learned = f.reading.question in shares and f.reading.question != layout.words.makers
        unknown = isinstance(f.reading, UnsureReading)
        said_of_it = about >= (limits.ask if unknown and share >= limits.certain else limits.gate)
        said_of_it |= about >= limits.ask and _measured(layout, f)
        bare = (f.plain and said is not None) or f is lone or (about >= limits.fact and leads(layout, f, found))
        bare |= about >= limits.ask and (ends_with_it(layout, f) or answers_and_goes_on(layout, f))
        bare |= (
            one_of_two(layout, f)
            or only_open
            or (about >= limits.gate and plainly_told and fills_its_clause(layout, f))
        )
        bare |= unknown and about >= limits.gate and share >= limits.ask and begins_with_not_knowing(layout, found)
        bare |= unknown and about >= FIRST and leads(layout, f, found)
        bare |= outright(layout, f) or (about >= limits.ask and f.named and opened and set(layout.scopes) == {"own"})
        said_of_it |= about >= limits.ask and share >= limits.certain and (plainly_told or _counts_a_noun(f))
        said_of_it |= about >= FIRST and share >= limits.certain and _counts_a_noun(f) and _begins_with_it(layout)
        if learned and opened and not (bare or f.picked):
            by_words = by_words or guess.shares(of_words_alone(looked_at))
            backed = _share(f.reading, by_words[f.reading.question])
            backed = backed if backed >= limits.unbacked else max(backed, _backed_at_the_end(layout, guess, f))
            share = share if backed >= limits.unbacked else min(share, backed)
        if bare or f.picked or not learned or (share >= _enough(layout, f, several, answered) and said_of_it):
            judged.append(_surely_meant(layout, f, min(share, about)) if learned else f)
        elif not isinstance(f.reading, UnsureReading):  # nobody is asked back whether they do not know
            likely = said_of_it and not opened and share >= limits.asked_from
            likely |= share >= limits.ask and leads(layout, f, found)
            likely |= opened and _said_at_length(f)
            doubted.append(replace(f, sure=limits.ask if likely else min(share, about, f.sure)))
    against = {(f.reading.question, f.reading.choice) for f in doubted if isinstance(f.reading, ChoiceReading)}
    judged = [replace(f, sure=min(f.sure, limits.ask)) if _contradicted(f, against) else f for f in judged]
    judged += [
        replace(f, sure=max(f.sure, limits.fact))
        if _counted(f, judged, limits) or _judged_beside(layout, f, judged)
        else f
        for f in doubted
    ]
    if said is None and not found:
        judged += _counted_alone(layout, guess, looked_at)
    if said is None and not _picks_only(layout, found):
        judged += _guessed(layout, shares, {f.reading.question for f in found}, told=_told_by(layout, judged))
    return judged


def _backed_at_the_end(layout: Layout, guess: Guess, found: Found) -> float:
    """How likely a reading is from the words of the last thought alone, where it stands in that: what comes before may
    say the opposite ("sorry, not 23. It looks like 20")."""
    if (places := last_thought(layout, found)) is None:
        return 0.0
    return _share(found.reading, guess.shares(of_some_words(layout, places))[found.reading.question])


def _counted_alone(layout: Layout, guess: Guess, looked_at: Mapping[str, float]) -> Iterator[Found]:
    """The only number of a message of which nothing was read, as the open question's count, where what was learned says
    that one is told: "took a photo and counted 12"."""
    lone = lone_count(layout)
    if lone is not None:
        each = (
            guess.shares(seen_of).get(lone.reading.question, {}) for seen_of in (looked_at, of_words_alone(looked_at))
        )
        share = min(row.get(VALUE, 0.0) for row in each)
        if share >= layout.words.sureness.fact:
            yield replace(lone, sure=share)


def _begins_with_it(layout: Layout) -> bool:
    """Whether nothing was asked yet, and the message tells of this wheel alone."""
    told = set(layout.scopes) <= {"own", "wish"} and "?" not in layout.plain.text
    return layout.setting.open_question is None and told


def _counts_a_noun(found: Found) -> bool:
    """Whether it is a count with what is counted: "7 sprockets"."""
    return isinstance(found.reading, CountReading) and found.last > found.first


def _judged_beside(layout: Layout, found: Found, beside: list[Found]) -> bool:
    """Whether it names what something else is said of right behind: "my notches are all rounded off"."""
    if not isinstance(found.reading, ChoiceReading) or found.reading.denied:
        return False
    return any(
        found.reading.question in layout.words.beside.get(f.reading.question, ())
        and isinstance(f.reading, ChoiceReading)
        and 0 < f.first - found.last <= ALONE
        and layout.tokens[f.first].clause == layout.tokens[found.last].clause
        and f.sure >= layout.words.sureness.fact
        for f in beside
    )


def _said_at_length(found: Found) -> bool:
    """Whether a length has its unit, or one of two counts is meant ("like 8 or maybe 9?")."""
    reading = found.reading
    if isinstance(reading, CountReading):
        return reading.low < reading.high
    return isinstance(reading, SizeReading) and found.last > found.first


def _contradicted(found: Found, against: AbstractSet[tuple[str, str]]) -> bool:
    """Whether another choice of the same question was read too, however little sure: "the pedals always turn … coasting
    is not …"."""
    reading = found.reading
    if not isinstance(reading, ChoiceReading) or reading.denied or found.picked:
        return False
    return any(question == reading.question and choice != reading.choice for question, choice in against)


def _surely_meant(layout: Layout, found: Found, share: float) -> Found:
    """A reading of the open question that rests on a mistyped word, sure where all else speaks for it."""
    limits = layout.words.sureness
    mistyped = limits.mistyped <= found.sure < limits.fact and not found.plain
    opened = found.reading.question == layout.setting.open_question
    if isinstance(found.reading, CountReading) and not with_little_words(layout, found):
        return found  # a name may look like a number: "ring steven"
    return replace(found, sure=share) if mistyped and opened and share >= limits.certain else found


def _picks_only(layout: Layout, found: list[Found]) -> bool:
    """Whether the message is a shown choice, which says no more than when it is pressed."""
    return any(f.picked and (f.first, f.last) == (0, len(layout.tokens) - 1) for f in found)


def _share(reading: Reading, row: Mapping[str, float]) -> float:
    """The probability of a reading; of a denial, that something else is said of the question."""
    if isinstance(reading, ChoiceReading) and reading.denied:
        return 1.0 - row.get(NOTHING, 0.0) - row.get(reading.choice, 0.0)
    return row.get(answer_of(reading), 1.0)


def _enough(layout: Layout, found: Found, several: bool, answered: bool) -> float:
    """How likely what the rules read must be by what was learned; less beside an answer to the open question."""
    limits, opened = layout.words.sureness, found.reading.question == layout.setting.open_question
    if isinstance(found.reading, UnsureReading):
        if not {"plan", "chat"}.isdisjoint(layout.scopes):
            return limits.certain  # "not sure, let me look"
        return limits.together if several else limits.unknown
    number = isinstance(found.reading, CountReading) or (opened and isinstance(found.reading, SizeReading))
    if _measured(layout, found):
        return 0.0
    if number and found.last > found.first:  # with what it counts or its unit, which tells more
        return limits.ask if opened and not several else 0.0
    if opened and not several:
        return limits.doubted
    if opened or layout.setting.open_question is None:
        return limits.together
    return limits.asked_from if answered and set(layout.scopes) == {"own"} else limits.volunteered


def _measured(layout: Layout, found: Found) -> bool:
    """Whether it is the open question's size, with what it was measured with."""
    reading = found.reading
    instrument = isinstance(reading, SizeReading) and reading.means not in ("unknown", "eye")
    return instrument and reading.question == layout.setting.open_question and set(layout.scopes) == {"own"}


def _without_denials_beside(found: list[Found]) -> list[Found]:
    """Without what is denied where another choice is said: "not splines, notches"."""
    listed = {
        f.reading.question: f.reading.choice
        for f in found
        if isinstance(f.reading, ChoiceReading) and not f.reading.denied
    }
    return [
        f
        for f in found
        if not (
            isinstance(f.reading, ChoiceReading)
            and f.reading.denied
            and listed.get(f.reading.question, f.reading.choice) != f.reading.choice
        )
    ]


def _counted(found: Found, beside: list[Found], limits: Sureness) -> bool:
    """Whether a choice is named by what is counted: "4 notches"."""
    counts = [f for f in beside if isinstance(f.reading, CountReading) and f.sure >= limits.fact]
    return isinstance(found.reading, ChoiceReading) and any(
        f.first <= found.first and found.last <= f.last for f in counts
    )


def _told_by(layout: Layout, judged: list[Found]) -> bool:
    """Whether one reading that counts is made of the whole message, so that it says nothing else."""
    last = len(layout.tokens) - 1
    return any(f.first == 0 and f.last == last and f.sure >= layout.words.sureness.fact for f in judged)


def _guessed(
    layout: Layout, shares: Mapping[str, Mapping[str, float]], read: set[str], *, told: bool
) -> Iterator[Found]:
    """The likeliest answer of each question of which the rules read nothing: a fact only if it is very likely and the
    message speaks of this wheel and nothing else, else asked back; to a question that is not open, or where the
    message has `told` something else, never asked back."""
    limits = layout.words.sureness
    own = all(scope in ("own", "tentative") for scope in layout.scopes)
    own &= shares.get(ANYTHING, {}).get(SOMETHING, 1.0) >= limits.gate
    for question, row in shares.items():
        answer = max(row, key=row.__getitem__)
        opened = question == layout.setting.open_question
        counts = row[answer] >= limits.learned and own
        if question in read or answer in (NOTHING, VALUE, SOMETHING) or not (counts or (opened and not told)):
            continue
        sure = row[answer] if counts else min(row[answer], limits.mistyped)
        if answer != UNSURE:
            yield Found(ChoiceReading(question, answer), 0, len(layout.tokens) - 1, sure=sure)
        elif opened:
            yield Found(UnsureReading(question), 0, len(layout.tokens) - 1, sure=row[answer])
