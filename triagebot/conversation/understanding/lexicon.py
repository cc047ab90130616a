"""What the words files may hold: the program's own words of a language, and a topic's.

Patterns are explained in `phrases.py`. Which ids a topic's words may name is checked in `loading.py`.
"""

from typing import Literal

from pydantic import BaseModel, ConfigDict

from triagebot.conversation.understood import Command

Patterns = tuple[str, ...]
Comparison = Literal["above", "just-above", "below", "just-below", "same", "holds", "covers"]
Shape = Literal["radius", "around", "around-if-it-fits"]
Hedge = Literal["about", "under", "over", "least", "most"]
#: What a statement speaks of; see `scope.py`.
Scope = Literal[
    "job", "own", "tentative", "question", "plan", "wish", "if", "hearsay", "memory", "other", "front", "belief"
]
Joint = Literal["to", "or", "between", "tolerance"]
#: What a word says of motion; see `motion.py`.
#: Things: part, it, who, them, driver, base, everything, others, nothing, no-part, person, other.
#: Verbs: turn, go and like (need what it goes with), follow, orbit (round the part), rest, stuck, seized, echo ("it
#: does"), apart (against each other).
#: Between them: with, round, relative, except, only, along, not, no, without, nor, and, cut, if.
#: Said of no motion: hand (the person's own doing), idle, adverb, article, claim (what was said before), dragged (the
#: base goes along).
MotionTerm = Literal[
    "part", "no-part", "it", "who", "them", "driver", "base", "everything", "others", "nothing", "person", "other",
    "turn", "go", "follow", "like", "orbit", "rest", "stuck", "seized", "echo", "apart",
    "with", "round", "relative", "except", "only", "along", "not", "no", "without", "nor", "and", "cut", "if",
    "hand", "idle", "adverb", "article", "claim", "dragged",
]  # fmt: skip


class _Table(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True, alias_generator=lambda name: name.replace("_", "-"))


class CommandWords(_Table):
    """`alone`: the whole message is this; `confirming`: so, but only where nothing is asked or something is to be
    confirmed; `within`: means the command wherever it stands."""

    alone: Patterns = ()
    confirming: Patterns = ()
    within: Patterns = ()


class NumberTables(_Table):
    """`language` is text2num's code for the words it knows, `spelt` those of them that may be mistyped; everything else
    about numbers in words is listed."""

    language: str | None = None
    words: dict[str, float] = {}
    spelt: Patterns = ()
    fractions: dict[str, int] = {}
    never: Patterns = ()
    joints: Patterns = ()
    decimal: Patterns = ()
    minus: Patterns = ()
    articles: Patterns = ()
    ordinals: dict[str, int] = {}
    ordinal_ends: Patterns = ()
    shy: Patterns = ()
    not_numbers: Patterns = ()


class Unit(_Table):
    """`mm`: millimetres in one; `doubtful`: ordinary words too, units only behind a number that ends there."""

    mm: float
    written: Patterns
    doubtful: Patterns = ()


class Negations(_Table):
    """`near` deny the next word or two, `far` deny what follows in the same clause."""

    near: Patterns = ()
    far: Patterns = ()


class ProgramWords(_Table):
    parts: dict[str, str] = {}
    commands: dict[Command, CommandWords]
    numbers: NumberTables
    units: dict[str, Unit]
    hedges: dict[Hedge, Patterns]
    joints: dict[Joint, Patterns]
    shapes: dict[Shape, Patterns]
    means: dict[str, Patterns]
    comparisons: dict[Comparison, Patterns]
    negations: Negations
    corrections: Patterns
    unsure: Patterns
    breaks: Patterns
    elsewhere: Patterns
    hostile: Patterns
    off_topic: Patterns
    fillers: Patterns
    subjects: Patterns = ()
    scopes: dict[Scope, Patterns] = {}
    openings: dict[Scope, Patterns] = {}
    opening_fillers: Patterns = ()
    turning: Patterns = ()
    beginning: Patterns = ()
    pronouns: Patterns = ()
    mine: Patterns = ()
    linking: Patterns = ()
    beyond: Patterns = ()
    leads: Patterns = ()
    asking: Patterns = ()
    later: Patterns = ()
    ignore: Patterns = ()
    picking: Patterns = ()
    never_mended: Patterns = ()


class Elsewhere(_Table):
    """`after`: a length before one of these is another part's. `lengths`: known sizes of other parts, by unit."""

    after: Patterns = ()
    lengths: dict[str, tuple[float, ...]] = {}


class Nouns(_Table):
    """What a number counts or measures. `when_open`: only while that question is open. `totals`: words that may also
    stand for a whole that is larger than the question allows, which is then no answer and no mistake."""

    words: Patterns = ()
    when_open: Patterns = ()
    totals: Patterns = ()


class ChoiceWords(_Table):
    """Phrases that mean a choice wherever they stand; `loose` ones only in a clause that speaks of nothing else;
    `echo` ones only while its question is open or was spoken of before them; `when_open` ones only while it is open.
    """

    words: Patterns = ()
    loose: Patterns = ()
    echo: Patterns = ()
    when_open: Patterns = ()


class MotionWords(_Table):
    """A question that asks whether one thing moves with another; `moves` and `rests` are its choices."""

    moves: str
    rests: str
    terms: dict[MotionTerm, Patterns]


class TopicWords(_Table):
    parts: dict[str, str] = {}
    choices: dict[str, dict[str, ChoiceWords]]
    yes: dict[str, str] = {}
    no: dict[str, str] = {}
    either_or: Patterns = ()
    nouns: dict[str, Nouns] = {}
    pairs: dict[str, Patterns] = {}
    names: dict[str, Patterns] = {}
    makers: str | None = None
    gauges: dict[str, Patterns] = {}
    mentions: dict[str, Patterns] = {}
    withdrawn: dict[str, Patterns] = {}
    cannot: dict[str, Patterns] = {}
    cannot_when_open: dict[str, Patterns] = {}
    motion: dict[str, MotionWords] = {}
    scopes: dict[Scope, Patterns] = {}
    own_counts: dict[str, dict[str, dict[str, tuple[int, ...]]]] = {}
    no_counts: dict[str, dict[str, Patterns]] = {}
    others: Patterns = ()
    ignore: Patterns = ()
    elsewhere: Elsewhere = Elsewhere()
