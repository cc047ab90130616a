"""JSON lines: what goes in, what comes out, and that no line ends the stream (contract C3)."""

import json
from collections.abc import Iterator
from itertools import zip_longest
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.conversation import sayings
from tests.conversation.guides import shipped_guide
from triagebot.channels import lines
from triagebot.delivery import WaitingClient
from triagebot.errors import StoreError
from triagebot.store import DATABASE, Store, open_store
from triagebot.testing import Clock, Codes

KEYS = {"person", "case", "state", "status", "question", "replies", "candidates", "fastening", "remover"}


@pytest.fixture(scope="module")
def store(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Store]:
    with open_store(tmp_path_factory.mktemp("lines")) as store:
        yield store


@pytest.fixture(scope="module")
def waiting_client(store: Store) -> WaitingClient:
    return WaitingClient(shipped_guide(), store, Clock(), Codes())


@pytest.fixture
def someone(request: pytest.FixtureRequest) -> str:
    """Somebody of whom no other test has heard."""
    return str(request.node.name)


def told(waiting_client: WaitingClient, *raw: str) -> list[dict[str, Any]]:
    """What comes out for these lines."""
    return [json.loads(line) for line in lines.talk(waiting_client, raw, "en")]


def said(person: str, text: str, **more: object) -> str:
    return json.dumps({"person": person, "text": text, **more})


def test_a_line_out_holds_what_the_contract_says(waiting_client: WaitingClient, someone: str) -> None:
    (row,) = told(waiting_client, said(someone, "the middle stays still"))
    assert set(row) == KEYS
    assert row["person"] == someone
    assert row["status"] == "question"
    assert row["state"] == f"ask-{row['question']['id']}"
    assert set(row["question"]) == {"id", "kind", "choices", "unit"}
    assert sum(each["probability"] for each in row["candidates"]) == pytest.approx(1, abs=1e-6)
    assert {frozenset(each) for each in row["candidates"]} == {frozenset({"fastening", "remover", "probability"})}
    assert row["fastening"] is None
    assert row["remover"] is None
    (words,) = row["replies"]
    assert words.startswith("Hi, I’m the bot at")
    assert "The middle stays still, then." in words


def test_every_question_has_unsure_and_the_unit_of_a_size(waiting_client: WaitingClient, someone: str) -> None:
    seen = {}
    facts = ("the wheel is out", "it stays still", "12 splines", "24 mm", "9 sprockets", "no torque", "a plain hub")
    told(waiting_client, *(said(someone, text) for text in facts))
    for number in range(1, 9):
        _, row = told(waiting_client, said(someone, "change"), said(someone, str(number)))
        if row["question"]:
            seen[row["question"]["id"]] = row["question"]
            told(waiting_client, said(someone, "back"))
    assert {"wheel", "spin", "fitting", "count", "size"} <= set(seen)
    for question in seen.values():
        assert question["choices"][-1]["id"] == "unsure"
        assert question["unit"] == ("mm" if question["kind"] == "size" else None)
        own = [choice["id"] for choice in question["choices"][:-1]]
        assert own == list(waiting_client.guide.topic.questions[question["id"]].choices)


def test_a_choice_by_its_id(waiting_client: WaitingClient, someone: str) -> None:
    told(waiting_client, said(someone, "the middle stays still, splines"), said(someone, "change"), said(someone, "1"))
    (row,) = told(waiting_client, json.dumps({"person": someone, "choice": "turns"}))
    assert "it turns" in row["replies"][0].lower()
    assert row["question"] is None or row["question"]["id"] != "spin"


def test_a_choice_of_another_question(waiting_client: WaitingClient, someone: str) -> None:
    (before,) = told(waiting_client, said(someone, "the middle stays still"))
    (row,) = told(waiting_client, json.dumps({"person": someone, "choice": "no-splines"}))
    assert row["question"] == before["question"]
    assert row["candidates"] == before["candidates"]
    texts = waiting_client.guide.language("en").texts
    assert row["replies"][0].startswith(texts("not-a-choice"))


def test_an_answer_names_the_remover_until_it_is_left(waiting_client: WaitingClient, someone: str) -> None:
    row = told(waiting_client, said(someone, "it stays still, 20 splines, 21.5 mm by calliper, wheel is out"))[0]
    while row["status"] == "question":
        (row,) = told(waiting_client, json.dumps({"person": someone, "choice": "unsure"}))
    assert (row["status"], row["fastening"], row["remover"]) == ("answer", "freewheel-20-spline", "remover-20-spline")
    (after,) = told(waiting_client, said(someone, "thanks"))
    assert (after["status"], after["fastening"], after["remover"]) == (row["status"], row["fastening"], row["remover"])
    (again,) = told(waiting_client, said(someone, "restart"))
    assert (again["status"], again["fastening"], again["remover"]) == ("question", None, None)


def test_a_message_that_comes_twice(waiting_client: WaitingClient, someone: str) -> None:
    (first,) = told(waiting_client, said(someone, "9 sprockets", id="m1"))
    (again,) = told(waiting_client, said(someone, "9 sprockets", id="m1"))
    assert {k: v for k, v in again.items() if k != "replies"} == {k: v for k, v in first.items() if k != "replies"}
    (other,) = told(waiting_client, said(someone, "it stays still", id="m2"))
    assert other["candidates"] != first["candidates"]


