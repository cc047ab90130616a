"""Every sentence of the README that says what the bot does is proved here: by saying those words to it, after "hello",
or by the test that is named. A sentence that is neither is an opinion or advice, and stands in its own list."""

from pathlib import Path

import pytest

from tests.claims import assert_exists, assert_nothing_is_left, proves
from tests.conversation.guides import shipped_guide
from tests.counter.shop import Shop
from triagebot.conversation import plain
from triagebot.testing import ScriptedPerson

#: Sentences that another test proves: `file::test`.
ELSEWHERE = {
    "It talks on Telegram, on Matrix, in a terminal and on a small web page.": (
        "tests/channels/telegram/test_conversation.py::test_by_typing_alone_it_ends_the_same",
        "tests/channels/matrix/test_two_channels.py::",
        "tests/channels/test_terminal.py::",
        "tests/pages/chat/test_chat.py::",
    ),
    "Both set up `.venv/` by themselves on a machine that has Python 3.11 or newer.": (
        "tests/test_away_from_home.py::test_a_fresh_machine_sets_itself_up_once",
    ),
    "Everything can be typed; buttons and pictures are short cuts.": (
        "tests/channels/telegram/test_conversation.py::test_by_typing_alone_it_ends_the_same",
    ),
    "The chart is a fixed order of questions with the nearest listed value, put to the same people.": (
        "tests/study/test_chart.py::",
    ),
    "When the same people say it in words (`triagebot simulate --people 1000 --seed 1 --spoken`), 0.934 end right "
    "and 0.006 wrong.": ("tests/study/test_spoken.py::",),
    "That draw is a lucky one: of 6,000 others (`--people 6000 --seed 77`) 0.925 end right and 0.010 wrong.": (
        "tests/study/test_simulate.py::",
    ),
    "`sources.yaml` says where each value is from.": ("tests/topics/test_check.py::",),
}

#: What is no statement about what the bot does.
OPINIONS = {
    "Somebody has a rear wheel, and its sprockets must come off.",
    "Which remover fits depends on how they are fastened, and the wrong one slips, ruins the fitting and hurts "
    "knuckles.",
    "triagebot holds the conversation that a mechanic would hold.",
    "The people below are simulated.",
    "Some sizes are from memory and marked so.",
    "Measure yours, and correct them.",
    "They slip, guess and give up at rates that we chose ourselves (`triagebot/study/people.py`).",
    "The planner never sees them: it has rates of its own in `flow.yaml`.",
    "Both are judgements, so real people will do worse.",
    "How common each kind is, and how often people slip, are judgements.",
    "Follow the maker's manual and the rules where you live.",
    "If you are not trained, have a qualified mechanic check brakes and wheels before the bike is ridden.",
}


def test_every_sentence_of_the_readme_is_proved_or_is_an_opinion() -> None:
    assert_nothing_is_left("README.md", ELSEWHERE, OPINIONS)


@pytest.mark.parametrize("proof", [proof for proofs in ELSEWHERE.values() for proof in proofs])
def test_a_proof_that_is_named_exists(proof: str) -> None:
    assert_exists(proof)


@pytest.fixture
def person() -> ScriptedPerson:
    somebody = ScriptedPerson(shipped_guide())
    somebody.says("hello")
    return somebody


@proves(
    "README.md",
    "It asks about what can be seen, turned, counted and measured, takes answers in plain words, allows for miscounts, "
    'rulers and "no idea", and ends with the remover: what this shop calls it, where it hangs, which way it turns, and '
    "what can hurt you.",
)
def test_plain_words_a_miscount_a_ruler_and_no_idea_still_end_with_the_remover(person: ScriptedPerson) -> None:
    asked = {person.reply.question.id} if person.reply.question else set()
    answers = {
        "sprockets": "no idea", "spin": "nope, the middle stays still", "fitting": "ridges, lots of them",
        "count": "13", "size": "about 23 mm, with a ruler", "drive": "it coasts", "body": "no idea",
        "marking": "no name on it",
        "hub": "a plain hub", "torque": "no", "wire-ring": "no", "wheel": "out",
    }  # fmt: skip
    for _ in range(14):
        if person.reply.question is None or person.reply.status == "answer":
            break
        asked.add(person.reply.question.id)
        person.says(answers[person.reply.question.id])
        answers["count"] = "12, I counted again"
    text = plain(person.reply)
    assert {"spin", "count"} <= asked
    assert person.reply.result.remover == "remover-12-spline"
    for words in ("“the fat twelve”", "wall A, peg 4", "anticlockwise", "WARNING"):
        assert words in text


