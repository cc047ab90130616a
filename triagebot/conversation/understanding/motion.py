"""Whether one thing moves with another: "the cogs go round but the middle stays", "it only turns with the wheel".

Who moves and who rests is said in too many ways for a list of phrases, so a topic lists the words for the things, for
moving and for resting; `motion_statements` puts them together, and this file weighs what they say. The `part` is what
is watched, the `driver` is what is moved on purpose, and the `base` is what is held still.

Rules of this file: what a statement says of its own subject. Going along with the driver is moving, going along with
the base is resting; of the driver alone there is no news, unless only the driver moves. What is said of the part by
name goes before what is said of "it", and that before what is said of everything; what was only said or thought
before gives way to what is said now.
"""

from collections.abc import Iterator
from collections.abc import Set as AbstractSet
from dataclasses import dataclass, replace

from triagebot.conversation.understanding.layout import Layout
from triagebot.conversation.understanding.lexicon import MotionTerm
from triagebot.conversation.understanding.motion_statements import (
    MOVING,
    SMALL,
    THINGS,
    VERBS,
    Statement,
    Term,
    statements_of,
    terms_of,
)

#: How much it counts what is said of: the part by name, only the driver, "it" or nothing named, everything.
_BY_NAME, _ONLY, _IT, _ALL, _WEAK = 5, 4, 3, 2, 1


@dataclass(frozen=True, slots=True)
class Verdict:
    """What one statement says: the part moves (True), rests (False), or cannot be told (None)."""

    moves: bool | None
    weight: int
    first: int
    last: int
    claimed: bool = False
    along: MotionTerm | None = None
    """What it goes along with, round or against, where that is named."""
    fitful: bool = False
    """Whether it is also said that it stops, or does so now and then."""
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
    terms = terms_of(layout, question)
    statements = statements_of(layout, [t for t in terms if t.kind not in SMALL])
    found: list[Verdict] = []
    moving = True
    before: MotionTerm | None = None
    for place, statement in enumerate(statements):
        conditions = statements[max(0, place - 1) : place] + statements[place + 1 : place + 2]
        if statement and any(t.kind in THINGS for t in statement):
            named = next(t.kind for t in reversed(statement) if t.kind in THINGS)
        else:
            named = before or "it"
        reader = _Reader(Statement(layout, question, statement, conditions, terms), before, moving)
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
    fitful = not kinds.isdisjoint(("fitful", "barely"))
    sure = [replace(v, fitful=fitful or _of_all_that(v, kinds)) for v in found if v.moves is not None]
    if not sure or (lost and max(v.weight for v in sure) < max(v.weight for v in lost)):
        return lost[:1]
    if len({v.moves for v in sure}) > 1 and not any(span.of("correction") for span in layout.spans):
        most = max(v.weight for v in sure)
        sure = [v for v in sure if v.weight == most]
    return sure


def _of_all_that(verdict: Verdict, kinds: AbstractSet[MotionTerm]) -> bool:
    """Whether it may be the sprockets that do not move either: "doesn't turn at all, it's all gummed up"."""
    return "seized" in kinds and not verdict.moves and not verdict.by_name and verdict.along is None


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


