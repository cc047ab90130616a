"""What the patterns find and what was learned, weighed against each other.

Rules of this file:
- what the patterns found is worth something beside what was learned (`SURE`, `UNSURE`): the two mostly agree, and where
  they do not, what was learned is right more often;
- what the patterns take for asking for something of the shop ("keep me the twenty until Friday") is never weighed, and
  what they take a whole message for ("is my visit confirmed?") stands against anything that is not sure;
- it is sure where its score is high (`SURELY`) and the sentence that asks is not like those that only tell something
  (`TELLING`). Only then it can go before what else is read in that sentence;
- only a message that has the form of a question, a request or a wish is weighed, and of its sentences only those that
  have it can be what asks. What has not asks nothing, but for what the patterns take, what people tell as well as ask
  ("my brakes squeal") and what asks so plainly that it needs no form (`PLAINLY`), where nothing else is understood;
- what a word means is asked only where a word of the glossary is named, or surely meant;
- a message without the form of a question that is more like telling than like asking asks nothing;
- what is asked for certain in a message that tells something too is answered beside that (`BOTH`);
- where a second enquiry is nearly as likely as the first (`NEARLY`), both are answered;
- where nothing was found in a message that asks, the `nearest` things that may be asked can be offered;
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
#: A second enquiry is answered too from this share of the score of the first on, where the first has less than this;
#: from that on, what names the job asks for something else all the same, and a word that always works goes first.
NEARLY, CLEARLY = 0.8, 0.7
#: These say that others know: beside an answer they say nothing more.
OTHERS_KNOW = frozenset({"ask-the-shop", "other-trouble"})
#: Somebody of the shop is wanted: the one word that always works which is also found by weighing.
PERSON = "person"
#: What the notes of the fastening that was named tell better.
IN_THE_NOTES = frozenset({"stuck"})
#: Of two that come to the same, the first is found by its very words: "is Thursday all right?".
BOTH_TRUE = frozenset({("open-day", "come-at")})
#: From this score on what is asked is answered beside what its own sentence tells.
BOTH = 0.55
#: What is only told has this many words, and at least one of these scores while it is at most so like what tells of the
#: wheel. What is less like that may also be what a question after it asks about.
FEW, TOLD, CALM = 3, ((0.5, 0.3), (0.75, 0.5)), 0.3
#: From this score on a sentence that is so calm asks, whatever its form ("cards or cash only").
PLAINLY = 0.65
#: By so much more must speak for another word than for the one that the patterns found.
OTHERWISE = 0.3
#: From this score on a word is meant that is not named.
UNNAMED = 0.4
#: The least scores of what is offered where nothing was found: of the nearest, and of what is offered beside it.
NEAREST, BESIDE = 0.22, 0.15
#: What a score of one is worth in the measure of the patterns.
WORTH = 10.0


def weighed(
    found: Enquiry | None, sentences: Sequence[Sentence], known: Enquiries, learned: Learned, opened: str | None
) -> Enquiry | None:
    """What is asked, from what the patterns `found` and what was learned."""
    if found is not None and found.ordered:
        return found
    saying = [sentence for sentence in sentences if sentence.keys]
    formed = [place for place, sentence in enumerate(saying) if sentence.formed]
    if not formed:
        unformed = _told(saying, known, learned, opened) if found is None and saying else found
        return unformed and replace(unformed, formed=False)
    whole = learned.scores(saying, opened)
    each = [learned.scores([sentence], opened) for sentence in saying] if len(saying) > 1 else [whole]
    meant = _meant(saying, known, whole)
    asking_ones = [each[place] for place in range(len(saying)) if place in formed or each[place].tells < CALM]
    scores = {kind: _score(kind, whole, asking_ones) for kind in whole.asks if meant or kind != MEANS}
    if found is not None:
        scores[found.id] = scores.get(found.id, 0.0) + (SURE if found.sure else UNSURE)
    if found is None and opened == ANSWERED:
        scores = {kind: score for kind, score in scores.items() if kind not in IN_THE_NOTES}
    first, second = sorted(scores, key=lambda kind: -scores[kind])[:2]
    if found is None and scores[first] < (CLEARLY if _for_the_job(saying, known) else ALONE):
        return None
    if found is None and _one_word(saying):
        return None
    if first not in known.kinds and scores[first] >= CLEARLY:
        words = tuple(key for sentence in saying for key in sentence.keys)
        return Enquiry(first, worth=scores[first] * WORTH, keys=words) if first == PERSON else None
    if first not in known.kinds or scores[first] < LEAST:
        return found if found is not None and found.sure else None
    asking = max(formed, key=lambda place: (saying[place].asks, each[place].asks.get(first, 0.0)))
    told = min(whole.tells, each[asking].tells)
    marked = any(sentence.mark or sentence.behind or sentence.marked for sentence in saying)
    asked, calm = whole.asks.get(first, 0.0), told >= TELLING and not marked
    if calm and asked <= told - CHATTING:
        return None
    nearly = second in known.kinds and scores[second] >= max(LEAST, NEARLY * scores[first])
    if nearly and first == "ask-the-shop":
        first, second = second, first
    also = second if nearly and scores[first] < CLEARLY and not {first, second} & {MEANS, *OTHERS_KNOW} else ""
    if (
        found is not None and not also and found.also and first in (found.id, found.also.partition(":")[0])
    ):  # asked in sentences of their own
        also = found.also if found.id == first else found.name
    worded = saying[asking].asks or whole.tells < ASKING or scores[first] >= CLEARLY
    surely = scores[first] >= SURELY and worded and told < TELLING
    surely = surely and not (opened == ANSWERED and first in IN_THE_NOTES)
    worth = scores[first] * (WORTH if surely else 1.0)
    put = saying[asking].mark or (saying[asking].asks and asked > whole.tells)
    tells = asked >= BOTH and put and whole.tells >= TELLING
    rather = calm and asked <= told
    if found is not None and found.id == first:
        sure = found.sure or surely
        if first == MEANS and whole.means.get(meant, 0.0) > whole.means.get(found.term, 0.0) + OTHERWISE:
            found = replace(found, term=meant)
        worth, put = max(found.worth, worth), found.put or saying[asking].formed
        return replace(found, sure=sure, put=put, worth=worth, also=also, tells=tells, rather=rather)
    if found is not None and found.sure and not surely and (found.whole or (found.id, first) in BOTH_TRUE):
        return found
    own, rest = parts(saying[asking], frozenset(), known)
    telling = [
        sentence.text.rstrip("?!. ")
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


def nearest(sentences: Sequence[Sentence], learned: Learned, opened: str | None) -> tuple[str, ...]:
    """What a message is likest to ask for, the likest first; nothing for one that asks nothing."""
    saying = [sentence for sentence in sentences if sentence.keys]
    if not any(sentence.asks and sentence.formed for sentence in saying) or _one_word(saying):
        return ()
    whole = learned.scores(saying, opened)
    each = [learned.scores([sentence], opened) for sentence in saying]
    scores = {kind: _score(kind, whole, each) for kind in whole.asks}
    ranked = sorted((kind for kind in scores if kind != MEANS and scores[kind] >= BESIDE), key=lambda k: -scores[k])
    near = bool(ranked) and scores[ranked[0]] >= NEAREST and whole.tells < TELLING
    return tuple(ranked) if near else ()


def _told(saying: Sequence[Sentence], known: Enquiries, learned: Learned, opened: str | None) -> Enquiry | None:
    """What people tell as well as ask, in a message without the form of a question, or ask so plainly that it needs no
    form: for what nothing else explains."""
    if _for_the_job(saying, known):
        return None
    best: tuple[float, int, str] | None = None
    for place, sentence in enumerate(saying):
        scores = learned.scores([sentence], opened)
        first = max(scores.asks, key=lambda kind: scores.asks[kind])
        likely = any(scores.asks[first] >= least and scores.tells <= most for least, most in TOLD)
        notes = opened == ANSWERED and first in IN_THE_NOTES
        plainly = first in known.kinds and first != MEANS and scores.asks[first] >= PLAINLY and scores.tells <= CALM
        if ((likely and first in known.told) or plainly) and len(sentence.keys) >= FEW and not notes:
            best = max(best or (0.0, 0, ""), (scores.asks[first], place, first))
    if best is None:
        return None
    worth, telling, kind = best
    rest = ". ".join(sentence.text.rstrip("?!. ") for place, sentence in enumerate(saying) if place != telling)
    return Enquiry(kind, sure=False, told=True, worth=worth, own=saying[telling].text, rest=rest)


def _one_word(sentences: Sequence[Sentence]) -> bool:
    """Whether a message is one word, which may always work ("done")."""
    return sum(len(sentence.keys) for sentence in sentences) < 2


def _for_the_job(sentences: Sequence[Sentence], known: Enquiries) -> bool:
    """Whether a message names what the conversation is for."""
    return any(not known.the_job.isdisjoint(sentence.places) for sentence in sentences)


def _score(kind: str, whole: Scores, each: Sequence[Scores]) -> float:
    """How much a message asks for something: as a whole, and in the sentence that asks most for it."""
    return (whole.asks[kind] + max(scores.asks[kind] for scores in each)) / 2


def _meant(sentences: Sequence[Sentence], known: Enquiries, scores: Scores) -> str:
    """The word of the glossary that is asked about: of those that are named, the likeliest; "" for none."""
    explained = {*known.terms, *(text for _, text in known.differences)}
    likely = (name for name, score in scores.means.items() if score >= UNNAMED and name in explained)
    named = named_in(sentences, known) or list(likely)
    return max(named, key=lambda name: scores.means.get(name, 0.0), default="")
