"""The first message of every outcome is read at a glance: its size, its order, and the remover soon (contract C10)."""

import json
from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime
from itertools import combinations

import pytest

from triagebot.conversation import Case, Guide, Reply, follow, from_data, open_case, plain, to_data
from triagebot.conversation import outcome as outcomes
from triagebot.conversation.blocks import (
    CardLink,
    CaseCode,
    Direction,
    Finding,
    Hazard,
    NoteLinks,
    Offers,
    Tool,
    Understood,
)
from triagebot.conversation.events import Answered, Reason
from triagebot.conversation.policy import NextStep
from triagebot.conversation.scene import Scene
from triagebot.conversation.telling_apart import typical_finding
from triagebot.conversation.understood import Fact
from triagebot.identify import Decision, belief
from triagebot.testing import ScriptedPerson
from triagebot.topics import Fastening

AT = datetime(2026, 11, 25, 10, 0, tzinfo=UTC)
CARD = CardLink("Your card, for 14 days: https://shop.example.org/card/" + "x" * 32, "")
#: What the first message must hold in its first words.
SOON = 60
#: Why a person must look.
REASONS: tuple[Reason, ...] = ("asked", "doubt", "unlisted", "no-remover", "referral", "stuck", "mistaken")


def told(guide: Guide, fastening: Fastening) -> Case:
    """A case in which everything was said that somebody with this fastening finds."""
    case = open_case(guide, "K7M-4QX", "en", AT)
    found = [typical_finding(question, fastening) for question in guide.topic.questions.values()]
    facts = tuple(Fact(reading, "said") for reading in found if reading is not None)
    return follow(case, Answered(AT, facts))


def reached(guide: Guide, fastening: Fastening) -> Reply:
    """The first message of the outcome; what is asked once more gets the same answer."""
    case = told(guide, fastening)
    for _ in range(5):
        scene = Scene(guide, case, AT)
        scene.go_on()
        if (question := scene.case.now.question) is None:
            return scene.turn().reply
        again = [fact for fact in case.now.facts if fact.reading.question == question][:1]
        assert again, question
        case = follow(scene.case, Answered(AT, tuple(again)))
    raise AssertionError(f"{fastening.id}: asked on and on")


def hold(reply: Reply) -> str:
    text = plain(reply.before_question(CARD))
    assert len(text.split()) <= outcomes.MOST_WORDS, text
    assert len(text.replace("file://", "").replace(_folder(text), "")) <= outcomes.MOST_CHARACTERS, text
    return text


def _folder(text: str) -> str:
    """Where the shop's notes lie on this machine, which no shop's address is as long as."""
    return text.partition("file://")[2].partition("notes/")[0] or "\0"


def first_words(text: str) -> str:
    return " ".join(text.split()[:SOON])


def with_removers(guide: Guide) -> list[Fastening]:
    return [row for row in guide.topic.catalogue.fastenings if row.remover is not None]


def test_every_answer_is_read_at_a_glance(guide: Guide) -> None:
    kinds = set()
    for fastening in with_removers(guide):
        reply = reached(guide, fastening)
        assert reply.status == "answer", fastening.id
        kinds.add(str(reply.result.fastening))
        soon = first_words(hold(reply))
        (tool,), (direction,) = reply.of(Tool), reply.of(Direction)
        for part in (tool.name, tool.hangs, direction.text):
            assert " ".join(part.split()) in soon, (fastening.id, part)
        assert "deposit" in soon or "to use here only" in soon
    assert len(kinds) >= len(with_removers(guide)) - 1, "one kind may be rarer than what looks the same"


def test_an_answer_keeps_its_order(guide: Guide) -> None:
    for fastening in with_removers(guide):
        blocks = [type(block) for block in reached(guide, fastening).blocks]
        order = [Finding, Hazard, Tool, Direction, NoteLinks, CaseCode, Offers]
        assert [kind for kind in blocks if kind in order] == order


