"""What people ask in between: found for what it is, answered in a sentence or two, and nothing changes by it."""

from datetime import UTC, datetime, timedelta

import pytest

from tests.conversation.enquiries.rows import (
    ANSWERED,
    FOLDER,
    Row,
    after,
    right,
    rows,
    standing_at,
    unchanged,
    understood,
)
from tests.words import words_of
from triagebot.conversation import Guide, Message, open_case, turn
from triagebot.conversation.blocks import Question, Remark
from triagebot.conversation.enquiries import check_enquiries, find_enquiry, load_enquiries
from triagebot.counter.lending import at_home
from triagebot.pictures import picture
from triagebot.testing import Clock, ScriptedPerson

#: The share of the written rows that must be answered for what they ask.
RIGHT = 0.9
FILES = sorted(FOLDER.glob("asked-*.jsonl"))
#: Saturday 28 November 2026, 12:00 in the shop, which is open until 12:30 and again from 13:15.
OPEN = datetime(2026, 11, 28, 12, tzinfo=UTC)
AT_ANY_MOMENT = (None, "sprockets", "spin", "count", "size", "axle", "answered")
#: The form of questions that must stay answers.
ANSWERS = [
    ("fitting", "are those splines? lots of little ridges all round", "fitting"),
    ("axle", "a quick release lever, is that right?", "axle"),
    ("sprockets", "7 i think", "sprockets"),
]


@pytest.mark.parametrize("file", FILES, ids=lambda file: file.stem)
def test_what_is_asked_is_what_is_answered(guide: Guide, file: object) -> None:
    asked = rows(file)  # type: ignore[arg-type]
    made = [(row, after(guide, standing_at(guide, row.open), row)) for row in asked]
    missed = [f"{row.asks}: {row.text!r} -> {understood(each)}" for row, each in made if not right(row, each)]
    assert len(missed) <= (1 - RIGHT) * len(asked), "\n".join(missed)


@pytest.mark.parametrize("file", FILES, ids=lambda file: file.stem)
def test_no_question_changes_the_belief_or_ends_the_conversation(guide: Guide, file: object) -> None:
    questions = [row for row in rows(file) if row.asks not in ("person", "stop", "restart", "back", "change")]  # type: ignore[arg-type]
    cases = [(row, standing_at(guide, row.open)) for row in questions]
    assert [row.text for row, case in cases if not unchanged(case, after(guide, case, row))] == []


@pytest.mark.parametrize("question", AT_ANY_MOMENT)
@pytest.mark.parametrize(
    ("text", "asks"),
    [
        ("how much does it cost?", "price"),
        ("do you open on Saturday?", "open-day"),
        ("what's a spline", "what-is:spline"),
        ("can I just use a hammer and punch?", "shortcut-hammer"),
    ],
)
def test_at_any_moment(guide: Guide, question: str | None, text: str, asks: str) -> None:
    case = standing_at(guide, question)
    made = after(guide, case, Row(question, text, asks))
    assert understood(made) == asks
    assert unchanged(case, made)
    if question != "answered":
        assert isinstance(made.reply.blocks[-1], Question)


@pytest.mark.parametrize(("question", "text", "told"), ANSWERS)
def test_an_answer_in_the_form_of_a_question_is_one(guide: Guide, question: str, text: str, told: str) -> None:
    made = after(guide, standing_at(guide, question), Row(question, text, ""))
    puzzled = made.case.now.puzzle
    assert told in {reading.question for reading in made.case.now.readings} or (puzzled and puzzled.question == told)


def test_what_is_said_beside_a_question_counts(guide: Guide) -> None:
    for text in ("7 sprockets. how much is the deposit?", "it has 7 sprockets, how much does it cost?"):
        made = after(guide, standing_at(guide, "sprockets"), Row("sprockets", text, ""))
        assert [fact.reading.question for fact in made.understood] == ["sprockets"]
        assert "£" in words_of(made.reply)


