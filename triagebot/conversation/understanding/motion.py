"""Whether one thing moves with another: "the cogs go round but the middle stays", "it only turns with the wheel".

Who moves and who rests is said in too many ways for a list of phrases, so a topic lists the words for the things, for
moving and for resting, and this file puts them together. The `part` is what is watched, the `driver` is what is moved
on purpose, and the `base` is what is held still.

Rules of this file: what a statement says of its own subject. Going along with the driver is moving, going along with
the base is resting; of the driver alone there is no news, unless only the driver moves. What is said of the part by
name goes before what is said of "it", and that before what is said of everything; what was only said or thought
before gives way to what is said now.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from triagebot.conversation.understanding.layout import Layout
from triagebot.conversation.understanding.lexicon import MotionTerm
from triagebot.conversation.understanding.phrases import longest

_THINGS = frozenset[MotionTerm](
    {"part", "no-part", "it", "who", "them", "driver", "base", "other", "person", "everything", "others", "nothing"}
)
_MOVING = frozenset[MotionTerm]({"turn", "go", "follow", "like", "orbit"})
_VERBS = _MOVING | frozenset[MotionTerm]({"rest", "stuck", "seized", "echo", "apart"})
_LINKS = frozenset[MotionTerm]({"with", "round", "relative", "except", "follow", "like"})
_CUTS = frozenset[MotionTerm]({"cut", "if"})
#: These stand between the others and change nothing.
_SMALL = frozenset[MotionTerm]({"adverb", "article"})
#: How much it counts what is said of: the part by name, only the driver, "it" or nothing named, everything.
_BY_NAME, _ONLY, _IT, _ALL, _WEAK = 5, 4, 3, 2, 1


@dataclass(frozen=True, slots=True)
class Term:
    """One word or phrase that says something of motion, with its tokens."""

    kind: MotionTerm
    first: int
    last: int


@dataclass(frozen=True, slots=True)
class Verdict:
    """What one statement says: the part moves (True), rests (False), or cannot be told (None)."""

    moves: bool | None
    weight: int
    first: int
    last: int
    claimed: bool = False
    firm: bool = False
    """Whether it could hardly be said of anything else: a plain verb, or one with what the part goes along with."""

    @property
    def by_name(self) -> bool:
        """Whether it is said of things that were named."""
        return self.weight >= _ONLY

    @property
    def part(self) -> bool:
        """Whether it is said firmly, of the part by its name."""
        return self.weight >= _BY_NAME and self.firm


def verdicts(layout: Layout, question: str, unknown: bool) -> list[Verdict]:
    """What the message says of the motion that `question` asks for, in its order; only what does not give way.

    Where it is `unknown`, what somebody claims and what is said of everything at once says nothing.
    """
    terms = _terms(layout, question)
    statements = _statements(layout, [t for t in terms if t.kind not in _SMALL])
    found: list[Verdict] = []
    moving = True
    before: MotionTerm | None = None
    for place, statement in enumerate(statements):
        conditions = statements[max(0, place - 1) : place] + statements[place + 1 : place + 2]
        if statement and any(t.kind in _THINGS for t in statement):
            named = next(t.kind for t in reversed(statement) if t.kind in _THINGS)
        else:
            named = before or "it"
        reader = _Statement(layout, question, statement, conditions, before, moving, terms)
        new = list(reader.read())
        moving = reader.moving
        if not new and found and any(t.kind == "claim" for t in statement) and not reader.spoke:
            found[-1] = replace(found[-1], claimed=True)  # "it turns, I was about to write"
        found += new
        before = named if named not in ("it", "them", "person") else before
    if unknown and any(v.claimed or v.weight <= _ALL for v in found):
        return []
    return _kept(layout, found, terms)


def _kept(layout: Layout, found: list[Verdict], terms: list[Term]) -> list[Verdict]:
    if any(not v.claimed for v in found):
        found = [v for v in found if not v.claimed]
    elif len({v.moves for v in found}) > 1:
        return []
    kinds = {t.kind for t in terms}
    dragged = "dragged" in kinds and any(v.moves and v.weight <= _ALL for v in found)
    lost = [v for v in found if v.moves is None]
    if dragged:
        return [replace(found[0], moves=None)]
    sure = [v for v in found if v.moves is not None]
    if not sure or (lost and max(v.weight for v in sure) < max(v.weight for v in lost)):
        return lost[:1]
    if len({v.moves for v in sure}) > 1 and not any(span.of("correction") for span in layout.spans):
        most = max(v.weight for v in sure)
        sure = [v for v in sure if v.weight == most]
    return sure


def _terms(layout: Layout, question: str) -> list[Term]:
    """The terms of the message from left to right; words for other things are terms too."""
    tokens = layout.tokens
    keys = [token.key for token in tokens]
    numbers = [token.number is not None for token in tokens]
    others = {t for s in layout.spans if s.of("other") or s.of("off-topic") for t in range(s.first, s.last + 1)}
    root = layout.words.motion[question]
    terms: list[Term] = []
    place = 0
    while place < len(tokens):
        stop = next((t for t in range(place, len(tokens)) if tokens[t].clause != tokens[place].clause), len(tokens))
        end, meanings = longest(root, keys, place, stop, numbers, None, True)
        if meanings:
            kind: MotionTerm = meanings[0].subject  # type: ignore[assignment]
            terms.append(Term(kind, place, end - 1))
        elif place in others:
            terms.append(Term("other", place, place))
        place = max(end, place + 1)
    return terms


def _statements(layout: Layout, terms: list[Term]) -> list[list[Term]]:
    """The terms of each statement: cut at punctuation and turning words, and where a new subject follows a verb."""
    statements: list[list[Term]] = [[]]
    for place, term in enumerate(terms):
        before = terms[place - 1] if place else None
        if before is None:
            statements[-1].append(term)
            continue
        current = statements[-1]
        new_clause = layout.tokens[before.last].clause != layout.tokens[term.first].clause
        verb = any((t.kind in _VERBS and t.kind != "echo") or t.kind == "hand" for t in current)
        behind = terms[place + 1].kind if place + 1 < len(terms) else None
        opens = term.kind == "hand" or (term.kind == "only" and behind in _THINGS)
        subject = term.kind in _THINGS or (opens and before.kind not in _LINKS)
        linked = before.kind in _LINKS or (before.kind in ("and", "only") and _linked(current))
        if not new_clause and _inverted(current):
            linked = True
        if new_clause or term.kind in _CUTS or (verb and subject and not linked):
            taken = current and subject and not new_clause and before.kind in ("and", "only")
            moved = [current.pop()] if taken else []
            statements.append(moved)
        statements[-1].append(term)
    return statements


def _inverted(current: Sequence[Term]) -> bool:
    """Whether the subject comes behind: "the only thing that moves is ..."."""
    only = any(t.kind == "only" and t.last > t.first for t in current)
    things = [t.kind in _THINGS for t in current]
    return only and (not any(things) or (current[-1].kind == "and" and sum(things) == 1))


def _linked(current: Sequence[Term]) -> bool:
    """Whether the last thing of a statement stands behind a link: "with the cogs and the rest"."""
    things = [at for at, t in enumerate(current) if t.kind in _THINGS]
    return bool(things) and things[-1] > 0 and current[things[-1] - 1].kind in _LINKS


@dataclass(frozen=True, slots=True)
class _Said:
    """What one verb says: of what, whether that moves, what it goes along with, and what is left out of it."""

    verb: MotionTerm
    subject: frozenset[MotionTerm]
    moving: bool
    denied: bool
    link: MotionTerm | None
    partner: MotionTerm | None
    only: bool
    at: int
    excepted: MotionTerm | None

    def along(self, *partners: MotionTerm) -> bool:
        """Whether the subject goes along with one of these."""
        return self.link == "with" and self.partner in partners


class _Statement:
    """One statement while it is read; `moving`: whether the last verb, of this or an earlier one, was of moving."""

    def __init__(
        self,
        layout: Layout,
        question: str,
        terms: list[Term],
        conditions: list[list[Term]],
        before: MotionTerm | None,
        moving: bool,
        all_terms: list[Term],
    ) -> None:
        self.all_terms = all_terms
        self.layout = layout
        self.question = question
        self.terms = terms
        self.conditions = conditions
        self.before = before
        self.moving = moving
        self.spoke = False
        self.claimed = any(t.kind == "claim" for t in terms)

    def read(self) -> Iterator[Verdict]:
        verbs = [at for at, t in enumerate(self.terms) if t.kind in _VERBS and t.kind != "echo"]
        if not verbs and self.terms and self.terms[-1].kind == "echo" and self._ends(len(self.terms) - 1):
            verbs = [len(self.terms) - 1]
        self.spoke = bool(verbs)
        start = 0
        for number, at in enumerate(verbs):
            stop = verbs[number + 1] if number + 1 < len(verbs) else len(self.terms)
            yield from self._of_verb(start, at, stop)
            start = at + 1
        if not verbs:
            yield from self._without_verb()

    def _ends(self, at: int) -> bool:
        """Whether no word of its clause stands behind the term, save one that begins another statement."""
        after = self.terms[at].last + 1
        tokens = self.layout.tokens
        if after >= len(tokens) or tokens[after].clause != tokens[after - 1].clause:
            return True
        root = self.layout.words.motion[self.question]
        _, meanings = longest(root, [t.key for t in tokens], after, len(tokens), [False] * len(tokens), None, True)
        return bool(meanings) and (
            meanings[0].subject in _THINGS or meanings[0].subject in ("cut", "if", "only", "and", "adverb")
        )

    def _verdict(self, moves: bool | None, weight: int, first: int, last: int) -> Verdict:
        return Verdict(moves, weight, self.terms[first].first, self.terms[last].last, self.claimed)

    def _subject(self, verb: int) -> tuple[frozenset[MotionTerm], int]:
        """The things that the verb is said of, and where the first of them stands: the last group before the verb."""
        things = [at for at in range(verb) if self.terms[at].kind in _THINGS]
        things = [at for at in things if not (at and self.terms[at - 1].kind in ("round", "relative", "except"))]
        if len(things) > 1 and self.terms[things[-1]].kind == "who":
            things.pop()  # "the cogs that turn"
        if not things and _inverted(self.terms[: verb + 1]):
            return frozenset(t.kind for t in self.terms[verb:] if t.kind in _THINGS), verb
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

    def _denied(self, start: int, verb: int, stop: int) -> bool:
        """Whether the verb is denied: an odd number of words of denial before it or right behind it."""
        denials = 0
        _, first = self._subject(verb)
        for at in range(start, verb):
            term = self.terms[at]
            if any(t.kind in _THINGS - {"person"} for t in self.terms[at + 1 : max(at + 1, first)]):
                continue  # "it's not the wheel it goes with"
            answer = self.layout.key(self.terms[verb].first) in self.layout.words.subjects  # "no, it's still"
            at_it = term.kind == "no" and at + 1 == verb and not answer
            denials += at_it or term.kind in ("not", "without")
        if start and not denials and any(t.kind == "nor" for t in self.terms[start:verb]):
            denials += self._denied(0, start - 1, start)
        behind = [t.kind for t in self.terms[verb + 1 : verb + 3]]
        if verb + 1 < stop and behind[0] == "not" and stop == len(self.terms):
            denials += self._ends(verb + 1) if len(behind) == 1 else behind[1] == "with"  # "goes not with the cogs"
        return denials % 2 == 1

    def _partner(self, verb: int, stop: int) -> tuple[MotionTerm | None, MotionTerm | None]:
        """What the verb goes along with, round or against, and which of these."""
        link: MotionTerm | None = "with" if self.terms[verb].kind in ("follow", "like") else None
        for at in range(verb + 1, stop):
            term = self.terms[at]
            if term.kind in ("with", "round", "relative"):
                link = term.kind
            elif term.kind in _THINGS:
                return (link, term.kind) if link else (None, None)
            elif term.kind not in ("along", "only", "not", "and"):
                break
        return None, None

    def _of_verb(self, start: int, verb: int, stop: int) -> Iterator[Verdict]:
        term = self.terms[verb]
        subject, first = self._subject(verb)
        denied = self._denied(start, verb, stop)
        if term.kind == "apart":
            yield self._verdict(denied, _IT, first, verb)
            return
        moving = self.moving if term.kind == "echo" else term.kind in _MOVING
        self.moving = moving if term.kind != "go" else self.moving
        link, partner = self._partner(verb, stop)
        if partner is None and term.kind != "echo" and subject:
            link, partner = self._leading_partner(verb, first)
        if term.kind == "echo" and not (subject and self._about()):
            return
        if "them" in subject:
            subject = (subject - {"them"}) | {"driver" if self.before in ("driver", "everything") else "it"}
        if "no-part" in subject:
            subject, denied = frozenset({"part"}), not denied
        only = self._only(verb, stop, first)
        said = _Said(term.kind, subject, moving ^ denied, denied, link, partner, only, verb, self._excepted(stop))
        last = min(stop, len(self.terms)) - 1 if partner else verb
        for moves, weight in self._of_subject(said):
            firm = bool(partner) or (term.kind == "turn" and term.first == term.last)
            firm |= term.kind == "rest" and term.last > term.first
            yield replace(self._verdict(moves, weight, min(first, verb), last), firm=firm)

    def _leading_partner(self, verb: int, first: int) -> tuple[MotionTerm | None, MotionTerm | None]:
        """ "With the cogs it turns"."""
        for at in range(first - 1):
            if self.terms[at].kind in ("with", "relative") and self.terms[at + 1].kind in _THINGS:
                return self.terms[at].kind, self.terms[at + 1].kind
        return None, None

    def _only(self, verb: int, stop: int, first: int) -> bool:
        near = [first - 1, *range(first, verb), verb + 1, verb + 2]
        return any(0 <= at < stop and self.terms[at].kind == "only" for at in near)

    def _of_subject(self, said: _Said) -> Iterator[tuple[bool | None, int]]:
        subject = said.subject
        if subject & {"other", "person"} or (subject == {"who"} and not self._opens_clause()):
            return
        if "base" in subject and subject & {"driver", "everything"}:
            if said.moving:
                yield None, _BY_NAME
        elif "nothing" in subject:
            if said.excepted == "driver" and said.verb in _MOVING:
                yield False, _ONLY
            elif said.excepted == "base" and said.verb == "rest":
                yield True, _ONLY
        elif "others" in subject:
            if said.moving and said.verb != "stuck":
                yield False, _WEAK + 1
        elif "everything" in subject or ("driver" in subject and subject & {"part", "it"}):
            yield from self._of_all(said)
        elif "driver" in subject:
            yield from self._of_driver(said)
        elif "base" in subject:
            if said.only and not said.moving:
                yield True, _ONLY
            elif said.moving and said.along("driver", "part", "them", "it", "everything"):
                yield None, _ONLY
        elif subject or self._begins(said.at, said.denied):
            yield from self._of_part(said)

    def _opens_clause(self) -> bool:
        """Whether the statement begins its clause: "that turns", not "I had one that turns"."""
        first, tokens = self.terms[0].first, self.layout.tokens
        return not first or tokens[first - 1].clause != tokens[first].clause

    def _of_all(self, said: _Said) -> Iterator[tuple[bool | None, int]]:
        if said.excepted == "part":
            yield not said.moving, _ONLY
        elif not said.moving and "part" in said.subject:
            yield False, _BY_NAME
        elif (
            said.moving
            and said.excepted != "driver"
            and (said.verb not in ("follow", "like") or said.partner != "base")
        ):
            yield None if said.along("base") else True, _ALL if "everything" in said.subject else _IT

    def _of_driver(self, said: _Said) -> Iterator[tuple[bool | None, int]]:
        if said.verb == "orbit" or (said.link == "round" and said.partner in ("part", "it")):
            yield False, _BY_NAME
        elif said.along("part", "it") and said.verb != "rest":
            yield said.moving, _IT
        elif said.along("base"):
            if said.moving:
                yield None, _IT
        elif said.only:
            yield not said.moving, _ONLY
        elif said.verb == "seized" or (not said.moving and (said.verb in _MOVING or said.verb == "stuck")):
            yield None, _IT

    def _of_part(self, said: _Said) -> Iterator[tuple[bool | None, int]]:
        """What is said of the part, by name or as "it"."""
        weight = _BY_NAME if "part" in said.subject else _IT
        with_driver: tuple[MotionTerm, ...] = ("driver", "it", "them", "others", "everything")
        resting = said.verb in ("rest", "stuck")
        if said.partner == "other":
            return
        if said.verb == "seized":
            if self.layout.setting.open_question == self.question:
                yield None, _IT
        elif said.link == "relative" and said.partner in (*with_driver, "base"):
            yield said.moving is (said.partner == "base"), weight
        elif said.along(*with_driver):
            if not resting:
                yield not said.denied, max(weight, _ONLY if said.partner == "driver" else weight)
        elif said.along("base"):
            if not (said.denied and resting):
                yield said.denied, weight
        else:
            yield from self._of_part_alone(said, weight)

    def _of_part_alone(self, said: _Said, weight: int) -> Iterator[tuple[bool | None, int]]:
        """What is said of the part, and of nothing that it goes along with."""
        if said.verb in ("go", "like") or (said.verb == "rest" and not self._rests(said.at)):
            return
        if said.verb == "stuck":
            yield False, _WEAK
        elif said.moving and self._with_base_only():
            if said.only:
                yield False, weight
        else:
            yield said.moving, weight

    def _rests(self, verb: int) -> bool:
        """Whether "stays" on its own is not the beginning of something else: "stays clean"."""
        term, tokens = self.terms[verb], self.layout.tokens
        after = term.last + 1
        if term.last > term.first or after >= len(tokens) or tokens[after].clause != tokens[term.last].clause:
            return True
        own = any(t.first <= after <= t.last for t in self.all_terms)
        return own or tokens[after].kind != "word" or tokens[after].key in self.layout.words.fillers

    def _with_base_only(self) -> bool:
        """ "It turns when the wheel turns": a condition beside it speaks of the base."""
        return any(
            terms[0].kind == "if"
            and any(t.kind == "base" for t in terms)
            and not any(t.kind in ("part", "driver", "it", "rest") for t in terms)
            for terms in self.conditions
            if terms
        )

    def _begins(self, verb: int, denied: bool) -> bool:
        """Whether nothing that could be a subject of its own stands before the verb in its statement."""
        layout, words = self.layout, self.layout.words
        first = self.terms[verb].first
        begin = self.terms[0].first
        while begin and layout.tokens[begin - 1].clause == layout.tokens[begin].clause and not verb:
            begin -= 1
        own = {place for t in self.all_terms for place in range(t.first, t.last + 1)}
        little = [s for s in layout.spans if s.of("correction") or s.of("hedge") or s.of("noun")]
        own |= {place for s in little for place in range(s.first, s.last + 1)}
        small = words.fillers | words.opening_fillers | words.subjects
        for place in range(begin, first):
            token = layout.tokens[place]
            if place not in own and token.kind == "word" and token.key not in small and not words.alone.get(token.key):
                return False
        after = self.terms[verb].last + 1
        behind = next((t for t in self.all_terms if t.first >= after), None)
        objects = ("part", "it", "them", "driver", "base", "article")
        acts = behind is not None and behind.first <= after + 1 and behind.kind in objects
        acts = acts and layout.tokens[after].clause == layout.tokens[first].clause
        return denied or not acts or self.terms[verb].kind != "turn"

    def _excepted(self, stop: int) -> MotionTerm | None:
        """What is left out: "everything except the middle"."""
        for at in range(stop - 1):
            if self.terms[at].kind == "except" and self.terms[at + 1].kind in _THINGS:
                return "part" if self.terms[at + 1].kind == "it" else self.terms[at + 1].kind
        return None

    def _about(self) -> bool:
        """Whether the statement need not say what it is about: the question is open, or a verb stood before it."""
        return self.layout.setting.open_question == self.question or any(
            t.kind in _VERBS and t.kind != "echo" and t.first < self.terms[0].first for t in self.all_terms
        )

    def _without_verb(self) -> Iterator[Verdict]:
        kinds = [t.kind for t in self.terms if t.kind not in ("cut", "if", "and", "idle", "echo")]
        if kinds[-2:] == ["round", "it"]:
            kinds = kinds[:-2]
        if kinds[:1] == ["no"]:
            kinds = kinds[1:]  # "no it doesn't"
        things = [k for k in kinds if k in _THINGS]
        last = len(self.terms) - 1
        if not self.terms or len(things) > 1 or not self._ends(last) or not self._about():
            return
        thing = things[0] if things else None
        if thing in ("part", "it") and kinds[-1] in ("not", "no") and len(kinds) == 2:
            self.spoke = True
            yield self._verdict(self.moving is False, _BY_NAME if thing == "part" else _IT, 0, last)
        elif thing == "part" and kinds[0] == "not" and len(kinds) == 2:
            yield self._verdict(False, _BY_NAME, 0, last)
        elif thing == "part" and kinds[1:] == ["along"]:
            yield self._verdict(True, _BY_NAME, 0, last)
        elif thing == "driver" and "only" in kinds and set(kinds) == {"driver", "only"}:
            yield self._verdict(False, _ONLY, 0, last)
        elif kinds in (["with", "driver"], ["with", "them"]):
            yield self._verdict(True, _IT, 0, last)
        elif kinds in (["not", "with", "driver"], ["not", "with", "them"], ["with", "base"]):
            yield self._verdict(False, _IT, 0, last)
