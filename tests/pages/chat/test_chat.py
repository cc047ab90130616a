"""The chat page's requests over real HTTP: nothing lost, nothing twice, nothing for others, whatever is sent."""

import threading
from pathlib import Path
from typing import Any

import httpx
import pytest

from tests.pages.browser.served import Served
from tests.pages.chat.conftest import JSON, Come, Person, start_of
from tests.pages.markup import Markup
from triagebot.conversation import Guide
from triagebot.pages import Limits
from triagebot.pages.chat_visitor import HEADER, fresh
from triagebot.rates import Buckets

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
    assert "something has changed" in late["messages"][0]["text"]
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


def test_who_writes_too_often_waits(guide: Guide, tmp_path: Path, come: Come, monkeypatch: pytest.MonkeyPatch) -> None:
    """The clock stands still, so that no bucket fills again meanwhile."""
    monkeypatch.setattr(Buckets.__init__, "__defaults__", (lambda: 0.0,))
    served = Served(guide, tmp_path / "busy", limits=Limits()).start()
    try:
        person = come(served)
        answers = [person.say(text="why") for _ in range(40)]
    finally:
        served.stop()
    refused = [answer for answer in answers if answer.status_code == 429]
    assert len(refused) == len(answers) - Limits().writing.burst
    assert refused == answers[-len(refused) :]
    assert int(refused[0].headers["retry-after"]) >= 1
