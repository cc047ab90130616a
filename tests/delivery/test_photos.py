"""Photos from their channel into the case: what is kept, what is tried again, and what is lost."""

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
    of,
    on_disk,
    send,
    states,
    told,
)
from tests.delivery.office import Office
from tests.delivery.recorded import RecordedChannel
from tests.delivery.snapshots import COMMENT, MAKER, quarters, snapshot
from tests.store.kept_photos import photos_of
from triagebot.cases.change_channel import ToOthers
from triagebot.delivery import Fetching, TooLarge, photos
from triagebot.errors import StoreError
from triagebot.handover.to_staff import HandOver
from triagebot.messages import Gone, Refused, RetryAfter, Sent
from triagebot.store import Transaction
from triagebot.store import photos as store_photos
from triagebot.store.photos import Photos

__all__ = ["_short_pauses", "channel", "told"]


# --- kept -------------------------------------------------------------------------------------------------------------


def test_a_picture_of_ours_is_kept(office: Office, channel: Album, told: Callable[[], list[str]]) -> None:
    assert isinstance(channel, Fetching)
    assert not isinstance(RecordedChannel(), Fetching)
    sent = snapshot(orientation=6)
    bring(office, sent)
    (photo,) = of(office)
    assert (photo.state, photo.reason) == ("kept", "")
    assert photo.picture is not None
    assert quarters(photo.picture) == [2, 0, 3, 1]
    assert (office.delivery.counts.photos_kept, office.delivery.counts.photos_lost) == (1, 0)
    assert len(channel.texts(A)) == 1
    assert told() == [f"recorded: photo 1 is kept, {len(photo.picture) // 1000} kB"]
    kept = on_disk(office)
    for word in (MAKER.encode(), COMMENT.encode(), sent[-60:], photo.picture[-60:], b"JFIF\x00\x01"):
        assert word not in kept


def test_every_photo_of_an_album_is_kept_and_answered_once(office: Office, channel: Album) -> None:
    for n in range(3):
        channel.photos[f"f{n}"] = [snapshot(orientation=n + 1)]
        note = "9 sprockets" if not n else ""
        office.run(office.delivery.receive(office.incoming(A, Sent("photo", ({"file": f"f{n}"},), note, "album"))))
    office.run(office.delivery.idle())
    assert [quarters(photo.picture or b"") for photo in of(office)] == [[0, 1, 2, 3], [1, 0, 3, 2], [3, 2, 1, 0]]
    assert len(channel.texts(A)) == 1


def test_two_are_under_way_at_the_same_time_and_all_are_fetched_once(office: Office, channel: Album) -> None:
    held = hold(office)
    for n in range(5):
        send(office, snapshot(size=(20, 20)), name=f"f{n}", person=f"p{n}")
    office.until(lambda: channel.under_way == 2)
    held.set()
    office.run(office.delivery.idle())
    assert channel.most == photos.AT_ONCE == 2
    assert channel.begun == [f"f{n}" for n in range(5)]
    assert office.delivery.counts.photos_kept == 5


# --- tried again ------------------------------------------------------------------------------------------------------


def test_what_may_work_later_is_tried_until_it_does(
    office: Office, channel: Album, told: Callable[[], list[str]]
) -> None:
    bring(office, *[NOT_NOW] * 20, RetryAfter(0.01), snapshot())
    assert states(office) == ["kept"]
    assert len(channel.begun) == 22
    assert told()[0] == "recorded: photos cannot be fetched now (down); tried again until it works"
    assert told()[1] == "recorded: photos can be fetched again"
    assert len(told()) == 3
    assert office.rows("photos", "attempts") == [(1,)]


def test_while_the_channel_rests_nothing_is_begun(
    office: Office, channel: Album, told: Callable[[], list[str]]
) -> None:
    send(office, RetryAfter(4000), snapshot(), name="f1")
    office.until(told)
    send(office, snapshot(), name="f2", person=B)
    office.settle()
    office.leap(3900)
    office.settle()
    assert channel.begun == ["f1"]
    office.leap(100)
    office.run(office.delivery.idle())
    assert channel.begun == ["f1", "f1", "f2"]
    assert (states(office), states(office, B)) == (["kept"], ["kept"])


def test_of_two_pauses_the_longer_counts(office: Office, channel: Album) -> None:
    held = hold(office)
    send(office, RetryAfter(4000), snapshot(), name="f1")
    send(office, NOT_NOW, snapshot(), name="f2", person=B)
    office.until(lambda: channel.under_way == 2)
    held.set()
    office.until(lambda: channel.under_way == 0)
    office.settle()
    office.leap(3900)
    office.settle()
    assert channel.begun == ["f1", "f2"]
    office.leap(100)
    office.run(office.delivery.idle())
    assert (states(office), states(office, B)) == (["kept"], ["kept"])


