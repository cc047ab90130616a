"""Commands at any moment, undo and change, stopping and coming back, a topic that changed meanwhile."""

from pathlib import Path

import pytest

from tests.conversation.guides import with_renamed, without_question
from tests.conversation.invariants import hold_after_a_turn
from tests.words import words_of
from triagebot.conversation import Guide, Message, look, plain
from triagebot.conversation.blocks import Finding, Remark, Understood
from triagebot.conversation.events import Adopted, Concluded, Remarked, Restarted
from triagebot.conversation.machine import latest_choices
from triagebot.conversation.outcome import because
from triagebot.identify import ChoiceReading, SizeReading
from triagebot.testing import ScriptedPerson

BEGINNING = ("the wheel is out of the bike", "the middle stays still", "12 splines")
WORDS = {
    "help": ("help", "Help!", "what can I say?"),
    "how": ("how do I check?", "how do I check that?", "how?"),
    "back": ("back", "go back", "undo"),
    "change": ("change", "change an answer", "I want to change my answer"),
    "restart": ("restart", "start over", "start again"),
    "stop": ("stop", "quit", "bye"),
    "person": ("person", "can I talk to a human?", "a real person please"),
}


@pytest.fixture
def begun(guide: Guide) -> ScriptedPerson:
    person = ScriptedPerson(guide)
    person.says(*BEGINNING)
    return person


def trace(person: ScriptedPerson) -> str:
    """What the last turn left in the case: the kind of its last event that is not a question."""
    events = [event for event in person.last.events if type(event).__name__ != "Asked"]
    last = events[-1]
    if isinstance(last, Remarked):
        return last.what
    if isinstance(last, Concluded):
        return {"stopped": "stop"}.get(last.outcome, last.outcome)
    return {"Undid": "back", "Listed": "change", "Restarted": "restart"}.get(type(last).__name__, type(last).__name__)


def _in_every_way() -> list[tuple[str, str]]:
    return [(command, words) for command, ways in WORDS.items() for words in ways]


@pytest.mark.parametrize(("command", "words"), _in_every_way())
@pytest.mark.parametrize("moment", ["first", "asked", "asked back", "picking", "doubted", "ended", "stopped"])
def test_the_words_that_always_work(guide: Guide, moment: str, command: str, words: str) -> None:
    person = at(moment, guide)
    person.says(words)
    hold_after_a_turn(guide, person.case, person.reply, person.last.events)
    if moment == "asked back" and command == "back":
        # what was asked back is taken back, before anything that was told
        assert person.case.now.puzzle is None
        assert len(person.case.now.facts) == 4
    else:
        assert trace(person) == command


def at(moment: str, guide: Guide) -> ScriptedPerson:
    """Somebody at one of the moments at which people say such things."""
    person = ScriptedPerson(guide)
    if moment == "first":
        return person
    person.says(*BEGINNING)
    if moment == "asked back":
        person.says("2.3 mm")
        assert person.case.now.puzzle is not None
    elif moment == "picking":
        person.says("change")
        assert person.case.now.picking
    elif moment == "doubted":
        person.says("35 mm by calliper", "9 speed")
    elif moment == "ended":
        person.says("no wait, 20 splines", "21.5 mm by calliper")
        while person.reply.status == "question":
            person.says("I don't know")
    elif moment == "stopped":
        person.says("stop")
    return person


def test_stopping_and_going_on_days_later(begun: ScriptedPerson) -> None:
    before, question = begun.case.now, begun.reply.question
    texts = begun.guide.language("en").texts
    assert begun.says("stop").status == "stopped"
    assert begun.reply.question is None
    assert begun.says("blub").status == "stopped"
    assert texts("after-stopped", code=begun.case.code) in words_of(begun.reply)
    begun.clock.wait(days=3)
    reply = begun.says("continue")
    assert reply.status == "question"
    assert reply.question == question
    assert begun.case.now == before
    assert words_of(reply).startswith(texts("welcome-back", known="x").split("x")[0])


def test_an_answer_after_a_stop_goes_on(begun: ScriptedPerson) -> None:
    begun.says("stop")
    reply = begun.says("about 23 mm")
    assert reply.status != "stopped"
    assert isinstance(begun.case.now.readings[-1], SizeReading)
    assert begun.says("back").status == "question"
    assert begun.reply.question is not None


