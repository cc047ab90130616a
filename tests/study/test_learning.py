"""What closed cases teach, beside the textbook (scipy's distributions), and what little data may not do."""

from datetime import UTC, date, datetime

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import beta, dirichlet

from tests.effort import effort
from tests.strategies import rear_sprockets
from triagebot.cases.runs import Run
from triagebot.conversation.events import Closed
from triagebot.identify import ChoiceReading, CountReading, Reading, SizeReading, belief
from triagebot.study.findings import WRONG_CLOSINGS, Finding, finding_of
from triagebot.study.learning import (
    PRIOR_WORTH,
    SLIP_WORTH,
    SLIPS,
    estimate_priors,
    estimate_slips,
    learned_from,
    scored_slips,
)
from triagebot.study.wheels import load_wheels
from triagebot.topics import floors, taught, unnamed

TOPIC = rear_sprockets()
AT = datetime(2026, 3, 2, 10, tzinfo=UTC)
IDS = sorted(TOPIC.fastenings)


def finding(fastening: str, *spins: str) -> Finding:
    said = tuple(ChoiceReading("spin", spin) for spin in spins)
    run = Run("AAA-001", AT, AT, "", said=said, closed=Closed(AT, fastening, None, "Ada"))
    return Finding(run, "right", {fastening: 1.0})


def cases() -> st.SearchStrategy[list[str]]:
    return st.lists(st.sampled_from(IDS), max_size=60)


@given(cases())
def test_priors_are_those_of_the_conjugate_rule(seen: list[str]) -> None:
    found = {row.name: row for row in estimate_priors(TOPIC, TOPIC, map(finding, seen))}
    alphas = {f.id: PRIOR_WORTH * f.prior + seen.count(f.id) for f in TOPIC.catalogue.fastenings}
    means = dict(zip(alphas, dirichlet(list(alphas.values())).mean(), strict=True))
    whole = sum(alphas.values())

    for name, row in found.items():
        low, high = beta.interval(0.95, alphas[name], whole - alphas[name])
        assert (row.low, row.high) == pytest.approx((low, high), abs=1e-8)
        assert row.seen == seen.count(name)
        assert row.of == len(seen)
        assert row.suggested >= floors(TOPIC.catalogue)[name] * (1 - 1e-9) > 0
    assert sum(row.suggested for row in found.values()) == pytest.approx(1)
    if all(means[name] >= least for name, least in floors(TOPIC.catalogue).items()):  # else a floor takes from others
        assert all(row.suggested == pytest.approx(means[name]) for name, row in found.items())


@given(cases())
def test_little_data_changes_little(seen: list[str]) -> None:
    rows = estimate_priors(TOPIC, TOPIC, map(finding, seen))

    most = len(seen) / (PRIOR_WORTH + len(seen))
    assert all(abs(row.suggested - row.shipped) <= most + 0.02 for row in rows)
    if not seen:
        assert all(row.suggested == pytest.approx(row.shipped) for row in rows)


def test_the_order_of_cases_is_no_matter_and_neither_is_what_was_applied_before() -> None:
    findings = [finding(name) for name in ("unlisted", "freewheel-2-notch", "freewheel-2-notch")]
    once = estimate_priors(TOPIC, TOPIC, findings)
    applied = taught(TOPIC, learned_from(TOPIC, once, (), 3, None))
    again = estimate_priors(TOPIC, applied, reversed(findings))

    assert [row.suggested for row in again] == pytest.approx([row.suggested for row in once])
    assert [row.used for row in again] == pytest.approx([row.suggested for row in once], abs=1e-5)


def test_what_is_shared_between_fastenings_counts_in_parts() -> None:
    shared = Finding(finding("unlisted").run, "right", {"cassette-12-spline": 0.75, "cassette-threaded-driver": 0.25})
    rows = {row.name: row for row in estimate_priors(TOPIC, TOPIC, [shared])}

    assert (rows["cassette-12-spline"].seen, rows["cassette-threaded-driver"].seen) == (0.75, 0.25)


@given(st.integers(0, 60), st.integers(0, 60))
def test_slips_are_those_of_the_conjugate_rule(wrong: int, right: int) -> None:
    findings = [finding("freewheel-2-notch", "turns")] * wrong + [finding("freewheel-2-notch", "stays")] * right
    (row,) = (row for row in estimate_slips(TOPIC, TOPIC, findings) if row.name == "spin")
    a, b = SLIP_WORTH * 0.05 + wrong, SLIP_WORTH * 0.95 + right

    assert (row.seen, row.of) == (wrong, wrong + right)
    assert (row.low, row.high) == pytest.approx(beta.interval(0.95, a, b), abs=1e-8)
    assert row.suggested == pytest.approx(min(beta.mean(a, b), SLIPS[1]))
    assert 0 < row.suggested < 0.5


