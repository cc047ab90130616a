"""How long a channel waits after a request that failed, and how often it says what is wrong."""

import logging

import pytest

from triagebot.channels.failures import FIRST_PAUSE, LONGEST_PAUSE, SAID_AGAIN, Failures

log = logging.getLogger("a channel")


def test_pauses_grow_and_are_never_shorter_than_wanted(caplog: pytest.LogCaptureFixture) -> None:
    failures = Failures("a channel", log)
    pauses = [failures.next("away") for _ in range(40)]
    assert pauses[:3] == [FIRST_PAUSE, 2 * FIRST_PAUSE, 4 * FIRST_PAUSE]
    assert pauses[-1] == LONGEST_PAUSE
    assert failures.next("away", 300.0) == 300.0
    failures.over()
    assert failures.next("away") == FIRST_PAUSE
    assert [record.getMessage() for record in caplog.records] == [
        "a channel: away; tried again until it works",
        "a channel: works again, after 41 failed attempts",
    ]


def test_troubles_that_take_turns_are_each_told_once(caplog: pytest.LogCaptureFixture) -> None:
    now = [0.0]
    failures = Failures("a channel", log, lambda: now[0])
    for _ in range(5):
        failures.next("away")
        failures.next("a full disk")
    assert len(caplog.records) == 2
    now[0] += SAID_AGAIN + 1
    failures.next("away")
    assert len(caplog.records) == 3
