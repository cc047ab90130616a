"""What a shop's closed cases have taught it: how common each fastening is there, and how often people slip.

Whatever `learned.yaml` says, no fastening falls below `LEAST` of what the topic gives it. Two kinds do not fall below
the topic's own figure, since no case tells how common they are: the broad one, which stands for everything that is not
listed (staff seldom close such a case by name), and what is described who looked at the wrong part.
"""

from collections.abc import Mapping
from dataclasses import replace
from datetime import date
from hashlib import sha256
from types import MappingProxyType
from typing import Annotated

from pydantic import Field

from triagebot.topics.schema import Catalogue, Id, Row, Slip
from triagebot.topics.topic import Topic

#: No learned prior is below this share of the topic's own.
LEAST = 0.1
#: The topic's priors count as so many closed cases that were seen already.
PRIOR_WORTH = 200.0

Share = Annotated[float, Field(gt=0, lt=1)]


class Learned(Row):
    """learned.yaml, which a shop may leave out: priors by fastening and slips by question in place of the topic's.

    `cases` says from how many closed cases they come, `day` when. Who is not named keeps the topic's figure.
    """

    topic: Id
    day: date | None = None
    cases: Annotated[int, Field(ge=0)] = 0
    priors: dict[Id, Share] = Field(default_factory=dict)
    slips: dict[Id, Slip] = Field(default_factory=dict)


def floors(catalogue: Catalogue) -> Mapping[str, float]:
    """The least prior that each fastening may have."""
    return MappingProxyType({f.id: f.prior * (1.0 if f.broad or f.mistaken else LEAST) for f in catalogue.fastenings})


def floored(catalogue: Catalogue, wanted: Mapping[str, float]) -> Mapping[str, float]:
    """Priors that sum to 1, as near to `wanted` (fastening -> share, need not be whole) as their floors allow.

    Fastenings that are not wanted keep the topic's share; the wanted ones divide the rest in proportion; one that would
    fall below its floor is held there, and the others give way in proportion.
    """
    total = sum(f.prior for f in catalogue.fastenings)
    shares = {f.id: f.prior / total for f in catalogue.fastenings}
    named = {name: share for name, share in wanted.items() if name in shares}
    rest = sum(shares[name] for name in named)
    said = sum(named.values())
    shares |= {name: rest * share / said for name, share in named.items()}
    least = {name: floor / total for name, floor in floors(catalogue).items()}
    held: set[str] = set()
    while low := {name for name in shares.keys() - held if shares[name] < least[name]}:
        held |= low
        free = sum(shares[name] for name in shares.keys() - held)
        left = 1 - sum(least[name] for name in held)
        shares = {name: least[name] if name in held else share * left / free for name, share in shares.items()}
    return MappingProxyType(shares)


def taught(topic: Topic, learned: Learned | None) -> Topic:
    """The topic with what was learned in place of its own figures, and a digest of its own; itself if nothing was.

    What was learned for another topic, or for what the topic no longer has, says nothing.
    """
    if learned is None or learned.topic != topic.id:
        return topic
    slips = {q.id: learned.slips[q.id] for q in topic.flow.questions if q.id in learned.slips and q.slip is not None}
    known = {name: share for name, share in learned.priors.items() if name in topic.fastenings}
    if not slips and not known:
        return topic
    priors = floored(topic.catalogue, known)
    fastenings = tuple(f.model_copy(update={"prior": priors[f.id]}) for f in topic.catalogue.fastenings)
    questions = tuple(q.model_copy(update={"slip": slips[q.id]}) if q.id in slips else q for q in topic.flow.questions)
    figures = sha256(f"{topic.digest} {sorted(known.items())} {sorted(slips.items())}".encode())
    return replace(
        topic,
        catalogue=topic.catalogue.model_copy(update={"fastenings": fastenings}),
        flow=topic.flow.model_copy(update={"questions": questions}),
        digest=figures.hexdigest(),
    )


def learned_text(learned: Learned) -> str:
    """The file that says this: what `load` reads back as the same value."""
    lines = [
        "# What closed cases have taught this shop: it takes the place of the topic's own figures. Written by",
        "# `triagebot report --apply`, which works everything out anew each time; delete the file to forget it.",
        f"topic: {learned.topic}",
    ]
    if learned.day is not None:
        lines.append(f"day: {learned.day.isoformat()}")
    lines.append(f"cases: {learned.cases}")
    for key, note, figures in (
        ("priors", "How common each fastening is here.", learned.priors),
        ("slips", "How often people choose a wrong answer.", learned.slips),
    ):
        if figures:
            lines += ["", f"# {note}", f"{key}:", *(f"  {name}: {figure!r}" for name, figure in figures.items())]
    return "\n".join(lines) + "\n"
