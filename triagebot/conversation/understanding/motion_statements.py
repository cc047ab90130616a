"""The statements of a message on whether one thing moves with another, and how each of them is built.

Rules of this file: where one statement ends and the next begins, what a verb is said of, whether it is denied, and
what it goes along with. `motion` decides what that says of the part.
"""

from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TypeVar

from triagebot.conversation.understanding.denials import answers_by_itself
from triagebot.conversation.understanding.layout import Layout, Span, clause_ends
from triagebot.conversation.understanding.lexicon import MotionTerm
from triagebot.conversation.understanding.phrases import PhraseMeaning, longest

THINGS = frozenset[MotionTerm](
    {"part", "no-part", "it", "who", "them", "driver", "base", "other", "person", "everything", "others", "nothing"}
)
MOVING = frozenset[MotionTerm]({"turn", "go", "follow", "like", "orbit"})
VERBS = MOVING | frozenset[MotionTerm]({"rest", "stuck", "seized", "echo", "apart"})
LINKS = frozenset[MotionTerm]({"with", "round", "relative", "except", "follow", "like"})
CUTS = frozenset[MotionTerm]({"cut", "if"})
#: These stand between the others and change nothing.
SMALL = frozenset[MotionTerm]({"adverb", "article"})


#: Nobody says of one thing in more terms than these whether it moves; a statement that goes on is two.
LONGEST = 24


@dataclass(frozen=True, slots=True)
class Term:
    """One word or phrase that says something of motion, with its tokens."""

    kind: MotionTerm
    first: int
    last: int


_Placed = TypeVar("_Placed", Term, Span)


def _begin(what: Term | Span) -> int:
    return what.first


def within(row: Sequence[_Placed], begin: int, end: int) -> Sequence[_Placed]:
    """Those of a row from left to right that may hold a token from `begin` to before `end`."""
    first = bisect_left(row, begin, key=_begin)
    return row[max(first - 1, 0) : bisect_left(row, end, key=_begin)]


def terms_of(layout: Layout, question: str) -> list[Term]:
    """The terms of the message from left to right; words for other things are terms too."""
    tokens = layout.tokens
    keys = [token.key for token in tokens]
    numbers = [token.number is not None for token in tokens]
    others = {t for s in layout.spans if s.of("other") or s.of("off-topic") for t in range(s.first, s.last + 1)}
    root = layout.words.motion[question]
    named = [s for s in layout.spans if s.last > s.first and any(_names_another(m, question) for m in s.meanings)]
    ends = clause_ends(tokens)
    named_by = {t for s in named for t in range(s.first, s.last + 1)}
    terms: list[Term] = []
    place = 0
    while place < len(tokens):
        end, meanings = longest(root, keys, place, ends[place], numbers, None, True)
        if meanings and not (meanings[0].subject == "driver" and _only_counted(layout, place, end)):
            kind: MotionTerm = meanings[0].subject  # type: ignore[assignment]
            if kind == "part" and place in named_by:
                kind = "other"
            terms.append(Term(kind, place, end - 1))
        elif place in others:
            terms.append(Term("other", place, place))
        place = max(end, place + 1)
    return terms


def _names_another(meaning: PhraseMeaning, question: str) -> bool:
    """Whether a phrase is the name of another question's own thing: "wire ring"."""
    return meaning.kind == "name" and meaning.subject != question


def _only_counted(layout: Layout, first: int, end: int) -> bool:
    """Whether a thing is only counted and nothing is said of it: "6 cogs stays 2 notches"."""
    tokens = layout.tokens
    counted = first > 0 and tokens[first - 1].number is not None and tokens[first - 1].clause == tokens[first].clause
    begins = first == 1 or (first > 1 and tokens[first - 2].clause != tokens[first].clause)
    return counted and begins and end < len(tokens) and tokens[end].clause == tokens[first].clause


def statements_of(layout: Layout, terms: list[Term]) -> list[list[Term]]:
    """The terms of each statement: cut at punctuation and turning words, and where a new subject follows a verb."""
    statements: list[list[Term]] = [[]]
    for place, term in enumerate(terms):
        before = terms[place - 1] if place else None
        if before is None:
            statements[-1].append(term)
            continue
        current = statements[-1]
        new_clause = layout.tokens[before.last].clause != layout.tokens[term.first].clause
        verb = any((t.kind in VERBS and t.kind != "echo") or t.kind == "hand" for t in current)
        behind = terms[place + 1].kind if place + 1 < len(terms) else None
        opens = term.kind == "hand" or (term.kind == "only" and behind in THINGS)
        subject = term.kind in THINGS or (opens and before.kind not in LINKS)
        linked = before.kind in LINKS or (before.kind in ("and", "only") and _linked(current))
        if not new_clause and inverted(current):
            linked = True
        if new_clause or term.kind in CUTS or (verb and subject and not linked) or len(current) >= LONGEST:
            taken = current and subject and not new_clause and before.kind in ("and", "only")
            moved = [current.pop()] if taken else []
            statements.append(moved)
        statements[-1].append(term)
    return statements


