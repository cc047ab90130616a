"""The typed objects that a topic folder turns into, and the rules of shape that each file must keep.

Decided here and nowhere else: which keys a topic file may have, their kinds and their ranges.
What one file says about another (ids, reachability, texts) is checked in `check.py`.
Lengths are mm, torques N·m, probabilities 0..1, prices and losses share one unit ("one easy question").
"""

from itertools import pairwise
from typing import Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Discriminator, Field, StringConstraints, Tag, model_validator

Id = Annotated[str, StringConstraints(pattern=r"^[a-z0-9]+(-[a-z0-9]+)*$", max_length=48)]
Probability = Annotated[float, Field(ge=0, le=1)]
Slip = Annotated[float, Field(gt=0, lt=0.5)]
Positive = Annotated[float, Field(gt=0)]
Millimetres = Annotated[float, Field(gt=0, le=1000)]


class Row(BaseModel):
    model_config = ConfigDict(
        defer_build=True,
        extra="forbid",
        frozen=True,
        allow_inf_nan=False,
        alias_generator=lambda name: name.replace("_", "-"),
    )


# --- sources.yaml -------------------------------------------------------------------------------------------------


class Source(Row):
    """Where a value comes from. `kind` says how far it may be trusted; memory is never a safety line's only ground."""

    id: Id
    kind: Literal["published", "common-practice", "memory", "judgement", "computed"]
    title: str
    place: str | None = None


class Sources(Row):
    sources: tuple[Source, ...]


# --- catalogue.yaml -----------------------------------------------------------------------------------------------


class TrueSize(Row):
    """A fitting's true outer diameter: `mm` with standard uncertainty `tolerance`, or anything from `low` to `high`."""

    mm: Millimetres | None = None
    tolerance: Positive = 0.15
    low: Millimetres | None = None
    high: Millimetres | None = None

    @model_validator(mode="after")
    def _one_form(self) -> "TrueSize":
        ranged = self.low is not None and self.high is not None and self.low < self.high
        if (self.mm is not None) == ranged or (self.mm is not None and (self.low or self.high)):
            raise ValueError("give either mm (with tolerance) or low and high, low below high")
        return self

    @property
    def span(self) -> tuple[float, float]:
        """The least and the greatest true diameter, mm; the tolerance is left out."""
        return self.mm or self.low or 0.0, self.mm or self.high or 0.0


def _truth_form(value: Any) -> str:
    if isinstance(value, dict):
        return "size" if value.keys() & {"mm", "low", "high", "tolerance"} else "mix"
    return "size" if isinstance(value, TrueSize) else "answer"


#: What is true of a fastening, a question: a choice or number, a distribution over them, or a size.
Truth = Annotated[
    Annotated[TrueSize, Tag("size")] | Annotated[dict[str, Probability], Tag("mix")] | Annotated[str, Tag("answer")],
    Discriminator(_truth_form),
]


class Refitting(Row):
    """How tight it goes back. `torque` in N·m, absent where pedalling or hand force does it; `text` explains."""

    torque: Positive | None = None
    text: Id
    source: Id


class Fastening(Row):
    """One thing that can be identified. `broad` marks the one that stands for everything not listed; `mistaken` one
    that is no fastening, but what people describe who looked at the wrong part (its prior: how often they do)."""

    id: Id
    system: Id
    prior: Annotated[float, Field(gt=0, lt=1)]
    #: the range in which the judge of the prior expects the true share
    prior_range: tuple[Probability, Probability] | None = None
    remover: Id | None
    broad: bool = False
    mistaken: bool = False
    answers: dict[Id, Truth] = {}
    direction: Literal["anticlockwise", "clockwise", "none"] = "none"
    accessories: tuple[Id, ...] = ()
    cautions: tuple[Id, ...] = ()
    refitting: Refitting | None = None
    advice: tuple[Id, ...] = ()
    sources: dict[str, Id]

    def size(self, question: str) -> TrueSize | None:
        """The true size that answers a question; None where it asks for something else, or nothing is known."""
        truth = self.answers.get(question)
        return truth if isinstance(truth, TrueSize) else None

    def listed(self, question: str) -> dict[str, float]:
        """How often each choice or number is the true answer; empty for sizes, and where nothing is known."""
        truth = self.answers.get(question)
        if truth is None or isinstance(truth, TrueSize):
            return {}
        return truth if isinstance(truth, dict) else {truth: 1.0}


