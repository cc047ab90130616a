"""JSON lines: one object in a message, one object out a reply; many people interleaved (contract C3).

In: {"person": "p1", "text": "…"} with optional "choice" (a choice's id), "lang", "id" (a key that tells a message that
comes twice). Out: see `reply_row`. A line that cannot be read gets {"error": …} and the stream goes on.
"""

import json
from collections.abc import Iterable, Iterator
from dataclasses import asdict
from typing import TYPE_CHECKING, Any

from triagebot.conversation import Fact, Message, Question, Reply, plain
from triagebot.errors import TriagebotError

if TYPE_CHECKING:
    from triagebot.delivery import Heard, WaitingClient

_KEYS = {"person": str, "text": str, "choice": str, "lang": str, "id": str}
#: Longer lines are refused before they are read as JSON.
LONGEST = 1_000_000


def talk(waiting_client: "WaitingClient", lines: Iterable[str], language: str) -> Iterator[str]:
    """For each line in, one line out, as soon as its turn is on disk. Blank lines are passed over."""
    for line in lines:
        if line.strip():
            yield json.dumps(_answer(waiting_client, line, language), ensure_ascii=False)


def _answer(waiting_client: "WaitingClient", line: str, language: str) -> dict[str, Any]:
    try:
        row = _read(line)
    except ValueError as error:
        return {"error": str(error)}
    message = Message(row.get("text", ""), row.get("choice"), row.get("lang"))
    try:
        heard = waiting_client.hear(f"lines:{row['person']}", message, language, row.get("id"))
    except TriagebotError as error:
        return {"error": str(error), "person": row["person"]}
    return reply_row(row["person"], heard)


def _read(line: str) -> dict[str, str]:
    if len(line) > LONGEST:
        raise ValueError(f"a line may be at most {LONGEST} characters long")
    try:
        row = json.loads(line)
    except (ValueError, RecursionError) as error:
        raise ValueError(f'not JSON ({error}); write {{"person": "p1", "text": "…"}}') from None
    if not isinstance(row, dict):
        raise ValueError('a line is an object: {"person": "p1", "text": "…"}')
    for name, value in row.items():
        if name not in _KEYS:
            raise ValueError(f"unknown key {name!r}; there are: {', '.join(_KEYS)}")
        if value is not None and not isinstance(value, _KEYS[name]):
            raise ValueError(f"{name!r} must be a string")
    kept = {name: value for name, value in row.items() if value is not None}
    if not kept.get("person"):
        raise ValueError('"person" is missing: say who is speaking')
    if "text" not in kept and "choice" not in kept:
        raise ValueError('a line needs "text" or "choice"')
    return kept


def reply_row(person: str, heard: "Heard") -> dict[str, Any]:
    """A reply as the object that goes out."""
    reply = heard.reply
    assert heard.case is not None, "the staff do not work through lines"
    return {
        "person": person,
        "case": heard.case.code,
        "state": heard.case.now.state,
        "status": reply.status,
        "question": question_row(reply.question) if reply.question else None,
        "replies": [plain(reply)],
        "candidates": candidate_rows(reply),
        "fastening": reply.result.fastening,
        "remover": reply.result.remover,
    }


def question_row(question: Question) -> dict[str, Any]:
    return {
        "id": question.id,
        "kind": question.kind,
        "choices": [{"id": choice.id, "label": choice.label} for choice in (*question.choices, *question.aside[:1])],
        "unit": question.unit,
    }


def candidate_rows(reply: Reply) -> list[dict[str, Any]]:
    """All fastenings with their removers and probabilities, best first."""
    return [
        {"fastening": row.fastening, "remover": row.remover, "probability": row.probability} for row in reply.candidates
    ]


def fact_row(fact: Fact) -> dict[str, Any]:
    """One thing understood: the question, the reading's own values, and the words that it came from."""
    values = {name: value for name, value in asdict(fact.reading).items() if name != "question"}
    kind = type(fact.reading).__name__.removesuffix("Reading").lower()
    return {"question": fact.reading.question, "reading": {"kind": kind, **values}, "text": fact.text}