def test_something_odd_after_a_stop_is_asked_back(begun: ScriptedPerson) -> None:
    begun.says("stop")
    assert begun.says("2.3 mm").status == "question"
    assert begun.case.now.puzzle is not None
    assert begun.says("yes").status != "stopped"
    assert begun.case.now.readings[-1] == SizeReading("size", 23.0)


def test_every_answer_can_be_taken_back(guide: Guide) -> None:
    person = ScriptedPerson(guide)
    shown = [(person.case.now.facts, person.reply.question)]
    for text in (*BEGINNING, "about 23 mm", "9 speed"):
        person.says(text)
        shown.append((person.case.now.facts, person.reply.question))
    for facts, question in reversed(shown[:-1]):
        person.says("back")
        assert person.case.now.facts == facts
        assert person.reply.question is None or question is None or person.reply.question.id == question.id
    assert words_of(person.says("back")).startswith(guide.language("en").texts("back-nothing"))


@pytest.mark.parametrize("place", range(4))
def test_every_answer_can_be_changed(begun: ScriptedPerson, place: int) -> None:
    known = list(dict.fromkeys(fact.reading.question for fact in begun.case.now.facts))
    before = begun.case.now.facts
    question = known[place]
    reply = begun.changes(question)
    assert reply.question is not None
    assert reply.question.id == question
    assert [f.reading.question for f in begun.case.now.facts] == [k for k in known if k != question]
    begun.says("back")
    assert begun.case.now.facts == before


def test_a_changed_answer_replaces_the_old_one(begun: ScriptedPerson) -> None:
    begun.changes("spin")
    begun.says("it turns")
    spins = [r for r in begun.case.now.readings if r.question == "spin"]
    assert spins == [ChoiceReading("spin", "turns")]
    assert begun.reply.question is not None


@pytest.mark.parametrize("words", ["2", "2.", "two", "the second one", "number 2 please", "option b", "(2)"])
def test_an_answer_is_picked_from_the_list_in_any_words(begun: ScriptedPerson, words: str) -> None:
    begun.says("change", words)
    assert begun.reply.question is not None
    assert begun.reply.question.id == begun.case.past[-1].readings[1].question == "spin"


def test_an_answer_is_picked_from_the_list_by_what_was_asked(begun: ScriptedPerson) -> None:
    begun.says("24 mm", "there are 9 sprockets", "no torque is stamped on it", "a plain hub", "no wire ring")
    for question in dict.fromkeys(fact.reading.question for fact in begun.case.now.facts):
        begun.says("change", begun.guide.language("en").texts(f"question-{question}.name"))
        assert begun.case.now.question == question
        assert question not in [fact.reading.question for fact in begun.case.now.facts]
        begun.says("back")


@pytest.mark.parametrize("words", ["blub", "17", "0", "I don't know", "", "no"])
def test_what_picks_nothing_from_the_list_loses_nothing(begun: ScriptedPerson, words: str) -> None:
    before = begun.case.now
    begun.says("change", words)
    hold_after_a_turn(begun.guide, begun.case, begun.reply, begun.last.events)
    assert begun.case.now.facts == before.facts
    assert begun.case.now.question == before.question


def test_a_fact_told_while_answers_are_listed_counts(begun: ScriptedPerson) -> None:
    begun.says("change", "there are 9 sprockets")
    assert [fact.reading.question for fact in begun.last.understood] == ["sprockets"]


def test_a_number_off_the_list_changes_nothing(begun: ScriptedPerson) -> None:
    before = begun.case.now
    begun.says("change", "17")
    assert begun.case.now.facts == before.facts
    assert begun.reply.question is not None
    assert begun.reply.question.id == before.question


def test_a_label_while_picking_from_a_list(begun: ScriptedPerson) -> None:
    begun.changes("fitting")
    texts = begun.guide.language("en").texts
    begun.says("change", texts("choice-fitting-notches"))
    hold_after_a_turn(begun.guide, begun.case, begun.reply, begun.last.events)
    assert {reading.question for reading in begun.case.now.readings} <= set(begun.guide.topic.questions)


def test_a_restart_can_be_taken_back(begun: ScriptedPerson) -> None:
    before = begun.case.now
    begun.says("restart")
    assert begun.case.now.facts == ()
    assert begun.reply.question is not None
    begun.says("back")
    assert begun.case.now == before


