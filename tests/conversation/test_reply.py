"""A reply as blocks: its plain text, how others choose from it, and how it is kept."""

import json
from dataclasses import replace

import pytest

from triagebot.conversation import Choice, Guide, Reply, Result, from_data, plain, to_data, told
from triagebot.conversation.blocks import (
    CardLink,
    Finding,
    Forward,
    Hazard,
    NoteLinks,
    Offers,
    Picture,
    Preface,
    Question,
    Remark,
    Understood,
    WhatNext,
)
from triagebot.conversation.reply import CUT, lines
from triagebot.shop import NoteLink
from triagebot.testing import ScriptedPerson

NOTE = NoteLink("The small four", "https://shop.test/n/four")
ASKED = Question("spin", "choice", "Does it turn?", (Choice("turns", "Yes"), Choice("stays", "No")), picture="ring")
MIND = Hazard("warning", "WARNING", "Loosen it", "Mind your hands.", "slip")


def test_neighbours_that_belong_together_have_no_empty_line_between_them() -> None:
    other = replace(MIND, signal="notice", word="NOTICE", step="", text="Leave the face ring.")
    reply = Reply((Remark("First.\n\nThen."), Remark(""), MIND, other, NoteLinks("Read:", (NOTE,))), "answer")
    assert plain(reply) == (
        "First.\n\nThen.\n\nWARNING (Loosen it): Mind your hands.\nNOTICE: Leave the face ring.\n\n"
        "Read:\n– The small four: https://shop.test/n/four"
    )


def test_a_line_says_what_it_is() -> None:
    (warning,) = lines(MIND)
    assert warning.text[: warning.head] == "WARNING (Loosen it):"
    _, linked = lines(NoteLinks("Read:", (NOTE,)))
    assert (linked.item, linked.text, linked.link) == ("– ", NOTE.title, NOTE)
    assert [line.mark for line in lines(ASKED)] == ["question", "choice", "choice"]
    assert lines(Picture("fastening:cassette")) == ()


def test_choices_that_are_sent_on_are_not_listed_again() -> None:
    forward = Forward((Remark("Hold the wheel."), ASKED), ASKED.picture)
    reply = Reply((forward, replace(ASKED, text="What do they say?")), "question")
    assert plain(reply) == f"{CUT}\nHold the wheel.\n\nDoes it turn?\n1. Yes\n2. No\n{CUT}\n\nWhat do they say?"


def test_others_choose_by_type_and_put_blocks_where_they_belong() -> None:
    card = CardLink("Your card: https://shop.test/card/x", "https://shop.test/card/x")
    reply = Reply(
        (Finding("Sure.", "sure"), WhatNext("Come by.", "what-next"), Picture("f"), Preface("And:"), ASKED), "answer"
    )
    placed = reply.before_question(card).first(Remark("Hello."))
    assert [type(block).__name__ for block in placed.blocks] == [
        "Remark", "Finding", "WhatNext", "CardLink", "Picture", "Preface", "Question"
    ]  # fmt: skip
    assert placed.without(WhatNext, Question).of(WhatNext, Question) == ()
    assert told("Bye.").before_question(card).blocks == (Remark("Bye."), card)
    assert (reply.picture, reply.shows, reply.question) == ("f", "f", ASKED)
    assert reply.without(Picture).shows == "ring"


def test_what_leads_over_to_no_question_stays_before_what_is_added() -> None:
    card = CardLink("Your card.", "https://shop.test/card/x")
    assert Reply((Preface("And:"),), "answer").before_question(card).blocks == (Preface("And:"), card)


@pytest.mark.parametrize(
    "said", [("hello",), ("forget me",), ("it turns", "12 splines", "2.35 wide"), ("4 notches, 24 mm, it stays",)]
)
def test_a_reply_that_is_kept_is_read_as_it_was(guide: Guide, said: tuple[str, ...]) -> None:
    reply = ScriptedPerson(guide).says(*said)
    assert from_data(json.loads(json.dumps(to_data(reply)))) == replace(reply, candidates=())


def test_blocks_within_blocks_are_kept() -> None:
    reply = Reply((Forward((MIND, ASKED), "ring"), Offers((Choice("keep", "No"),))), "question", Result(notes=(NOTE,)))
    data = json.loads(json.dumps(to_data(reply)))
    assert data["blocks"][0]["blocks"][0]["is"] == "hazard"
    assert from_data(data) == reply


def test_a_message_that_was_kept_before_there_were_blocks_still_goes_out() -> None:
    old = {
        "text": "Understood: it turns.\n\nOur notes:\n– The small four: https://shop.test/n/four",
        "status": "answer",
        "question": {
            "id": "spin", "kind": "choice", "text": "Does it turn?", "unit": None, "picture": "ring", "aside": [],
            "choices": [{"id": "turns", "label": "Yes"}, {"id": "stays", "label": "No"}],
        },
        "result": {
            "fastening": "cassette-12-spline", "remover": "remover-12-spline", "cautions": ["slip"],
            "notes": [{"title": NOTE.title, "url": NOTE.url}],
        },
        "picture": "fastening:cassette-12-spline", "offers": [{"id": "keep", "label": "No"}], "links": [],
        "case": "AAA-001", "language": "en", "turn": 3,
    }  # fmt: skip
    reply = from_data(old)
    assert reply.question == ASKED
    assert (reply.offers, reply.picture) == ((Choice("keep", "No"),), "fastening:cassette-12-spline")
    assert reply.result == Result("cassette-12-spline", "remover-12-spline", ("slip",), (NOTE,))
    assert plain(reply) == f"{old['text']}\n\nDoes it turn?\n  1. Yes\n  2. No\n\n  (No)"


def test_a_newer_version_and_what_is_no_reply_are_refused() -> None:
    data = to_data(Reply((Understood("Understood."),), "question"))
    with pytest.raises(ValueError, match="newer triagebot"):
        from_data({**data, "v": 2})
    with pytest.raises(ValueError, match="shout"):
        from_data({**data, "blocks": [{"is": "shout", "text": "!"}]})
