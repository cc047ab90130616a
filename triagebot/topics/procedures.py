"""How each kind comes off and goes back: `procedures.yaml` of a topic, and what it must keep.

Rules of this file: every fastening with a remover has one procedure; its steps hold every caution of the fastening's
row; every id in it is known. A topic without the file has no procedures.
"""

from collections.abc import Iterator, Mapping
from typing import TYPE_CHECKING, Any, Literal, get_args

from pydantic import Field

from triagebot.errors import Problem
from triagebot.topics.schema import Id, Row

if TYPE_CHECKING:
    from triagebot.topics.marks import Files
    from triagebot.topics.topic import Topic

FILE = "procedures.yaml"
#: How a step can end or fail, as it is said.
Exit = Literal["done", "does-not-go-in", "slips", "nothing-moves", "do-not-have", "broke", "stop"]
EXITS: tuple[Exit, ...] = get_args(Exit)
#: What can go wrong in a step, so that something may help.
Trouble = Literal["does-not-go-in", "slips", "nothing-moves"]
#: In a step's needs: the remover of the fastening, whichever it is.
REMOVER = "remover"


class Step(Row):
    """One step: cautions of it, what it takes, and by trouble what helps, in order of least harm. `refit`: it says how
    the part goes back, as the fastening's row does. `evidence`: by trouble the answers that it gives."""

    id: Id
    cautions: tuple[Id, ...] = ()
    needs: tuple[Id, ...] = ()
    picture: Id | None = None
    exits: Mapping[Trouble, tuple[Id, ...]] = Field(default_factory=dict)
    evidence: Mapping[Trouble, Mapping[Id, Id]] = Field(default_factory=dict)
    refit: bool = False
    text: str = ""
    """A shop's own words, in its own language, in place of the topic's."""


class Procedure(Row):
    """The steps for some fastenings, in order."""

    id: Id
    fastenings: tuple[Id, ...]
    steps: tuple[Step, ...]


class Procedures(Row):
    source: Id
    procedures: tuple[Procedure, ...] = ()


def procedure_faults(topic: "Topic", files: "Files") -> Iterator[Problem]:
    """Everything in the procedures that points nowhere or is missing."""
    if not topic.procedures:
        return
    known: Mapping[str, Any] = {
        "fastening": topic.fastenings,
        "caution": topic.cautions,
        "accessory": {*topic.accessories, REMOVER},
    }
    for place, procedure in enumerate(topic.procedures):
        path: tuple[Any, ...] = ("procedures", place)
        for kind, name, where in _names(procedure, path):
            if name not in known[kind]:
                yield files.problem(FILE, where, f"there is no {kind} {name!r}")
        for at, step in enumerate(procedure.steps):
            for trouble, answers in step.evidence.items():
                for question, choice in answers.items():
                    asked = topic.questions.get(question)
                    if asked is None or choice not in asked.choices:
                        where = (*path, "steps", at, "evidence", trouble)
                        yield files.problem(FILE, where, f"there is no answer {choice!r} to a question {question!r}")
    for place, row in enumerate(topic.catalogue.fastenings):
        if row.remover is None:
            continue
        own = [procedure for procedure in topic.procedures if row.id in procedure.fastenings]
        where = ("fastenings", place, "id")
        if len(own) != 1:
            yield files.problem("catalogue.yaml", where, f"has {len(own)} procedures in {FILE}, not one")
            continue
        held = {caution for step in own[0].steps for caution in step.cautions}
        for caution in row.cautions:
            if caution not in held:
                message = f"no step of procedure {own[0].id!r} holds its caution {caution!r}"
                yield files.problem("catalogue.yaml", where, message)


def _names(procedure: Procedure, path: tuple[Any, ...]) -> Iterator[tuple[str, str, tuple[Any, ...]]]:
    for at, name in enumerate(procedure.fastenings):
        yield "fastening", name, (*path, "fastenings", at)
    for at, step in enumerate(procedure.steps):
        where = (*path, "steps", at)
        yield from (("caution", name, (*where, "cautions", n)) for n, name in enumerate(step.cautions))
        yield from (("accessory", name, (*where, "needs", n)) for n, name in enumerate(step.needs))
