"""Buckets of tokens: how often something may happen, by key."""

import pytest

from triagebot.rates import Buckets, Rate


def test_a_bucket_fills_again_and_the_oldest_is_forgotten() -> None:
    now = [0.0]
    buckets = Buckets(Rate(2, 0.5), most=3, clock=lambda: now[-1])
    assert [buckets.wait("a"), buckets.wait("a")] == [0, 0]
    assert buckets.wait("a") == pytest.approx(2)
    now.append(1.0)
    assert buckets.wait("a") == pytest.approx(1), "asking in vain costs nothing"
    now.append(2.0)
    assert buckets.wait("a") == 0
    now.append(1e6)
    assert [buckets.wait("a") for _ in range(3)] == [0, 0, 2], "never fuller than full"
    for address in "bcd":
        buckets.wait(address)
    assert len(buckets) == 3
    assert buckets.wait("a") == 0, "a was forgotten, so it begins anew"


def test_a_full_bucket_is_forgotten() -> None:
    now = [0.0]
    buckets = Buckets(Rate(2, 0.5), most=3, clock=lambda: now[-1])
    buckets.wait("a")
    now.append(1.0)
    buckets.wait("b")
    assert len(buckets) == 2
    now.append(2.0)
    assert buckets.wait("b") == 0
    assert len(buckets) == 1, "a is full again"


def test_what_is_reserved_comes_in_the_order_in_which_it_was_asked_for() -> None:
    now = [0.0]
    buckets = Buckets(Rate(2, 0.5), most=3, clock=lambda: now[-1])
    assert [buckets.reserve("a") for _ in range(4)] == [0, 0, 2, 4]
    assert buckets.wait("a") == 6, "what is promised is not given to others"
    now.append(8.0)
    assert buckets.reserve("a") == 0
    assert buckets.reserve("b") == 0


def test_a_key_with_another_name_keeps_its_bucket() -> None:
    buckets = Buckets(Rate(1, 0.5), most=3, clock=lambda: 0.0)
    buckets.reserve("old")
    buckets.rename("old", "new")
    buckets.rename("nobody", "else")
    assert (buckets.wait("new"), buckets.wait("old")) == (2, 0)


def test_what_must_leave_some_for_others_waits_until_it_does() -> None:
    now = [0.0]
    buckets = Buckets(Rate(2, 0.5), most=3, clock=lambda: now[-1])
    assert buckets.wait("a", beside=1) == 0
    assert buckets.wait("a", beside=1) == pytest.approx(2)
    assert buckets.wait("a") == 0, "who need not leave any takes it meanwhile"
    assert buckets.wait("a", beside=1) == pytest.approx(4)
