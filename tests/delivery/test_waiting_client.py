"""People talking through one store: greeted, kept, taken up again, told twice, in two processes, on a bad disk."""

import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path

import pytest

from tests.conversation.guides import shipped_guide, without_question
from tests.store.reading import current_case
from tests.words import words_of
from triagebot.conversation import Guide, Message, fold_events
from triagebot.conversation.events import from_json
from triagebot.delivery import WaitingClient
from triagebot.errors import StoreError
from triagebot.messages import new_code
from triagebot.messages.codes import ALPHABET
from triagebot.store import Store, StoreConflict, Transaction, open_store
from triagebot.testing import Clock, Codes

ME, OTHER = "terminal:me", "terminal:other"


@pytest.fixture(scope="module")
def guide() -> Guide:
    return shipped_guide()


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    with open_store(tmp_path / "data") as store:
        yield store


@pytest.fixture
def waiting_client(guide: Guide, store: Store) -> WaitingClient:
    return WaitingClient(guide, store, Clock(), Codes())


def rows(store: Store, person: str = ME) -> list[dict[str, object]]:
    with store.read() as view:
        stored = current_case(view, person)
    return [] if stored is None else [dict(event) for event in stored.events]


def test_somebody_new_is_greeted_and_asked(waiting_client: WaitingClient, store: Store, guide: Guide) -> None:
    heard = waiting_client.arrive(ME, "en")
    assert guide.shop.name in words_of(heard.reply)
    assert heard.reply.question is not None
    assert fold_events(from_json(row) for row in rows(store)) == heard.case


def test_somebody_who_comes_back_is_shown_the_same_question(waiting_client: WaitingClient) -> None:
    waiting_client.arrive(ME, "en")
    before = waiting_client.hear(ME, Message("the middle stays still, 12 splines"), "en")
    waiting_client.clock.wait(days=3)  # type: ignore[attr-defined]
    again = waiting_client.arrive(ME, "en")
    assert again.case.code == before.case.code
    assert again.case.now == before.case.now
    assert again.reply.question is not None
    assert before.reply.question is not None
    assert again.reply.question.id == before.reply.question.id
    assert "12" in words_of(again.reply)


def test_after_the_end_a_new_case_begins(waiting_client: WaitingClient) -> None:
    first = waiting_client.hear(ME, Message("person"), "en")
    assert first.reply.status == "person"
    second = waiting_client.arrive(ME, "en")
    assert second.case.code != first.case.code
    assert second.case.now.facts == ()


def test_a_new_case_can_be_asked_for(waiting_client: WaitingClient) -> None:
    first = waiting_client.hear(ME, Message("it stays still"), "en")
    assert waiting_client.arrive(ME, "en", new=True).case.code != first.case.code


def test_people_do_not_mix(waiting_client: WaitingClient) -> None:
    mine = waiting_client.hear(ME, Message("it stays still"), "en")
    theirs = waiting_client.hear(OTHER, Message("it turns"), "en")
    assert mine.case.code != theirs.case.code
    assert waiting_client.hear(ME, Message("why"), "en").case.now.facts == mine.case.now.facts


def test_what_comes_twice_counts_once(waiting_client: WaitingClient, store: Store) -> None:
    said = ["it stays still", "12 splines", "change", "2.3 mm", "stop", "blub", "", "back", "restart", "person"]
    for number, text in enumerate(said):
        first = waiting_client.hear(ME, Message(text), "en", key=f"k{number}")
        before = rows(store)
        assert not first.repeated
        for key in (f"k{number}", "k0"):
            again = waiting_client.hear(ME, Message(text), "en", key=key)
            assert again.repeated
            assert rows(store) == before
            assert again.case == first.case
            assert again.reply.status == first.reply.status
            assert again.reply.question == first.reply.question
            assert words_of(again.reply) or again.reply.question


def test_a_repeated_message_after_the_topic_changed(waiting_client: WaitingClient, guide: Guide) -> None:
    waiting_client.hear(ME, Message("9 sprockets"), "en", key="k1")
    later = replace(waiting_client, guide=without_question(guide, "sprockets"))
    again = later.hear(ME, Message("9 sprockets"), "en", key="k1")
    assert again.repeated
    assert again.reply.question is not None
    assert again.reply.question.id in later.guide.topic.questions


class CrashError(Exception):
    """Stands for a process that dies."""