def test_an_outcome_ends_when_something_is_asked_anew(guide: Guide) -> None:
    person = at("ended", guide)
    assert person.reply.result.remover == "remover-20-spline"
    person.changes("spin")
    assert person.reply.status == "question"
    assert person.reply.result.remover is None
    assert guide.language("en").texts("one-more-thing") not in plain(person.reply)


def test_a_question_left_open_by_other_news_counts_once(begun: ScriptedPerson) -> None:
    question = begun.case.now.question
    asked = begun.case.now.asks
    for text in ("I have a motor", "yes there is a motor somewhere", "the motor makes noise"):
        begun.says(text)
        if begun.case.now.question == question:
            assert begun.case.now.asks == asked


def test_what_is_asked_beside_an_answer_stays_open_when_something_else_is_told(guide: Guide) -> None:
    person = ScriptedPerson(guide)
    person.says("it stays still, 20 splines, 21.5 mm by calliper, the wheel is out", "it's an electric bike")
    assert (person.reply.status, person.case.now.question) == ("answer", "motor")
    for text in ("there are 7 sprockets", "thanks", "no wire ring on it", "the edges are sharp"):
        person.says(text)
        assert (person.reply.status, person.case.now.question) == ("answer", "motor")
    assert person.case.now.asks["motor"] == 1
    person.says("I don't know")
    assert (person.reply.status, person.case.now.question) == ("answer", None)


def test_what_is_asked_of_the_likeliest_kind_may_be_asked_while_nothing_is_decided(guide: Guide) -> None:
    person = ScriptedPerson(guide)
    dont_know = "I'm hopeless at measuring, no idea"
    said = ("I've got six", "it's dismounted already", "I see twelve in the circle", "still", dont_know, "Fennadale")
    for words in said:
        person.says(words)
    question = person.says(dont_know).question
    assert question is not None
    assert question.id == "freewheel-tool"


def test_a_pending_proposal_survives_small_talk(begun: ScriptedPerson) -> None:
    begun.says("2.3 mm")
    for text in ("hello", "thanks", "why", "help", "how do I check?", "blub"):
        begun.says(text)
        assert begun.case.now.puzzle is not None
        assert "23 mm" in words_of(begun.reply)
    begun.says("no")
    assert begun.case.now.puzzle is None
    assert begun.reply.question is not None
    assert not any(isinstance(r, SizeReading) for r in begun.case.now.readings)


def test_no_tool_is_named_while_another_fits_if_what_is_asked_back_is_meant(guide: Guide) -> None:
    person = ScriptedPerson(guide)
    person.says("11 sprockets", "tarvolden", "12 spl turns 8 deep on the body")
    assert "not-read" not in {block.about for block in person.reply.blocks if isinstance(block, Remark)}
    for text in ("it coasts", "40 nm is stamped on it"):
        assert person.case.now.puzzle is not None
        assert person.case.now.outcome is None
        person.says(text)
    assert person.says("yes").status == "question"


def test_what_is_counted_does_not_say_where_it_lies(guide: Guide) -> None:
    person = ScriptedPerson(guide)
    person.says("ring with notches on the outside", "3 notches")
    assert latest_choices(person.case.now.readings)["fitting"] == "outer-notches"
    person.says("notches")
    assert latest_choices(person.case.now.readings)["fitting"] == "notches"


def test_taking_back_what_a_proposal_became_asks_it_back_again(begun: ScriptedPerson) -> None:
    begun.says("2.3 mm", "yes", "back")
    assert begun.case.now.puzzle is not None
    assert "23 mm" in words_of(begun.reply)


# --- the topic changes meanwhile ------------------------------------------------------------------------------------


def test_answers_to_a_question_that_is_gone_are_dropped_and_it_is_said(begun: ScriptedPerson) -> None:
    begun.says("9 sprockets")
    kept = tuple(f for f in begun.case.now.facts if f.reading.question != "sprockets")
    begun.guide = without_question(begun.guide, "sprockets")
    reply = begun.says("hello")
    hold_after_a_turn(begun.guide, begun.case, reply, begun.last.events)
    assert begun.case.now.facts == kept
    assert begun.guide.language("en").texts("topic-changed", count=1) in words_of(reply)
    assert reply.question is not None
    begun.says("hello")
    assert begun.guide.language("en").texts("topic-changed", count=1) not in words_of(begun.reply)