BAD = {
    "no JSON": ("hello", "not JSON"),
    "half a line": ('{"person": "p1", "te', "not JSON"),
    "a list": ('["p1", "hello"]', "a line is an object"),
    "a number": ("42", "a line is an object"),
    "null": ("null", "a line is an object"),
    "not a number": ("NaN", "a line is an object"),
    "a number of 5,000 digits": ("9" * 5000, ""),
    "nested": ("[" * 100_000, "not JSON"),
    "an unknown key": ('{"person": "p1", "text": "x", "txet": "y"}', "unknown key 'txet'"),
    "a number for a text": ('{"person": "p1", "text": 12}', "'text' must be a string"),
    "a list for a person": ('{"person": ["p1"], "text": "x"}', "'person' must be a string"),
    "a flag for a choice": ('{"person": "p1", "choice": true}', "'choice' must be a string"),
    "nobody": ('{"text": "x"}', '"person" is missing'),
    "an empty person": ('{"person": "", "text": "x"}', '"person" is missing'),
    "nothing said": ('{"person": "p1"}', 'needs "text" or "choice"'),
    "nothing but null": ('{"person": "p1", "text": null, "choice": null}', 'needs "text" or "choice"'),
    "too long": ('{"person": "p1", "text": "' + "x" * 1_000_001 + '"}', "at most 1000000 characters"),
}


@pytest.mark.parametrize("name", BAD)
def test_a_bad_line_is_told_and_the_stream_goes_on(waiting_client: WaitingClient, someone: str, name: str) -> None:
    raw, message = BAD[name]
    before, error, after = told(waiting_client, said(someone, "it stays still"), raw, said(someone, "blub"))
    assert list(error) == ["error"]
    assert message in error["error"]
    assert len(error["error"]) < 1000
    assert after["candidates"] == before["candidates"]
    assert after["question"] == before["question"]


def test_blank_lines_are_passed_over(waiting_client: WaitingClient, someone: str) -> None:
    assert len(told(waiting_client, "", "\n", "  \r\n", said(someone, "hello"))) == 1


def test_many_people_interleaved(waiting_client: WaitingClient) -> None:
    scripts = {
        "anna": ["it stays still", "12 splines", "23 mm by calliper"],
        "bert": ["it turns", "12 splines", "9 sprockets", "a plain hub"],
        "carl": ["blub", "", "person"],
    }
    woven = [
        said(f"woven {name}", text)
        for turns in zip_longest(*([(name, text) for text in script] for name, script in scripts.items()))
        for each in turns
        if each
        for name, text in [each]
    ]
    alone = {
        name: told(waiting_client, *(said(f"alone {name}", text) for text in script))
        for name, script in scripts.items()
    }
    together = told(waiting_client, *woven)
    for name in scripts:
        mine = [row for row in together if row["person"] == f"woven {name}"]
        assert [row["candidates"] for row in mine] == [row["candidates"] for row in alone[name]]
        assert [row["question"] for row in mine] == [row["question"] for row in alone[name]]


def test_an_unknown_language_is_answered_in_the_shops(waiting_client: WaitingClient, someone: str) -> None:
    (row,) = told(waiting_client, said(someone, "it stays still", lang="tlh"))
    assert "The middle stays still, then." in row["replies"][0]


@pytest.mark.parametrize("lang", ["", "e", "EN", "../en", "en\0", "x" * 10_000])
def test_a_language_that_is_none(waiting_client: WaitingClient, someone: str, lang: str) -> None:
    (row,) = told(waiting_client, said(someone, "it stays still", lang=lang))
    assert row["status"] == "question"


def test_a_store_that_fails_is_told_and_the_stream_goes_on(
    waiting_client: WaitingClient, someone: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    (before,) = told(waiting_client, said(someone, "it stays still"))
    real = waiting_client.store.begin
    with monkeypatch.context() as patch:

        def full() -> None:
            raise StoreError("data: the disk is full")

        patch.setattr(waiting_client.store, "begin", full)
        (error,) = told(waiting_client, said(someone, "12 splines"))
    assert error == {"error": "data: the disk is full", "person": someone}
    assert waiting_client.store.begin == real
    (after,) = told(waiting_client, said(someone, "blub"))
    assert after["candidates"] == before["candidates"]


@given(st.lists(st.one_of(st.text(), sayings.texts().map(lambda text: said("anybody", text))), max_size=5))
@settings(max_examples=40)
def test_any_lines_are_answered_one_by_one(raw: list[str]) -> None:
    class Nowhere:
        """A sitting where every message fails: only the reading of lines is tried here."""

        def hear(self, *_: object) -> None:
            raise StoreError("nowhere")

    rows = told(Nowhere(), *raw)  # type: ignore[arg-type]
    assert len(rows) == len([line for line in raw if line.strip()])
    assert all("error" in row for row in rows)


def test_what_was_understood_as_a_row() -> None:
    from triagebot.conversation import Fact
    from triagebot.identify import BoundReading

    fact = Fact(BoundReading("size", low=23.25, means="gauge"), "wider than a 1 euro coin")
    assert lines.fact_row(fact) == {
        "question": "size",
        "reading": {"kind": "bound", "low": 23.25, "high": None, "means": "gauge"},
        "text": "wider than a 1 euro coin",
    }


def test_the_database_is_where_it_was_told(store: Store, waiting_client: WaitingClient) -> None:
    assert (store.folder / DATABASE).exists()
    assert waiting_client.store is store
