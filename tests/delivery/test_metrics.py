"""Every count of the delivery is told to the person who watches."""

from dataclasses import fields

from prometheus_client import generate_latest

from triagebot.delivery.counts import Counts
from triagebot.delivery.metrics import WORDS, registry_of


def test_every_count_has_words_and_is_told_as_it_stands() -> None:
    assert {*WORDS, "tidied"} == {field.name for field in fields(Counts)}
    counts = Counts(received=3, tidied={"photos": 2})
    registry = registry_of(counts)
    counts.sent = 2
    told = generate_latest(registry).decode()
    assert "triagebot_received_total 3.0" in told
    assert "triagebot_sent_total 2.0" in told
    assert "# HELP triagebot_gone_total Conversations in which nobody can be reached any more" in told
    assert 'triagebot_tidied_total{kind="photos"} 2.0' in told
    assert 'triagebot_tidied_total{kind="cases"} 0.0' in told
