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
    "job", "own", "tentative", "question", "about", "plan", "wish", "if", "hearsay", "memory", "other", "trailing",
    "front", "belief", "chat", "theirs", "friends",
]  # fmt: skip
Joint = Literal["to", "or", "between", "tolerance"]
#: What a word says of motion; see `motion_statements.py`.
#: Things: part, it, who, them, driver, base, everything, others, nothing, no-part, person, other.
#: Verbs: turn, go and like (need what it goes with), follow, orbit (round the part), rest, stuck, seized, echo ("it
#: does"), apart (against each other).
#: Between them: with, round, relative, except, only, along, not, no, without, nor, and, cut, if.
#: Said of no motion: hand (the person's own doing), idle, adverb, article, claim (what was said before), dragged (the
#: base goes along), fitful (now it does, now it does not).
MotionTerm = Literal[
    "part", "no-part", "it", "who", "them", "driver", "base", "everything", "others", "nothing", "person", "other",
    "turn", "go", "follow", "like", "orbit", "rest", "stuck", "seized", "echo", "apart",
    "with", "round", "relative", "except", "only", "along", "not", "no", "without", "nor", "and", "cut", "if",
    "hand", "idle", "adverb", "article", "claim", "dragged", "fitful", "barely",
]  # fmt: skip


class _Table(BaseModel):
    model_config = ConfigDict(
        extra="forbid", frozen=True, defer_build=True, alias_generator=lambda name: name.replace("_", "-")
    )


class CommandWords(_Table):
    """`alone`: the whole message is this; `confirming`: so, but only where nothing is asked or something is to be
    confirmed; `within`: means the command wherever it stands."""

    alone: Patterns = ()
    confirming: Patterns = ()
    within: Patterns = ()


class NumberTables(_Table):
    """`language` is text2num's code for the words it knows, `spelt` those of them that may be mistyped; everything else
    about numbers in words is listed.

    `heard`: words that dictation writes for numbers, the `sure-heard` of them in any place before what is counted;
    `introducing`: what may stand before a number that is a whole answer; `pointing`: with one of these before it a shy
    word is no number; `concluding`: what stands before a result; `multiplying`: "4 lots of 3"; `earlier`: where one of
    these stands, a number said behind takes the place of its own; `counting`: where one of these stands, a whole number
    counts; `none`: a thought that is nothing but this says zero;
    `counting`: where one of these stands, a whole number beside what is counted is a count.
    """

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
    none: Patterns = ()
    heard: dict[str, str] = {}
    sure_heard: Patterns = ()
    introducing: Patterns = ()
    pointing: Patterns = ()
    concluding: Patterns = ()
    multiplying: Patterns = ()
    earlier: Patterns = ()
    counting: Patterns = ()
    stating: Patterns = ()
    circumstances: Patterns = ()


class Unit(_Table):
    """`mm`: millimetres in one; `doubtful`: ordinary words too, units only behind a number that ends there."""

    mm: float
    written: Patterns
    doubtful: Patterns = ()


class Negations(_Table):
    """`near` deny the next word or two, `far` deny what follows in the same clause."""

    near: Patterns = ()
    far: Patterns = ()


class Sureness(_Table):
    """Probabilities. `tentative`: what is said with "maybe" or a question mark; `mistyped`: what rests on a word that
    was most likely mistyped. A reading of at least `fact` counts, of at least `ask` is asked back.

    What the rules read is as sure as they say, unless what was learned gives it less than `doubted` (`together` where
    several things are said or nothing is asked, `volunteered` where another question is open), or gives the whole
    message less than `gate` to be about this wheel (less than `ask`, where it is `certain` that somebody does not
    know). An answer to the open question that the words without the rules give less than `unbacked` is no likelier than
    they say. From `certain` on a mistyped word counts as if it were typed right. What was learned alone is a fact only
    from `learned` on.
    """

    tentative: float = 0.6
    mistyped: float = 0.75
    fact: float = 0.85
    ask: float = 0.5
    doubted: float = 0.7
    unknown: float = 0.75
    together: float = 0.3
    volunteered: float = 0.15
    asked_from: float = 0.05
    gate: float = 0.7
    certain: float = 0.97
    unbacked: float = 0.2
    learned: float = 0.95


