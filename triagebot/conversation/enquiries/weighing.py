"""What the patterns find and what was learned, weighed against each other.

Rules of this file:
- what the patterns found is worth something beside what was learned (`SURE`, `UNSURE`): the two mostly agree, and where
  they do not, what was learned is right more often;
- it is sure where its score is high (`SURELY`) and the sentence that asks is not like those that only tell something
  (`TELLING`). Only then it can go before what else is read in that sentence;
- only a message that has the form of a question is weighed;
- what a word means is asked only where a word of the glossary is named, or surely meant;
- a message without the form of a question that is more like telling than like asking asks nothing;
- what is asked for certain in a message that tells something too is answered beside that (`BOTH`);
- where a second enquiry is nearly as likely as the first (`NEARLY`), both are answered;
- the sentence that asks is, of those with words of asking, the one with the highest score; those that are more like
  telling tell.
"""

from collections.abc import Sequence
from dataclasses import replace

from triagebot.conversation.enquiries.known import Enquiries, Enquiry
from triagebot.conversation.enquiries.learned import ANSWERED, MEANS, Learned, Scores
from triagebot.conversation.enquiries.parts import parts
from triagebot.conversation.enquiries.sentences import Sentence
from triagebot.conversation.enquiries.terms import named_in

#: What a finding of the patterns is worth.
SURE, UNSURE = 0.2, 0.1
#: The least score of what is asked, and from which on it is sure.
LEAST, SURELY = 0.25, 0.4
#: The least score of what no pattern finds.
ALONE = 0.35
#: From this score on a sentence tells something; below this one, one that has no words of asking asks all the same.
TELLING, ASKING = 0.5, 0.25
#: By so much more a message that has no form of a question must be like telling than like asking, to ask nothing.
CHATTING = 0.2
#: A second enquiry is answered too from this share of the score of the first on, where the first has less than this.
NEARLY, CLEARLY = 0.8, 0.7
#: These say that others know: beside an answer they say nothing more.
OTHERS_KNOW = frozenset({"ask-the-shop", "other-trouble"})
#: What the notes of the fastening that was named tell better.
IN_THE_NOTES = frozenset({"stuck"})
#: From this score on what is asked is answered beside what its own sentence tells.
BOTH = 0.55
#: By so much more must speak for another word than for the one that the patterns found.
OTHERWISE = 0.3
#: From this score on a word is meant that is not named.
UNNAMED = 0.4
#: What a score of one is worth in the measure of the patterns.
WORTH = 10.0


def weighed(
    found: Enquiry | None, sentences: Sequence[Sentence], known: Enquiries, learned: Learned, opened: str | None
) -> Enquiry | None:
    """What is asked, from what the patterns `found` and what was learned."""
    saying = [sentence for sentence in sentences if sentence.keys]
    if not saying or not _put(saying):
        return found
    whole = learned.scores(saying, opened)
    each = [learned.scores([sentence], opened) for sentence in saying]
    meant = _meant(saying, known, whole)
    scores = {kind: _score(kind, whole, each) for kind in whole.asks if meant or kind != MEANS}
    if found is not None:
        scores[found.id] = scores.get(found.id, 0.0) + (SURE if found.sure else UNSURE)
    if found is None and opened == ANSWERED:
        scores = {kind: score for kind, score in scores.items() if kind not in IN_THE_NOTES}
    first, second = sorted(scores, key=lambda kind: -scores[kind])[:2]
    if found is None and (scores[first] < ALONE or _no_more(saying, known)):
        return None
    if first not in known.kinds or scores[first] < LEAST:
        return found if found is not None and found.sure else None
    asking = max(range(len(saying)), key=lambda place: (saying[place].asks, each[place].asks.get(first, 0.0)))
    told = min(whole.tells, each[asking].tells)
    marked = any(sentence.mark or sentence.behind or sentence.marked for sentence in saying)
    asked, calm = whole.asks.get(first, 0.0), told >= TELLING and not marked
    if calm and asked <= told - CHATTING:
        return None
    nearly = second in known.kinds and scores[second] >= max(LEAST, NEARLY * scores[first])
    if nearly and first == "ask-the-shop":
        first, second = second, first
    also = second if nearly and scores[first] < CLEARLY and not {first, second} & {MEANS, *OTHERS_KNOW} else ""
    formed = saying[asking].asks or whole.tells < ASKING
    surely = scores[first] >= SURELY and formed and told < TELLING
    worth = scores[first] * (WORTH if surely else 1.0)
    put = saying[asking].mark or (saying[asking].asks and asked > whole.tells)
    tells = asked >= BOTH and put and whole.tells >= TELLING
    rather = calm and asked <= told
    if found is not None and found.id == first:
        sure = found.sure or surely
        if first == MEANS and whole.means.get(meant, 0.0) > whole.means.get(found.term, 0.0) + OTHERWISE:
            found = replace(found, term=meant)
        return replace(found, sure=sure, worth=max(found.worth, worth), also=also, tells=tells, rather=rather)
    own, rest = parts(saying[asking], frozenset(), known)
    telling = [
        sentence.part(0, len(sentence.keys))
        for place, sentence in enumerate(saying)
        if place != asking and each[place].tells >= each[place].asks.get(first, 0.0)
    ]
    return Enquiry(
        first,
        term=meant if first == MEANS else "",
        tool=next((name for name, number in known.tools.items() if any(number in s.places for s in saying)), ""),
        sure=surely,
        own=own,
        rest=". ".join(part for part in (rest, *telling) if part),
        put=saying[asking].asks,
        worth=worth,
        keys=tuple(key for sentence in saying for key in sentence.keys),
        also=also,
        tells=tells,
        rather=rather,
    )


def _put(sentences: Sequence[Sentence]) -> bool:
    """Whether a message has the form of a question somewhere: what only tells something is not asked on a likeness."""
    return any(sentence.asks or sentence.mark or sentence.marked for sentence in sentences)


def _no_more(sentences: Sequence[Sentence], known: Enquiries) -> bool:
    """Whether a message is one word, which may always work ("done"), or asks for what the conversation is for."""
    return sum(len(sentence.keys) for sentence in sentences) < 2 or any(
        not known.the_job.isdisjoint(sentence.places) for sentence in sentences
    )


def _score(kind: str, whole: Scores, each: Sequence[Scores]) -> float:
    """How much a message asks for something: as a whole, and in the sentence that asks most for it."""
    return (whole.asks[kind] + max(scores.asks[kind] for scores in each)) / 2


def _meant(sentences: Sequence[Sentence], known: Enquiries, scores: Scores) -> str:
    """The word of the glossary that is asked about: of those that are named, the likeliest; "" for none."""
    explained = {*known.terms, *(text for _, text in known.differences)}
    likely = (name for name, score in scores.means.items() if score >= UNNAMED and name in explained)
    named = named_in(sentences, known) or list(likely)
    return max(named, key=lambda name: scores.means.get(name, 0.0), default="")
