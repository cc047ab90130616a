"""Numbers put under messages: each is a press of what the message lists under it, or nothing at all."""

import asyncio

import pytest

from tests.delivery.office import Office
from tests.delivery.recorded import Before, Held, RecordedChannel
from tests.words import words_of
from triagebot.conversation import Case
from triagebot.delivery import outbox
from triagebot.identify import CountReading
from triagebot.messages import Commanded, Edited, Incoming, Outgoing, Reacted, Receipt, Sent
from triagebot.messages.message import from_json, to_json
from triagebot.testing import Clock

A, B = "a", "b"


class Named(RecordedChannel):
    """Its platform gives every message a name, and names the picture above it, too."""

    async def deliver(self, message: Outgoing) -> Receipt:
        receipt = await super().deliver(message)
        if message.kind == "edit":
            return receipt
        place = f"{message.address['chat']}{receipt['place']}"
        return {**receipt, "event": f"${place}", "others": [f"$picture-{place}"]}


@pytest.fixture
def channel() -> RecordedChannel:
    return Named()


@pytest.fixture
def office(office: Office, monkeypatch: pytest.MonkeyPatch) -> Office:
    monkeypatch.setattr(outbox, "pause", lambda attempt: 0.001)
    office.bring(A, "9 sprockets")
    return office


def case_of(office: Office) -> Case:
    held = office.held(A)
    assert held is not None
    return held.case


def choices(channel: RecordedChannel, person: str = A) -> list[str]:
    question = channel.last(person).reply.question
    assert question is not None
    return [choice.id for choice in question.choices]


def readings(office: Office) -> dict[str, object]:
    return {reading.question: reading for reading in case_of(office).now.readings}


@pytest.mark.parametrize("of", ["$a0", "$picture-a0"])
@pytest.mark.parametrize("crash", [False, True])
def test_a_number_is_the_choice_that_stands_under_it(
    office: Office, channel: RecordedChannel, of: str, crash: bool
) -> None:
    question, listed = case_of(office).now.question, choices(channel)
    if crash:
        office.crash()
    assert office.bring(A, Reacted(2, of)).outcome == "applied"
    assert question is not None
    assert getattr(readings(office)[question], "choice", None) == listed[1]
    assert channel.changed[A][0][0] == 0, "the message that was answered shows it"


def test_under_a_count_a_number_is_so_many(office: Office, channel: RecordedChannel) -> None:
    while case_of(office).now.question != "count":
        office.bring(A, "notches" if case_of(office).now.question == "fitting" else "I don’t know")
        assert len(channel.screens[A]) < 20
    office.bring(A, Reacted(4, f"$a{len(channel.screens[A]) - 1}"))
    assert readings(office)["count"] == CountReading("count", 4, 4)


@pytest.mark.parametrize(("number", "of"), [(0, "$a0"), (8, "$a0"), (-1, "$a0"), (1, "$of-somebody-else"), (1, "")])
def test_anything_else_changes_nothing_and_gets_no_reply(
    office: Office, channel: RecordedChannel, number: int, of: str
) -> None:
    before, said = case_of(office), len(channel.screens[A])
    received = office.bring(A, Reacted(number, of), key="k")
    assert (received.outcome, received.reply) == ("ignored", None)
    assert office.bring(A, Reacted(number, of), key="k").outcome == "ignored"
    assert (case_of(office), len(channel.screens[A])) == (before, said)


def test_what_lists_no_choices_has_none(office: Office, channel: RecordedChannel) -> None:
    office.bring(A, "privacy")
    office.bring(A, "forget me")
    last = channel.last(A)
    assert (last.reply.question, len(last.reply.offers)) == (None, 2)
    assert office.bring(A, Reacted(1, f"$a{len(channel.screens[A]) - 1}")).outcome == "ignored"
    assert office.held(A) is not None, "nobody is forgotten by a number"


def test_somebody_without_a_case_gets_none_by_it(office: Office, channel: RecordedChannel) -> None:
    assert office.bring(B, Reacted(1, "$a0")).outcome == "ignored"
    assert office.held(B) is None
    assert channel.screens[B] == []


