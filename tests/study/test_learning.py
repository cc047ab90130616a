"""What closed cases teach, beside the textbook (scipy's distributions), and what little data may not do."""

from datetime import UTC, date, datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import beta, dirichlet

from tests.strategies import rear_sprockets
from triagebot.conversation.events import Closed
from triagebot.identify import ChoiceReading
from triagebot.study.findings import Finding
from triagebot.study.learning import (
    PRIOR_WORTH,
    SLIP_WORTH,
    SLIPS,
    estimate_priors,
    estimate_slips,
    learned_from,
    scored_slips,
)
from triagebot.study.runs import Run
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
    if means["unlisted"] >= 0.02:  # else its floor takes a little from the others
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