def test_the_first_message_may_ask_and_is_told_who_answers(guide: Guide) -> None:
    person = ScriptedPerson(guide)
    nothing_said = open_case(guide, "AAA-001", "en", person.clock())
    made = turn(guide, nothing_said, Message("how much is it?"), person.clock())
    said = words_of(made.reply)
    assert said.index("bot at The Lantern & Ratchet") < said.index("£6.00")
    assert made.reply.question is not None


def test_the_question_comes_again_shortly_and_nothing_is_doubted(guide: Guide) -> None:
    person, texts = ScriptedPerson(guide), guide.language("en").texts
    person.says("7 sprockets")
    asked = person.reply.question
    assert asked is not None
    short, full = texts(f"question-{asked.id}.short"), texts(f"question-{asked.id}")
    for expected in (short, full, short):
        person.says("how much is it?")
        assert person.reply.question is not None
        assert person.reply.question.text == expected


def hears(guide: Guide, at: datetime, text: str) -> str:
    person = ScriptedPerson(guide, Clock(at - timedelta(minutes=1)))
    return words_of(person.says(text))


def test_hours_are_those_of_the_shop(guide: Guide) -> None:
    assert "Yes, we’re open until 12:30." in hears(guide, OPEN, "are you open?")
    assert "Not just now. The shop opens today at 13:15." in hears(guide, OPEN.replace(hour=13), "open now?")
    assert "Not just now. The shop opens on Tuesday 1 December" in hears(guide, OPEN.replace(hour=18), "open now?")
    assert "Yes, on Saturday 28 November: 9:30 to 12:30 and 13:15 to 17:00." in hears(guide, OPEN, "open saturday?")
    assert "No, we’re shut on Mondays. The shop opens on Tuesday" in hears(guide, OPEN, "do you open on mondays?")
    assert "Tuesday and Thursday 15:00 to 20:00" in hears(guide, OPEN, "what are your opening hours?")
    assert "shut from 24 December to 2 January 2027 (Winter break)" in hears(guide, OPEN, "open at christmas?")
    winter = datetime(2026, 12, 20, 12, tzinfo=UTC)
    assert "No, on Saturday 26 December we’re shut (Winter break)." in hears(guide, winter, "are you open on saturday?")
    weekend = hears(guide, OPEN.replace(day=26), "open at the weekend?")
    assert "Yes, on Saturday 28 November" in weekend
    assert "No, we’re shut on Sundays." in weekend


def test_where_and_how_to_ring(guide: Guide) -> None:
    assert "3 Signal Yard" in hears(guide, OPEN, "where are you?")
    assert "+44 1632 960 274" in hears(guide, OPEN, "what's your phone number?")


def test_a_tool_that_is_out_is_not_said_to_be_there(guide: Guide) -> None:
    person = ScriptedPerson(guide)
    person.says(*ANSWERED)
    assert "Yes: “the small four”, wall A, peg 7, 2 there now." in words_of(person.says("is that tool in now?"))
    person.guide = at_home(guide, {"remover-4-notch-24": 1})
    assert "one there now" in words_of(person.says("do you have that tool now?"))
    person.guide = at_home(guide, {"remover-4-notch-24": 2})
    assert "Not just now: “the small four” is out." in words_of(person.says("is that tool in now?"))
    assert "“the whip”" in words_of(person.says("can I borrow a chain whip from you?"))
    assert "deposit of £10.00" in words_of(person.says("how much is the deposit?"))


def test_what_was_named_is_told_of_that(guide: Guide) -> None:
    person = ScriptedPerson(guide)
    assert "That depends on what you have." in words_of(person.says("how tight does it go back?"))
    assert "Only the ring on a fixed wheel" in words_of(person.says("is it left-hand thread?"))
    person.says(*ANSWERED)
    assert "pedalling does that" in words_of(person.says("how tight does it go back?"))
    assert "turn anticlockwise" in words_of(person.says("which way?"))
    assert "the small four" in words_of(person.says("which tool do I need?"))