def test_a_photo_that_is_told_of_twice_is_fetched_once(office: Office, channel: Album) -> None:
    async def tell() -> None:
        office.delivery._photos.wake("recorded", 1)
        office.delivery._photos.wake("elsewhere", 1)

    held = hold(office)
    send(office, snapshot())
    office.until(lambda: channel.under_way)
    office.run(tell())
    held.set()
    office.run(office.delivery.idle())
    office.run(tell())
    office.run(office.delivery.idle())
    assert channel.begun == ["f"]
    assert office.delivery.counts.photos_kept == 1


def test_what_waits_for_too_long_is_lost(office: Office, channel: Album, told: Callable[[], list[str]]) -> None:
    bring(office, NOT_NOW, NOT_NOW, lambda: office.clock.wait(hours=25), NOT_NOW, name="f1")
    assert states(office) == ["empty"], "what comes at last is taken, however late"
    bring(office, NOT_NOW, _later(office, hours=23), _later(office, hours=2), snapshot(), name="f2", person=B)
    assert states(office, B) == ["too-late"]
    assert told()[-1] == "recorded: photo 2 is lost (too-late: down)"
    assert office.delivery.counts.photos_lost == 2


def _later(office: Office, **much: float) -> Callable[[], object]:
    def passes() -> None:
        office.clock.wait(**much)
        raise NOT_NOW

    return passes


@pytest.mark.parametrize(
    ("given", "reason"),
    [
        (Refused("no such file"), "refused"),
        (Gone("left"), "refused"),
        (TooLarge("more than we take"), "too-large"),
        (b"no picture at all", "no-picture"),
        (snapshot()[:500], "broken"),
        (b"\0\0\0\x18ftypheic" + bytes(40), "heic"),
        (b"", "empty"),
        (bytes(21_000_000), "too-large"),
    ],
)
def test_what_cannot_be_had_is_lost_with_its_reason(
    office: Office, channel: Album, told: Callable[[], list[str]], given: bytes | Exception, reason: str
) -> None:
    bring(office, given)
    (photo,) = of(office)
    assert (photo.state, photo.reason, photo.picture) == ("lost", reason, None)
    assert (office.delivery.counts.photos_kept, office.delivery.counts.photos_lost) == (0, 1)
    assert len(channel.begun) == 1
    (line,) = told()
    assert line.startswith(f"recorded: photo 1 is lost ({reason}")
    office.crash()
    office.run(office.delivery.idle())
    assert len(channel.begun) == 1, "what is lost is not asked for again"


@pytest.mark.parametrize(
    ("given", "words"),
    [
        (Refused("no such file"), "your photo didn’t reach me"),
        (bytes(21_000_000), "it’s too large for me"),
        (b"no picture at all", "it’s no photo that I can open"),
        (b"\0\0\0\x18ftypheic" + bytes(40), "it’s a HEIC file"),
        (snapshot()[:500], "a part of it is missing"),
    ],
)
def test_who_sent_what_is_lost_hears_why_and_what_is_open_stays_open(
    office: Office, channel: Album, given: bytes | Exception, words: str
) -> None:
    office.bring(A, "it has 9 sprockets")
    bring(office, snapshot(), name="good")
    before = channel.texts(A)
    bring(office, given)
    kept, lost = channel.texts(A)[len(before) :]
    assert words in lost
    assert "Sorry" in lost
    assert "keep it for the person" in kept
    assert channel.texts(B) == []
    office.bring(A, "it stays still")
    assert "it stays put" in channel.texts(A)[-1]


def test_a_fault_of_ours_harms_only_the_photo_on_which_it_happens(
    office: Office, channel: Album, told: Callable[[], list[str]]
) -> None:
    bring(office, ZeroDivisionError("about somebody"), snapshot(), name="f1")
    assert states(office) == ["kept"]
    send(office, ZeroDivisionError("about somebody"), name="f2", person=B)
    bring(office, snapshot(), name="f3")
    assert states(office) == ["kept", "kept"]
    assert states(office, B) == ["faulty"]
    assert channel.begun.count("f2") == photos.MOST_FAULTS
    assert not any("somebody" in line for line in told())
    assert told()[0].startswith("recorded: photo 1 failed, attempt 1: ZeroDivisionError at delivery/photos.py:")