def test_nothing_is_said_when_nothing_is_lost(begun: ScriptedPerson) -> None:
    begun.guide = without_question(begun.guide, "wire-ring")
    facts, question = begun.case.now.facts, begun.reply.question
    begun.says("hello")
    assert begun.case.now.facts == facts
    assert begun.reply.question is not None
    assert question is not None
    assert begun.reply.question.id == question.id
    assert begun.guide.language("en").texts("topic-changed", count=0) not in words_of(begun.reply)


def test_what_was_open_beside_an_outcome_is_asked_again(guide: Guide) -> None:
    person = ScriptedPerson(guide)
    person.says("it's an ebike", "it stays still, 4 notches, 40 mm with a calliper, one sprocket")
    assert person.reply.status == "answer"
    assert person.reply.question is not None
    assert person.reply.question.id == "motor"

    person.guide = without_question(guide, "wire-ring")
    person.says("hello")

    assert person.reply.status == "answer"
    assert person.reply.question is not None
    assert person.reply.question.id == "motor"
    person.says("in the rear hub")
    assert "electric" in person.reply.result.cautions


def test_the_open_question_is_gone(begun: ScriptedPerson) -> None:
    begun.changes("spin")
    begun.guide = without_question(begun.guide, "spin")
    begun.says("it turns")
    hold_after_a_turn(begun.guide, begun.case, begun.reply, begun.last.events)
    assert begun.reply.question is not None
    assert begun.reply.question.id != "spin"


def test_a_choice_has_another_id_now(begun: ScriptedPerson, tmp_path: Path) -> None:
    begun.says("it has a plain hub", "no torque is stamped on it")
    old = begun.case.now.facts
    begun.guide = with_renamed(begun.guide, "plain", "ordinary", tmp_path / "topic")
    begun.says("hello")
    hold_after_a_turn(begun.guide, begun.case, begun.reply, begun.last.events)
    assert begun.case.now.facts == tuple(f for f in old if f.reading.question != "hub")


@pytest.fixture(scope="module")
def renamed_states(guide: Guide, tmp_path_factory: pytest.TempPathFactory) -> Guide:
    return with_renamed(guide, "ask-", "put-", tmp_path_factory.mktemp("renamed") / "topic", "flow.yaml")


@pytest.mark.parametrize("moment", ["first", "asked", "asked back", "picking", "doubted", "ended", "stopped"])
@pytest.mark.parametrize("text", ["hello", "back", "stop", "restart", "23 mm", "yes", "", "change", "person"])
def test_states_have_other_names_now(guide: Guide, renamed_states: Guide, moment: str, text: str) -> None:
    person = at(moment, guide)
    facts = person.case.now.facts
    person.guide = renamed_states
    look(person.guide, person.case, person.clock())
    person.says(text)
    hold_after_a_turn(person.guide, person.case, person.reply, person.last.events)
    if text in ("hello", "stop", "yes", "", "change", "person"):
        assert person.case.now.facts == facts
    assert isinstance(person.last.events[0], Adopted)
    assert not any(isinstance(event, Restarted) for event in person.last.events) or text == "restart"


def test_another_language_by_the_message(guide: Guide) -> None:
    person = ScriptedPerson(guide, language="xx")
    person.send(Message("it turns", language="en"))
    assert person.case.language == "en"


def test_a_person_who_comes_in_again_hears_what_is_known(guide: Guide) -> None:
    person = ScriptedPerson(guide)
    person.says("7 sprockets, it stays still")
    asked = person.reply.question

    person.presses("resume")

    known = because(guide, guide.language("en").texts, person.case)
    assert words_of(person.reply) == guide.language("en").texts("welcome-back", known=known)
    assert person.reply.question is not None
    assert asked is not None
    assert person.reply.question.id == asked.id


def test_facts_in_a_call_for_a_person_are_kept_and_a_person_has_it(guide: Guide) -> None:
    person = ScriptedPerson(guide)
    reply = person.says("12 splines, and I want to talk to a person")
    assert (person.case.now.outcome, person.case.now.reason) == ("person", "asked")
    assert {reading.question for reading in person.case.now.readings} == {"count", "fitting"}
    assert [type(block) for block in reply.blocks[:2]] == [Understood, Finding]