@pytest.mark.parametrize("question", [None, "condition", "fitting"])
def test_a_loose_or_damaged_fitting_is_not_ridden(guide: Guide, question: str | None) -> None:
    for text in ("can i still ride on it til saturday", "is it ok to ride it like this?", "can I ride it?"):
        said = words_of(after(guide, standing_at(guide, question), Row(question, text, "")).reply)
        assert "Don’t ride it with anything loose or damaged there" in said
        assert "Yes" not in said


def test_a_shock_is_not_answered_with_yes(guide: Guide) -> None:
    text = "could I get an electric shock from the motor if I take the wheel out"
    said = words_of(after(guide, standing_at(guide, "drive"), Row("drive", text, "")).reply)
    assert said.startswith("Switch it off and take the battery out")
    assert "leave it to the shop" in said


def test_a_chain_whip_is_named_only_where_one_is_needed(guide: Guide) -> None:
    row = Row("answered", "do i need a chain whip", "")
    assert "You need no chain whip" in words_of(after(guide, standing_at(guide, "answered"), row).reply)
    assert "A chain whip, please" in words_of(after(guide, standing_at(guide, "spin"), Row("spin", row.text, "")).reply)


def test_every_word_of_the_glossary_is_explained_and_its_picture_drawn(guide: Guide) -> None:
    known, texts = load_enquiries("en", guide.topic.folder), guide.language("en").texts
    common = guide.language("en").words.common
    for name in known.terms:
        assert texts.has(f"glossary-{name}")
    for picture_id in known.pictures.values():
        assert picture(guide.topic, picture_id, texts).svg
    assert find_enquiry("what is a chain whip?", known, common) is not None
    made = after(guide, standing_at(guide, "fitting"), Row("fitting", "whats a spline", ""))
    assert made.reply.picture == "fitting-kinds"


def test_nothing_is_found_in_noise_and_much_text_does_no_harm(guide: Guide) -> None:
    known, common = load_enquiries("en", guide.topic.folder), guide.language("en").words.common
    for text in ("", "?", "!!!", "\n", "😡😡", "asdf qwer", "7", "12 splines", "?" * 3000):
        assert find_enquiry(text, known, common) is None
    assert find_enquiry("how much is it? " * 400, known, common) is not None


def test_the_examples_ask_what_they_stand_for(guide: Guide) -> None:
    known, common = load_enquiries("en", guide.topic.folder), guide.language("en").words.common
    found = [(name, text, find_enquiry(text, known, common)) for name, text in known.like]
    missed = [(name, text) for name, text, enquiry in found if enquiry is None or enquiry.id != name]
    assert len(missed) <= 0.03 * len(found), missed


def test_files_are_whole(guide: Guide) -> None:
    assert check_enquiries("en", guide.topic.folder) == ()


@pytest.mark.parametrize(
    ("question", "text"),
    [(None, "it is a cassette"), ("count", "tomorrow"), ("axle", "it has a quick release"), (None, "it's stuck solid")],
)
def test_what_only_tells_something_is_weighed_for_no_question(guide: Guide, question: str | None, text: str) -> None:
    made = after(guide, standing_at(guide, question), Row(question, text, ""))
    told = [block.about for block in made.reply.blocks if isinstance(block, Remark)]
    assert not [about for about in told if about.startswith(("enquiry-", "glossary-"))]


def test_who_asks_whether_somebody_answers_is_told_and_not_sent_on(guide: Guide) -> None:
    text = "hang on am i talking to somebody in the shop or a computer"
    assert understood(after(guide, standing_at(guide, "sprockets"), Row("sprockets", text, "who"))) == "who"


def test_the_weather_is_not_told_the_opening_hours(guide: Guide) -> None:
    row = Row("sprockets", "what's the weather like tomorrow", "-")
    assert understood(after(guide, standing_at(guide, "sprockets"), row)) == "not-understood"
