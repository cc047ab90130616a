"""What must hold for every message, and what depends on the setting."""

import dataclasses
from collections.abc import Callable, Mapping

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from tests.conversation.understanding.reading_rows import describe
from triagebot.conversation.understanding import Setting, Words, understand
from triagebot.conversation.understanding.normalise import plain
from triagebot.conversation.understanding.number_words import MOST_MENDED, MOST_TOKENS, tokenise
from triagebot.conversation.understood import Fact, Meaning
from triagebot.identify.readings import BoundReading, ChoiceReading, CountReading, SizeReading, UnsureReading
from triagebot.topics.schema import Question

SCRAPS = [
    "12", "twelve", "splines", "notches", "no", "not", "doesn't turn", "it turns", "23,4", "mm", "inch", '"', "7/8",
    "-", "wait", "sorry", "about", "between", "and", "or", "a bit wider than", "a 1-euro coin", "a quarter",
    "wheel", "out", "how", "change", "help", "?", ",", ".", "±", "of an", "half", "a", "one", "second", "9 speed",
    "string", "radius", "I don't know", "but", "40 Nm", "coaster brake", "(", "<b>", "=", "1e999", "\u202e",
    "\U0001f600", "٤", "what is",
]  # fmt: skip

messages = st.one_of(
    st.text(max_size=200),
    st.lists(st.sampled_from(SCRAPS), max_size=14).map(" ".join),
    st.lists(st.sampled_from(SCRAPS), max_size=14).map("".join),
    st.text(alphabet="0123456789.,/-+ \"'em", max_size=60),
)
opened = st.sampled_from(
    [None, "wheel", "drive", "spin", "fitting", "count", "size", "sprockets", "body", "marking", "motor", "condition"]
)


def _fits(fact: Fact, questions: Mapping[str, Question]) -> bool:
    question = questions[fact.reading.question]
    match fact.reading:
        case ChoiceReading(_, choice):
            return choice in question.choices
        case CountReading(_, low, high):
            return question.kind == "count" and question.least <= low <= high <= question.most
        case SizeReading(_, mm, half):
            return question.kind == "size" and 5 <= mm <= question.most + 5 and 0 <= half <= 25
        case BoundReading(_, low, high):
            return question.kind == "size" and (low is not None) != (high is not None)
        case UnsureReading():
            return True


@given(text=messages, open_question=opened, confirming=st.booleans())
@example(text="1e999 mm", open_question="size", confirming=False)
@example(text="4 " * 900, open_question="count", confirming=False)
@example(text="\ud800 12", open_question="count", confirming=False)
@example(text="a" * 10_000, open_question=None, confirming=False)
@example(text="-0", open_question="count", confirming=False)
@example(text="between between", open_question="size", confirming=True)
def test_nothing_that_can_be_typed_breaks_it(
    text: str, open_question: str | None, confirming: bool, setting: Callable[..., Setting]
) -> None:
    here = setting(open_question, confirming=confirming)
    questions = here.questions
    result = understand(text, here)
    assert isinstance(result, Meaning)
    assert result == understand(text, here)
    assert all(_fits(fact, questions) for fact in result.facts)
    assert all(0 < len(fact.text) <= 60 for fact in result.facts)
    named = [fact.reading.question for fact in result.facts if not isinstance(fact.reading, ChoiceReading)]
    assert len(named) == len(set(named))
    assert not (result.tone != "plain" and result.facts)


@given(text=messages)
def test_how_it_is_typed_does_not_matter(text: str, setting: Callable[..., Setting]) -> None:
    text = "".join(c for c in text if c.isascii() and c.isprintable())
    here = setting()
    calm, loud = understand(text, here), understand(f"  {text.upper()} ", here)
    assert [f.reading for f in calm.facts] == [f.reading for f in loud.facts]
    assert calm.command == loud.command


def test_a_long_message_is_cut_and_says_so(setting: Callable[..., Setting]) -> None:
    result = understand("12 splines " + "x " * 5000, setting())
    assert result.cut
    assert {fact.reading.question for fact in result.facts} == {"count", "fitting"}


@pytest.mark.parametrize(
    ("text", "command"), [("yes", "yes"), ("nope", "no"), ("yes that's right", "yes"), ("y", "yes")]
)
def test_while_confirming_a_yes_is_a_yes(text: str, command: str, setting: Callable[..., Setting]) -> None:
    result = understand(text, setting("torque", confirming=True))
    assert (result.command, result.facts) == (command, ())


def test_while_confirming_a_no_may_bring_the_right_value(setting: Callable[..., Setting]) -> None:
    result = understand("no, 24 mm", setting("size", confirming=True))
    assert result.command == "no"
    assert [fact.reading for fact in result.facts] == [SizeReading("size", 24.0)]


LABELS = ("Yes, it turns with the sprockets", "No, it stays where it is")


