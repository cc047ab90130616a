"""How much of what a year of closed cases teaches is lost where some are closed with the wrong kind.

`python -m tests.study.wrong_closings [CASES] [SEED]` prints, for two mixes that are unlike the catalogue, how many bits
a customer's fastening surprises the priors as they ship, and what the learned priors save of them: with all closings
right, with 5 % wrong, and with those counted in full, as though one that contradicts its conversation were as good.
"""

import sys
from collections.abc import Iterable, Mapping
from dataclasses import replace
from math import log2

from triagebot.study.findings import Finding
from triagebot.study.people import profile_named
from triagebot.study.wheels import load_wheels, mix_of
from triagebot.study.year import closed_cases, learn
from triagebot.topics import Learned, Topic, built_in_topic, load_topic

WRONG = 0.05
MIXES = ("old-wheels", "sport")


def surprise(shares: Mapping[str, float], topic: Topic, learned: Learned | None) -> float:
    """The mean bits by which customers of this mix surprise the priors (Kullback and Leibler 1951)."""
    whole = sum(shares.values())
    priors = {f.id: f.prior for f in topic.catalogue.fastenings} | (dict(learned.priors) if learned else {})
    total = sum(priors.values())
    return sum(
        share / whole * log2(share / whole / (priors[name] / total)) for name, share in shares.items() if share > 0
    )


def counted_in_full(findings: Iterable[Finding]) -> list[Finding]:
    """The same closings, none of which weighs less than another."""
    return [replace(finding, lesson=finding.truth) for finding in findings]


def saved(topic: Topic, mix: str, cases: int, seed: int) -> tuple[float, float, float, float]:
    """Bits of surprise as shipped, and what is saved: all right, some wrong, some wrong and counted in full."""
    wheels = load_wheels(topic)
    shares = mix_of(topic, wheels, mix)
    assert shares is not None
    household = profile_named("household")
    before = surprise(shares, topic, None)
    right = closed_cases(topic, cases, seed, household, shares, wheels)
    wrong = closed_cases(topic, cases, seed, household, shares, wheels, WRONG)
    lessons = (right, wrong, counted_in_full(wrong))
    return before, *(before - surprise(shares, topic, learn(topic, each)) for each in lessons)  # type: ignore[return-value]


def main() -> None:
    cases, seed = (int(each) for each in (*sys.argv[1:], *("600", "1")[len(sys.argv) - 1 :]))
    topic = load_topic(built_in_topic())
    for mix in MIXES:
        before, right, wrong, full = saved(topic, mix, cases, seed)
        print(
            f"{mix}, {cases} closed cases, seed {seed}: {before:.3f} bits as shipped; saved {right:.3f}; with "
            f"{WRONG:.0%} wrong {wrong:.3f} ({wrong / right:.0%}), counted in full {full:.3f} ({full / right:.0%})"
        )


if __name__ == "__main__":
    main()
