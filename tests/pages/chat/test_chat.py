"""The chat page's requests over real HTTP: nothing lost, nothing twice, nothing for others, whatever is sent."""

import sqlite3
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import httpx
import pytest

from tests.delivery.office import HANGS
from tests.pages.browser.served import Served
from tests.pages.chat.conftest import JSON, Come, Person, start_of
from tests.pages.markup import Markup
from triagebot.conversation import Guide
from triagebot.errors import StoreError
from triagebot.pages import Limits, chat
from triagebot.pages.chat import SHOWN
from triagebot.pages.chat_channel import MOST_BESIDE, Ear, Page
from triagebot.pages.chat_visitor import HEADER, fresh
from triagebot.turns import plan

# --- who it is ----------------------------------------------------------------------------------------------------


def test_who_only_looks_gets_no_cookie_and_nothing_is_kept(person: Person, served: Served) -> None:
    for path in ("/", "/chat/frame", "/chat/messages"):
        answer = person.http.get(path)
        assert answer.status_code == 200
        assert answer.headers["cache-control"] == "no-store"
        assert "set-cookie" not in answer.headers
    assert served.delivery.counts.received == 0


def test_the_secret_is_in_a_cookie_that_no_script_reads_and_nowhere_else(
    person: Person, served: Served, caplog: pytest.LogCaptureFixture
) -> None:
    caplog.set_level("DEBUG")
    answer = person.say(text="9 sprockets")
    (cookie,) = answer.headers.get_list("set-cookie")
    name, _, secret = cookie.partition(";")[0].partition("=")
    assert name == "chat"
    assert len(secret) == 43
    rules = {part.strip().lower() for part in cookie.split(";")[1:]}
    assert {"httponly", "samesite=lax", "path=/"} <= rules
    assert "secure" not in rules
    person.say(text="it stays still")
    pages = person.http.get("/").text + person.http.get("/chat/messages").text + answer.text
    assert secret not in pages
    ours = [record.getMessage() for record in caplog.records if not record.name.startswith("http")]
    assert ours
    assert not [words for words in ours if secret in words]
    served.stop()
    for file in served.folder.iterdir():
        assert secret.encode() not in file.read_bytes(), file.name


def test_over_https_the_cookie_is_for_this_host_alone(standing: Served, come: Come) -> None:
    guest = come(standing, **{"x-forwarded-proto": "https"})
    cookie = guest.say(text="hello").headers["set-cookie"]
    assert cookie.startswith("__Host-chat=")
    assert "Secure" in cookie
    assert "Path=/" in cookie
    assert "Domain" not in cookie


def test_the_cookie_of_a_frame_is_another_one_and_apart_for_every_site_around_it(standing: Served, come: Come) -> None:
    guest = come(standing, **{"x-forwarded-proto": "https"})
    answer = guest.http.post("/chat/say?framed=1", json={"text": "9 sprockets"})
    (cookie,) = answer.headers.get_list("set-cookie")
    assert cookie.startswith("__Host-chat-framed=")
    for rule in ("HttpOnly", "Secure", "SameSite=None", "Partitioned", "Path=/"):
        assert rule in cookie.split("; ")
    other = come(standing, **{"x-forwarded-proto": "https", "cookie": cookie.partition(";")[0]})
    assert not other.since()["known"]
    assert other.http.get("/chat/messages?framed=1").json()["known"]


def test_others_see_nothing(guest: Person, standing: Served, come: Come) -> None:
    guest.told(text="9 sprockets")
    for headers in ({}, {HEADER: fresh()}, {HEADER: "x"}, {"cookie": f"chat={fresh()}"}, {"cookie": "chat="}):
        other = come(standing, **headers)
        assert other.since() | {"tag": ""} == {"known": False, "messages": [], "tag": ""}
        assert "9 sprockets" not in other.http.get("/").text


def test_a_secret_in_a_header_needs_no_cookie_and_goes_before_one(guest: Person, standing: Served, come: Come) -> None:
    guest.told(text="9 sprockets")
    framed = come(standing, **{HEADER: fresh(), "cookie": f"chat={guest.http.cookies['chat']}"})
    answer = framed.say(text="it stays still")
    assert "set-cookie" not in answer.headers
    assert len(framed.texts()) == 1
    assert len(guest.texts()) == 1


# --- once ---------------------------------------------------------------------------------------------------------


def test_what_comes_twice_counts_once(guest: Person) -> None:
    first = guest.told(text="9 sprockets", key="a")
    again = guest.say(text="9 sprockets", key="a", after=0).json()
    assert again["outcome"] == "duplicate"
    assert [m["text"] for m in again["messages"]] == [m["text"] for m in first["messages"]]
    other = guest.told(text="it stays still", key="a")
    assert other["outcome"] == "applied", "an old page that is brought back has its old keys"
    assert len(guest.texts()) == 2


