"""A visit that somebody asks for is answered on the page, with one press."""

import pytest

from tests.pages.counter.conftest import Browser, Counter
from triagebot.conversation.visiting import Visit
from triagebot.store.requests import Requests


@pytest.fixture
def ada(counter: Counter) -> Browser:
    return counter.member("Ada")


def asks_to_come(counter: Counter, code: str) -> None:
    with counter.served.store.begin() as tx:
        stored = tx.case_by_code(code)
        assert stored is not None
        visit = Visit("2030-03-07", "afternoon", None)
        assert Requests(tx).ask_visit(
            stored.id, visit.day, visit.part, 1, visit.text, "", counter.served.delivery._clock()
        )


def answered(counter: Counter, code: str) -> list[str]:
    with counter.served.store.read() as view:
        stored = view.case_by_code(code)
        assert stored is not None
        return [request.state for request in Requests(view).of(stored.id, "asked", "yes", "no")]


def test_a_yes_is_one_press_and_the_first_answer_counts(counter: Counter, ada: Browser) -> None:
    person, code = counter.customer()
    ada.opens(f"/counter/case/{code}")
    assert "They ask" not in ada.words
    asks_to_come(counter, code)
    ada.opens(f"/counter/case/{code}")
    assert "come Thursday 7 March" in ada.words
    before = ada.page
    ada.presses("/answer", answer="yes")
    assert f"{code}, agreed: come Thursday 7 March" in ada.words
    assert "They ask" not in ada.words
    assert answered(counter, code) == ["yes"]
    (last,) = person.since(person.last, wait=5)["messages"]
    assert "see you on Thursday 7 March" in last["text"]
    ada.page = before
    ada.presses("/answer", answer="no", why="fully booked")
    assert f"{code} has had an answer already: yes." in ada.words
    assert answered(counter, code) == ["yes"]


def test_a_no_takes_its_reason_along(counter: Counter, ada: Browser) -> None:
    person, code = counter.customer()
    asks_to_come(counter, code)
    ada.opens(f"/counter/case/{code}")
    ada.presses("/answer", answer="no", why="fully booked.")
    assert answered(counter, code) == ["no"]
    (last,) = person.since(person.last, wait=5)["messages"]
    assert "fully booked" in last["text"]


def test_what_is_neither_is_refused(counter: Counter, ada: Browser) -> None:
    _, code = counter.customer()
    asks_to_come(counter, code)
    assert ada.sends(f"/counter/case/{code}/answer", answer="maybe").status_code == 400
    assert answered(counter, code) == ["asked"]
