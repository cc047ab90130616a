"""The shape of procedures.yaml: the steps of the work, how each is known to be done, and what can go wrong in it."""

from collections.abc import Mapping
from typing import Literal, get_args

from pydantic import Field

from triagebot.topics.schema import Id, Row

#: What can go wrong in a step, so that something may help.
Trouble = Literal[
    "does-not-go-in", "slips", "nothing-moves",
    "whip-slips", "turns-along", "wrong-way", "left-on", "cable", "worn", "noise", "fell-out",
]  # fmt: skip
#: How a step can end or fail, as it is said.
Exit = Literal["done", Trouble, "do-not-have", "broke", "stop"]
#: What somebody says who has done a step: the wheel is out, the tool sits, the ring moved or clicked, the clamp is off,
#: "it" is off, the parts are off, the ring sprang out, all is back on, the glasses are on.
Ending = Literal["out", "seated", "moved", "clicks", "cleared", "off", "parts-off", "sprang", "on", "ready"]
#: Which way something turns.
Turn = Literal["anticlockwise", "clockwise"]

TURNS: tuple[Turn, ...] = get_args(Turn)
TROUBLES: tuple[Trouble, ...] = get_args(Trouble)
EXITS: tuple[Exit, ...] = get_args(Exit)
ENDINGS: tuple[Ending, ...] = get_args(Ending)
#: In a step's needs: the remover of the fastening, whichever it is.
REMOVER = "remover"


class Step(Row):
    """One step: cautions of it, what it takes, and by trouble what helps, in order of least harm (`exits`, with a
    button each; `also`, without). `refit`: it says how the part goes back, as the fastening's row does. `evidence`: by
    trouble the answers that it gives. `ends`: by what somebody says it is known to be done. `turns`: which way.
    `confirm`: going on before it is done can hurt somebody, so "ok" is asked about."""

    id: Id
    cautions: tuple[Id, ...] = ()
    needs: tuple[Id, ...] = ()
    picture: Id | None = None
    ends: tuple[Ending, ...] = ()
    turns: Turn | None = None
    exits: Mapping[Trouble, tuple[Id, ...]] = Field(default_factory=dict)
    also: Mapping[Trouble, tuple[Id, ...]] = Field(default_factory=dict)
    evidence: Mapping[Trouble, Mapping[Id, Id]] = Field(default_factory=dict)
    refit: bool = False
    confirm: bool = False
    text: str = ""
    """A shop's own words, in its own language, in place of the topic's."""

    @property
    def by_force(self) -> bool:
        """Whether something is turned with a tool, so that the wrong way does harm."""
        return self.turns is not None and bool(self.needs)


class Procedure(Row):
    """The steps for some fastenings, in order; what helps, and what a trouble tells of the wheel, at any of them."""

    id: Id
    fastenings: tuple[Id, ...]
    also: Mapping[Trouble, tuple[Id, ...]] = Field(default_factory=dict)
    evidence: Mapping[Trouble, Mapping[Id, Id]] = Field(default_factory=dict)
    steps: tuple[Step, ...]


class Procedures(Row):
    source: Id
    procedures: tuple[Procedure, ...] = ()