def test_one_line_warns_of_the_gravest_and_counts_the_others(guide: Guide) -> None:
    rank = ["warning", "caution", "notice"]
    for fastening in with_removers(guide):
        reply = reached(guide, fastening)
        (hazard,) = reply.of(Hazard)
        signals = [guide.topic.cautions[name].signal for name in reply.result.cautions]
        assert hazard.signal == min(signals, key=rank.index)
        assert f"This and {len(signals) - 1} more cautions come with the steps" in hazard.text


def test_a_shop_that_lacks_a_tool_says_so_as_soon(guide: Guide) -> None:
    empty = replace(guide, shop=replace(guide.shop, tools_file=guide.shop.tools_file.model_copy(update={"tools": ()})))
    for fastening in with_removers(empty):
        reply = reached(empty, fastening)
        assert "We don’t have one on the wall" in first_words(hold(reply))


@pytest.mark.parametrize("pair", range(2))
def test_two_kinds_are_read_at_a_glance(guide: Guide, pair: int) -> None:
    row = guide.topic.catalogue.look_alikes[pair]
    hold_two(guide, *(guide.topic.fastenings[name] for name in row.fastenings))


def test_any_two_kinds_are(guide: Guide) -> None:
    for one, other in combinations(with_removers(guide), 2):
        if (one.remover, one.direction) != (other.remover, other.direction):
            hold_two(guide, one, other)


def two_kinds(guide: Guide, one: Fastening, other: Fastening) -> Reply:
    """The first message where these two still fit."""
    model = guide.topic.model
    shares = belief(model, ())
    shares = shares * 0
    for row in (one, other):
        shares[model.fastenings.index(row.id)] = 0.5
    remedies = tuple(model.remedy_of(row.id) for row in (one, other))
    step = NextStep(None, Decision("look-alike", remedies, 0.0), shares)
    texts = guide.language("en").texts
    blocks, _ = outcomes.look_alike(guide, texts, told(guide, one), step, AT)
    return Reply(blocks, "look-alike")


def hold_two(guide: Guide, one: Fastening, other: Fastening) -> None:
    reply = two_kinds(guide, one, other)
    text = hold(reply)
    for tool in reply.of(Tool):
        assert tool.name in first_words(text), text
        assert " ".join(tool.hangs.split()) in first_words(text), text


def for_a_person(guide: Guide, fastening: Fastening, reason: Reason) -> Reply:
    """The first message where a person must look at this fastening, for this reason."""
    texts, model = guide.language("en").texts, guide.topic.model
    scene = Scene(guide, told(guide, fastening), AT)
    shares = belief(model, ()) * 0
    shares[model.fastenings.index(fastening.id)] = 1
    step = NextStep(None, Decision("person", (), 0.0), shares)
    scene.decide()
    scene.conclude(replace(step, referral=None))
    standing = scene.case.now
    ended = next(place for place in standing.places if place.kind == "ended")
    places = tuple(replace(p, reason=reason) if p is ended else p for p in standing.places)
    case = replace(scene.case, now=replace(standing, places=places))
    blocks, _ = outcomes.person(guide, texts, case, step, AT)
    return Reply(blocks, "person")


def persons(guide: Guide) -> Iterator[tuple[str, Reply]]:
    """Every first message that a person will look, by what it is and why."""
    for reason in REASONS:
        for fastening in guide.topic.catalogue.fastenings:
            if reason != "no-remover" or fastening.remover is None:
                yield f"{fastening.id}, {reason}", for_a_person(guide, fastening, reason)


def test_every_word_that_a_person_will_look_is_read_at_a_glance(guide: Guide) -> None:
    for _, reply in persons(guide):
        assert guide.shop.contact.phone in hold(reply)
        assert reply.of(CaseCode, Offers)


