"""What is left in the data folder once somebody is forgotten: all of it is read, and all that is closed is opened."""

import asyncio
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest

from tests.conversation.guides import shipped_guide
from tests.delivery.office import Office
from tests.delivery.recorded import After, Held, RecordedChannel
from tests.store.opened import bytes_in, opened
from tests.words import words_of
from triagebot.conversation import Guide
from triagebot.counter.invitations import invite
from triagebot.delivery.photos import handed
from triagebot.delivery.writer import JOURNAL
from triagebot.messages import Commanded, Pressed, Said, Sent, new_code
from triagebot.store import forgetting

A, B, C, MEMBER = "rider-at-home", "rider-at-work", "somebody-else", "bench"
WORDS = "it rattled since the harvest fair"


@pytest.fixture
def codes() -> Callable[[], str]:
    """As they are given out."""
    return new_code


@pytest.fixture
def guide() -> Guide:
    """With pages that can be reached."""
    return replace(shipped_guide(), address="https://wheels.example")


def lies_there(office: Office) -> bytes:
    return opened(bytes_in(office.folder), office.store.cipher)


def mark(office: Office, person: str) -> bytes:
    with office.store.store.read() as view:
        return view.lookup_hash(f"recorded:{person}").encode()


def code_of(office: Office, person: str) -> str:
    held = office.held(person)
    assert held is not None
    return held.case.code


def forget(office: Office, person: str) -> None:
    office.bring(person, Commanded("forget"))
    assert office.bring(person, "yes").outcome == "forgotten"


def join(office: Office) -> str:
    code = code_of(office, A)
    office.bring(B, code)
    office.bring(A, "yes")
    assert code_of(office, B) == code
    return code


def at_the_bench(office: Office) -> None:
    with office.store.begin() as tx:
        secret = invite(tx, "owner", "Robin", office.clock())
    office.bring(MEMBER, secret)


def test_nothing_is_left_of_somebody_on_two_channels_with_a_photo_a_card_and_a_ticket(
    office: Office, channel: RecordedChannel
) -> None:
    at_the_bench(office)
    office.bring(C, "9 sprockets")
    office.bring(A, f"9 sprockets, {WORDS}")
    office.bring(A, Sent("photo", (handed(b"picture-of-a-wheel"),)))
    code = join(office)
    office.bring(B, Commanded("person"))
    assert "/card/" in "".join(channel.texts(B))
    office.bring(MEMBER, code)
    office.bring(MEMBER, f"claim {code}")
    before = lies_there(office)
    traces = [code.encode(), WORDS.encode(), b"picture-of-a-wheel", A.encode(), mark(office, B)]
    assert [trace in before for trace in traces] == [True] * len(traces)

    forget(office, B)
    after = lies_there(office)
    left = [trace for trace in traces[:-2] if trace in after]
    assert left == []
    assert B.encode() not in after
    assert [row for row in office.rows("cases", "code") if row[0] == code] == []
    assert len(office.delivery.memory) == 1, "that of somebody else"
    forget(office, A)
    assert A.encode() not in lies_there(office)
    assert (office.folder / JOURNAL).read_bytes() == b""
    assert office.held(C) is not None


def test_no_digest_of_whoever_is_forgotten_stays(office: Office) -> None:
    """Their messages count once all the same, until the channel cannot bring them again."""
    office.bring(C, "9 sprockets")
    office.bring(A, "9 sprockets", key="first")
    own = mark(office, A)
    assert own in lies_there(office)
    forget(office, A)
    assert own not in lies_there(office)
    assert office.bring(A, "9 sprockets", key="first").outcome == "duplicate"
    office.run(office.delivery.receive_all((), "elsewhere", "place"))
    assert len(office.rows("inbox", "key")) == 4
    office.run(office.delivery.receive_all((), "recorded", "place"))
    assert len(office.rows("inbox", "key")) == 1, "that of somebody else"


def test_where_no_place_is_kept_their_keys_go_when_it_is_tidied(office: Office) -> None:
    office.bring(A, "9 sprockets")
    forget(office, A)
    assert office.tidied(7) == 3
    assert office.rows("inbox", "key") == []


def test_what_was_said_after_the_last_words_is_answered(office: Office, channel: RecordedChannel) -> None:
    office.bring(A, "9 sprockets")
    office.bring(A, Commanded("forget"))

    async def both() -> None:
        held = asyncio.Event()
        channel.fates[A].extend([Held(held)])
        await office.delivery.receive(office.incoming(A, Commanded("erase")))
        for _ in range(20):
            await office.a_moment()
        await office.delivery.receive(office.incoming(A, Commanded("help")))
        held.set()
        await office.delivery.idle()

    office.run(both())
    texts = office.guide.language("en").texts
    assert channel.texts(A)[-2] == texts("forgotten")
    assert channel.last(A).case == code_of(office, A)
    assert len(office.rows("conversations", "id")) == 1


def test_what_waits_behind_the_yes_has_its_turn(
    office: Office, channel: RecordedChannel, monkeypatch: pytest.MonkeyPatch
) -> None:
    office.bring(A, f"9 sprockets, {WORDS}")
    office.bring(A, Commanded("forget"))
    own_cases, failed = forgetting.own_cases, []

    def fails_once(*given: Any) -> Any:
        if not failed:
            failed.append(True)
            raise RuntimeError
        return own_cases(*given)

    monkeypatch.setattr(forgetting, "own_cases", fails_once)

    async def both() -> None:
        erase, more = office.incoming(A, Commanded("erase")), office.incoming(A, Said("7 sprockets"))
        received = await asyncio.gather(office.delivery.receive(erase), office.delivery.receive(more))
        assert [each.outcome for each in received] == ["waiting", "waiting"]
        await office.delivery.idle()

    office.run(both())
    assert office.guide.language("en").texts("forgotten") in channel.texts(A)
    assert "7 sprockets" in words_of(channel.last(A).reply)
    assert WORDS.encode() not in lies_there(office)


def test_a_crash_before_the_last_words_leaves_nobody(office: Office, channel: RecordedChannel) -> None:
    office.bring(A, f"9 sprockets, {WORDS}")
    office.bring(A, Commanded("forget"))
    channel.harmless = False
    channel.fates[A].append(After(office.store.die_at_once))
    office.run(office.delivery.receive(office.incoming(A, Commanded("erase"))))
    office.run(office.until_dead())
    (office.folder / JOURNAL).write_bytes(b"")  # as after a power cut
    office.crash()
    office.run(office.delivery.idle())
    assert office.rows("conversations", "id") == []
    assert A.encode() not in lies_there(office)


def test_to_be_forgotten_may_be_the_first_thing_that_is_said(office: Office, channel: RecordedChannel) -> None:
    forget(office, A)
    office.bring(B, "forget me")
    shown = channel.last(B)
    assert office.bring(B, Pressed(shown.case, shown.turn, "erase")).outcome == "forgotten"
    assert office.rows("conversations", "id") == []
