"""What closed cases teach: how common each fastening is at this shop, and how often people slip.

Beside it stands the share among the closed cases alone, with an interval that holds the true share in 95 % of such
shops whatever the topic says (Clopper and Pearson 1934, Biometrika 26): where a shop differs from the catalogue, the
blended figure is drawn to the topic's, and its interval with it.

The rule is conjugate Bayesian updating (Gelman et al., Bayesian Data Analysis, 3rd ed., sections 2.4 and 3.4):
the topic's priors count as `PRIOR_WORTH` cases seen already, a question's slip as `SLIP_WORTH` answers; a suggestion is
the mean of the posterior (Dirichlet for the priors, beta for a slip), an interval holds 95 % of it. So a few cases
change little, and nothing is ever impossible; `topics.floored` sees to the floors besides.

An answer counts for a slip only where it is known what was true: the first plain choice of each run, for questions to
which the catalogue has one true answer. Everything is worked out anew from all cases, so to apply it twice is the same
as once.
"""

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from triagebot.identify import ChoiceReading
from triagebot.study.chances import credible, exact
from triagebot.study.findings import Finding, first_answers, true_answer
from triagebot.topics import PRIOR_WORTH, Learned, Topic, floored, taught, unnamed

SLIP_WORTH = 100.0
#: A learned slip stays within these: everybody errs, and a question with more errors than this needs mending.
SLIPS = (0.005, 0.4)
#: Figures are written with so many decimals.
_DECIMALS = 6
#: Below this trust the figures are the topic's own: then the topic itself has something out of reach.
_LEAST_TRUST = 1 / 64


@dataclass(frozen=True, slots=True)
class Estimate:
    """A share: the topic's own, the one in use, and the one that `seen` of `of` cases suggest, with its interval;
    `raw_low` to `raw_high` is that of `seen` of `of` alone."""

    name: str
    shipped: float
    used: float
    suggested: float
    low: float
    high: float
    seen: float
    of: float
    raw_low: float
    raw_high: float

    @property
    def raw(self) -> float | None:
        """The share of the cases alone; None where there are none."""
        return self.seen / self.of if self.of else None


def estimate_priors(shipped: Topic, used: Topic, findings: Iterable[Finding]) -> tuple[Estimate, ...]:
    """How common each fastening is, in the order of the catalogue."""
    cases = tuple(findings)
    return priors_from(shipped, used, seen_in(cases), taught_by(cases))


def seen_in(findings: Iterable[Finding]) -> Counter[str]:
    """How often each fastening was seen, where it was known to be one of several by its share of them."""
    return _summed(finding.truth for finding in findings)


def taught_by(findings: Iterable[Finding]) -> Counter[str]:
    """As `seen_in`, allowing for wrong closings."""
    return _summed(finding.lesson or finding.truth for finding in findings)


def _summed(shares: Iterable[Mapping[str, float]]) -> Counter[str]:
    whole: Counter[str] = Counter()
    for each in shares:
        whole.update(each)
    return whole


def priors_from(
    shipped: Topic, used: Topic, seen: Mapping[str, float], taught: Mapping[str, float]
) -> tuple[Estimate, ...]:
    """How common each fastening is, out of how often each was `seen`, and of what that `taught`."""
    counts, lessons = ({name: each.get(name, 0.0) for name in shipped.fastenings} for each in (seen, taught))
    of = sum(counts.values())
    total = sum(f.prior for f in shipped.catalogue.fastenings)
    alphas = {f.id: PRIOR_WORTH * f.prior / total + lessons[f.id] for f in shipped.catalogue.fastenings}
    whole = PRIOR_WORTH + of
    suggested = floored(shipped.catalogue, {name: alpha / whole for name, alpha in alphas.items()})
    return tuple(
        Estimate(
            f.id,
            f.prior / total,
            used.fastenings[f.id].prior,
            suggested[f.id],
            *credible(alphas[f.id], whole - alphas[f.id]),
            counts[f.id],
            of,
            *exact(counts[f.id], of),
        )
        for f in shipped.catalogue.fastenings
    )


def scored_slips(topic: Topic, findings: Iterable[Finding]) -> Mapping[str, tuple[int, int]]:
    """How many first choices were wrong, and of how many, by question."""
    scores: dict[str, tuple[int, int]] = {}
    for finding in findings:
        if finding.doubtful:
            continue
        for name, reading in first_answers(finding.run).items():
            question = topic.questions.get(name)
            if question is None or not isinstance(reading, ChoiceReading) or reading.denied or not finding.truth:
                continue
            true = true_answer(topic, question, finding.truth)
            if true is not None and reading.choice in question.choices:
                wrong, of = scores.get(name, (0, 0))
                scores[name] = wrong + (reading.choice != true), of + 1
    return scores


def estimate_slips(shipped: Topic, used: Topic, findings: Iterable[Finding]) -> tuple[Estimate, ...]:
    """How often each question with choices is answered wrongly, in the order of the flow."""
    return slips_from(shipped, used, scored_slips(shipped, findings))


def slips_from(shipped: Topic, used: Topic, scores: Mapping[str, tuple[int, int]]) -> tuple[Estimate, ...]:
    """As `estimate_slips`, out of how many first choices were wrong, and of how many, by question."""
    found = []
    for question in shipped.flow.questions:
        if question.slip is None or question.purpose != "identify":
            continue
        wrong, of = scores.get(question.id, (0, 0))
        a, b = SLIP_WORTH * question.slip + wrong, SLIP_WORTH * (1 - question.slip) + of - wrong
        suggested = min(max(a / (a + b), SLIPS[0]), SLIPS[1]) if of else question.slip
        in_use = used.questions[question.id].slip or question.slip
        intervals = *credible(a, b), wrong, of, *exact(wrong, of)
        found.append(Estimate(question.id, question.slip, in_use, suggested, *intervals))
    return tuple(found)


def learned_from(
    topic: Topic, priors: Sequence[Estimate], slips: Sequence[Estimate], cases: int, day: date | None
) -> Learned:
    """What to write: every prior once anything was seen, and the slips of questions that were scored.

    If these put a fastening out of reach (no truthful answers would lead to its remover any more), all figures move
    half-way back to the topic's own, and again, until every fastening can be reached.
    """
    trust = 1.0
    while True:
        learned = Learned(
            topic=topic.id,
            day=day,
            cases=cases,
            priors={row.name: _drawn(row, trust) for row in priors if row.of > 0},
            slips={row.name: _drawn(row, trust) for row in slips if row.of > 0},
        )
        if trust < _LEAST_TRUST or not unnamed(taught(topic, learned)):
            return learned
        trust /= 2


def _drawn(row: Estimate, trust: float) -> float:
    return round(trust * row.suggested + (1 - trust) * row.shipped, _DECIMALS)