def test_only_the_first_choice_counts_and_only_where_the_truth_is_known() -> None:
    assert scored_slips(TOPIC, [finding("freewheel-2-notch", "turns", "stays")]) == {"spin": (1, 1)}
    assert scored_slips(TOPIC, [finding("snap-ring-sprocket", "turns")]) == {}
    assert scored_slips(TOPIC, [finding("unlisted", "turns")]) == {}


def test_what_was_never_seen_is_not_written() -> None:
    findings = [finding("freewheel-2-notch", "stays")]
    priors, slips = estimate_priors(TOPIC, TOPIC, findings), estimate_slips(TOPIC, TOPIC, findings)

    learned = learned_from(TOPIC, priors, slips, 1, date(2026, 3, 2))
    assert set(learned.priors) == set(IDS)
    assert set(learned.slips) == {"spin"}
    assert learned_from(TOPIC, estimate_priors(TOPIC, TOPIC, []), (), 0, None).priors == {}


@pytest.mark.parametrize("name", IDS)
def test_a_shop_that_sees_one_kind_only_can_still_be_told_all_others(name: str) -> None:
    rows = estimate_priors(TOPIC, TOPIC, [finding(name)] * 20_000)

    learned = learned_from(TOPIC, rows, (), 20_000, None)
    assert unnamed(taught(TOPIC, learned)) == []
    assert learned.priors[name] > (TOPIC.fastenings[name].prior + 1) / 3


@pytest.mark.parametrize("mix", ["city", "old-wheels", "sport"])
def test_the_interval_of_the_cases_alone_holds_the_true_share_where_a_shop_is_unlike_the_catalogue(mix: str) -> None:
    """Some shops of 150 cases each; the blended interval does not claim to, since it leans on the topic."""
    mixed = load_wheels(TOPIC).mixes[mix]
    names = list(mixed)
    shares = np.array(list(mixed.values())) / sum(mixed.values())
    rng = np.random.default_rng(12)
    held = of = 0
    for counts in rng.multinomial(150, shares, size=effort(20, 60)):
        seen = [finding(name) for name, count in zip(names, counts, strict=True) for _ in range(count)]
        found = {row.name: row for row in estimate_priors(TOPIC, TOPIC, seen)}
        held += sum(found[n].raw_low <= share <= found[n].raw_high for n, share in zip(names, shares, strict=True))
        of += len(names)

    assert held / of >= 0.93


SEEN: tuple[Reading, ...] = (
    ChoiceReading("spin", "stays"),
    ChoiceReading("fitting", "notches"),
    CountReading("count", 2, 2),
    SizeReading("size", 25.0, means="calliper"),
)


def closed_as(fastening: str, *, sure: bool = False) -> Finding:
    closed = Closed(AT, fastening, None, "Ada", sure=sure)
    found = finding_of(Run("AAA-001", AT, AT, "", said=SEEN, outcome="answer", evidence=SEEN, closed=closed), TOPIC)
    assert found is not None
    return found


def test_a_closing_that_contradicts_the_conversation_weighs_less_unless_staff_are_sure() -> None:
    fits, contradicts = closed_as("freewheel-2-notch"), closed_as("freewheel-20-spline")
    sure = closed_as("freewheel-20-spline", sure=True)

    assert fits.lesson["freewheel-2-notch"] > 0.99
    assert contradicts.lesson["freewheel-20-spline"] < 0.1
    assert contradicts.doubtful
    assert sure.lesson["freewheel-20-spline"] > contradicts.lesson["freewheel-20-spline"]
    assert contradicts.truth == sure.truth == {"freewheel-20-spline": 1.0}  # what is reported is what staff said


def test_a_closing_is_weighed_by_the_rule_of_bayes() -> None:
    found, shares = closed_as("freewheel-4-notch-24"), belief(TOPIC.model, SEEN)
    other = WRONG_CLOSINGS / (len(shares) - 1)
    said = shares[TOPIC.model.fastenings.index("freewheel-4-notch-24")]
    expected = (1 - WRONG_CLOSINGS) * said / ((1 - WRONG_CLOSINGS) * said + other * (1 - said))

    assert found.lesson["freewheel-4-notch-24"] == pytest.approx(expected)
    assert sum(found.lesson.values()) == pytest.approx(1)


def test_a_doubtful_closing_scores_no_slip() -> None:
    assert scored_slips(TOPIC, [closed_as("freewheel-2-notch")])["spin"] == (0, 1)
    assert scored_slips(TOPIC, [closed_as("cassette-12-spline")]) == {}