class Remover(Row):
    """A kind of tool. `traits` are the words that guards may ask for (clamped, shallow, hollow …)."""

    id: Id
    traits: tuple[Id, ...] = ()
    source: Id


class Accessory(Row):
    id: Id
    source: Id


class Caution(Row):
    """A hazard with its signal word (ISO 3864-2 / ANSI Z535) and the step at which it arises."""

    id: Id
    signal: Literal["warning", "caution", "notice"]
    step: Id
    source: Id


class LookAlike(Row):
    """Fastenings with different removers that no safe measurement separates, and the question that does. `by_hand`:
    the question whether the first one's remover, pushed in by hand, goes home. `harmless`: that try does no harm, so
    where the second is improbable (`outcomes.by_hand`) the first is named alone."""

    fastenings: tuple[Id, Id]
    check: Id
    by_hand: Id | None = None
    harmless: bool = False


class Catalogue(Row):
    """`buying`: the advice that matters to those who buy a new part."""

    handle_mm: Positive
    steps: tuple[Id, ...]
    buying: tuple[Id, ...] = ()
    fastenings: tuple[Fastening, ...]
    removers: tuple[Remover, ...]
    accessories: tuple[Accessory, ...]
    cautions: tuple[Caution, ...]
    look_alikes: tuple[LookAlike, ...] = ()


# --- flow.yaml ----------------------------------------------------------------------------------------------------


class Question(Row):
    """What is asked. `price` is the effort of answering once; `slip` how often a choice is answered wrongly.

    `purpose`: identify (evidence on fastenings), ability (can it be looked at now?), obstacle (changes what else is
    needed). `prior` is the mix of true answers where they do not depend on the fastening. `most` bounds a number.
    """

    id: Id
    kind: Literal["choice", "count", "size"]
    purpose: Literal["identify", "ability", "obstacle"] = "identify"
    choices: tuple[Id, ...] = ()
    price: Positive
    slip: Slip | None = None
    unsure: Annotated[float, Field(ge=0, lt=1)] = 0.08
    asks: Annotated[int, Field(ge=1, le=4)] = 2
    prior: dict[str, Probability] = {}
    #: answering takes a tool that few have at hand: not to know says nothing of what else this person can tell
    needs_tool: bool = False
    #: hard to see for a beginner: not asked while any other question is worth asking
    hidden: bool = False
    least: Annotated[int, Field(ge=0)] = 1
    most: Annotated[int, Field(ge=1, le=400)] = 60
    picture: Id | None = None
    #: what a count is likely to be: offered to be tapped
    numbers: tuple[Annotated[int, Field(ge=0)], ...] = ()
    #: choices come from the shop folder's table of makers' words
    shop_words: bool = False
    source: Id

    @model_validator(mode="after")
    def _fits_kind(self) -> "Question":
        if (self.kind == "choice") != (len(self.choices) >= 2):
            raise ValueError("a choice question lists at least two choices; a count or size lists none")
        if self.kind == "choice" and self.slip is None:
            raise ValueError("a choice question says how often people slip (slip)")
        if self.numbers and self.kind != "count":
            raise ValueError("only a count offers numbers")
        if any(one >= other for one, other in pairwise(self.numbers)):
            raise ValueError("numbers rise")
        if any(not self.least <= number <= self.most for number in self.numbers):
            raise ValueError(f"numbers are from least ({self.least}) to most ({self.most})")
        return self


class Guard(Row):
    """A condition by name; every part given must hold.

    `answered`: the latest answer to the question is one of these. `not_answered`: it is none of these (or not known).
    `leading`: the remover that leads now has one of these traits. `mentioned`: the person touched on the question.
    """

    answered: dict[Id, tuple[Id, ...]] = {}
    not_answered: dict[Id, tuple[Id, ...]] = {}
    leading: tuple[Id, ...] = ()
    mentioned: tuple[Id, ...] = ()