class _Reader:
    """Reads one statement; `moving`: whether the last verb, of this or an earlier statement, was of moving."""

    def __init__(self, statement: Statement, before: MotionTerm | None, moving: bool) -> None:
        self.statement = statement
        self.terms = statement.terms
        self.before = before
        self.moving = moving
        self.spoke = False
        self.claimed = any(t.kind == "claim" for t in statement.terms)

    def read(self) -> Iterator[Verdict]:
        verbs = [at for at, t in enumerate(self.terms) if t.kind in VERBS and t.kind != "echo"]
        if not verbs and self.terms and self.terms[-1].kind == "echo" and self.statement.ends(len(self.terms) - 1):
            verbs = [len(self.terms) - 1]
        self.spoke = bool(verbs)
        start = 0
        for number, at in enumerate(verbs):
            stop = verbs[number + 1] if number + 1 < len(verbs) else len(self.terms)
            yield from self._of_verb(start, at, stop)
            start = at + 1
        if not verbs:
            yield from self._without_verb()

    def _verdict(self, moves: bool | None, weight: int, first: int, last: int) -> Verdict:
        return Verdict(moves, weight, self.terms[first].first, self.terms[last].last, self.claimed)

    def _of_verb(self, start: int, verb: int, stop: int) -> Iterator[Verdict]:
        term = self.terms[verb]
        subject, first = self.statement.subject(verb)
        denied = self.statement.denied(start, verb, stop)
        if term.kind == "apart":
            yield self._verdict(denied, _IT, first, verb)
            return
        moving = self.moving if term.kind == "echo" else term.kind in MOVING
        self.moving = moving if term.kind != "go" else self.moving
        link, partner = self.statement.partner(verb, stop)
        if partner is None and term.kind != "echo" and subject:
            link, partner = self.statement.leading_partner(verb, first)
        if term.kind == "echo" and not (subject and self.statement.about()):
            return
        if "them" in subject:
            subject = (subject - {"them"}) | {"driver" if self.before in ("driver", "everything") else "it"}
        if "no-part" in subject:
            subject, denied = frozenset({"part"}), not denied
        only = self.statement.only(verb, stop, first)
        said = _Said(
            term.kind, subject, moving ^ denied, denied, link, partner, only, verb, self.statement.excepted(stop)
        )
        last = min(stop, len(self.terms)) - 1 if partner else verb
        for moves, weight in self._of_subject(said):
            firm = bool(partner) or (term.kind == "turn" and term.first == term.last)
            firm |= term.kind == "rest" and term.last > term.first
            firm |= term.kind == "turn" and self.statement.layout.key(term.first) in self.statement.layout.words.asking
            yield replace(self._verdict(moves, weight, min(first, verb), last), firm=firm, along=partner)

    def _of_subject(self, said: _Said) -> Iterator[tuple[bool | None, int]]:
        subject = said.subject
        if subject & {"other", "person"} or (subject == {"who"} and not self.statement.opens_clause()):
            return
        if "base" in subject and subject & {"driver", "everything"}:
            if said.moving:
                yield None, _BY_NAME
        elif "nothing" in subject:
            if said.excepted == "driver" and said.verb in MOVING:
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
        elif subject or self.statement.begins(said.at, said.denied):
            yield from self._of_part(said)

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
        elif said.verb == "seized" or (not said.moving and (said.verb in MOVING or said.verb == "stuck")):
            yield None, _IT

    def _of_part(self, said: _Said) -> Iterator[tuple[bool | None, int]]:
        """What is said of the part, by name or as "it"."""
        weight = _BY_NAME if "part" in said.subject else _IT
        with_driver: tuple[MotionTerm, ...] = ("driver", "it", "them", "others", "everything")
        resting = said.verb in ("rest", "stuck")
        if said.partner == "other":
            return
        if said.verb == "seized":
            if self.statement.layout.setting.open_question == self.statement.question:
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
        if said.verb in ("go", "like") or (said.verb == "rest" and not self.statement.rests(said.at)):
            return
        if said.verb == "stuck":
            asked = self.statement.layout.setting.open_question == self.statement.question
            if asked or "part" in said.subject:  # else it may be what will not come undone
                yield False, _WEAK
        elif said.moving and self.statement.with_base_only():
            if said.only:
                yield False, weight
        else:
            yield said.moving, weight

    def _counted(self) -> bool:
        """Whether a number stands among the terms: "just one cog"."""
        tokens = self.statement.layout.tokens
        return any(t.number is not None for t in tokens[self.terms[0].first : self.terms[-1].last + 1])

    def _without_verb(self) -> Iterator[Verdict]:
        kinds = [t.kind for t in self.terms if t.kind not in ("cut", "if", "and", "idle", "echo")]
        if kinds[-2:] == ["round", "it"]:
            kinds = kinds[:-2]
        if kinds[:1] == ["no"]:
            kinds = kinds[1:]  # "no it doesn't"
        things = [k for k in kinds if k in THINGS]
        last = len(self.terms) - 1
        if not self.terms or len(things) > 1 or not self.statement.ends(last) or not self.statement.about():
            return
        thing = things[0] if things else None
        if thing in ("part", "it") and kinds[-1] in ("not", "no") and len(kinds) == 2:
            self.spoke = True
            yield self._verdict(self.moving is False, _BY_NAME if thing == "part" else _IT, 0, last)
        elif thing == "part" and kinds[0] == "not" and len(kinds) == 2:
            yield self._verdict(False, _BY_NAME, 0, last)
        elif thing == "part" and kinds[1:] == ["along"]:
            if self.statement.unbroken():  # it does as was said before, or as the question says
                yield self._verdict(self.moving, _BY_NAME, 0, last)
        elif thing == "driver" and set(kinds) == {"driver", "only"} and not self._counted():
            yield self._verdict(False, _ONLY, 0, last)
        elif kinds in (["with", "driver"], ["with", "them"]):
            yield self._verdict(True, _IT, 0, last)
        elif kinds in (["not", "with", "driver"], ["not", "with", "them"], ["with", "base"]):
            yield self._verdict(False, _IT, 0, last)