def test_a_first_message_that_comes_twice_begins_one_conversation(standing: Served, come: Come) -> None:
    one, other = come(standing), come(standing)
    start = start_of(one.http.get("/").text)
    first = one.told(text="9 sprockets", key="a", start=start)
    again = other.say(text="9 sprockets", key="a", start=start).json()
    assert (first["outcome"], again["outcome"]) == ("applied", "duplicate")
    assert again["tag"] == first["tag"]
    assert len(other.texts()) == 1


def test_an_outline_that_is_pressed_twice_begins_one_conversation(served: Served, come: Come) -> None:
    """The second press is under way before the answer to the first has brought the cookie."""
    page = Markup(come(served).http.get("/gauge/screen").text)
    form = {given["name"]: given["value"] for given in page.all("input")[-3:]}
    assert set(form) == {"key", "start", "text"}
    for browser in (come(served), come(served)):
        assert browser.http.post("/chat/say", data=form).status_code == 200
    with served.store.read() as view:
        assert view.connection.exec_driver_sql("SELECT count(*) FROM cases").scalar() == 1


def test_who_has_a_conversation_begins_none_with_an_outline(served: Served, come: Come) -> None:
    person = come(served)
    person.told(text="9 sprockets")
    fields = Markup(person.http.get("/gauge/screen").text).all("input")
    assert {"key", "text"} <= {given.get("name") for given in fields} <= {"key", "text", None}


def test_who_has_a_conversation_goes_on_with_it_whatever_an_older_page_brings(guest: Person) -> None:
    guest.told(text="9 sprockets")
    told = guest.told(text="it stays still", start=fresh())
    assert "stays" in told["messages"][0]["text"]
    assert len(guest.texts()) == 2


def test_presses_out_of_order_and_twice(guest: Person) -> None:
    first = guest.told(arrive="on")["messages"][0]
    press = {"case": first["case"], "turn": first["turn"], "choice": "unsure"}
    second = guest.told(**press)["messages"][0]
    assert guest.told(**press)["outcome"] == "double"
    assert guest.told(**press, key="other")["messages"] == []
    guest.told(case=second["case"], turn=second["turn"], choice="unsure")
    late = guest.told(**press | {"choice": "how"})
    assert late["outcome"] == "stale"
    assert "changed since" in late["messages"][0]["text"]
    assert guest.told(case="AAA-AAA", turn=1, choice="unsure")["outcome"] == "stale"


def test_many_at_once_are_each_answered_once(guest: Person) -> None:
    guest.told(arrive="on")
    cookie = dict(guest.http.cookies)

    def say(words: str) -> None:
        with httpx.Client(base_url=str(guest.http.base_url), headers=JSON, cookies=cookie, timeout=30) as http:
            for _ in range(2):
                assert http.post("/chat/say", json={"text": words, "key": words.replace(" ", "-")}).status_code == 200

    saying = [threading.Thread(target=say, args=(f"why {n}",)) for n in range(12)]
    for each in saying:
        each.start()
    for each in saying:
        each.join()
    numbers = [message["id"] for message in guest.since()["messages"]]
    assert len(numbers) == 13
    assert numbers == sorted(set(numbers))


# --- from elsewhere -----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "headers",
    [
        {"origin": "https://evil.example"},
        {"origin": "null"},
        {"sec-fetch-site": "cross-site"},
        {"sec-fetch-site": "same-site"},
    ],
)
def test_nothing_is_said_for_a_page_of_somebody_else_s(
    guest: Person, standing: Served, headers: dict[str, str]
) -> None:
    before = standing.delivery.counts.received
    guest.told(text="9 sprockets")
    for given in ({"json": {"text": "stop"}}, {"data": {"text": "stop"}}):
        assert guest.http.post("/chat/say", headers=headers, **given).status_code == 403  # type: ignore[arg-type]
    assert standing.delivery.counts.received == before + 1


def test_no_other_page_may_read_answers(guest: Person) -> None:
    answer = guest.http.get("/chat/messages", headers={"origin": "https://evil.example"})
    assert not [name for name in answer.headers if name.startswith("access-control")]
    assert answer.headers["cross-origin-resource-policy"] == "same-origin"


def test_the_frame_is_for_the_sites_that_are_named(guide: Guide, tmp_path: Path) -> None:
    served = Served(guide, tmp_path / "framed", frames=("https://shop.example.org",)).start()
    try:
        with httpx.Client(base_url=served.address) as http:
            framed, page = http.get("/chat/frame"), http.get("/")
    finally:
        served.stop()
    assert "frame-ancestors 'self' https://shop.example.org" in framed.headers["content-security-policy"]
    assert "x-frame-options" not in framed.headers
    assert "frame-ancestors 'none'" in page.headers["content-security-policy"]
    assert page.headers["x-frame-options"] == "DENY"


