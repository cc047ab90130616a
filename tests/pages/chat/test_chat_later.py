"""What comes later on the chat page: who waits for it, a turn that fails, a restart, being forgotten."""

import sqlite3
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

import httpx
import pytest

from tests.delivery.office import HANGS
from tests.pages.browser.served import Served
from tests.pages.chat.conftest import Come, Person
from tests.pages.markup import Markup
from triagebot.errors import StoreError
from triagebot.pages import chat
from triagebot.pages.chat import SHOWN
from triagebot.pages.chat_channel import MOST_BESIDE, Ear, Page
from triagebot.turns import plan


class Waits:
    """How people wait for news: `begun` whenever somebody begins to, `called` whether they were called or it took too
    long."""

    def __init__(self) -> None:
        self.begun, self.called = threading.Semaphore(0), list[bool]()


@pytest.fixture
def waits(monkeypatch: pytest.MonkeyPatch) -> Waits:
    counted, wait = Waits(), Ear.wait

    async def waiting(ear: Ear, seconds: float) -> None:
        counted.begun.release()
        await wait(ear, seconds)
        counted.called.append(ear._called.is_set())

    monkeypatch.setattr(Ear, "wait", waiting)
    monkeypatch.setattr(chat, "LONGEST", HANGS)
    return counted


def test_who_waits_is_called(person: Person, served: Served, come: Come, waits: Waits) -> None:
    person.told(arrive="on")
    other = come(served, cookie=f"chat={person.http.cookies['chat']}")
    heard: list[dict[str, Any]] = []
    before = person.last
    waiting = threading.Thread(target=lambda: heard.append(other.since(before, wait=HANGS)))
    waiting.start()
    assert waits.begun.acquire(timeout=HANGS)
    person.told(text="9 sprockets")
    waiting.join(HANGS)
    assert [message["id"] > before for message in heard[0]["messages"]] == [True]
    assert waits.called == [True]


def test_waiting_ends_when_nothing_comes(guest: Person, waits: Waits) -> None:
    guest.told(arrive="on")
    assert guest.since(guest.last, wait=1)["messages"] == []
    assert waits.called == [False]


def test_the_app_stops_at_once_though_somebody_waits(person: Person, served: Served, waits: Waits) -> None:
    person.told(arrive="on")
    told: list[dict[str, Any]] = []
    waiting = threading.Thread(target=lambda: told.append(person.since(person.last, wait=HANGS)))
    waiting.start()
    assert waits.begun.acquire(timeout=HANGS)
    served.stop()
    waiting.join(HANGS)
    assert told[0]["known"]
    assert told[0]["messages"] == []
    assert waits.called == [True]


def test_only_so_many_wait_in_one_conversation(person: Person, served: Served, monkeypatch: pytest.MonkeyPatch) -> None:
    begun, listening = threading.Semaphore(0), Page.listening

    @contextmanager
    def counted(page: Page, conversation: str) -> Iterator[Ear]:
        with listening(page, conversation) as ear:
            begun.release()
            yield ear

    monkeypatch.setattr(Page, "listening", counted)
    monkeypatch.setattr(chat, "LONGEST", HANGS)
    person.told(arrive="on")
    told: dict[int, int] = {}

    def wait(number: int) -> None:
        with httpx.Client(base_url=served.address, cookies=dict(person.http.cookies), timeout=2 * HANGS) as http:
            given = http.get("/chat/messages", params={"after": person.last, "wait": HANGS}).json()
            told[number] = len(given["messages"])

    waiting = [threading.Thread(target=wait, args=(n,)) for n in range(MOST_BESIDE + 1)]
    for each in waiting:  # one after the other: the one that came first has to give way
        each.start()
        assert begun.acquire(timeout=HANGS)
    waiting[0].join(HANGS)
    assert told == {0: 0}
    person.told(text="why")
    for each in waiting:
        each.join(HANGS)
    assert told == {0: 0, **dict.fromkeys(range(1, MOST_BESIDE + 1), 1)}


def test_a_message_whose_turn_fails_is_answered_later(person: Person, monkeypatch: pytest.MonkeyPatch) -> None:
    person.told(arrive="on")
    right, failing = plan.turn, [True]

    def turn(*given: Any) -> Any:
        if failing:  # as often as it is tried: beside other work it is tried once more at once, by itself
            raise ZeroDivisionError
        return right(*given)

    monkeypatch.setattr(plan, "turn", turn)
    answer = person.say(text="9 sprockets")
    failing.clear()
    assert answer.status_code == 202
    assert answer.json()["outcome"] == "waiting"
    assert answer.json()["messages"] == []
    (message,) = person.since(person.last, wait=10)["messages"]
    assert "9 sprockets" in message["text"]


def test_what_cannot_be_kept_is_not_received_and_may_come_again(
    person: Person, served: Served, monkeypatch: pytest.MonkeyPatch
) -> None:
    async def full(incoming: object) -> None:
        raise StoreError("the disk is full")

    with monkeypatch.context() as patch:
        patch.setattr(served.delivery, "receive", full)
        refused = person.say(text="9 sprockets", key="a")
    assert refused.status_code == 503
    assert int(refused.headers["retry-after"]) > 0
    assert "disk" not in refused.text
    assert person.told(text="9 sprockets", key="a")["outcome"] == "applied"


def test_the_last_messages_are_shown_and_all_that_came_since(person: Person) -> None:
    person.told(arrive="on")
    for _ in range(SHOWN + 3):
        person.told(text="why")
    told = person.since()["messages"]
    assert len(told) == SHOWN
    assert told[-1]["id"] == person.last
    assert [message["id"] for message in person.since(told[-3]["id"])["messages"]] == [m["id"] for m in told[-2:]]
    assert Markup(person.http.get("/").text).text.count("The bot: ") == SHOWN


def test_a_restart_loses_nothing(person: Person, served: Served) -> None:
    first = person.told(text="9 sprockets", key="a")
    served.stop()
    served.start()
    assert [m["id"] for m in person.since()["messages"]] == [m["id"] for m in first["messages"]]
    assert person.told(text="9 sprockets", key="a")["outcome"] == "duplicate"


def test_who_is_forgotten_leaves_nothing_behind(person: Person, served: Served) -> None:
    person.told(text="9 sprockets, and a very private remark")
    person.told(command="forget")
    told = person.told(text="yes")
    assert told["outcome"] == "forgotten"
    assert "deleted" in told["messages"][0]["text"]
    assert (told["messages"][0]["id"], told["messages"][0]["choices"]) == (0, [])
    assert len(told["start"]) == 43
    assert "chat" not in person.http.cookies
    served.stop()
    with sqlite3.connect(next(served.folder.glob("*.sqlite3"))) as database:
        for table in ("cases", "events", "conversations", "outbox", "parties"):
            assert database.execute(f"SELECT count(*) FROM {table}").fetchone() == (0,), table