def test_it_counts_in_the_one_conversation_that_it_concerns(office: Office, channel: RecordedChannel) -> None:
    """A platform does not tell in which of somebody's conversations it was done, so all are asked."""
    office.bring(B, "9 sprockets")
    outcomes = [office.bring(who, Reacted(1, "$a0"), key="k").outcome for who in (B, A, B, A)]
    assert outcomes == ["ignored", "applied", "ignored", "duplicate"]


def test_a_correction_that_only_counts_for_what_was_received(office: Office, channel: RecordedChannel) -> None:
    office.bring(A, "the wheel stays still", key="m")
    said = len(channel.screens[B])
    assert office.bring(B, Edited("8 sprockets", "m", if_taken=True)).outcome == "ignored", "it was somebody else's"
    assert office.bring(A, Edited("8 sprockets", "n", if_taken=True)).outcome == "ignored"
    assert len(channel.screens[B]) == said
    assert office.bring(A, Edited("it turns", "m", if_taken=True)).outcome == "applied"
    assert getattr(readings(office)["spin"], "choice", None) == "turns"


def test_the_same_number_twice_is_one_answer(office: Office, channel: RecordedChannel) -> None:
    assert office.bring(A, Reacted(1, "$a0")).outcome == "applied"
    before, said = case_of(office), len(channel.screens[A])
    assert office.bring(A, Reacted(1, "$a0")).outcome == "double"
    assert (case_of(office), len(channel.screens[A])) == (before, said)


def test_another_number_under_an_older_message_is_stale(office: Office, channel: RecordedChannel) -> None:
    office.bring(A, Reacted(1, "$a0"))
    before = case_of(office)
    assert office.bring(A, Reacted(2, "$a0")).outcome == "stale"
    assert case_of(office) == before
    assert channel.last(A).kind == "notice"
    assert channel.last(A).reply.question is not None


def test_a_number_may_come_before_we_know_what_its_message_is_called(office: Office, channel: RecordedChannel) -> None:
    """The platform shows the message, and has not told us yet that it took it."""
    taken = asyncio.Event()

    async def quick() -> tuple[str, str]:
        channel.fates[A].extend([Before(lambda: None), Held(taken)])  # its own change goes first
        await office.delivery.receive(office.incoming(A, Commanded("why")))
        while channel.fates[A]:
            await asyncio.sleep(0.001)
        earlier = await office.delivery.receive(office.incoming(A, Reacted(9, "$a0")))
        received = await office.delivery.receive(office.incoming(A, Reacted(2, "$not-known-yet")))
        taken.set()
        await office.delivery.idle()
        return str(earlier.outcome), str(received.outcome)

    question, listed = case_of(office).now.question, choices(channel)
    assert office.run(quick()) == ("ignored", "applied")
    assert getattr(readings(office)[str(question)], "choice", None) == listed[1]


def test_it_is_kept_while_it_waits() -> None:
    whole = Incoming("recorded", "k", A, {"chat": A}, Reacted(3, "$a0"), Clock()())
    assert from_json(to_json(whole)) == whole


def test_what_cannot_be_opened_is_told_how_to_send_it_again(office: Office, channel: RecordedChannel) -> None:
    before = readings(office)
    office.bring(A, Sent("undecryptable"), key="m:locked")
    last = channel.last(A)
    assert "write it once more" in words_of(last.reply)
    assert "without encryption" in words_of(last.reply)
    assert last.kind == "notice"
    assert last.reply.question is not None
    assert readings(office) == before
    assert office.bring(A, "it stays still", key="m").outcome == "applied", "it can be read after all"
    assert "spin" in readings(office)


def test_the_first_of_all_messages_cannot_be_opened(office: Office, channel: RecordedChannel) -> None:
    office.bring(B, Sent("undecryptable"))
    assert "write it once more" in words_of(channel.last(B).reply)
    assert channel.last(B).reply.question is not None
