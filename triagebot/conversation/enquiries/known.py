"""What is known of the ways of asking in one language, and what is found of them in a message."""

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from functools import cached_property
from operator import itemgetter
from typing import Literal

from triagebot.conversation.enquiries.lexicon import Says
from triagebot.conversation.enquiries.likeness import Examples, Vocabulary
from triagebot.conversation.enquiries.named_days import DayWords
from triagebot.conversation.enquiries.when import Times
from triagebot.conversation.understanding.model import Guess
from triagebot.conversation.understanding.phrases import Root
from triagebot.shop import fold


@dataclass(frozen=True, slots=True)
class Sought:
    """One row of an enquiry: the numbers of its patterns, and in which sentences it counts."""

    enquiry: str
    patterns: tuple[int, ...]
    kind: Literal["row", "stated", "alone", "order"]


@dataclass(frozen=True, slots=True)
class Enquiry:
    """What is asked: an enquiry by its id, or (`term`) a word of the glossary. `tool`: the tool that is named.

    `sure`: it is put as a question and in words of its own, not only much like an example. `own`: the part of
    its sentence that asks. `rest`: what the message says beside that, in sentences and clauses that ask
    nothing. `put`: its sentence has the form of a question. `whole`: the sentence says nothing else. `worth`:
    how much its words tell. `keys`: its words. `formed`: its message has that, or that of a request or a wish.
    `told`: it was only told. `tells`: the message tells
    something as well, in the sentence that asks too; `rather`: it is more like those that tell something than
    like those that ask this. `ordered`: it asks for something of the shop. `leans`: it asks about the open
    question. `also` names a second one, which the message asks too or may mean as well."""

    id: str
    term: str = ""
    tool: str = ""
    sure: bool = True
    own: str = ""
    rest: str = ""
    put: bool = False
    whole: bool = False
    worth: float = 0.0
    keys: tuple[str, ...] = ()
    also: str = ""
    tells: bool = False
    rather: bool = False
    formed: bool = True
    told: bool = False
    ordered: bool = False
    leans: bool = False

    @property
    def name(self) -> str:
        """What it is called among all that may be asked."""
        return f"{self.id}:{self.term}" if self.term else self.id


@dataclass(frozen=True, eq=False)
class Enquiries:
    """The ways of asking in one language, ready to be found. Patterns go by their numbers.

    `directly`, `directly_behind`: what stands right before or behind a word whose meaning is asked for;
    `asking_it`: asks what the word is that was named before; `lacking`: says that something is missing;
    `meanwhile`: begins a clause that tells when; `telling`: one that tells of the wheel. `first`: goes before
    others. `the_job`: what the talk is for. `forming`: what gives a sentence the form of a question, a request
    or a wish, as one of `question_words` at the beginning of a clause does, or one of `auxiliaries` before one
    of `subjects`; `joints` begin a clause. `told`: what people tell as well as ask. `patterns`: the words of
    each enquiry's patterns. `leaning`: what is asked about the open question. `learned`: what was learned from
    questions."""

    root: Root
    sought: tuple[Sought, ...]
    asking: frozenset[int]
    forming: frozenset[int]
    openers: frozenset[str]
    question_words: frozenset[str]
    auxiliaries: frozenset[str]
    subjects: frozenset[str]
    joints: frozenset[str]
    tags: frozenset[str]
    leads: frozenset[str]
    fillers: frozenset[str]
    vocabulary: frozenset[str]
    words: frozenset[str]
    asked_about: frozenset[str]
    days: DayWords
    times: Times
    orders: frozenset[str]
    shut: frozenset[str]
    not_shut: frozenset[str]
    terms: Mapping[str, int]
    what_is: frozenset[int]
    directly: frozenset[int]
    directly_behind: frozenset[int]
    asking_it: frozenset[int]
    lacking: frozenset[str]
    meanwhile: frozenset[str]
    telling: frozenset[str]
    plain_what_is: frozenset[int]
    the_job: frozenset[int]
    differences: tuple[tuple[tuple[str, str], str], ...]
    pictures: Mapping[str, str]
    tools: Mapping[str, int]
    says: Mapping[str, Says]
    first: frozenset[str]
    about: Mapping[str, tuple[str, ...]]
    like: tuple[tuple[str, str], ...]
    patterns: Mapping[str, frozenset[str]]
    told: frozenset[str] = frozenset()
    work: frozenset[str] = frozenset()
    leaning: frozenset[str] = frozenset()
    learned: Guess | None = None

    @cached_property
    def kinds(self) -> frozenset[str]:
        """All that may be asked."""
        return frozenset({*self.patterns, "what-is"})

    @cached_property
    def _beginning(self) -> Mapping[int, tuple[tuple[int, Sought], ...]]:
        """The rows, each with its place among all, by their first pattern."""
        rows: dict[int, list[tuple[int, Sought]]] = {}
        for place, sought in enumerate(self.sought):
            for pattern in sought.patterns[:1]:
                rows.setdefault(pattern, []).append((place, sought))
        return {pattern: tuple(each) for pattern, each in rows.items()}

    def sought_among(self, patterns: Collection[int]) -> list[Sought]:
        """The rows that have none but these patterns, in the order of the files."""
        rows = [
            row
            for pattern in patterns
            for row in self._beginning.get(pattern, ())
            if all(each in patterns for each in row[1].patterns)
        ]
        return [sought for _, sought in sorted(rows, key=itemgetter(0))]

    @cached_property
    def examples(self) -> Examples:
        return Examples([(name, fold(text).split()) for name, text in self.like])

    @cached_property
    def vocabulary_of_each(self) -> Vocabulary:
        words: dict[str, set[str]] = {}
        for name, text in self.like:
            words.setdefault(name, set()).update(fold(text).split())
        return Vocabulary({name: frozenset(each) for name, each in words.items()}, self.patterns)
