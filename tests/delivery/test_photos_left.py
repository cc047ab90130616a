"""Photos over crashes and stops, and what is left of them once somebody is forgotten."""

from collections.abc import Callable

import pytest

from tests.delivery.album import (
    NOT_NOW,
    A,
    Album,
    B,
    _short_pauses,
    bring,
    channel,
    hold,
    on_disk,
    send,
    states,
    told,
    traces,
)
from tests.delivery.office import Office
from tests.delivery.snapshots import snapshot
from tests.store.engines import ON_SQLITE
from tests.store.kept_photos import photos_of
from triagebot.delivery import photos
from triagebot.messages import Commanded, Refused, RetryAfter, Sent
from triagebot.store.photos import Photos, Waiting

__all__ = ["_short_pauses", "channel", "told"]


# --- crashes and stops ------------------------------------------------------------------------------------------------


def test_after_a_crash_it_is_fetched_again(office: Office, channel: Album) -> None:
    send(office, office.store.die, snapshot())
    office.run(office.until_dead())
    office.crash()
    office.run(office.delivery.idle())
    assert states(office) == ["kept"]
    assert channel.begun == ["f", "f"]


def test_a_crash_before_it_is_begun(office: Office, channel: Album) -> None:
    office.close()
    with office.store.store.begin() as tx:
        case = tx.open_case(f"recorded:{A}", "AAA-999", "t", office.clock())
        Photos(tx).sent(case, "recorded", {"file": "f"}, office.clock())
        Photos(tx).sent(case, "elsewhere", {"file": "f"}, office.clock())
    channel.photos["f"] = [snapshot()]
    office.open()
    office.run(office.delivery.idle())
    with office.store.store.read() as view:
        assert [photo.state for photo in photos_of(view, case)] == ["kept", "waiting"]


def test_a_photo_that_kills_us_is_given_up(office: Office, channel: Album) -> None:
    """What does so in the middle of its attempt, every time, must not do so for ever."""

    def kill() -> None:
        office.store.die_at_once()  # the one that is open then

    send(office, kill)
    for _ in range(photos.MOST_FAULTS):
        office.run(office.until_dead())
        office.crash()
    office.run(office.delivery.idle())
    assert states(office) == ["faulty"]
    assert len(channel.begun) == photos.MOST_FAULTS


def test_who_is_stopped_while_fetching_begins_anew(office: Office, channel: Album) -> None:
    """However often that happens: stops are no faults."""
    office.delivery._grace = 0.01
    hold(office)
    send(office, snapshot())
    for _ in range(photos.MOST_FAULTS + 2):
        office.close()
        assert channel.under_way == 0
        office.open()
        office.delivery._grace = 0.01
        office.until(lambda: channel.under_way)
    channel.held = None
    office.close()
    office.open()
    office.run(office.delivery.idle())
    assert states(office) == ["kept"]


def test_a_stop_while_the_channel_rests(office: Office, channel: Album) -> None:
    send(office, RetryAfter(3600), snapshot())
    office.until(lambda: channel.begun)
    office.close()
    office.open()
    office.run(office.delivery.idle())
    assert states(office) == ["kept"]


# --- forgotten --------------------------------------------------------------------------------------------------------


def forget(office: Office, person: str = A) -> None:
    office.run(office.delivery.receive(office.incoming(person, Commanded("forget"))))
    received = office.run(office.delivery.receive(office.incoming(person, Commanded("erase"))))
    assert received.outcome == "forgotten"


@ON_SQLITE
@pytest.mark.usefixtures("engine")
def test_who_is_forgotten_leaves_no_picture_on_the_disk(office: Office) -> None:
    bring(office, snapshot(), name="f1")
    bring(office, snapshot(orientation=3), name="f2")
    bring(office, snapshot(), name="g", person=B)
    all_of_them = traces(office)
    assert len(all_of_them) == 9
    assert all(trace in on_disk(office) for trace in all_of_them)
    forget(office)
    office.run(office.delivery.idle())
    kept = on_disk(office)
    assert [trace in kept for trace in all_of_them] == [False] * 6 + [True] * 3
    assert office.rows("photos", "state") == [("kept",)]
    assert states(office, B) == ["kept"]


@pytest.mark.parametrize("given", [snapshot(), Refused("no"), NOT_NOW, b"no picture"])
def test_who_is_forgotten_while_it_is_fetched(
    office: Office, channel: Album, told: Callable[[], list[str]], given: bytes | Exception
) -> None:
    held = hold(office)
    send(office, given)
    office.until(lambda: channel.under_way)
    forget(office)
    held.set()
    office.run(office.delivery.idle())
    assert office.rows("photos", "id") == []
    assert (office.delivery.counts.photos_kept, office.delivery.counts.photos_lost) == (0, 0)
    assert [line for line in told() if "photo 1" in line] == []


def test_who_is_forgotten_while_it_waits(office: Office, channel: Album) -> None:
    send(office, RetryAfter(0.3), snapshot())
    office.until(lambda: channel.begun)
    forget(office)
    office.run(office.delivery.idle())
    assert channel.begun == ["f"]


def test_a_photo_with_the_words_that_end_it_all(office: Office, channel: Album) -> None:
    """It belongs to no case any more, and is not even asked for."""
    channel.photos["f1"] = [snapshot()]
    assert office.bring(A, Sent("photo", ({"file": "f1"},), "forget me", "album")).outcome == "applied"
    assert office.bring(A, Sent("photo", ({"file": "f2"},), "yes", "album")).outcome == "forgotten"
    assert office.rows("photos", "id") == []
    assert channel.begun == ["f1"]
    assert office.delivery.counts.failed_turns == 0


# --- in the store -----------------------------------------------------------------------------------------------------


def test_what_waits_no_more_is_not_begun_or_changed(office: Office) -> None:
    bring(office, snapshot())
    with office.store.store.begin() as tx:
        kept = Photos(tx)
        assert kept.begin(1) is None
        assert kept.begin(77) is None
        assert not kept.lost(1, "refused")
        assert not kept.kept(1, b"another")
        kept.later(1)
    assert states(office) == ["kept"]


def test_attempts_are_counted_until_they_come_to_an_end(office: Office) -> None:
    with office.store.store.begin() as tx:
        case = tx.open_case("x:y", "AAA-998", "t", office.clock())
        kept, place = Photos(tx), {"file": "f", "more": [1]}
        number = kept.sent(case, "x", place, office.clock())
        assert kept.waiting("x") == (number,)
        assert kept.begin(number) == Waiting(number, place, office.clock(), 1, 0)
        assert kept.begin(number) == Waiting(number, place, office.clock(), 2, 0)
        kept.later(number)
        assert kept.begin(number) == Waiting(number, place, office.clock(), 2, 0)
        assert kept.kept(number, b"picture")
        assert kept.waiting("x") == ()
        other = kept.sent(case, "x", place, office.clock())
        assert kept.begin(other) == Waiting(other, place, office.clock(), 1, 1)