@proves("README.md", "It knows the kinds in `flows/rear-sprockets/catalogue.yaml`.")
@proves(
    "README.md",
    "A rare fitting, such as three notches or 24 splines, ends with a person when it is counted the same way twice.",
)
@pytest.mark.parametrize(
    ("first", "count", "size"),
    [
        ("3 notches, it stays still, 25 mm", "3", "25 mm"),
        ("6 notches, it stays still, 25 mm", "6", "25 mm"),
        ("8 notches, it stays still, 25 mm", "8", "25 mm"),
        ("24 splines, it stays still, 24 mm by calliper", "24", "24 mm by calliper"),
        ("16 outer notches, it stays still, 44 mm", "16", "44 mm"),
        ("3 notches", "3", "25 mm"),
        ("6 notches", "6", "25 mm"),
        ("8 notches", "8", "30 mm"),
        ("24 splines", "24", "24 mm by calliper"),
        ("16 outer notches", "16", "44 mm"),
    ],
)
def test_a_rare_fitting_ends_with_a_person(person: ScriptedPerson, first: str, count: str, size: str) -> None:
    answers = {
        "sprockets": "6", "count": count, "size": size, "spin": "stays", "drive": "it coasts",
        "marking": "no name on it", "body": "no splines", "hub": "a plain hub", "torque": "no", "wire-ring": "no",
        "fitting": first.split(",", maxsplit=1)[0].split(maxsplit=1)[1],
    }  # fmt: skip
    person.says(first)
    for _ in range(14):
        if person.reply.question is None:
            break
        person.says(answers[person.reply.question.id])
    assert person.reply.status == "person"
    assert person.reply.result.remover is None
    assert count in plain(person.reply)


@proves("README.md", "If two kinds still fit, it says what tells them apart.")
@proves("README.md", "A ruler cannot tell them apart.")
@proves("README.md", "The two 12-spline lockrings look alike and take different tools.")
def test_two_lockrings_that_a_ruler_cannot_tell_apart(person: ScriptedPerson) -> None:
    reply = person.says("10 sprockets, the middle turns along, 12 splines, 22.6 mm with a calliper")
    for _ in range(12):
        if reply.question is None:
            break
        reply = person.says("I don't know")
    assert reply.status == "look-alike"
    text = plain(reply)
    assert "splines" in text
    assert "everyday twelve" in text
    assert "other twelve" in text


@proves("README.md", "If a person must look, it hands over everything it knows.")
def test_a_person_gets_all_that_is_known(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "config"))
    shop = Shop(tmp_path)
    try:
        shop.staff("ada")
        for words in ("hello", "it stays still, 4 notches", "about 40 mm", "person"):
            shop.says("bob", words)
        card = shop.says("ada", f"case {shop.code('bob')}")
    finally:
        shop.end()
    for words in ("stays still", "4", "40 mm"):
        assert words in card


@proves(
    "README.md", "These words always work: *help*, *back*, *change*, *restart*, *stop*, *person* and *how do I check?*"
)
@pytest.mark.parametrize("word", ["help", "back", "change", "restart", "stop", "person", "how do I check?"])
def test_a_word_that_always_works(person: ScriptedPerson, word: str) -> None:
    person.says("6 sprockets", word)
    assert person.case.missed == 0


@proves("README.md", "It speaks English only, and it cannot see photographs.")
def test_english_only_and_photos_are_for_a_person(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    from triagebot.messages import Sent

    assert set(shipped_guide().spoken) == {"en"}
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "config"))
    shop = Shop(tmp_path)
    try:
        shop.says("bob", "hello")
        before = shop.held("bob").case.now.facts
        shop.says("bob", Sent("photo", files=({"id": "f1"},)))
        assert shop.held("bob").case.now.facts == before
    finally:
        shop.end()