def test_a_short_echo_leads_to_the_answer_and_a_longer_one_gives_way(guide: Guide) -> None:
    short = ScriptedPerson(guide)
    short.says("6 sprockets", "the middle stays still", "20")
    assert [type(block) for block in short.reply.blocks][:2] == [Understood, Finding]
    (tool,) = short.reply.of(Tool)
    assert " ".join(tool.hangs.split()) in first_words(hold(short.reply))
    long = ScriptedPerson(guide).says(
        "wheel is out, it coasts, the middle stays still, 20 splines, 21.5 mm by calliper, 7 sprockets, plain hub, "
        "no torque stamped on it, no wire ring"
    )
    assert long.status == "answer"
    assert long.of(Understood) == ()
    hold(long)


def test_what_is_told_later_is_a_few_words(guide: Guide) -> None:
    person = ScriptedPerson(guide)
    person.says("6 sprockets, the middle stays still, 20 splines, 21.5 mm by calliper")
    assert person.reply.status == "answer"
    for text, expected in (
        ("axle nuts", "deep, hollow"),
        ("7 sprockets", "still the twenty"),
        ("no wire ring", "still"),
    ):
        reply = person.says(text)
        said = plain(replace(reply, blocks=reply.said))
        assert expected in said
        assert reply.of(Finding) == ()
        assert len(said.split()) <= 40, said
    changed = person.says("oh, there are 2 notches, no splines")
    if changed.status == "answer":
        assert changed.of(Finding)[0].text.startswith("That changes it.")


@pytest.mark.parametrize(
    ("words", "part"),
    [
        ("which tool?", "wall A, peg 5"),
        ("where is it?", "wall A, peg 5"),
        ("tldr", "wall A, peg 5"),
        ("say that again", "wall A, peg 5"),
        ("which way do I turn it?", "anticlockwise"),
        ("how sure are you?", "I’m sure of it."),
        ("why", "the count is 20"),
        ("what else do i need", "gloves"),
        ("how do I put it back", "Start the freewheel by hand"),
        ("price", "deposit of £10.00"),
        ("how long does it take", "about 15 minutes"),
        ("is it dangerous?", "Sprocket teeth cut."),
        ("can you just do it?", "while you wait"),
        ("buying new", "same thread as the hub"),
    ],
)
def test_what_is_asked_afterwards_is_answered_and_changes_nothing(guide: Guide, words: str, part: str) -> None:
    person = ScriptedPerson(guide)
    person.says("6 sprockets, the middle stays still, 20 splines")
    before = person.case.now
    assert part in plain(person.says(words))
    assert person.case.now == before
    assert person.reply.of(Finding) == ()


def test_every_button_of_an_outcome_does_something(guide: Guide) -> None:
    person = ScriptedPerson(guide)
    person.says("6 sprockets, the middle stays still, 20 splines")
    for choice in person.reply.offers:
        reply = person.presses(choice.id)
        assert reply.status == "answer"
        assert "out of date" not in plain(reply)
        assert len(plain(replace(reply, blocks=reply.said)).split()) > 5, choice.id


def test_an_outcome_is_kept_and_read_again(guide: Guide) -> None:
    for fastening in with_removers(guide)[:2]:
        reply = reached(guide, fastening)
        assert from_data(json.loads(json.dumps(to_data(reply)))).blocks == reply.blocks


def test_what_is_told_after_a_person_is_to_look_is_a_few_words_too(guide: Guide) -> None:
    person = ScriptedPerson(guide)
    person.says("5 cogs, middle stays still", "a ring with notches round the outside edge", "16 of them")
    assert person.reply.status == "person"
    for text in ("44 mm", "axle nuts", "6 sprockets"):
        reply = person.says(text)
        assert reply.status == "person"
        assert reply.of(Finding, CaseCode) == ()
        assert len(plain(replace(reply, blocks=reply.said)).split()) <= 40
        assert "still takes one of us" in plain(reply)
    person.says("oh wait, it has 12 splines, 23 mm")
    assert person.reply.status == "question", "what was told may be reason enough to ask on"
