"""An ideal observer: how well anybody could do who asks these people these questions.

It asks every question as often as it may be asked and knows the people's own figures: how common their wheels are, what
is true of them, and how often such people err. It names the remover that is likeliest, or sends to a person, with a
limit chosen so that no more than a given share is wrong. No planner that asks the same questions does better; what it
misses, only another observation could find.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import product

from triagebot.identify import Model, Reading, belief
from triagebot.study.people import Person, Profile
from triagebot.study.wheels import Wheels
from triagebot.topics import Fastening, Flow, Topic, TrueSize, compile_model, remedy_of

#: In place of no share at all.
_LEAST = 1e-9
#: How much the sizes of rare fittings vary, mm; as people draw them.
_RARE_TOLERANCE = 0.3


@dataclass(frozen=True, slots=True)
class Limit:
    """What can be reached: shares of people, as in a report. `at`: the least share at which a remover is named."""

    right: float
    wrong: float
    at: float


def own_model(topic: Topic, wheels: Wheels, profile: Profile, shares: Mapping[str, float] | None) -> Model:
    """The topic's model with the people's figures in place of the planner's."""
    rows = [_own(f, wheels, shares) for f in topic.catalogue.fastenings if not (f.broad and wheels.rare)]
    broad = next(f for f in topic.catalogue.fastenings if f.broad)
    if wheels.rare:
        rows += _rare(broad, wheels, _share(broad, shares))
    total = sum(row.prior for row in rows)
    fastenings = tuple(row.model_copy(update={"prior": row.prior / total}) for row in rows)
    catalogue = topic.catalogue.model_copy(update={"fastenings": fastenings, "look_alikes": ()})
    return compile_model(catalogue, _own_flow(topic.flow, profile))


def ideal(topic: Topic, model: Model, people: Sequence[Person], most_wrong: float) -> Limit:
    """The most of these people who can be told rightly while at most `most_wrong` of them are told wrongly."""
    found = sorted((_asked_everything(topic, model, person) for person in people), reverse=True)
    right = wrong = 0
    best = Limit(0.0, 0.0, 1.0)
    for share, correct in found:
        right, wrong = right + correct, wrong + (not correct)
        if wrong > most_wrong * len(people):
            break
        best = Limit(right / len(people), wrong / len(people), share)
    return best


def _asked_everything(topic: Topic, model: Model, person: Person) -> tuple[float, bool]:
    """The share of the likeliest remover after all questions, and whether it is the right one; the share is nought
    where a person's case is likelier than any remover."""
    readings: list[Reading] = []
    for question in topic.flow.questions:
        if question.purpose != "identify":
            continue
        said: list[Reading] = []
        for _ in range(question.asks):
            said.append(person.answer(question, said))
        readings += said
    shares = model.by_remedy(belief(model, readings))
    lead = int(shares.argmax())
    if model.remedies[lead].remover is None:
        return 0.0, False
    return float(shares[lead]), model.remedies[lead] == remedy_of(person.fastening)


def _share(fastening: Fastening, shares: Mapping[str, float] | None) -> float:
    return max(fastening.prior if shares is None else shares.get(fastening.id, 0.0), _LEAST)


def _own(fastening: Fastening, wheels: Wheels, shares: Mapping[str, float] | None) -> Fastening:
    answers = {**fastening.answers, **wheels.wheels.get(fastening.id, {})}
    return fastening.model_copy(update={"prior": _share(fastening, shares), "answers": answers, "prior_range": None})


def _rare(broad: Fastening, wheels: Wheels, share: float) -> list[Fastening]:
    """Every rare fitting that people own, as a row without a remover."""
    rows = []
    for number, kind in enumerate(wheels.rare):
        pairs = list(product(kind.counts, kind.sizes))
        for count, mm in pairs:
            answers = {
                "spin": kind.spin,
                "fitting": kind.fitting,
                "count": str(count),
                "size": TrueSize(mm=mm, tolerance=_RARE_TOLERANCE),
            }
            prior = share / len(wheels.rare) / len(pairs)
            name = f"rare-{number}-{count}-{mm:g}"
            rows.append(broad.model_copy(update={"id": name, "prior": prior, "answers": answers, "broad": False}))
    rows.append(broad.model_copy(update={"prior": _LEAST}))
    return rows


def _own_flow(flow: Flow, profile: Profile) -> Flow:
    """The flow with the errors of such people."""
    scale = profile.scale
    questions = tuple(
        q.model_copy(update={"slip": min(scale * profile.choice.get(q.id, profile.other_choice), 0.49)})
        if q.slip is not None
        else q
        for q in flow.questions
    )
    noise = flow.noise.model_copy(
        update={
            "miss": scale * profile.miss,
            "ends": scale * profile.ends,
            "arbitrary": scale * profile.arbitrary,
            "gross": scale * profile.gross,
            "unit": scale * profile.unit,
            "repeat": profile.repeat,
        }
    )
    return flow.model_copy(update={"questions": questions, "noise": noise})
