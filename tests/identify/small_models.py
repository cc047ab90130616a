"""Models small enough to work out by hand."""

from collections.abc import Mapping, Sequence

import numpy as np

from triagebot.identify import ListTable, Losses, Model, Remedy

#: What the ways out cost in these models, in easy questions.
LOSSES = Losses(wrong=100, person=50, look_alike=30, again=1.3, bit=2.5)
#: Stopping in doubt is out of the question, and a bit costs 1: the loss to come is the entropy over remedies, in bits.
BITS = Losses(wrong=1e9, person=1e9, look_alike=1e9, again=1, bit=1)


def small_model(
    prior: Mapping[str, float],
    questions: Mapping[str, Mapping[str, Sequence[float]]],
    remedies: Mapping[str, str] | None = None,
    plausible: float = 0.05,
    losses: Losses = LOSSES,
) -> Model:
    """A model of a few hypotheses: `questions` gives each answer's probability, a hypothesis at a time.

    Every hypothesis needs a remover of its own name, or that of `remedies`; "nobody" stands for a person, comes last
    and is added with next to no probability where it is missing. Hypotheses of one remover stand together.
    """
    names = [name for name in prior if name != "nobody"] + ["nobody"]
    needed = [name if remedies is None else remedies[name] for name in names[:-1]]
    removers = list(dict.fromkeys(needed))
    shares = np.array([prior.get(name, 1e-15) for name in names])
    tables = {}
    for question, answers in questions.items():
        columns = np.array([[*given, *[1 / len(answers)] * (len(names) - len(given))] for given in answers.values()])
        rows = columns.T
        tables[question] = ListTable(question, tuple(answers), rows, 0.3, truth=np.eye(len(rows)), confusion=rows)
    return Model(
        fastenings=tuple(names),
        remedies=(*(Remedy(remover) for remover in removers), Remedy(None)),
        starts=np.array([*(needed.index(remover) for remover in removers), len(names) - 1]),
        prior=shares / shares.sum(),
        tables=tables,
        prices=dict.fromkeys(questions, 1.0),
        losses=losses,
        plausible=plausible,
    )