class State(Row):
    """A state of the conversation: it asks one question, or it is an outcome, or it waits."""

    id: Id
    question: Id | None = None
    outcome: Literal["answer", "look-alike", "person", "stopped"] | None = None


class Transition(Row):
    """`source` lists state ids; `*` is every state, `asking` every state that asks a question."""

    trigger: Id
    source: tuple[str, ...]
    to: Id
    guards: tuple[Id, ...] = ()


class Means(Row):
    """A way of measuring: standard deviation `sd` (mm) of one reading and the share of it that repeats as a bias."""

    id: Id
    sd: Positive
    source: Id


class Noise(Row):
    """How people err (see sources): counts, sizes, repeats. All probabilities, `gross` uniform on `span` mm."""

    miss: Slip
    ends: Slip
    arbitrary: Slip
    gross: Slip
    span: tuple[Millimetres, Millimetres]
    unit: Slip
    bias: Annotated[float, Field(ge=0, lt=1)]
    repeat: Probability
    means: tuple[Means, ...]
    source: Id


class Losses(Row):
    """What each way out costs, in easy questions. `again` multiplies a repeat's price; `bit` is one bit of doubt."""

    wrong: Positive
    person: Positive
    look_alike: Positive
    again: Positive
    bit: Positive


class Bands(Row):
    """Lower limits of the bands of certainty that people hear as words."""

    sure: Probability
    fairly_sure: Probability


class Motion(Row):
    """Removers with one of the traits `removers` rest on what moves: none is named with certainty before `question` was
    answered, unless fastenings that move otherwise keep no more than `doubt` by all else that was told."""

    question: Id
    removers: tuple[Id, ...]
    doubt: Probability = 0.01


class Outcomes(Row):
    """When an answer may be given. `plausible`: the share that no other remover may keep. `sights`: no remover is named
    before one of these questions was answered, if one can be asked: somebody has looked at the fitting itself; or has
    seen what `seen_by` says of one, by question and choice (the wire ring is all there is to see of a snap ring).
    `direction`: where a remover may have to be turned either way, this question must have been answered twice."""

    plausible: Probability
    most_questions: Annotated[int, Field(ge=1, le=40)] = 12
    patience: Annotated[int, Field(ge=2, le=40)] = 4
    sights: tuple[Id, ...] = ()
    seen_by: dict[Id, Id] = {}
    by_hand: Probability | None = None
    motion: Motion | None = None
    direction: Id | None = None
    bands: Bands


class Referral(Row):
    """An answer that sends the person to the shop whatever else is known (a worn fitting)."""

    question: Id
    choice: Id
    caution: Id


class ShopReferral(Referral):
    """One that a shop may choose (`hand-over` in shop.yaml), by the `id` of that choice; several may share one."""

    id: Id


class FlowCaution(Row):
    """A caution that an answer adds, whatever the fastening (an electric hub); with `traits` only where the remover has
    one of them (a solid axle stops what goes over it, and no screwdriver)."""

    question: Id
    choice: Id
    caution: Id
    traits: tuple[Id, ...] = ()
    accessories: tuple[Id, ...] = ()


class Chart(Row):
    """The fixed chart that the planner must beat: these questions in this order, nearest value, so many retries."""

    order: tuple[Id, ...]
    retries: Annotated[int, Field(ge=0, le=3)] = 1


class Flow(Row):
    topic: Id
    order: Literal["planner", "fixed"] = "planner"
    start: Id
    losses: Losses
    outcomes: Outcomes
    noise: Noise
    questions: tuple[Question, ...]
    guards: dict[Id, Guard] = {}
    states: tuple[State, ...]
    transitions: tuple[Transition, ...]
    referrals: tuple[Referral, ...] = ()
    shop_referrals: tuple[ShopReferral, ...] = ()
    extra_cautions: tuple[FlowCaution, ...] = ()
    chart: Chart
