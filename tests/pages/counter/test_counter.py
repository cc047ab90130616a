"""What members do at the counter page, with forms alone: the queue, a case, words both ways, photos, closing; and
others who do the same at once, there or in a chat."""

from concurrent.futures import ThreadPoolExecutor
from itertools import product
from threading import Barrier

import pytest

from tests.effort import effort
from tests.pages.chat.test_photos import photographed, send
from tests.pages.counter.conftest import Browser, Counter, Form
from tests.pages.markup import Markup
from triagebot.cases.loaded import unfolded
from triagebot.store.staff import Staff, Tickets


@pytest.fixture
def ada(counter: Counter) -> Browser:
    return counter.member("Ada")


def state(counter: Counter, code: str) -> tuple[str, str | None]:
    """A case's ticket, and the name of who has it."""
    with counter.served.store.read() as view:
        stored = view.case_by_code(code)
        assert stored is not None
        ticket = Tickets(view).of(stored.id)
        assert ticket is not None
        member = Staff(view).member(ticket.holder) if ticket.holder else None
        return ticket.state, None if member is None else member.name


def deeds(counter: Counter, code: str) -> list[str]:
    with counter.served.store.read() as view:
        stored = view.case_by_code(code)
        assert stored is not None
        return [deed.what for deed in Staff(view).deeds(stored.id)]


def test_the_queue_shows_what_it_seems_to_be_and_their_last_words(counter: Counter, ada: Browser) -> None:
    person, code = counter.customer()
    person.told(text="can you call me on 555?")
    ada.opens("/counter")
    for words in (
        "One case in the queue",
        code,
        "single-speed freewheel, 4 notches, 40 mm",
        "they asked. Nobody has it.",
        "555",
    ):
        assert words in ada.words


def test_a_case_is_claimed_answered_and_closed_from_the_page(counter: Counter, ada: Browser) -> None:
    person, code = counter.customer()
    person.told(text="can you call me?")
    ada.opens("/counter")
    ada.presses(f"/{code}/claim")
    assert f"{code} is yours" in ada.words
    assert state(counter, code) == ("claimed", "Ada")
    assert "can you call me?" in ada.words
    ada.presses("/say", text="Come in at five.\nBring the axle nuts.")
    assert f"Sent to {code}." in ada.words
    (last,) = person.since(person.last, wait=5)["messages"]
    assert "Ada" in last["text"]
    assert "Come in at five.\nBring the axle nuts." in last["text"]
    assert "Bring the axle nuts." in ada.words
    ada.presses("/close", kind="freewheel-4-notch-40", fit="yes")
    assert f"{code} is closed: single-speed freewheel, 4 notches, 40 mm. The remover fitted." in ada.words
    assert state(counter, code)[0] == "closed"
    with counter.served.store.read() as view:
        stored = view.case_by_code(code)
        assert stored is not None
        closed = unfolded(stored).case.closed
    assert closed is not None
    assert (closed.fastening, closed.fitted, closed.by) == ("freewheel-4-notch-40", True, "Ada")
    ada.presses("/reopen")
    assert state(counter, code) == ("claimed", "Ada")


def test_what_a_case_says_otherwise_is_asked_about_before_it_is_closed(counter: Counter, ada: Browser) -> None:
    _, code = counter.customer()
    ada.opens(f"/counter/case/{code}")
    ada.presses("/close", kind="cassette-12-spline", fit="no")
    assert "says otherwise" in ada.words
    assert state(counter, code)[0] == "waiting"
    chosen = [given["value"] for given in Markup(ada.page).all("option") if "selected" in given]
    assert chosen == ["cassette-12-spline"]
    assert [given["value"] for given in Markup(ada.page).all("input") if "checked" in given] == ["no"]
    ada.presses("/close", kind="cassette-12-spline", fit="no")
    assert state(counter, code)[0] == "closed"


def test_nobody_need_know_what_it_was(counter: Counter, ada: Browser) -> None:
    _, code = counter.customer()
    ada.opens(f"/counter/case/{code}")
    ada.presses("/close", kind="", fit="untried")
    assert f"{code} is closed: nobody knows what it was" in ada.words
    assert state(counter, code)[0] == "closed"


def test_a_ready_reply_is_sent_by_its_button(counter: Counter, ada: Browser) -> None:
    person, code = counter.customer()
    ada.opens(f"/counter/case/{code}")
    reply = counter.served.guide.shop.replies[0]
    ada.presses("/ready", reply=reply.id)
    assert f"Sent to {code}: “" in ada.words
    (last,) = person.since(person.last, wait=5)["messages"]
    assert reply.in_language("en", "en") in last["text"]


def test_a_form_that_comes_twice_counts_once_and_another_text_is_another(counter: Counter, ada: Browser) -> None:
    person, code = counter.customer()
    ada.opens(f"/counter/case/{code}")
    form = Form.on(ada.page, "/say")
    for text in ("at five", "at five", "at six"):
        ada.sends(form.address, **form.hidden, text=text)
    assert deeds(counter, code) == ["answered", "answered"]
    said = [message["text"] for message in person.since(person.last, wait=5)["messages"]]
    assert len(said) == 2