# --- what is sent -------------------------------------------------------------------------------------------------

BAD: list[dict[str, Any]] = [
    {"content": b"{", "headers": {"content-type": "application/json"}},
    {"content": b"[1]", "headers": {"content-type": "application/json"}},
    {"content": b"[" * 50_000, "headers": {"content-type": "application/json"}},
    {"content": b"\xff\xfe", "headers": {"content-type": "application/json"}},
    {"content": b"text=4", "headers": {"content-type": "text/plain"}},
    {"content": b"text=4"},
    {"json": {}},
    {"json": {"key": "a"}},
    {"json": {"text": 4.5}},
    {"json": {"text": ["4"]}},
    {"json": {"text": {"a": 1}}},
    {"json": {"text": True}},
    {"json": {"text": "4", "choice": "unsure", "turn": 1}},
    {"json": {"choice": "unsure", "case": "AAA-001"}},
    {"json": {"choice": "unsure", "case": "AAA-001", "turn": "x"}},
    {"json": {"choice": "unsure", "case": "AAA-001", "turn": -1}},
    {"json": {"choice": "unsure" * 100, "case": "AAA-001", "turn": 1}},
    {"json": {"text": "4", "key": "a" * 65}},
    {"json": {"text": "4", "key": "a b"}},
    {"json": {"text": "4", "after": "last"}},
    {"json": {"text": "4", "after": "9" * 30}},
    {"data": {"key": "a"}},
    {"data": {"text": "4", "command": "help"}},
    {"files": {"text": b"4"}},
]


@pytest.mark.parametrize("given", BAD, ids=range(len(BAD)))
def test_what_is_no_message_is_refused_and_the_conversation_goes_on(
    guest: Person, standing: Served, given: dict[str, Any]
) -> None:
    before = standing.delivery.counts.received
    guest.told(arrive="on")
    answer = guest.http.post("/chat/say", **given)
    assert answer.status_code == 400
    assert "Traceback" not in answer.text
    assert standing.delivery.counts.received == before + 1
    assert "9 sprockets, then." in guest.told(text="9")["messages"][0]["text"]


@pytest.mark.parametrize("query", ["after=x", "after=-1", "after=1e3", "after=²", "wait=x", "after=" + "9" * 19])
def test_what_is_no_number_is_refused(guest: Person, query: str) -> None:
    assert guest.http.get(f"/chat/messages?{query}").status_code == 400


@pytest.mark.parametrize(
    "words", ["", "   ", "\0\0", "\ud800 4 \udfff", "💩" * 500, "9" * 10_000, "<b>4</b> & “x”", "﷽" * 200, "\r\n\t4"]
)
def test_whatever_is_typed_is_answered(guest: Person, words: str) -> None:
    import json

    guest.told(arrive="on")
    body = json.dumps({"text": words, "after": guest.last})
    answer = guest.http.post("/chat/say", content=body, headers={"content-type": "application/json"})
    assert answer.status_code == 200
    (message,) = answer.json()["messages"]
    assert message["text"]
    assert not Markup(message["html"] + message["answers"]).unclosed
    assert "<b>4</b>" not in message["html"]
    assert guest.http.get("/").status_code == 200


def test_a_form_is_answered_by_the_page(served: Served) -> None:
    with httpx.Client(base_url=served.address, follow_redirects=True) as http:
        page = Markup(http.get("/?lang=en").text)
        form = {given["name"]: given["value"] for given in page.all("input") if given.get("type") == "hidden"}
        answer = http.post("/chat/say?lang=en", data={**form, "text": "9 sprockets"})
        assert [each.status_code for each in answer.history] == [303]
        assert str(answer.url).endswith("/?lang=en#now")
        assert "9 sprockets, then." in Markup(answer.text).text
        assert not [given for given in Markup(answer.text).all("input") if given["name"] == "start"]


def test_too_much_is_refused(guest: Person) -> None:
    assert guest.say(text="x" * 70_000).status_code == 413


def test_who_writes_too_often_waits(guide: Guide, tmp_path: Path, come: Come) -> None:
    served = Served(guide, tmp_path / "busy", limits=Limits()).start()
    try:
        person = come(served)
        answers = [person.say(text="why") for _ in range(40)]
    finally:
        served.stop()
    refused = [answer for answer in answers if answer.status_code == 429]
    assert 10 <= len(refused) <= 25
    assert int(refused[0].headers["retry-after"]) >= 1


# --- what comes later ---------------------------------------------------------------------------------------------


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
