"""What somebody asks in between, found in a message.

Rules of this file:
- each sentence is read by itself; it asks if it ends with a question mark, begins as questions do, or has words of
  asking in it;
- a row of patterns is found if all of them stand in the sentence, none on the words of another. Of several rows the one
  whose words tell most goes first (`Examples.telling`), then the one that stands higher in the files;
- words of the glossary come after everything else ("what does a lockring tool cost?" asks for the price), unless
  words that ask what they mean stand right before them;
- a sentence that no row is found in may be much like one of the examples, or mostly of the words of one enquiry.
"""

import re
from collections.abc import Callable, Sequence
from dataclasses import replace
from itertools import islice, pairwise

from triagebot.conversation.enquiries.known import Enquiries, Enquiry, Sought
from triagebot.conversation.enquiries.likeness import likest_of
from triagebot.conversation.enquiries.sentences import Place, Sentence, covered_by, others, sentence_of
from triagebot.conversation.enquiries.terms import about_a_word, directly_asked, named_before, named_first

#: How many sentences of a message are looked at.
MOST_SENTENCES = 6
#: What being quite like an example of the same enquiry is worth, in the measure of `Examples.telling`.
LIKENESS = 4.0
#: And that something is asked for, and not only about.
ORDERED = 6.0
#: And that it is a short cut that hurts.
FIRST = 3.0
#: What is told behind one of these belongs to the question: "which is the locknut? There are two nuts".
SPEAKS_OF_IT = frozenset({"what-is", "other-trouble"})
#: Sentences that ask only together are sure to do so if they have no more words than this: "Chain whip. Explain."
SHORT = 6
#: A part of a sentence with fewer words than this says nothing of the wheel.
SAYING = 2
_ANYTHING = re.compile(r".+", re.DOTALL)
_SENTENCE = re.compile(r"(?:[^.?!;\n]|\.(?=\S))+[.?!;\n]*")


def find_enquiry(text: str, known: Enquiries, common: Callable[[str], bool]) -> Enquiry | None:
    """What the message asks; of several things the first. `common`: whether a word is an ordinary one of the language,
    and so no slip of another."""
    found: list[tuple[Sentence, Enquiry]] = []
    sentences = [sentence_of(match, known, common) for match in islice(_SENTENCE.finditer(text), MOST_SENTENCES)]
    for sentence in sentences:
        if sentence.keys and (enquiry := _in_sentence(sentence, known)) is not None:
            found.append((sentence, enquiry))
    if (named := named_before(sentences, known)) is not None:
        found = [named]
    if len(sentences) > 1 and not any(enquiry.sure for _, enquiry in found):
        whole = _ANYTHING.search(text)
        joined = sentence_of(whole, known, common) if whole is not None else None
        enquiry = _in_sentence(joined, known) if joined is not None else None
        if joined is not None and enquiry is not None and enquiry.sure:
            return replace(enquiry, rest="", sure=len(joined.keys) <= SHORT, put=joined.marked, keys=joined.keys)
    if not found:
        return None
    sure = [row for row in found if row[1].sure]
    sentence, first = (sure or found)[0]
    asked = {each.first for each, enquiry in found if enquiry is first or enquiry.sure or each.marked}
    said = [(match.start(), match.group().strip()) for match in _SENTENCE.finditer(text)]
    own = first.id not in SPEAKS_OF_IT
    others = [words for place, words in said if place not in asked and (own or place < sentence.first)]
    rest = ". ".join(part for part in (first.rest, *others) if part)
    return replace(first, rest=rest, put=sentence.marked, keys=sentence.keys)


def _in_sentence(sentence: Sentence, known: Enquiries) -> Enquiry | None:
    tool = next((name for name, number in known.tools.items() if number in sentence.places), "")
    like = known.examples.likeness(sentence.keys)
    best = 0.0
    found: Enquiry | None = None
    if (first := named_first(sentence, known) or directly_asked(sentence, known)) is not None:
        return first
    for sought in known.sought:
        covered = covered_by(sentence, sought.patterns)
        worth = sum(known.examples.telling(sentence.keys[place]) for place in covered)
        worth += LIKENESS * like.get(sought.enquiry, 0.0) if covered else 0.0
        worth += ORDERED if covered and sought.kind == "order" else 0.0
        worth += FIRST if covered and sought.enquiry in known.first else 0.0
        if worth <= best or _strangers(sentence, known) > 2 + 2 * worth:
            continue
        alone = not others(sentence, covered, known)
        if sought.kind == "alone" and not alone:
            continue
        if sought.kind == "row" and not (sentence.asks or alone):
            continue
        best = worth
        own, rest = _parts(sentence, covered, known, sought)
        sure = sought.kind in ("alone", "order") or (sought.kind == "row" and sentence.asks)
        found = Enquiry(
            sought.enquiry,
            tool=tool,
            sure=sure,
            own=own,
            rest=rest,
            whole=sought.kind == "alone",
            worth=worth,
        )
    if found is None and (found := about_a_word(sentence, known)) is not None:
        named = known.terms.get(found.term)
        places = frozenset(start for start, _ in sentence.places.get(named, ())) if named is not None else frozenset()
        own, rest = _parts(sentence, places, known)
        found = replace(found, own=own, rest=rest)
    if found is None and sentence.asks:
        likest, worth = likest_of(like), 0.0
        if not likest and known.the_job.isdisjoint(sentence.places):
            likest, worth = known.vocabulary_of_each.best(sentence.keys, like)
        found = Enquiry(likest, tool=tool, sure=False, worth=worth) if likest else None
    return found


def _parts(
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


def _strangers(sentence: Sentence, known: Enquiries) -> int:
    """How many words no pattern, no example and no list of ours has."""
    return sum(
        key.isalpha() and key not in known.words and key not in known.fillers and not known.examples.has(key)
        for key in sentence.keys
    )