@pytest.mark.parametrize("text", ["", "   ", "x" * 5000])
def test_what_is_no_message_is_not_sent(counter: Counter, ada: Browser, text: str) -> None:
    person, code = counter.customer()
    ada.opens(f"/counter/case/{code}")
    ada.presses("/say", text=text)
    assert deeds(counter, code) == []
    assert person.since(person.last)["messages"] == []


def test_a_photo_goes_to_the_customer_with_the_words(counter: Counter, ada: Browser) -> None:
    person, code = counter.customer()
    form = Form.on(ada.opens(f"/counter/case/{code}").text, "/say")
    file = {"photo": ("part.jpg", photographed(), "image/jpeg")}
    ada.http.post(form.address, data={**form.hidden, "text": "this one"}, files=file)
    (photo,) = person.since(person.last, wait=5)["messages"]
    assert "this one" in photo["text"]
    assert "Ada" in photo["text"]
    assert f"/chat/photo/{photo['id']}" in photo["html"]
    unfit = ada.http.post(form.address, data=form.hidden, files={"photo": ("part.jpg", b"none", "image/jpeg")})
    assert "no photo that I can open" in Markup(unfit.text).text
    assert deeds(counter, code) == ["answered"]


def test_photos_of_the_case_are_shown_and_no_others(counter: Counter, ada: Browser) -> None:
    person, code = counter.customer()
    send(person, photographed())
    other, other_code = counter.customer()
    send(other, photographed())
    ada.opens(f"/counter/case/{code}")
    (picture,) = Markup(ada.page).all("img")
    got = ada.http.get(picture["src"])
    assert got.headers["content-type"] == "image/jpeg"
    assert got.headers["cache-control"] == "no-store"
    number = picture["src"].rpartition("/")[2]
    assert ada.http.get(f"/counter/case/{other_code}/photo/{number}").status_code == 404


def test_the_card_is_shown_without_an_address_of_its_own(counter: Counter, ada: Browser) -> None:
    _, code = counter.customer()
    ada.opens(f"/counter/case/{code}/card")
    assert "What we were told" in ada.words
    assert f"Back to {code}" in ada.words
    assert "/card/None" not in ada.page
    assert not [given for given in Markup(ada.page).all("img") if given.get("class") == "qr"]


def test_who_has_a_case_and_who_may_close_it_as_in_a_chat(counter: Counter, ada: Browser) -> None:
    eve = counter.member("Eve")
    _, code = counter.customer()
    for browser in (ada, eve):
        browser.opens(f"/counter/case/{code}")
    ada.presses("/claim")
    eve.presses("/claim")
    assert f"Ada has {code}." in eve.words
    assert "Close this case" not in eve.words
    eve.sends(f"/counter/case/{code}/close", kind="", fit="yes")
    assert f"Ada has {code}, so it’s theirs to do." in eve.words
    assert state(counter, code) == ("claimed", "Ada")
    ada.presses("/release")
    assert state(counter, code)[0] == "waiting"


def test_what_was_answered_is_shown_once(counter: Counter, ada: Browser) -> None:
    _, code = counter.customer()
    ada.opens(f"/counter/case/{code}")
    ada.presses("/claim")
    assert f"{code} is yours" in ada.words
    ada.opens(f"/counter/case/{code}")
    assert f"{code} is yours" not in ada.words


def test_markup_in_words_is_words(counter: Counter, ada: Browser) -> None:
    person, code = counter.customer()
    person.told(text="<script>alert(1)</script>")
    for address in ("/counter", f"/counter/case/{code}"):
        ada.opens(address)
        assert "<script>" not in ada.page
        assert "<script>alert(1)</script>" in ada.words


def test_what_is_not_there_is_not_found(counter: Counter, ada: Browser) -> None:
    _, code = counter.customer()
    assert ada.opens("/counter/case/ZZZ-ZZZ").status_code == 404
    assert ada.opens("/counter/case/nothing").status_code == 404
    assert ada.sends(f"/counter/case/{code}/erase").status_code == 404
    assert ada.sends(f"/counter/case/{code}/close", kind="", fit="maybe").status_code == 400
    assert ada.opens(f"/counter/case/{code.lower()}").status_code == 200


#: Cases, and how often two race for each: a page shows all that was done to a case, so a hundred for one took longest.
CASES, RACES = effort(4, 10), 10


def test_of_two_who_claim_at_once_exactly_one_has_it(counter: Counter, ada: Browser) -> None:
    """Again and again, two browsers at the same moment."""
    eve = counter.member("Eve")
    start = Barrier(2)

    def claim(browser: Browser, code: str, number: int) -> str:
        start.wait()
        got = browser.http.post(f"/counter/case/{code}/claim", data={"key": f"k{number}"})
        return Markup(got.text).text

    codes = [counter.customer("person")[1] for _ in range(CASES)]
    with ThreadPoolExecutor(2) as at_once:
        for code, number in product(codes, range(RACES)):
            heard = [each.result() for each in [at_once.submit(claim, who, code, number) for who in (ada, eve)]]
            holder = state(counter, code)[1]
            assert holder in ("Ada", "Eve")
            assert sum(f"{code} is yours" in words for words in heard) == 1
            assert sum(f"{holder} has {code}." in words for words in heard) == 1
            winner = ada if holder == "Ada" else eve
            assert winner.http.post(f"/counter/case/{code}/release", data={"key": f"r{number}"}).status_code == 200
    assert [deeds(counter, code).count("claimed") for code in codes] == [RACES] * CASES
