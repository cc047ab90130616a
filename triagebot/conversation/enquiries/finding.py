"""What somebody asks in between, found in a message.

Rules of this file:
- each sentence is read by itself; it asks if it ends with a question mark, begins as questions do, or has words of
  asking in it;
- a row of patterns is found if all of them stand in the sentence, none on the words of another. Of several rows the one
  whose words tell most goes first (`Examples.telling`), then the one that stands higher in the files;
- of several sentences that surely ask, the first two are answered;
- words of the glossary come after everything else ("what does a lockring tool cost?" asks for the price), unless
  words that ask what they mean stand right before them;
- a sentence that no row is found in may be much like one of the examples, or mostly of the words of one enquiry.
"""

import re
from collections.abc import Callable, Sequence
from dataclasses import replace

from triagebot.conversation.enquiries.known import Enquiries, Enquiry
from triagebot.conversation.enquiries.learned import Learned
from triagebot.conversation.enquiries.likeness import likest_of
from triagebot.conversation.enquiries.parts import parts
from triagebot.conversation.enquiries.sentences import (
    Sentence,
    covered_by,
    others,
    said_in,
    second_questions,
    sentence_of,
    sentences_of,
)
from triagebot.conversation.enquiries.terms import about_a_word, directly_asked, named_before, named_first
from triagebot.conversation.enquiries.weighing import nearest, weighed

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
_ANYTHING = re.compile(r".+", re.DOTALL)


def find_enquiry(
    text: str, known: Enquiries, common: Callable[[str], bool], opened: str | None = None
) -> Enquiry | None:
    """What the message asks, while a question is open; of several things the first. `common`: whether a word is an
    ordinary one of the language, and so no slip of another."""
    sentences = sentences_of(text, known, common)
    found = _by_patterns(text, sentences, known, common)
    if known.learned is not None:
        found = weighed(found, sentences, known, Learned(known.learned), opened)
    return found and replace(found, leans=found.id in known.leaning)


def nearest_enquiries(
    text: str, known: Enquiries, common: Callable[[str], bool], opened: str | None = None
) -> tuple[str, ...]:
    """What a message that asks something, in which nothing was found, is likest to ask for."""
    if known.learned is None:
        return ()
    return nearest(sentences_of(text, known, common), Learned(known.learned), opened)


def _by_patterns(
    text: str, sentences: Sequence[Sentence], known: Enquiries, common: Callable[[str], bool]
) -> Enquiry | None:
    found: list[tuple[Sentence, Enquiry]] = []
    for sentence in sentences:
        if sentence.keys and (enquiry := _in_sentence(sentence, known)) is not None:
            found.append((sentence, enquiry))
    if len(found) == 1 and len(sentences) == 1:
        found += _behind_a_joint(*found[0], known, common)
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
    also = next((each.name for place, each in sure if place.marked and each.name != first.name), "")
    asked = {each.first for each, enquiry in found if enquiry is first or enquiry.sure or each.marked}
    own = first.id not in SPEAKS_OF_IT
    others = [words for place, words in said_in(text) if place not in asked and (own or place < sentence.first)]
    rest = ". ".join(part for part in (first.rest, *others) if part)
    return replace(first, rest=rest, put=sentence.marked, keys=sentence.keys, also=also if sentence.marked else "")


def _behind_a_joint(
    sentence: Sentence, first: Enquiry, known: Enquiries, common: Callable[[str], bool]
) -> list[tuple[Sentence, Enquiry]]:
    """What else is surely asked in a sentence that asks twice: "how much is it and are you open on Saturday?" """
    for place in second_questions(sentence, known):
        halves = [_ANYTHING.search(sentence.part(*part)) for part in ((0, place), (place, len(sentence.keys)))]
        asked = [sentence_of(half, known, common) for half in halves if half is not None]
        both = [
            (half, enquiry) for half in asked if (enquiry := _in_sentence(half, known)) is not None and enquiry.sure
        ]
        other = [(replace(sentence, first=-1), enquiry) for _, enquiry in both if enquiry.name != first.name]
        if len(both) == 2 and len(other) == 1:
            return other
    return []


def _in_sentence(sentence: Sentence, known: Enquiries) -> Enquiry | None:
    tool = next((name for name, number in known.tools.items() if number in sentence.places), "")
    like = known.examples.likeness(sentence.keys)
    best = 0.0
    found: Enquiry | None = None
    if (first := named_first(sentence, known) or directly_asked(sentence, known)) is not None:
        return first
    strangers = _strangers(sentence, known)
    for sought in known.sought_among(sentence.places):
        covered = covered_by(sentence, sought.patterns)
        worth = sum(known.examples.telling(sentence.keys[place]) for place in covered)
        worth += LIKENESS * like.get(sought.enquiry, 0.0) if covered else 0.0
        worth += ORDERED if covered and sought.kind == "order" else 0.0
        worth += FIRST if covered and sought.enquiry in known.first else 0.0
        if worth <= best or strangers > 2 + 2 * worth:
            continue
        alone = not others(sentence, covered, known)
        if sought.kind == "alone" and not alone:
            continue
        if sought.kind == "row" and not (sentence.asks or alone):
            continue
        best = worth
        own, rest = parts(sentence, covered, known, sought)
        sure = sought.kind in ("alone", "order") or (sought.kind == "row" and sentence.asks)
        found = Enquiry(
            sought.enquiry,
            tool=tool,
            sure=sure,
            own=own,
            rest=rest,
            whole=sought.kind == "alone",
            worth=worth,
            ordered=sought.kind == "order",
        )
    if found is None and (found := about_a_word(sentence, known)) is not None:
        named = known.terms.get(found.term)
        places = frozenset(start for start, _ in sentence.places.get(named, ())) if named is not None else frozenset()
        own, rest = parts(sentence, places, known)
        found = replace(found, own=own, rest=rest)
    if found is None and sentence.asks:
        likest, worth = likest_of(like), 0.0
        if not likest and known.the_job.isdisjoint(sentence.places):
            likest, worth = known.vocabulary_of_each.best(sentence.keys, like)
        found = Enquiry(likest, tool=tool, sure=False, worth=worth) if likest else None
    return found


def _strangers(sentence: Sentence, known: Enquiries) -> int:
    """How many words no pattern, no example and no list of ours has."""
    return sum(
        key.isalpha() and key not in known.words and key not in known.fillers and not known.examples.has(key)
        for key in sentence.keys
    )