class ProgramWords(_Table):
    sureness: Sureness = Sureness()
    parts: dict[str, str] = {}
    commands: dict[Command, CommandWords]
    numbers: NumberTables
    units: dict[str, Unit]
    hedges: dict[Hedge, Patterns]
    joints: dict[Joint, Patterns]
    shapes: dict[Shape, Patterns]
    means: dict[str, Patterns]
    shares: dict[int, Patterns] = {}
    lone_shares: dict[int, Patterns] = {}
    counters: Patterns = ()
    comparisons: dict[Comparison, Patterns]
    negations: Negations
    corrections: Patterns
    unsure: Patterns
    insists: Patterns = ()
    unsure_after_all: Patterns = ()
    unsure_for_now: Patterns = ()
    breaks: Patterns
    elsewhere: Patterns
    hostile: Patterns
    off_topic: Patterns
    other_trades: Patterns = ()
    fillers: Patterns
    subjects: Patterns = ()
    tellers: Patterns = ()
    scopes: dict[Scope, Patterns] = {}
    openings: dict[Scope, Patterns] = {}
    opening_fillers: Patterns = ()
    turning: Patterns = ()
    adding: Patterns = ()
    beginning: Patterns = ()
    pronouns: Patterns = ()
    measured_parts: Patterns = ()
    compared_things: Patterns = ()
    mine: Patterns = ()
    at_the_front: Patterns = ()
    linking: Patterns = ()
    beyond: Patterns = ()
    handling: Patterns = ()
    leads: Patterns = ()
    asking: Patterns = ()
    asking_anew: Patterns = ()
    asked_by: Patterns = ()
    opining: Patterns = ()
    predicates: Patterns = ()
    assuring: Patterns = ()
    conditions: Patterns = ()
    acknowledging: Patterns = ()
    heard: Patterns = ()
    later: Patterns = ()
    ignore: Patterns = ()
    picking: Patterns = ()
    never_mended: Patterns = ()
    dialect: dict[str, str] = {}
    whole_only: Patterns = ()


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
    `echo` ones only while its question is open or was spoken of before them; `when_open` ones only while it is open;
    `beside` ones only next to what the questions beside it are about (see `TopicWords.beside`).
    """

    words: Patterns = ()
    loose: Patterns = ()
    echo: Patterns = ()
    beside: Patterns = ()
    when_open: Patterns = ()


class MotionWords(_Table):
    """A question that asks whether one thing moves with another; `moves` and `rests` are its choices. While one of its
    `rivals` is open, only what is said of things by their names is about it."""

    moves: str
    rests: str
    rivals: Patterns = ()
    terms: dict[MotionTerm, Patterns]


class TopicWords(_Table):
    """`wholes`: what a number too large for its question most likely comes to; `divisors`: words that say by what it is
    to be divided; `lists`: questions that a list of tooth numbers answers; `zeros`: the question and choice that none
    of what is counted stands for.

    `beside`: questions asked in one breath; while one is open, the others' nouns and phrases of several words that
    mean something only then are in force too. `counted`: choices whose phrases name what a count counts. `covers`:
    while a question is open, words of these others are about it. `finer`: a choice, and the more general ones that it
    goes before. `denied`: the choice that is left when these are all denied. `single`: questions whose choices are
    often said of one piece, which is then no count. `outranks`: a choice and those that it goes before where both are
    said. `wavering`: words that make every answer to a question doubtful: "half out", "sometimes it turns".
    """

    parts: dict[str, str] = {}
    choices: dict[str, dict[str, ChoiceWords]]
    yes: dict[str, str] = {}
    no: dict[str, str] = {}
    either_or: Patterns = ()
    nouns: dict[str, Nouns] = {}
    pairs: dict[str, Patterns] = {}
    wholes: dict[str, dict[int, int]] = {}
    divisors: dict[str, dict[str, int]] = {}
    lists: tuple[str, ...] = ()
    zeros: dict[str, tuple[str, str]] = {}
    names: dict[str, Patterns] = {}
    makers: str | None = None
    gauges: dict[str, Patterns] = {}
    mentions: dict[str, Patterns] = {}
    withdrawn: dict[str, Patterns] = {}
    cannot: dict[str, Patterns] = {}
    cannot_when_open: dict[str, Patterns] = {}
    motion: dict[str, MotionWords] = {}
    scopes: dict[Scope, Patterns] = {}
    openings: dict[Scope, Patterns] = {}
    own_counts: dict[str, dict[str, dict[str, tuple[int, ...]]]] = {}
    outranks: dict[str, dict[str, tuple[str, ...]]] = {}
    no_counts: dict[str, dict[str, Patterns]] = {}
    beside: dict[str, Patterns] = {}
    counted: dict[str, dict[str, Patterns]] = {}
    covers: dict[str, Patterns] = {}
    wavering: dict[str, Patterns] = {}
    uncovers: dict[str, Patterns] = {}
    covers_most: dict[str, int] = {}
    finer: dict[str, dict[str, Patterns]] = {}
    denied: dict[str, dict[str, Patterns]] = {}
    single: dict[str, Patterns] = {}
    own_sizes: Patterns = ()
    others: Patterns = ()
    ignore: Patterns = ()
    elsewhere: Elsewhere = Elsewhere()
