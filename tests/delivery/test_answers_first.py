"""On a channel where nobody waits for the change of what was answered, the answer goes out before it."""

from dataclasses import dataclass, field

import pytest

from tests.delivery.office import Office
from tests.delivery.recorded import RecordedChannel
from triagebot.delivery import outbox
from triagebot.messages import Outgoing, Receipt, Transient

A = "a"


@dataclass
class Hurried(RecordedChannel):
    """`went` are kind and place of all that went out, in order."""

    answers_first: bool = True
    went: list[tuple[str, int]] = field(default_factory=list)

    def _take(self, chat: str, message: Outgoing) -> Receipt:
        receipt = super()._take(chat, message)
        self.went.append((message.kind, receipt["place"]))
        return receipt


@pytest.fixture
def hurried() -> Hurried:
    return Hurried()


@pytest.fixture
def channel(hurried: Hurried, monkeypatch: pytest.MonkeyPatch) -> Hurried:
    monkeypatch.setattr(outbox, "pause", lambda attempt: 0.001)
    return hurried


@pytest.mark.parametrize("first", [True, False])
def test_the_change_goes_out_behind_the_answer(office: Office, hurried: Hurried, first: bool) -> None:
    hurried.answers_first = first
    office.bring(A, "9 sprockets")
    office.bring(A, "it stays still")
    office.bring(A, "the wheel is out")
    turns = [[("send", place), ("edit", place - 1)] for place in (1, 2)]
    assert hurried.went == [("send", 0), *(each for turn in turns for each in (turn if first else turn[::-1]))]
    assert [place for place, _ in hurried.changed[A]] == [0, 1]


def test_an_answer_that_has_to_wait_is_still_the_first(office: Office, hurried: Hurried) -> None:
    office.bring(A, "9 sprockets")
    hurried.fates[A].append(Transient("later"))
    office.bring(A, "it stays still")
    assert hurried.went == [("send", 0), ("send", 1), ("edit", 0)]


def test_who_is_forgotten_is_told_last(office: Office, hurried: Hurried) -> None:
    office.bring(A, "9 sprockets")
    office.bring(A, "forget me")
    office.bring(A, "yes")
    assert hurried.went[-1][0] == "send"
    assert [kind for kind, _ in hurried.went].count("edit") == 2
