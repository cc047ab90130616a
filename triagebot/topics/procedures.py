"""What the procedures of a topic must keep: how each kind comes off and goes back, step by step.

Rules of this file: every fastening with a remover has one procedure; its steps hold every caution of the fastening's
row; every id in it is known. A topic without the file has no procedures.
"""

from collections.abc import Iterator, Mapping
from typing import Any

from triagebot.errors import Problem
from triagebot.topics.marks import Files
from triagebot.topics.procedure_rows import REMOVER, Procedure
from triagebot.topics.topic import Topic

FILE = "procedures.yaml"


def procedure_faults(topic: Topic, files: Files) -> Iterator[Problem]:
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
        told = [((*path, "evidence"), procedure.evidence)]
        told += [((*path, "steps", at, "evidence"), step.evidence) for at, step in enumerate(procedure.steps)]
        for where, evidence in told:
            for trouble, answers in evidence.items():
                for question, choice in answers.items():
                    asked = topic.questions.get(question)
                    if asked is None or choice not in asked.choices:
                        message = f"there is no answer {choice!r} to a question {question!r}"
                        yield files.problem(FILE, (*where, trouble), message)
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
