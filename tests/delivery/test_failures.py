"""The delivery where something fails: turns, sending, and what a crash leaves of either."""

import asyncio
import logging
from collections.abc import Callable
from pathlib import Path

import pytest

from tests.delivery.office import HANGS, Office
from tests.delivery.recorded import After, Before, Held, RecordedChannel
from tests.delivery.test_delivery import A, B, case_of
from tests.store.engines import ON_BOTH, ON_SQLITE
from tests.words import words_of
from triagebot.conversation import Case, Message, Turn
from triagebot.conversation import turn as real_turn
from triagebot.delivery import outbox
from triagebot.errors import StoreError
from triagebot.keeping.letters import again
from triagebot.messages import (
    Gone,
    Refused,
    RetryAfter,
    Said,
    Transient,
    Withheld,
)
from triagebot.turns import plan

pytestmark = ON_BOTH


@pytest.fixture(autouse=True)
def _short_pauses(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(outbox, "pause", lambda attempt: 0.001)


@pytest.fixture
def failing(monkeypatch: pytest.MonkeyPatch) -> Callable[[str, int], None]:
    """Lets turns on messages with a text in them fail so many times."""

    def let_fail(text: str, times: int) -> None:
        left = [times]

        def turn(guide: object, case: Case, message: Message, now: object) -> Turn:
            if text in message.text and left[0]:
                left[0] -= 1
                raise ZeroDivisionError("about " + message.text)
            return real_turn(guide, case, message, now)  # type: ignore[arg-type]

        monkeypatch.setattr(plan, "turn", turn)

    return let_fail


# --- turns that fail ------------------------------------------------------------------------------------------------


def test_a_turn_that_fails_once_is_taken_again(office: Office, failing: Callable[[str, int], None]) -> None:
    failing("9", 1)
    assert office.bring(A, "9 sprockets").outcome == "waiting"
    assert {r.question for r in case_of(office).now.readings} == {"sprockets"}
    assert office.rows("inbox", "state, attempts, body") == [("done", 2, None)]


def test_a_message_that_fails_three_times_is_set_aside(
    office: Office, channel: RecordedChannel, failing: Callable[[str, int], None], caplog: pytest.LogCaptureFixture
) -> None:
    office.bring(A, "it stays still")
    before = case_of(office)
    failing("my secret", 99)
    with caplog.at_level(logging.DEBUG, "triagebot"):
        office.bring(A, "my secret hub")
    assert case_of(office) == before
    (row,) = [row for row in office.rows("inbox", "state, attempts, reason, body") if row[0] == "aside"]
    assert row[1] == 3
    assert row[2].startswith("ZeroDivisionError at turns/plan.py:")
    assert row[3] is not None, "it stays for the person who looks into it"
    told = channel.last(A)
    assert words_of(told.reply).startswith(office.guide.language("en").texts("set-aside"))
    assert told.reply.question is not None
    assert told.reply.question.id == before.now.question
    assert "secret" not in caplog.text
    assert "set aside" in caplog.text
    assert office.bring(A, "9 sprockets").outcome == "applied"


def test_what_comes_later_waits_behind_what_fails(
    office: Office, channel: RecordedChannel, failing: Callable[[str, int], None]
) -> None:
    failing("first", 2)

    async def bring() -> list[str]:
        said = [office.incoming(p, Said(t)) for p, t in ((A, "first 9 sprockets"), (A, "change"), (B, "9"))]
        got = await asyncio.gather(*(office.delivery.receive(each) for each in said))
        await office.delivery.idle()
        return [each.outcome for each in got]

    assert office.run(bring()) == ["waiting", "waiting", "applied"]
    assert case_of(office).now.question == "sprockets", "which `change` opens again, once there is an answer to it"
    assert [message.reply.question.id for message in channel.screens[A] if message.reply.question][-1] == "sprockets"


def test_what_waits_is_taken_after_a_restart(
    office: Office, monkeypatch: pytest.MonkeyPatch, failing: Callable[[str, int], None]
) -> None:
    failing("9", 1)
    monkeypatch.setattr(office.delivery, "_try_again", (3600.0, 3600.0))
    assert office.run(office.delivery.receive(office.incoming(A, Said("9 sprockets")))).outcome == "waiting"
    assert office.rows("inbox", "state, attempts") == [("waiting", 1)]
    office.crash()
    office.run(office.delivery.idle())
    assert {r.question for r in case_of(office).now.readings} == {"sprockets"}


def test_a_case_that_cannot_be_read_harms_no_other(office: Office, channel: RecordedChannel) -> None:
    office.bring(A, "it stays still")
    office.bring(B, "it stays still")
    with office.store.store.begin() as tx:
        tx.connection.exec_driver_sql("UPDATE events SET body = 'gibberish' WHERE case_id = 1 AND seq = 1")
    office.delivery.memory._held.clear()
    assert office.bring(A, "9 sprockets").outcome == "waiting"
    assert words_of(channel.last(A).reply) == office.guide.language("en").texts("set-aside")
    assert office.bring(B, "9 sprockets").outcome == "applied"


@ON_SQLITE
@pytest.mark.usefixtures("engine")
def test_when_nothing_can_be_written_nothing_is_received(office: Office) -> None:
    with office.store.store.begin() as tx:
        tx.connection.exec_driver_sql("PRAGMA query_only = ON")
    with pytest.raises(StoreError, match="cannot be written"):
        office.bring(A, "9 sprockets", key="k")
    office.crash()
    assert office.bring(A, "9 sprockets", key="k").outcome == "applied"


# --- sending that fails ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize("error", [Transient("down"), RetryAfter(0.01), ZeroDivisionError("our own fault")])
def test_what_may_work_later_is_sent_later_and_in_order(
    office: Office, channel: RecordedChannel, error: Exception
) -> None:
    channel.fates[A].extend([error, error, error])

    async def bring() -> None:
        for text in ("9 sprockets", "it stays still", "why"):
            await office.delivery.receive(office.incoming(A, Said(text)))
        await office.delivery.idle()

    office.run(bring())
    sent = [message.id for message in channel.screens[A]]
    assert sent == sorted(sent)
    assert len(sent) == 3
    assert office.delivery.counts.retried == 3
    assert {row[0] for row in office.rows("outbox", "state")} == {"sent"}


def test_a_slow_conversation_holds_no_other(office: Office, channel: RecordedChannel) -> None:
    async def bring() -> None:
        slow = asyncio.Event()
        channel.fates[A].append(Held(slow))
        channel.fates["c"].append(RetryAfter(3600))
        for person in (A, "c", B, B):
            await office.delivery.receive(office.incoming(person, Said("9 sprockets")))
        while len(channel.screens[B]) < 2:
            await asyncio.sleep(0.001)
        assert not channel.screens[A]
        assert not channel.screens["c"]
        slow.set()

    office.run(bring())


def test_what_is_withheld_goes_out_as_soon_as_we_may_speak(
    office: Office, channel: RecordedChannel, caplog: pytest.LogCaptureFixture
) -> None:
    channel.fates[A].extend([Withheld(3600), Withheld(3600), Withheld(3600)])
    channel.fates["c"].append(RetryAfter(3600))

    async def bring() -> None:
        for person in (A, "c"):
            await office.delivery.receive(office.incoming(person, Said("9 sprockets")))
        await until(lambda: not channel.fates["c"] and len(channel.fates[A]) == 2)
        await settled()
        await office.delivery.look_around()
        office.delivery.may_speak("elsewhere")
        await settled()
        assert len(channel.fates[A]) == 2, "it is not tried again and again"
        office.delivery.may_speak(channel.name)
        await until(lambda: len(channel.fates[A]) == 1)
        await settled()
        await office.delivery.receive(office.incoming(A, Said("it stays still")))
        await until(lambda: not channel.fates[A])
        assert not channel.screens[A]
        office.delivery.may_speak(channel.name)
        await until(lambda: len(channel.screens[A]) == 2)
        assert not channel.screens["c"], "a pause that was asked for is kept"

    async def settled() -> None:
        for _ in range(50):
            await office.a_moment()

    async def until(happened: Callable[[], object]) -> None:
        async with asyncio.timeout(HANGS):
            while not happened():
                await office.a_moment()

    office.run(bring())
    assert "9 sprockets" in words_of(channel.screens[A][0].reply)
    assert caplog.text.count("we may not speak") == 1
    assert office.delivery.counts.refused == 0


def test_who_is_gone_is_not_written_to_any_more(
    office: Office, channel: RecordedChannel, caplog: pytest.LogCaptureFixture
) -> None:
    async def bring() -> None:
        slow = asyncio.Event()
        channel.fates[A].extend([Held(slow), Gone("blocked")])
        for text in ("9 sprockets", "it stays still", "why"):
            await office.delivery.receive(office.incoming(A, Said(text)))
        slow.set()
        await office.delivery.idle()

    with caplog.at_level(logging.WARNING, "triagebot"):
        office.run(bring())
    assert len(channel.screens[A]) == 1
    assert {row for row in office.rows("outbox", "state, reason") if row[0] != "sent"} == {("failed", "gone")}
    assert len(caplog.records) == 1
    assert office.delivery.counts.gone == 1
    office.bring(A, "back")
    assert len(channel.screens[A]) == 2, "who writes again can be reached again"


def test_what_is_refused_is_given_up_and_the_next_goes_out(office: Office, channel: RecordedChannel) -> None:
    office.bring(A, "9 sprockets")
    channel.fates[A].extend([Refused("not modified"), Refused("too long")])
    office.bring(A, "it stays still")
    office.bring(A, "why")
    states = [row for row in office.rows("outbox", "state, reason") if row[0] == "failed"]
    assert states == [
        ("failed", "refused: not modified"),
        ("failed", "refused: too long"),
        ("failed", "nothing to change"),
    ]
    assert len(channel.screens[A]) == 2


def test_a_fault_of_our_own_is_not_tried_for_ever(office: Office, channel: RecordedChannel) -> None:
    channel.fates[A].extend([ZeroDivisionError("it")] * outbox.MOST_FAULTS)
    office.bring(A, "9 sprockets")
    assert office.rows("outbox", "state, attempts") == [("failed", outbox.MOST_FAULTS)]
    office.bring(A, "why")
    assert len(channel.screens[A]) == 1


def test_a_crash_before_sending_loses_nothing(office: Office, channel: RecordedChannel) -> None:
    channel.fates[A].append(Before(office.store.die))
    office.bring_and_die(A, "9 sprockets")
    office.crash()
    office.run(office.delivery.idle())
    assert len({message.id for message in channel.screens[A]}) == 1


def test_a_crash_after_sending_repeats_what_is_harmless(office: Office, channel: RecordedChannel) -> None:
    channel.fates[A].append(After(office.store.die_at_once))
    office.bring_and_die(A, "9 sprockets")
    office.crash()
    office.run(office.delivery.idle())
    assert [message.attempt for message in channel.screens[A]] == [1, 2]
    assert (office.delivery.counts.unknown, office.delivery.counts.repeated) == (1, 1)


def test_a_crash_after_sending_repeats_nothing_else(office: Office, channel: RecordedChannel) -> None:
    channel.harmless = False
    channel.fates[A].append(After(office.store.die_at_once))
    office.bring_and_die(A, "9 sprockets")
    office.crash()
    office.run(office.delivery.idle())
    assert len(channel.screens[A]) == 1
    assert office.rows("outbox", "state, reason") == [("failed", "unknown")]
    assert (office.delivery.counts.unknown, office.delivery.counts.repeated) == (1, 0)


def test_a_crash_between_sending_and_writing_it_down_repeats_nothing(office: Office, channel: RecordedChannel) -> None:
    """What went out is in the journal before it is in the outbox."""
    channel.harmless = False
    channel.fates[A].append(After(office.store.die))
    office.bring_and_die(A, "9 sprockets")
    with (office.folder / "desk.sent").open("ab") as journal:
        journal.write(b"cut sho")
    office.crash()
    office.run(office.delivery.idle())
    assert len(channel.screens[A]) == 1
    assert office.rows("outbox", "state") == [("sent",)]
    assert (office.delivery.counts.unknown, office.delivery.counts.repeated) == (0, 0)
    office.bring(A, "it stays still")
    assert channel.changed[A] == [(0, channel.changed[A][0][1])], "its receipt is known"
    assert (office.folder / "desk.sent").stat().st_size < 1000


def test_a_clock_that_is_put_back_delays_nothing_for_long(
    office: Office, channel: RecordedChannel, monkeypatch: pytest.MonkeyPatch
) -> None:
    channel.fates[A].append(RetryAfter(0.01))
    office.run(office.delivery.receive(office.incoming(A, Said("9 sprockets"))))
    office.clock.wait(days=-1)
    office.run(office.delivery.idle())
    assert len(channel.screens[A]) == 1
    channel.fates[A].append(RetryAfter(0.5))
    office.run(office.delivery.receive(office.incoming(A, Said("why"))))
    monkeypatch.setattr(outbox, "LONGEST_LEFT_OVER", 0.01)
    office.clock.wait(days=-1)
    office.crash()
    office.run(office.delivery.idle())
    assert len(channel.screens[A]) == 2


def test_what_waits_for_a_channel_goes_out_when_it_opens(office: Office, tmp_path: Path) -> None:
    other = RecordedChannel("other")
    incoming = office.incoming(A, Said("9 sprockets"))
    office.run(office.delivery.receive(type(incoming)("other", "k", A, {"chat": A}, incoming.content, incoming.at)))
    office.run(office.delivery.idle())

    async def open_it() -> None:
        await office.delivery.serve(other)
        await office.delivery.idle()

    office.run(open_it())
    assert len(other.screens[A]) == 1


def test_what_was_set_aside_is_taken_once_somebody_wants_it(
    office: Office, failing: Callable[[str, int], None]
) -> None:
    failing("9", 3)
    office.bring(A, "9 sprockets")
    assert office.rows("inbox", "state") == [("aside",)]
    ((number,),) = office.rows("inbox", "id")
    with office.store.store.begin() as tx:  # as another process does
        again(tx, [f"in-{number}"])
    office.run(office.delivery.look_around())
    office.run(office.delivery.idle())
    assert {r.question for r in case_of(office).now.readings} == {"sprockets"}
    assert office.rows("inbox", "state, body") == [("done", None)]
