"""A topic's catalogue and flow turned into the arrays that identification works on."""

from collections.abc import Mapping

import numpy as np

from triagebot.identify import ListTable, Losses, Model, Remedy, SizeNoise, choice_rows, count_rows, size_table
from triagebot.identify.information import Array
from triagebot.identify.tables import Table
from triagebot.topics.schema import Catalogue, Fastening, Flow, Question, TrueSize


def remedy_of(fastening: Fastening) -> Remedy:
    """What is done about a fastening; without a remover a person looks, whichever way it would turn."""
    if fastening.remover is None:
        return Remedy(None)
    return Remedy(fastening.remover, fastening.direction)


def compile_model(catalogue: Catalogue, flow: Flow) -> Model:
    """Build the model; the catalogue and flow have passed `check`. Fastenings come out sorted by remedy."""
    found = list(dict.fromkeys(remedy_of(f) for f in catalogue.fastenings if f.remover is not None))
    first = {remover: place for place, remover in enumerate(dict.fromkeys(remedy.remover for remedy in found))}
    remedies = sorted(found, key=lambda remedy: first[remedy.remover])
    remedies.append(Remedy(None))
    order = {remedy: place for place, remedy in enumerate(remedies)}
    ranked = sorted(catalogue.fastenings, key=lambda f: order[remedy_of(f)])
    places = [order[remedy_of(f)] for f in ranked]
    prior = np.array([f.prior for f in ranked])
    asked = [q for q in flow.questions if q.purpose == "identify"]
    losses = flow.losses
    return Model(
        fastenings=tuple(f.id for f in ranked),
        remedies=tuple(remedies),
        starts=np.searchsorted(places, np.arange(len(remedies))),
        prior=prior / prior.sum(),
        tables={q.id: _table(q, ranked, flow) for q in asked},
        prices={q.id: q.price for q in flow.questions},
        losses=Losses(losses.wrong, losses.person, losses.look_alike, losses.again, losses.bit),
        plausible=flow.outcomes.plausible,
        by_hand=flow.outcomes.by_hand or flow.outcomes.plausible,
        by_hand_pairs=_by_hand_pairs(catalogue, order),
    )


def _by_hand_pairs(catalogue: Catalogue, order: Mapping[Remedy, int]) -> tuple[tuple[int, int], ...]:
    """Remedies of look-alikes of which a try of the first by hand does no harm."""
    rows = {f.id: f for f in catalogue.fastenings}
    pairs = (pair.fastenings for pair in catalogue.look_alikes if pair.harmless)
    return tuple((order[remedy_of(rows[one])], order[remedy_of(rows[other])]) for one, other in pairs)


def size_noise(flow: Flow) -> SizeNoise:
    """How lengths go wrong, as the flow file has it."""
    noise = flow.noise
    return SizeNoise(noise.gross, noise.span, noise.unit, noise.bias, {m.id: m.sd for m in noise.means})


def _table(question: Question, fastenings: list[Fastening], flow: Flow) -> Table:
    noise = flow.noise
    if question.kind == "size":
        return _size_table(question, fastenings, flow)
    labels: tuple[str, ...] | tuple[int, ...]
    if question.kind == "choice":
        labels = question.choices
        assert question.slip is not None
        truths = _truths(question.id, fastenings, [str(x) for x in labels])
        confusion = choice_rows(np.eye(len(labels)), question.slip)
    else:
        labels = tuple(range(question.least, question.most + 1))
        truths = _truths(question.id, fastenings, [str(n) for n in labels])
        confusion = count_rows(np.eye(len(labels)), question.least, noise.miss, noise.ends, noise.arbitrary)
    return ListTable(question.id, labels, truths @ confusion, noise.repeat, truths, confusion)


def truth_mix(truth: object, labels: list[str]) -> Array:
    """The distribution over `labels` that a catalogue's truth stands for; without one, all alike."""
    mix: Mapping[str, float] = truth if isinstance(truth, Mapping) else {str(truth): 1.0}
    if truth is None or isinstance(truth, TrueSize):
        return np.full(len(labels), 1 / len(labels))
    shares = np.array([mix.get(label, 0.0) for label in labels])
    result: Array = shares / shares.sum()
    return result


def _truths(question: str, fastenings: list[Fastening], labels: list[str]) -> Array:
    return np.array([truth_mix(f.answers.get(question), labels) for f in fastenings])


def _size_table(question: Question, fastenings: list[Fastening], flow: Flow) -> Table:
    known = [f.size(question.id) for f in fastenings]
    low, high = np.array([size.span if size else (0.0, 0.0) for size in known]).T
    tolerance = np.array([size.tolerance if size else 1.0 for size in known])
    silent = np.array([size is None for size in known])
    return size_table(question.id, low, high, tolerance, silent, size_noise(flow), flow.noise.repeat)
