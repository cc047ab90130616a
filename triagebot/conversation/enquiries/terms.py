"""A word of the glossary that is asked about.

Rules of this file:
- "what is a spline?", with nothing between, is always asked for its meaning;
- a word that is named first may be asked about behind it: "a chain whip, what is that?", "Skewer? What do you mean by
  it?";
- of several words the longest is meant, but two that are told apart are.
"""

from collections.abc import Sequence

from triagebot.conversation.enquiries.known import Enquiries, Enquiry
from triagebot.conversation.enquiries.sentences import Place, Sentence, covered_by, others

#: So many words beside it may stand in a sentence that asks what a word means; more if the two stand close together.
SPARE, SPARE_CLOSE, CLOSE = 7, 12, 2
#: What is named before it is asked about stands in a sentence of no more words.
NAMING = 9


def named_first(sentence: Sentence, known: Enquiries) -> Enquiry | None:
    """A word of the glossary that stands alone before a clause that asks what it is: "a chain whip, is that a bar?" """
    if len(sentence.clauses) < 2 or not sentence.asks or sentence.keys[-1] in known.tags:
        return None
    first = sentence.clauses[1]
    if not known.lacking.isdisjoint(sentence.keys[:first]):
        return None
    for name, number in known.terms.items():
        for start, end in sentence.places.get(number, ()):
            alone = all(key in known.fillers for key in (*sentence.keys[:start], *sentence.keys[end:first]))
            frames = (place for frame in known.what_is for place, _ in sentence.places.get(frame, ()))
            if end <= first and alone and any(place >= first for place in frames):
                return Enquiry("what-is", term=name, own=sentence.part(0, len(sentence.keys)))
    return None


def about_a_word(sentence: Sentence, known: Enquiries) -> Enquiry | None:
    """A word of the glossary that is asked about: the longest of those that are named, or two told apart."""
    named = {name: sentence.places[number] for name, number in known.terms.items() if number in sentence.places}
    if not named:
        return None
    for (one, other), text in known.differences:
        if one in named and other in named and sentence.asks:
            return Enquiry("what-is", term=text)
    term = max(named, key=lambda name: max((end - start, -start) for start, end in named[name]))
    frames = sorted(known.what_is & sentence.places.keys(), key=lambda frame: frame not in known.plain_what_is)
    for frame in frames if sentence.asks else ():
        covered = covered_by(sentence, (known.terms[term], frame))
        close = _close(sentence, known.terms[term], frame)
        if not (close or sentence.marked or sentence.behind):
            continue
        if covered and len(others(sentence, covered, known)) <= (SPARE_CLOSE if close else SPARE):
            return Enquiry("what-is", term=term, sure=(close or sentence.behind) and frame in known.plain_what_is)
    covered = covered_by(sentence, (known.terms[term],))
    if sentence.marked and covered and not others(sentence, covered, known):
        return Enquiry("what-is", term=term, sure=False)
    return None


def _close(sentence: Sentence, one: int, other: int) -> bool:
    """Whether two patterns stand beside each other, with at most `CLOSE` words between."""
    return any(
        0 <= max(first[0], second[0]) - min(first[1], second[1]) <= CLOSE
        for first in sentence.places[one]
        for second in sentence.places[other]
    )


def directly_asked(sentence: Sentence, known: Enquiries) -> Enquiry | None:
    """A word of the glossary right behind words that ask what it means, with nothing that belongs to it behind."""
    length = len(sentence.keys)
    for frame in known.directly:
        for _, begins in sentence.places.get(frame, ()):
            for name, ends in _terms_at(sentence, known, begins):
                behind = sentence.keys[ends] if ends < length else ""
                if not behind or ends in sentence.clauses or behind in known.openers or behind in known.fillers:
                    return Enquiry("what-is", term=_apart_from(sentence, known, name), own=sentence.part(0, length))
    if not sentence.asks:
        return None
    begun = {start for frame in known.directly_behind for start, _ in sentence.places.get(frame, ())}
    named = [(start, start - end, name) for name, n in known.terms.items() for start, end in sentence.places.get(n, ())]
    for start, shorter, name in sorted(named):
        if start - shorter in begun and all(key in known.fillers for key in sentence.keys[:start]):
            return Enquiry("what-is", term=_apart_from(sentence, known, name), own=sentence.part(0, length))
    return None


def named_in(sentences: Sequence[Sentence], known: Enquiries) -> list[str]:
    """The words of the glossary that some sentences name, in their order, and what tells two of them apart."""
    named = [
        (place, start, start - end, name)
        for place, sentence in enumerate(sentences)
        for name, number in known.terms.items()
        for start, end in sentence.places.get(number, ())
    ]
    names = [name for *_, name in sorted(named)]
    return [*dict.fromkeys(names), *(text for pair, text in known.differences if set(pair) <= set(names))]


def _apart_from(sentence: Sentence, known: Enquiries, name: str) -> str:
    """What tells this word and another one of its sentence apart, if the two are asked about together."""
    for pair, text in known.differences:
        other = next((each for each in pair if each != name), name)
        if name in pair and known.terms.get(other, -1) in sentence.places:
            return text
    return name


def _terms_at(sentence: Sentence, known: Enquiries, place: int) -> list[tuple[str, int]]:
    """The words of the glossary that begin there, with the place behind them; the longest first."""
    found = [
        (name, end)
        for name, number in known.terms.items()
        for start, end in sentence.places.get(number, ())
        if start == place
    ]
    return sorted(found, key=lambda row: -row[1])


def named_before(sentences: Sequence[Sentence], known: Enquiries) -> tuple[Sentence, Enquiry] | None:
    """A word that one short sentence names and a later one asks about by "it": "Skewer? What do you mean by it?" """
    for place, sentence in enumerate(sentences):
        if known.asking_it.isdisjoint(sentence.places):
            continue
        for before in sentences[: place + 1]:
            asked = min(_first_of(sentence.places[n]) for n in known.asking_it if n in sentence.places)
            named = [(_first_of(before.places[n]), name) for name, n in known.terms.items() if n in before.places]
            if before is sentence:
                named = [each for each in named if each[0] < asked]
            if named and (len(before.keys) <= NAMING or before is sentence) and known.lacking.isdisjoint(before.keys):
                name = min(named)[1]
                return sentence, Enquiry("what-is", term=name, own=sentence.part(0, len(sentence.keys)))
    return None


def _first_of(places: Sequence[Place]) -> tuple[int, int]:
    """Where the first and longest of these places begins."""
    return min((start, start - end) for start, end in places)
