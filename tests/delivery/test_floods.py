"""Nobody is heard without end: a person, a room and a case have caps, which are said once, and a flood is one line."""

import logging

import pytest

from tests.delivery.office import Office
from tests.delivery.recorded import RecordedChannel
from tests.words import words_of
from triagebot.delivery.senders import log_floods
from triagebot.messages import Said
from triagebot.rates import CAPS, Cap, Floods, Rate
from triagebot.turns import plan

TOO_MANY = "That’s more than I can read at once"


class Seconds:
    now = 0.0

    def __call__(self) -> float:
        return self.now


def floods(person: float = 5, room: float = 8) -> tuple[Floods, Seconds]:
    clock = Seconds()
    return Floods({"person": Cap(Rate(person, 0.5), "test"), "room": Cap(Rate(room, 2.0), "test")}, clock), clock


def test_every_cap_says_where_it_comes_from() -> None:
    assert set(CAPS) == {"person", "room"}
    assert all(cap.source and cap.rate.burst >= 60 for cap in CAPS.values())


def test_a_person_is_told_once_and_what_they_flood_with_is_not_read(
    office: Office, channel: RecordedChannel, caplog: pytest.LogCaptureFixture
) -> None:
    office.delivery._floods, clock = floods()
    with caplog.at_level(logging.WARNING):
        for number in range(40):
            office.bring("p", "9 sprockets" if number % 2 else "7 sprockets")
    assert [text for text in channel.texts("p") if TOO_MANY in text] == [channel.texts("p")[5]]
    assert len(channel.texts("p")) == 6
    assert office.delivery.counts.passed_over == 35
    assert not [record for record in caplog.records if "flood" in record.getMessage()]
    clock.now += 70
    log_floods(office.delivery._floods, office.store.cipher)
    log_floods(office.delivery._floods, office.store.cipher)
    told = [record.getMessage() for record in caplog.records if "flood" in record.getMessage()]
    assert [line.partition(" from ")[0] for line in told] == ["flood: 35 messages"]
    office.bring("p", "8 sprockets")
    assert TOO_MANY not in channel.texts("p")[-1]
    assert [fact.reading.low for fact in office.held("p").case.now.facts] == [8]


def test_others_are_heard_while_somebody_floods(office: Office, channel: RecordedChannel) -> None:
    office.delivery._floods, _ = floods()
    for _ in range(9):
        office.bring("p", "9 sprockets")
    office.bring("q", "9 sprockets")
    assert channel.texts("q")
    assert TOO_MANY not in channel.texts("q")[-1]


def test_a_room_has_a_cap_of_its_own() -> None:
    heard, _ = floods(person=5, room=8)
    passed = [heard.passes_over(f"recorded:{number}", "a room") for number in range(10)]
    assert [flood is None for flood in passed] == [True] * 8 + [False] * 2
    assert heard.passes_over("recorded:elsewhere") is None


def test_a_flood_that_lasts_is_told_of_every_hour() -> None:
    heard, clock = floods(person=1)
    told = []
    for _ in range(2 * 3600 + 90):
        clock.now += 1
        heard.passes_over("recorded:p")
        told += list(heard.to_tell())
    assert len(told) == 2
    assert all(abs(flood.count - 1800) <= 2 for flood in told)


def test_a_case_that_is_full_is_followed_by_another(
    office: Office, channel: RecordedChannel, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(plan, "MOST_EVENTS", 12)
    texts = []
    while len({code for (code,) in office.rows("cases", "code")}) < 2:
        received = office.bring("p", Said(f"{len(texts) % 5 + 6} sprockets"))
        texts.append(words_of(received.reply))
    old, new = (code for (code,) in office.rows("cases", "code"))
    assert texts[-1].startswith(
        f"This chat had got very long, so I’ve started a fresh one. The old one is kept as {old}."
    )
    assert not any("very long" in text for text in texts[:-1])
    held = office.held("p")
    assert held.case.code == new
    assert [fact.reading.low for fact in held.case.now.facts] == [(len(texts) - 1) % 5 + 6]
    office.bring("p", "it stays still")
    assert len(office.rows("cases", "code")) == 2
