"""What waits in an outbox is kept as data with a version, and goes out whatever version wrote it."""

from datetime import UTC, datetime
from typing import Any

import pytest

from tests.delivery.office import Office
from tests.delivery.recorded import RecordedChannel
from triagebot.conversation import plain, told
from triagebot.conversation.blocks import Choice, Forward, Offers, Question, Remark
from triagebot.messages.message import Incoming, Sent, body_of, forward_of, from_json, to_json
from triagebot.store.post import Post

A = "somebody"
ASIDE = [{"id": "unsure", "label": "I don’t know"}, {"id": "how", "label": "How do I check?"}]
#: Bodies as they were kept before replies had blocks.
ASKED: dict[str, Any] = {
    "text": "Understood: it stays still.\n\nCAUTION (Loosen it): teeth.",
    "status": "question",
    "question": {
        "id": "fitting",
        "kind": "choice",
        "text": "What is in the middle?",
        "choices": [{"id": "splines", "label": "Splines"}, {"id": "notches", "label": "Notches"}],
        "unit": None,
        "picture": "fitting-kinds",
        "aside": ASIDE,
    },
    "result": {"fastening": None, "remover": None, "cautions": ["teeth-cut"], "notes": []},
    "picture": None,
    "offers": [],
    "links": [],
    "case": "AAA-001",
    "language": "en",
    "turn": 4,
}
OFFERED: dict[str, Any] = {
    **ASKED,
    "text": "Shall I delete it all?",
    "question": None,
    "offers": [{"id": "erase", "label": "Yes"}, {"id": "keep", "label": "No"}],
}
SENT_ON: dict[str, Any] = {
    **ASKED,
    "text": "This is for the rider.",
    "question": None,
    "picture": "fastening:freewheel-4-notch-24",
    "result": {
        "fastening": None,
        "remover": None,
        "cautions": [],
        "notes": [{"title": "The small four", "url": "https://shop.example/four"}],
    },
    "forward": True,
}


@pytest.mark.parametrize("body", [ASKED, OFFERED, SENT_ON], ids=["a question", "offers", "to send on"])
def test_what_waited_at_an_upgrade_goes_out(office: Office, channel: RecordedChannel, body: dict[str, Any]) -> None:
    office.bring(A, "hello")
    with office.store.begin() as tx:
        mark = tx.lookup_hash(f"{channel.name}:{A}")
        who = Post(tx).found(mark).who
        assert who is not None
        Post(tx).put_out(who, mark, "send", body, office.clock())
    office.crash()
    office.run(office.delivery.idle())
    out = channel.last(A)
    assert plain(out.reply).startswith(body["text"])
    assert (out.case, out.turn, out.forward) == ("AAA-001", 4, body.get("forward", False))
    question = body["question"]
    assert out.reply.shows == (question["picture"] if question else body["picture"])
    listed = out.reply.question.choices if out.reply.question is not None else out.reply.offers
    wanted = question["choices"] if question else body["offers"]
    assert [(choice.id, choice.label) for choice in listed] == [(each["id"], each["label"]) for each in wanted]
    if question is not None:
        assert out.reply.question is not None
        assert [choice.id for choice in out.reply.question.aside] == ["unsure", "how"]
    assert out.reply.result.cautions == tuple(body["result"]["cautions"])


def test_an_older_question_loses_its_buttons_when_it_is_answered(office: Office, channel: RecordedChannel) -> None:
    """The change of a message goes out with what that message said, which an older version wrote."""
    office.bring(A, "hello")
    with office.store.begin() as tx:
        mark = tx.lookup_hash(f"{channel.name}:{A}")
        who = Post(tx).found(mark).who
        assert who is not None
        row = Post(tx).put_out(who, mark, "send", ASKED, office.clock())
        Post(tx).set_live(mark, row)
    office.crash()
    office.run(office.delivery.idle())
    office.bring(A, "9 sprockets")
    assert channel.changed[A][-1] == (len(channel.screens[A]) - 2, "there are 9 sprockets at the back")


def test_a_message_that_could_not_be_decrypted_waits_under_its_earlier_name() -> None:
    kept = to_json(Incoming("matrix", "$1:locked", A, {}, Sent("undecryptable"), datetime.now(UTC)))
    kept["content"]["what"] = "locked"
    assert from_json(kept).content == Sent("undecryptable")


def test_what_is_kept_says_its_version_and_comes_back_the_same() -> None:
    question = Question("spin", "choice", "Does it turn?", (Choice("turns", "Yes"), Choice("stays", "No")))
    reply = told("Understood.", question=question)
    body = body_of(None, reply, "en")
    assert body["v"] == 1
    assert [block["is"] for block in body["blocks"]] == ["remark", "question"]


def test_what_is_to_be_sent_on_asks_for_nothing() -> None:
    question = Question("spin", "choice", "Does it turn?", (Choice("turns", "Yes"), Choice("stays", "No")))
    reply = told("Send this on.", offers=(Choice("done", "Done"),))
    reply = type(reply)((*reply.blocks, Forward((Remark("Please look."), question), "spin-test")), "question")
    body = body_of(None, reply, "en")
    forward = forward_of(reply, body)
    assert forward is not None
    assert [block["is"] for block in forward["blocks"]] == ["remark", "remark", "picture"]
    assert forward["forward"] is True
    assert Offers in map(type, reply.blocks)
    assert forward_of(reply.without(Forward), body) is None