@pytest.mark.parametrize("most", [photos.MOST_OF_A_CASE, 0])
def test_a_fault_in_telling_of_a_photo_comes_to_an_end(
    office: Office, channel: Album, monkeypatch: pytest.MonkeyPatch, told: Callable[[], list[str]], most: int
) -> None:
    tries: list[bool] = []

    def fails(self: HandOver, tx: Transaction, number: int, *, kept: bool) -> tuple[ToOthers, ...]:
        tries.append(kept)
        raise ZeroDivisionError("about somebody")

    monkeypatch.setattr(photos, "MOST_OF_A_CASE", most)
    monkeypatch.setattr(HandOver, "photo_settled", fails)
    bring(office, snapshot())
    assert states(office) == ["faulty" if most else "too-many"]
    assert list(dict.fromkeys(tries)) == [True, False][not most :], "it is kept, or else given up"
    failed = [line.partition(": Zero")[0] for line in told() if "failed" in line]
    assert failed == [f"recorded: photo 1 failed, attempt {n + 1}" for n in range(photos.MOST_FAULTS + 1)]
    assert office.rows("photos", "attempts") == [(photos.MOST_FAULTS + 2,)]
    assert len(channel.begun) == (photos.MOST_FAULTS if most else 0)
    assert office.delivery.counts.photos_lost == 1
    assert not any("somebody" in line for line in told())


def test_a_photo_of_a_case_that_cannot_be_read_is_kept(office: Office, channel: Album) -> None:
    held = hold(office)
    send(office, snapshot())
    office.until(lambda: channel.under_way)
    number = of(office)[0].id
    with office.store.store.begin() as tx:
        (case,) = tx.connection.exec_driver_sql(f"SELECT case_id FROM photos WHERE id = {number}").one()
        tx.connection.exec_driver_sql(f"UPDATE events SET body = 'rubbish' WHERE case_id = {case}")
    held.set()
    office.run(office.delivery.idle())
    with office.store.store.read() as view:
        assert [photo.state for photo in photos_of(view, case)] == ["kept"]
    assert channel.begun == ["f"]


def test_a_disk_that_takes_no_picture_is_waited_for(
    office: Office, monkeypatch: pytest.MonkeyPatch, told: Callable[[], list[str]]
) -> None:
    """However often: that is no fault of the photo's."""
    left, kept = [photos.MOST_FAULTS + 3], Photos.kept

    def full(self: Photos, number: int, picture: bytes) -> bool:
        if left[0]:
            left[0] -= 1
            raise StoreError("the disk is full")
        return kept(self, number, picture)

    monkeypatch.setattr(Photos, "kept", full)
    bring(office, snapshot())
    assert states(office) == ["kept"]
    assert "recorded: photos cannot be fetched now (the disk is full); tried again until it works" in told()


def test_what_takes_too_long_is_tried_again(office: Office, channel: Album) -> None:
    held = hold(office)
    send(office, snapshot())
    office.until(lambda: channel.under_way)
    office.leap(photos.FETCHED_WITHIN)
    office.until(lambda: len(channel.begun) > 1)
    held.set()
    office.run(office.delivery.idle())
    assert states(office) == ["kept"]
    assert channel.begun == ["f", "f"]


def test_of_one_case_so_many_pictures_are_kept(office: Office, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(photos, "MOST_OF_A_CASE", 2)
    for n in range(3):
        bring(office, snapshot(), name=f"f{n}")
    bring(office, snapshot(), name="g", person=B)
    assert states(office) == ["kept", "kept", "too-many"]
    assert states(office, B) == ["kept"]


def test_of_a_photo_too_many_nobody_is_told_that_it_is_kept(
    office: Office, channel: Album, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(store_photos, "MOST_OF_A_CASE", 1)
    for n in range(2):
        bring(office, snapshot(), name=f"f{n}")
    first, second = channel.texts(A)[-2:]
    assert "I’ll keep it" in first
    assert "can’t keep any more" in second
    assert "I’ll keep it" not in second


def test_a_place_that_was_damaged_holds_nobody_up(office: Office, channel: Album) -> None:
    office.close()
    with office.store.store.begin() as tx:
        case = tx.open_case(f"recorded:{A}", "AAA-999", "t", office.clock())
        Photos(tx).sent(case, "recorded", {"file": "f1"}, office.clock())
        Photos(tx).sent(case, "recorded", {"file": "f2"}, office.clock())
        tx.connection.exec_driver_sql("UPDATE photos SET place = 'rubbish' WHERE id = 1")
    channel.photos["f2"] = [snapshot()]
    office.open()
    office.run(office.delivery.idle())
    with office.store.store.read() as view:
        assert [photo.reason or photo.state for photo in photos_of(view, case)] == ["unreadable", "kept"]
