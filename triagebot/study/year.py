"""A simulated year: what a shop would learn from its closed cases, and whether its next customers gain from that.

The shop learns from some people and is measured on others of the same mix; both editions of the topic meet the same.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime

import numpy as np

from triagebot.cases.runs import Run
from triagebot.conversation.events import Closed
from triagebot.study.findings import Finding, finding_of
from triagebot.study.learning import estimate_priors, estimate_slips, learned_from
from triagebot.study.people import Profile, draw_person, profile_named
from triagebot.study.simulate import Report, meet, meet_planner, report
from triagebot.study.wheels import Wheels
from triagebot.topics import Learned, Topic, taught

#: Added to the seed for the people that the shop learns from.
_LEARNT_FROM = 7919

_AT = datetime(2026, 1, 1, tzinfo=UTC)


@dataclass(frozen=True, slots=True)
class Year:
    """How the same people fared with the topic as it ships, and with what a year of closed cases made of it."""

    learned: Learned
    shipped: Report
    taught: Report


def closed_cases(
    topic: Topic,
    cases: int,
    seed: int,
    profile: Profile,
    shares: Mapping[str, float] | None = None,
    wheels: Wheels | None = None,
    wrong: float = 0.0,
) -> list[Finding]:
    """As many conversations with simulated people, each closed with what it really was, or a share `wrong` of them with
    some other kind."""
    found = []
    slips = np.random.default_rng([seed, cases])
    for number in range(cases):
        person = draw_person(topic, number, seed, profile, shares, wheels)
        meeting = meet(topic, person)
        step = meeting.step
        outcome = None if step.question else "person" if step.referral else step.decision.kind
        really = person.fastening.id
        if slips.random() < wrong:
            really = str(slips.choice([name for name in topic.fastenings if name != really]))
        run = Run(
            f"S{number}", _AT, _AT, topic.digest, said=meeting.readings, outcome=outcome, evidence=meeting.readings,
            closed=Closed(_AT, really, None, ""),
        )  # fmt: skip
        finding = finding_of(run, topic)
        assert finding is not None  # it is closed
        found.append(finding)
    return found


def learn(topic: Topic, findings: Sequence[Finding]) -> Learned:
    """What these closed cases teach about a topic as it ships."""
    priors, slips = estimate_priors(topic, topic, findings), estimate_slips(topic, topic, findings)
    return learned_from(topic, priors, slips, len(findings), None)


def year(
    topic: Topic,
    cases: int,
    people: int,
    seed: int,
    profile: str = "household",
    shares: Mapping[str, float] | None = None,
    wheels: Wheels | None = None,
    wrong: float = 0.0,
) -> Year:
    """Close `cases`, a share `wrong` of them wrongly, learn, and meet `people` others of the same mix.

    Raises UsageError on an unknown profile.
    """
    kind = profile_named(profile)
    learned = learn(topic, closed_cases(topic, cases, seed + _LEARNT_FROM, kind, shares, wheels, wrong))
    others = [draw_person(topic, number, seed, kind, shares, wheels) for number in range(people)]
    editions = (topic, taught(topic, learned))
    before, after = ([meet_planner(edition, person) for person in others] for edition in editions)
    return Year(learned, report(before), report(after))