@pytest.mark.parametrize(
    ("text", "choice"),
    [
        (LABELS[0], "turns"),
        (LABELS[1].upper(), "stays"),
        ("No it stays where it is", "stays"),
        ("no, it stys wher it is", "stays"),
        ("yes it turns wth the sprokets", "turns"),
    ],
)
def test_a_label_is_an_answer_even_with_slips(text: str, choice: str, setting: Callable[..., Setting]) -> None:
    facts = understand(text, setting("spin", labels=LABELS)).facts
    assert [fact.reading for fact in facts] == [ChoiceReading("spin", choice)]


def test_a_shown_unsure_choice_is_not_knowing(setting: Callable[..., Setting]) -> None:
    shown = dataclasses.replace(
        setting("spin"), choices=("turns", "stays", "unsure"), labels=("It turns", "It stays", "I don't know")
    )
    for text in ("3", "the third", "I don't know"):
        assert [fact.reading for fact in understand(text, shown).facts] == [UnsureReading("spin")]


def test_the_persons_own_words_are_kept(setting: Callable[..., Setting]) -> None:
    facts = understand("Well — it’s got TWELVE Splines, ok?", setting()).facts
    assert {fact.text for fact in facts} == {"TWELVE Splines", "Splines"}


@pytest.mark.parametrize(
    ("text", "tone"),
    [
        ("", "empty"),
        ("   \n\t", "empty"),
        ("\u200b\u202e", "empty"),
        ("\x00\x01", "empty"),
        ("🎉🎉", "symbols"),
        ("!!!", "symbols"),
    ],
)
def test_a_message_without_words(text: str, tone: str, setting: Callable[..., Setting]) -> None:
    assert understand(text, setting("spin")) == Meaning(tone=tone)  # type: ignore[arg-type]


def test_a_message_with_more_words_than_anybody_writes_is_read_from_its_start(setting: Callable[..., Setting]) -> None:
    here = setting("count")
    short = understand("well " * (MOST_TOKENS - 2) + "12 splines", here)
    longer = understand("12 splines " + "well " * MOST_TOKENS + "turns", here)
    assert not short.cut
    assert longer.cut
    assert any(f.reading == CountReading("count", 12, 12) for f in (*short.facts, *longer.facts))


def test_who_writes_no_words_at_all_has_none_of_them_mended(words: Words) -> None:
    strange = [f"zq{a}{b}xv" for a in "abcdefgh" for b in "abcdefgh"]
    few, many = strange[: MOST_MENDED // 2], strange[: MOST_MENDED + 1]
    assert tokenise(plain(" ".join([*few, "splnies"])), words)[-1].key == "splines"
    assert tokenise(plain(" ".join([*many, "splnies"])), words)[-1].key == "splnies"


def test_what_was_counted_again_goes_where_it_was_counted_before(setting: Callable[..., Setting]) -> None:
    here = setting("sprockets")
    known = dataclasses.replace(here, answered=frozenset({"count"}))
    assert [f.reading for f in understand("24, i counted again", known).facts] == [CountReading("count", 24, 24)]
    assert [f.reading for f in understand("8, i counted again", known).facts] == [CountReading("sprockets", 8, 8)]
    assert understand("24", known).facts == ()


@pytest.mark.parametrize("opened", ["torque", None])
def test_a_rough_number_behind_a_size_is_asked_back_as_the_size(
    opened: str | None, setting: Callable[..., Setting]
) -> None:
    known = dataclasses.replace(setting(opened), answered=frozenset({"count", "size", "sprockets"}))
    meant = understand("about 22", known)
    assert meant.facts == ()
    assert [(p.kind, p.question) for p in meant.puzzles] == [("likely", "size")]
    assert "size" not in {p.question for p in understand("22", known).puzzles}


# --- what was once changed without a test that noticed -------------------------------------------------------------


@pytest.mark.parametrize(
    ("opened", "text", "reading", "came_from"),
    [
        ("spin", "not the middle, just the cogs", "spin=stays", "not the middle, just the cogs"),
        ("spin", "the cassette turns round it", "spin=stays", "cassette turns round it"),
        ("spin", "cogs spin around the middle", "spin=stays", "cogs spin around the middle"),
        ("spin", "cogs move together with the middle", "spin=turns", "cogs move together with the middle"),
        (
            "spin",
            "stuck a plaster on the middle bit and away it went with the cogs",
            "spin=turns",
            "plaster on the middle bit and away it went with the cogs",
        ),
        ("size", "23 m m", "size=23", "23 m m"),
        ("size", "it is 2.3 c m across", "size=23", "2.3 c m"),
    ],
)
def test_what_a_reading_came_from_is_said_whole(
    opened: str, text: str, reading: str, came_from: str, setting: Callable[..., Setting]
) -> None:
    (fact,) = understand(text, setting(opened)).facts
    assert (describe(fact.reading), fact.text) == (reading, came_from)


@pytest.mark.parametrize("text", ["23 m, m", "it's 23 m. m"])
def test_a_unit_is_not_put_together_over_a_stop(text: str, setting: Callable[..., Setting]) -> None:
    meant = understand(text, setting("size"))
    assert not meant.facts
    assert [(puzzle.kind, puzzle.question) for puzzle in meant.puzzles] == [("range", "size")]
