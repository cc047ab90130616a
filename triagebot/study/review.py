"""How well it has gone: how often answers were right, where people gave up, and what closed cases teach.

Right and wrong are counted over the runs that staff have closed. What people were asked, and where they gave up (no
outcome and nothing heard for `totals.QUIET`, or a "stop"), is counted over all runs. The interval of a share is the
95 % credible one after a flat start, Beta(1, 1).
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, fields
from datetime import datetime

from triagebot.cases.runs import Run
from triagebot.conversation import edition
from triagebot.study.chances import credible
from triagebot.study.learning import Estimate, priors_from, slips_from
from triagebot.study.totals import Judging, bands, bins, numbers
from triagebot.topics import Topic


@dataclass(frozen=True, slots=True)
class Tally:
    """How closed cases ended. `none`: before there was an outcome; `unknown`: nothing to judge it by was said."""

    right: int = 0
    look_alike: int = 0
    wrong: int = 0
    person: int = 0
    none: int = 0
    unknown: int = 0

    @property
    def cases(self) -> int:
        return sum(getattr(self, field.name) for field in fields(self))


@dataclass(frozen=True, slots=True)
class Band:
    """Outcomes stated with about the same certainty: its mean, and how often the leading remedy was the true one, with
    the interval of that share."""

    name: str
    cases: int
    stated: float
    true: float
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class Failing:
    """How people coped with a question: how often it was asked and answered, how many answers were "unsure" or taken
    back; and of the `judged` first answers in closed cases, how many the truth contradicts."""

    question: str
    asked: int
    answered: int
    unsure: int
    taken_back: int
    judged: int
    contradicted: int


@dataclass(frozen=True, slots=True)
class GivenUp:
    """How many left while a question was open (None: before any, or with something asked back), or said stop."""

    question: str | None
    left: int
    stopped: int


@dataclass(frozen=True, slots=True)
class Review:
    """All of it. `elsewhere`: closed cases that another edition than the one in use had answered; `misfits`: the right
    remover was named and did not fit."""

    topic: str
    edition: str
    runs: int
    closed: int
    elsewhere: int
    misfits: int
    tally: Tally
    fastenings: tuple[tuple[str, Tally], ...]
    bands: tuple[Band, ...]
    bins: tuple[Band, ...]
    questions: tuple[Failing, ...]
    given_up: tuple[GivenUp, ...]
    priors: tuple[Estimate, ...]
    slips: tuple[Estimate, ...]


def review(runs: Iterable[Run], shipped: Topic, used: Topic, now: datetime) -> Review:
    """Sum up these runs: `shipped` is the topic with its own figures, `used` the one with what was learned so far."""
    judging = Judging(shipped, used)
    return summed_up(numbers(runs, judging, now), judging)


def summed_up(found: Mapping[str, float], judging: Judging) -> Review:
    """A review of what was counted (see `totals`)."""
    used = judging.used
    slips = {question.id: _under(found, f"slips/{question.id}/") for question in judging.shipped.flow.questions}
    verdicts = {name: _tally(_under(found, f"verdict/{name}/")) for name in used.fastenings}
    return Review(
        topic=used.id,
        edition=edition(used.digest),
        runs=_whole(found, "runs"),
        closed=_whole(found, "closed"),
        elsewhere=_whole(found, "elsewhere"),
        misfits=_whole(found, "misfits"),
        tally=_tally(_under(found, "verdict//")),
        fastenings=tuple((name, tally) for name, tally in verdicts.items() if tally.cases),
        bands=_bands(found, "band", bands(used)),
        bins=_bands(found, "bin", bins()),
        questions=_questions(found, used),
        given_up=_given_up(found),
        priors=priors_from(judging.shipped, used, _under(found, "seen/"), _under(found, "taught/")),
        slips=slips_from(
            judging.shipped,
            used,
            {name: (_whole(of, "wrong"), _whole(of, "of")) for name, of in slips.items() if of},
        ),
    )


def _under(found: Mapping[str, float], kind: str) -> Mapping[str, float]:
    return {name.removeprefix(kind): number for name, number in found.items() if name.startswith(kind)}


def _whole(found: Mapping[str, float], name: str) -> int:
    return int(found.get(name, 0))


def _tally(verdicts: Mapping[str, float]) -> Tally:
    return Tally(**{name.replace("-", "_"): int(number) for name, number in verdicts.items()})


def _bands(found: Mapping[str, float], kind: str, edges: Iterable[tuple[str, float, float]]) -> tuple[Band, ...]:
    """What was stated within each of these edges, where anything was."""
    inside = ((name, _under(found, f"{kind}/{name}/")) for name, _, _ in edges)
    return tuple(_band(name, _whole(of, "cases"), of["stated"], _whole(of, "true")) for name, of in inside if of)


def _band(name: str, cases: int, stated: float, true: int) -> Band:
    return Band(name, cases, stated / cases, true / cases, *credible(1 + true, 1 + cases - true))


def _questions(found: Mapping[str, float], topic: Topic) -> tuple[Failing, ...]:
    kinds = ("asked", "answered", "unsure", "taken-back", "judged", "against")
    rows = (Failing(q, *(_whole(found, f"{kind}/{q}") for kind in kinds)) for q in topic.questions)
    return tuple(row for row in rows if row.asked or row.answered)


def _given_up(found: Mapping[str, float]) -> tuple[GivenUp, ...]:
    left, stopped = _under(found, "left/"), _under(found, "stopped/")
    rows = [GivenUp(name or None, _whole(left, name), _whole(stopped, name)) for name in {*left, *stopped}]
    return tuple(sorted(rows, key=lambda row: (-row.left - row.stopped, row.question or "")))