def inverted(current: Sequence[Term]) -> bool:
    """Whether the subject comes behind: "the only thing that moves is ..."."""
    only = any(t.kind == "only" and t.last > t.first for t in current)
    things = [t.kind in THINGS for t in current]
    return only and (not any(things) or (current[-1].kind == "and" and sum(things) == 1))


def _linked(current: Sequence[Term]) -> bool:
    """Whether the last thing of a statement stands behind a link: "with the cogs and the rest"."""
    things = [at for at, t in enumerate(current) if t.kind in THINGS]
    return bool(things) and things[-1] > 0 and current[things[-1] - 1].kind in LINKS


@dataclass(frozen=True, slots=True)
class Statement:
    """The terms of one statement, in the message where it stands; `conditions`: the statements beside it."""

    layout: Layout
    question: str
    terms: list[Term]
    conditions: list[list[Term]]
    all_terms: list[Term]

    def ends(self, at: int) -> bool:
        """Whether no word of its clause stands behind the term, save one that begins another statement."""
        after = self.terms[at].last + 1
        tokens = self.layout.tokens
        if after >= len(tokens) or tokens[after].clause != tokens[after - 1].clause:
            return True
        root = self.layout.words.motion[self.question]
        _, meanings = longest(root, [t.key for t in tokens], after, len(tokens), [False] * len(tokens), None, True)
        return bool(meanings) and (
            meanings[0].subject in THINGS or meanings[0].subject in ("cut", "if", "only", "and", "adverb")
        )

    def subject(self, verb: int) -> tuple[frozenset[MotionTerm], int]:
        """The things that the verb is said of, and where the first of them stands: the last group before the verb."""
        things = [at for at in range(verb) if self.terms[at].kind in THINGS]
        things = [at for at in things if not (at and self.terms[at - 1].kind in ("round", "relative", "except"))]
        if len(things) > 1 and self.terms[things[-1]].kind == "who":
            things.pop()  # "the cogs that turn"
        if not things and inverted(self.terms[: verb + 1]):
            return frozenset(t.kind for t in self.terms[verb:] if t.kind in THINGS), verb
        if not things:
            return frozenset(), verb
        group = [things[-1]]
        for at in reversed(things[:-1]):
            between = self.terms[at + 1 : group[0]]
            joined = all(t.kind in ("and", "with") for t in between) and (between or self.terms[at].kind == "them")
            if not joined and not (self.terms[group[0]].kind == "everything" and not between):
                break
            group.insert(0, at)
        return frozenset(self.terms[at].kind for at in group), group[0]

    def denied(self, start: int, verb: int, stop: int) -> bool:
        """Whether the verb is denied: an odd number of words of denial before it or right behind it."""
        denials = 0
        _, first = self.subject(verb)
        for at in range(start, verb):
            term = self.terms[at]
            if any(t.kind in THINGS - {"person", "who"} for t in self.terms[at + 1 : max(at + 1, first)]):
                continue  # "it's not the wheel it goes with"
            answer = self.layout.key(self.terms[verb].first) in self.layout.words.subjects  # "no, it's still"
            answer = answer or answers_by_itself(self.layout, term.first)
            at_it = term.kind == "no" and at + 1 == verb and not answer
            denials += at_it or term.kind in ("not", "barely", "without")
        if start and not denials and any(t.kind == "nor" for t in self.terms[start:verb]):
            denials += self.denied(0, start - 1, start)
        behind = [t.kind for t in self.terms[verb + 1 : verb + 3]]
        if verb + 1 < stop and behind[0] == "not" and stop == len(self.terms):
            denials += self.ends(verb + 1) if len(behind) == 1 else behind[1] == "with"  # "goes not with the cogs"
        return denials % 2 == 1

    def partner(self, verb: int, stop: int) -> tuple[MotionTerm | None, MotionTerm | None]:
        """What the verb goes along with, round or against, and which of these."""
        link: MotionTerm | None = "with" if self.terms[verb].kind in ("follow", "like") else None
        for at in range(verb + 1, stop):
            term = self.terms[at]
            if term.kind in ("with", "round", "relative"):
                link = term.kind
            elif term.kind in THINGS:
                return (link, term.kind) if link else (None, None)
            elif term.kind not in ("along", "only", "not", "and"):
                break
        return None, None

    def leading_partner(self, verb: int, first: int) -> tuple[MotionTerm | None, MotionTerm | None]:
        """ "With the cogs it turns"."""
        for at in range(first - 1):
            if self.terms[at].kind in ("with", "relative") and self.terms[at + 1].kind in THINGS:
                return self.terms[at].kind, self.terms[at + 1].kind
        return None, None

    def only(self, verb: int, stop: int, first: int) -> bool:
        near = [first - 1, *range(first, verb), verb + 1, verb + 2]
        return any(0 <= at < stop and self.terms[at].kind == "only" for at in near)

    def excepted(self, stop: int) -> MotionTerm | None:
        """What is left out: "everything except the middle"."""
        for at in range(stop - 1):
            if self.terms[at].kind == "except" and self.terms[at + 1].kind in THINGS:
                return "part" if self.terms[at + 1].kind == "it" else self.terms[at + 1].kind
        return None

    def opens_clause(self) -> bool:
        """Whether the statement begins its clause: "that turns", not "I had one that turns"."""
        first, tokens = self.terms[0].first, self.layout.tokens
        return not first or tokens[first - 1].clause != tokens[first].clause

    def begins(self, verb: int, denied: bool) -> bool:
        """Whether nothing that could be a subject of its own stands before the verb in its statement."""
        layout, words = self.layout, self.layout.words
        first = self.terms[verb].first
        begin = self.terms[0].first
        while begin and layout.tokens[begin - 1].clause == layout.tokens[begin].clause and not verb:
            begin -= 1
        own = {place for t in within(self.all_terms, begin, first) for place in range(t.first, t.last + 1)}
        spans = within(layout.spans, begin, first)
        little = [s for s in spans if s.of("correction") or s.of("hedge") or s.of("noun")]
        own |= {place for s in little for place in range(s.first, s.last + 1)}
        small = words.fillers | words.opening_fillers | words.subjects
        for place in range(begin, first):
            token = layout.tokens[place]
            if place not in own and token.kind == "word" and token.key not in small and not words.alone.get(token.key):
                return False
        after = self.terms[verb].last + 1
        later = self.all_terms[bisect_left(self.all_terms, after, key=_begin) :]
        behind = later[0] if later else None
        objects = ("part", "it", "them", "driver", "base", "article")
        acts = behind is not None and behind.first <= after + 1 and behind.kind in objects
        acts = acts and layout.tokens[after].clause == layout.tokens[first].clause
        named = next((t for t in later if t.kind != "article"), None)
        moved = acts and named is not None and named.kind == "driver"  # "can't shift the sprockets"
        return (denied and not moved) or not acts or self.terms[verb].kind != "turn"

    def rests(self, verb: int) -> bool:
        """Whether "stays" on its own is not the beginning of something else: "stays clean"."""
        term, tokens = self.terms[verb], self.layout.tokens
        after = term.last + 1
        if term.last > term.first or after >= len(tokens) or tokens[after].clause != tokens[term.last].clause:
            return True
        own = any(t.first <= after <= t.last for t in self.all_terms)
        return own or tokens[after].kind != "word" or tokens[after].key in self.layout.words.fillers

    def with_base_only(self) -> bool:
        """ "It turns when the wheel turns": a condition beside it speaks of the base."""
        return any(
            terms[0].kind == "if"
            and any(t.kind == "base" for t in terms)
            and not any(t.kind in ("part", "driver", "it", "rest") for t in terms)
            for terms in self.conditions
            if terms
        )

    def unbroken(self) -> bool:
        """Whether it is all of its terms, with no word or number before or between: not "12 splines in there too"."""
        tokens, own = self.layout.tokens, {place for t in self.all_terms for place in range(t.first, t.last + 1)}
        first, last = self.terms[0].first, self.terms[-1].last
        numbered = first > 0 and tokens[first - 1].kind != "word" and tokens[first - 1].clause == tokens[first].clause
        little = self.layout.words.fillers
        return not numbered and all(place in own or tokens[place].key in little for place in range(first, last + 1))

    def about(self) -> bool:
        """Whether the statement need not say what it is about: the question is open, or a verb stood before it."""
        return self.layout.setting.open_question == self.question or any(
            t.kind in VERBS and t.kind != "echo" and t.first < self.terms[0].first for t in self.all_terms
        )