class DyingStore:
    """A store whose process dies after all is written and before it is committed."""

    def __init__(self, store: Store) -> None:
        self.store = store

    @contextmanager
    def begin(self) -> Iterator[Transaction]:
        with self.store.begin() as tx:
            yield tx
            raise CrashError


def test_a_crash_before_the_commit_leaves_all_as_it_was(waiting_client: WaitingClient, store: Store) -> None:
    kept = waiting_client.hear(ME, Message("it stays still"), "en", key="k1")
    before = rows(store)
    dying = replace(waiting_client, store=DyingStore(store))  # type: ignore[arg-type]
    with pytest.raises(CrashError):
        dying.hear(ME, Message("12 splines"), "en", key="k2")
    assert rows(store) == before
    with pytest.raises(CrashError):
        dying.arrive(OTHER, "en")
    assert rows(store, OTHER) == []
    heard = waiting_client.hear(ME, Message("12 splines"), "en", key="k2")
    assert not heard.repeated
    assert heard.case.code == kept.case.code
    assert len(heard.case.now.facts) == 3


class OvertakenStore:
    """A store where another process is quicker the first times."""

    def __init__(self, store: Store, times: int) -> None:
        self.store, self.times = store, times

    @contextmanager
    def begin(self) -> Iterator[Transaction]:
        with self.store.begin() as tx:
            yield tx
            if self.times:
                self.times -= 1
                raise StoreConflict("overtaken")


def test_a_turn_is_taken_again_when_another_process_was_quicker(waiting_client: WaitingClient, store: Store) -> None:
    overtaken = replace(waiting_client, store=OvertakenStore(store, 3))  # type: ignore[arg-type]
    heard = overtaken.hear(ME, Message("it stays still"), "en")
    assert fold_events(from_json(row) for row in rows(store)) == heard.case


def test_it_gives_up_in_the_end(waiting_client: WaitingClient, store: Store) -> None:
    overtaken = replace(waiting_client, store=OvertakenStore(store, 99))  # type: ignore[arg-type]
    with pytest.raises(StoreConflict):
        overtaken.hear(ME, Message("it stays still"), "en")
    assert rows(store) == []


def test_a_code_in_use_is_not_given_again(guide: Guide, store: Store) -> None:
    codes = iter(["AAA-001", "AAA-001", "AAA-002"])
    waiting_client = WaitingClient(guide, store, Clock(), lambda: next(codes))
    assert waiting_client.arrive(ME, "en").case.code == "AAA-001"
    assert waiting_client.arrive(OTHER, "en").case.code == "AAA-002"


def test_a_case_that_a_newer_triagebot_wrote(waiting_client: WaitingClient, store: Store) -> None:
    heard = waiting_client.hear(ME, Message("it stays still"), "en")
    with store.begin() as tx:
        stored = current_case(tx, ME)
        assert stored is not None
        tx.append(stored.id, len(stored.events), [{"kind": "sang", "at": "2026-03-02T10:00:00+00:00"}])
    with pytest.raises(StoreError, match=f"case {heard.case.code} cannot be read.*'sang'.*newer"):
        waiting_client.hear(ME, Message("12 splines"), "en")


def test_odd_names_and_texts_are_kept_as_they_came(waiting_client: WaitingClient, store: Store) -> None:
    for person in ("lines:", "lines:a:b", "lines:ünïcode 🚲", "lines:" + "x" * 5000, "lines:\0\ud800"):
        heard = waiting_client.hear(person, Message("\0\ud800 it stays still"), "en", key="\0\ud800")
        assert fold_events(
            from_json({k: v for k, v in row.items() if k != "message"}) for row in rows(store, person)
        ) == (heard.case)
        assert waiting_client.hear(person, Message("again"), "en", key="\0\ud800").repeated


def test_codes_can_be_read_aloud() -> None:
    codes = {new_code() for _ in range(200)}
    assert len(codes) > 195
    for code in codes:
        left, _, right = code.partition("-")
        assert len(left) == len(right) == 3
        assert set(left + right) <= set(ALPHABET)
    assert not set("01ILOU") & set(ALPHABET)
    assert new_code(lambda below: 0) == "222-222"


def test_the_room_is_entered_without_the_database_library() -> None:
    line = (
        "import sys, triagebot.delivery; "
        "print('triagebot.turns.take_message' in sys.modules, 'sqlalchemy' in sys.modules)"
    )
    done = subprocess.run([sys.executable, "-c", line], capture_output=True, text=True, check=True, timeout=60)
    assert done.stdout.split() == ["True", "False"]
