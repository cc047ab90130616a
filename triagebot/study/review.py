"""How well it has gone: how often answers were right, where people gave up, and what closed cases teach.

Right and wrong are counted over the runs that staff have closed. What people were asked, and where they gave up (no
outcome and nothing heard for `QUIET`, or a "stop"), is counted over all runs. The interval of a share is the 95 %
credible one after a flat start, Beta(1, 1).
"""

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, fields
from datetime import datetime, timedelta

from triagebot.cases.runs import Run
from triagebot.conversation import edition
from triagebot.identify import UnsureReading
from triagebot.study.chances import credible
from triagebot.study.findings import Finding, contradicted, finding_of, first_answers
from triagebot.study.learning import Estimate, estimate_priors, estimate_slips
from triagebot.topics import Topic

QUIET = timedelta(hours=24)
#: Lower edges of the bins of the reliability diagram; fine where answers are given.
EDGES = (0.0, 0.2, 0.4, 0.6, 0.8, 0.9, 0.95, 0.985)


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


def review(runs: Sequence[Run], shipped: Topic, used: Topic, now: datetime) -> Review:
    """Sum up these runs: `shipped` is the topic with its own figures, `used` the one with what was learned so far."""
    findings = [finding for run in runs if (finding := finding_of(run, used)) is not None]
    # judged by what was learned before, a remover that fitted would teach the same lesson again each time
    lessons = [finding for run in runs if (finding := finding_of(run, shipped)) is not None]
    in_use = edition(used.digest)
    known: dict[str | None, list[Finding]] = {}
    for finding in findings:
        known.setdefault(finding.fastening, []).append(finding)
    return Review(
        topic=used.id,
        edition=in_use,
        runs=len(runs),
        closed=len(findings),
        elsewhere=sum(finding.run.edition != in_use for finding in findings),
        misfits=sum(finding.misfit for finding in findings),
        tally=tally(findings),
        fastenings=tuple((name, tally(known[name])) for name in used.fastenings if name in known),
        bands=_bands(findings, used),
        bins=_bins(findings),
        questions=_questions(runs, findings, used),
        given_up=_given_up(runs, now),
        priors=estimate_priors(shipped, used, lessons),
        slips=estimate_slips(shipped, used, lessons),
    )


def tally(findings: Iterable[Finding]) -> Tally:
    """How these cases ended."""
    verdicts = Counter(finding.verdict.replace("-", "_") for finding in findings)
    return Tally(**verdicts)


def _bands(findings: Sequence[Finding], topic: Topic) -> tuple[Band, ...]:
    """Answers, by the words in which people heard how certain they were."""
    bands = topic.flow.outcomes.bands
    edges = (0.0, bands.fairly_sure, bands.sure, 2.0)
    answers = [f for f in findings if f.run.outcome == "answer"]
    found = zip(("likely", "fairly-sure", "sure"), edges, edges[1:], strict=False)
    return tuple(band for name, low, high in found if (band := _band(name, answers, low, high)) is not None)


def _bins(findings: Sequence[Finding]) -> tuple[Band, ...]:
    found = zip(EDGES, (*EDGES[1:], 2.0), strict=True)
    return tuple(
        band for low, high in found if (band := _band(f"{low:g}–{min(high, 1):g}", findings, low, high)) is not None
    )


def _band(name: str, findings: Sequence[Finding], low: float, high: float) -> Band | None:
    inside = [(f.stated, f.correct) for f in findings if f.stated is not None and low <= f.stated < high]
    if not inside:
        return None
    true = sum(bool(correct) for _, correct in inside)
    stated = sum(share for share, _ in inside) / len(inside)
    return Band(name, len(inside), stated, true / len(inside), *credible(1 + true, 1 + len(inside) - true))


def _questions(runs: Sequence[Run], findings: Sequence[Finding], topic: Topic) -> tuple[Failing, ...]:
    asked = Counter(question for run in runs for question in run.asked)
    answered = Counter(reading.question for run in runs for reading in run.said)
    unsure = Counter(r.question for run in runs for r in run.said if isinstance(r, UnsureReading))
    taken_back = Counter(question for run in runs for question in run.taken_back)
    judged: Counter[str] = Counter()
    against: Counter[str] = Counter()
    for finding in findings:
        for question, reading in first_answers(finding.run).items():
            verdict = contradicted(topic, reading, finding.truth)
            if verdict is not None:
                judged[question] += 1
                against[question] += verdict
    return tuple(
        Failing(q, asked[q], answered[q], unsure[q], taken_back[q], judged[q], against[q])
        for q in topic.questions
        if asked[q] or answered[q]
    )


def _given_up(runs: Sequence[Run], now: datetime) -> tuple[GivenUp, ...]:
    left: Counter[str | None] = Counter()
    stopped: Counter[str | None] = Counter()
    for run in runs:
        if run.closed is not None:
            continue
        if run.outcome == "stopped":
            stopped[run.open] += 1
        elif run.outcome is None and now - run.touched >= QUIET:
            left[run.open] += 1
    order = sorted({*left, *stopped}, key=lambda question: (-left[question] - stopped[question], question or ""))
    return tuple(GivenUp(question, left[question], stopped[question]) for question in order)
