"""Which part of a sentence asks, and what it tells beside that."""

from collections.abc import Sequence
from itertools import pairwise

from triagebot.conversation.enquiries.known import Enquiries, Sought
from triagebot.conversation.enquiries.sentences import Place, Sentence

#: A part of a sentence with fewer words than this says nothing of the wheel.
SAYING = 2


def parts(
    sentence: Sentence, covered: frozenset[int], known: Enquiries, sought: Sought | None = None
) -> tuple[str, str]:
    """What of a sentence asks, and what it says before and behind that: "it has 4 notches, can I use a
    hammer?" What follows a request says nothing about the wheel: "can I come at five, I finish at four"."""
    begins, ends = _asking_part(sentence, covered, known)
    if sought is not None:  # what is asked about may stand before that: "a pipe wrench round it, would that do"
        about = [place for place, _ in sentence.places.get(sought.patterns[0], ()) if place in covered]
        first = min(about, default=begins)
        begins = begins if first >= begins else max(place for place in sentence.clauses if place <= first)
    tells = sentence.keys[0] not in known.openers and sentence.keys[0] not in known.meanwhile
    told = [sentence.part(0, begins)] if tells else []
    behind = sentence.keys[ends:]
    plainly = (sought is None or sought.kind != "order") and not (sentence.marked and not _tells(behind, known))
    if plainly and behind and behind[0] not in known.openers and not _asked_from(sentence, known, ends):
        told.append(sentence.part(ends, len(sentence.keys)))
    return sentence.part(begins, ends), ". ".join(part for part in told if part)


def _tells(behind: Sequence[str], known: Enquiries) -> bool:
    """Whether a clause behind a question begins as those do that tell of the wheel: "..., I count 20"."""
    return any(" ".join(behind[:length]) in known.telling for length in (1, 2, 3))


def _asking_part(sentence: Sentence, covered: frozenset[int], known: Enquiries) -> Place:
    """From which word to which a sentence asks: the clause that has words of asking and the most of the enquiry; what
    stands before both in it is no part of that, if it is more than a word."""
    edges = (*sentence.clauses, len(sentence.keys))
    asked = _asked_from(sentence, known, 0)
    rows = [range(*each) for each in pairwise(edges)]
    both = [row for row in rows if any(place in row for place in asked) and any(place in row for place in covered)]
    both = both or [row for row in rows if any(place in row for place in (*asked, *covered))] or [range(edges[-1])]
    part = max(both, key=lambda row: (sum(place in row for place in covered), row.start))
    begins, ends = part.start, part.stop
    inner = min((place for place in (*asked, *covered) if place in part), default=begins)
    return (inner if inner - begins >= SAYING else begins), ends


def _asked_from(sentence: Sentence, known: Enquiries, first: int) -> list[int]:
    """Where words of asking begin, from a word on."""
    places = (start for number in known.asking for start, _ in sentence.places.get(number, ()))
    return [place for place in places if place >= first]
