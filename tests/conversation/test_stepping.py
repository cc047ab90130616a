"""Being led through the work: cautions at their step, what helps, and the shop in time (contract C11)."""

from dataclasses import replace

import pytest

from tests.conversation.invariants import hold_after_a_turn
from tests.conversation.test_glance import reached, told, with_removers
from triagebot.conversation import Guide, fold_events, open_case, plain, turn
from triagebot.conversation.blocks import Direction, Finding, Forward, Hazard, Needs, Picture, Remark, Step
from triagebot.conversation.events import LeftSteps, Stepped
from triagebot.conversation.mentoring import to_mentor
from triagebot.conversation.scene import Scene
from triagebot.conversation.turn import Message
from triagebot.counter.case_summary import reason_words
from triagebot.identify import ChoiceReading
from triagebot.shop.front_matter import ShopStep
from triagebot.testing import ScriptedPerson

FREEWHEEL = "6 sprockets, the middle stays still, 20 splines"
#: A message at a step says no more than this, what may be pressed aside.
MOST_WORDS = 100


def led(guide: Guide, *said: str) -> ScriptedPerson:
    person = ScriptedPerson(guide)
    person.says(FREEWHEEL)
    assert person.reply.status == "answer"
    for text in ("take me through it", *said):
        person.says(text)
        hold_after_a_turn(guide, person.case, person.reply, person.last.events)
    return person


def at(person: ScriptedPerson) -> str:
    guided = person.case.now.at("guided")
    return guided.what if guided is not None else ""


def test_every_kind_is_led_to_its_end_with_every_caution_before_its_step(guide: Guide) -> None:
    for fastening in with_removers(guide):
        result = reached(guide, fastening).result
        case = told(guide, fastening)
        scene = Scene(guide, case, case.opened)
        scene.go_on()
        case = scene.turn().case
        for _ in range(5):
            if case.now.question is None:
                break
            again = next(f for f in case.now.facts if f.reading.question == case.now.question)
            case = turn(guide, case, Message(again.text), case.opened).case
        if case.now.outcome != "answer":
            continue
        warned: list[str] = []
        seen = []
        message = Message(choice="steps")
        for _ in range(12):
            taken = turn(guide, case, message, case.opened)
            case, message = taken.case, Message(choice="done")
            kinds = [type(block) for block in taken.reply.blocks]
            if Step not in kinds:
                break
            seen.append(taken.reply.of(Step)[0].text)
            assert all(kinds.index(Step) > n for n, kind in enumerate(kinds) if kind is Hazard)
            warned += [block.caution for block in taken.reply.of(Hazard)]
            assert len(plain(replace(taken.reply, blocks=taken.reply.said)).split()) <= MOST_WORDS, fastening.id
        assert len(seen) >= 4, fastening.id
        assert set(result.cautions) <= set(warned), fastening.id
        assert isinstance(case.events[-1], LeftSteps)
        assert case.events[-1].finished


@pytest.mark.parametrize(
    ("words", "step"),
    [
        (("done", "its in"), "loosen"),
        (("done", "it's all the way in"), "loosen"),
        (("done", "done", "it moved"), "clamp-off"),
        (("ok",), "fit-tool"),
        (("done", "back"), "make-room"),
        (("done", "it doesn't go in"), "fit-tool"),
        (("done", "stops short"), "fit-tool"),
        (("done", "done", "it slips out"), "loosen"),
        (("done", "done", "wont budge"), "loosen"),
        (("done", "done", "nothing moves"), "loosen"),
        (("done", "done", "it's not moving at all"), "loosen"),
        (("done", "i dont have that"), "fit-tool"),
        (("done", "why?"), "fit-tool"),
        (("done", "which tool?"), "fit-tool"),
        (("done", "where were we"), "fit-tool"),
        (("done", "what is a spline"), "fit-tool"),
        (("done", "blub"), "fit-tool"),
        (("done", "forget me", "no"), "fit-tool"),
        (("nuts", "done"), "fit-tool"),
    ],
)
def test_where_words_lead(guide: Guide, words: tuple[str, ...], step: str) -> None:
    person = led(guide, *words)
    assert at(person) == f"freewheel/{step}"
    assert person.reply.status == "answer"
    assert not any(fact.reading.question == "spin" for fact in person.case.now.facts[3:])


def test_what_does_not_move_under_the_tool_is_no_spin_test(guide: Guide) -> None:
    person = led(guide, "done", "done")
    before = person.case.now.readings
    for words in ("it's not moving at all", "it turns", "it doesn't turn", "it stays still"):
        person.says(words)
        assert person.case.now.readings == before, words


def test_a_lockring_tool_that_stops_short_of_clean_splines_is_news_of_the_wheel(guide: Guide) -> None:
    person = ScriptedPerson(guide)
    person.says("11 sprockets, 12 splines, it turns with the sprockets", "nine splines, one narrower")
    assert person.reply.result.remover == "lockring-tool-12-spline"
    person.says("take me through it", "done", "it doesn't go in")
    assert at(person) == "lockring/fit-tool"
    assert ChoiceReading("lockring-tool", "stops-short") not in person.case.now.readings
    person.says("it still doesn't go in")
    assert ChoiceReading("lockring-tool", "stops-short") in person.case.now.readings
    assert person.reply.status == "question" or at(person) == "lockring/fit-tool"


def test_the_other_lockring_tool_that_stops_short_says_nothing_of_the_common_one(guide: Guide) -> None:
    person = ScriptedPerson(guide)
    person.says("11 sprockets, 12 splines, it turns with the sprockets", "eight deep splines", "wexmarrow")
    assert person.reply.result.remover == "lockring-tool-12-spline-deep"
    person.says("take me through it", "done", "it doesn't go in", "it still doesn't go in")
    assert not any(reading.question == "lockring-tool" for reading in person.case.now.readings)


@pytest.mark.parametrize("trouble", ["slips", "nothing-moves", "does-not-go-in"])
def test_after_two_tries_at_most_it_is_the_shop_s(guide: Guide, trouble: str) -> None:
    person = led(guide, *("done", "done")[: 1 if trouble == "does-not-go-in" else 2])
    helps = []
    for _ in range(4):
        person.presses(trouble)
        if person.reply.status == "person":
            break
        helps += [block.id for block in person.reply.of(Step)]
    assert (person.case.now.outcome, person.case.now.reason) == ("person", "stuck")
    assert 1 <= len(helps) <= 2
    assert len(set(helps)) == len(helps), "nothing is told twice"
    assert person.case.code in plain(person.reply)
    kept = [event for event in person.case.events if isinstance(event, Stepped) and event.exit == trouble]
    assert len(kept) == len(helps) + 1, "all of it is on the case"
    assert fold_events(person.case.events) == person.case


def test_staff_read_where_somebody_got_stuck(guide: Guide) -> None:
    person = led(guide, "done", "done", "it slips out", "again")
    texts = guide.language("en").texts
    assert reason_words(guide, texts, person.case, "stuck") == "“It slips” at step 3 of 6, 2 times"


def test_what_broke_is_the_shop_s_at_once(guide: Guide) -> None:
    person = led(guide, "done", "done", "something snapped")
    assert (person.case.now.outcome, person.case.now.reason) == ("person", "stuck")


def test_what_broke_has_a_button_where_a_tool_is_on(guide: Guide) -> None:
    person = led(guide, "done")
    assert "broke" in [choice.id for choice in person.reply.offers]
    person.presses("broke")
    assert person.reply.status == "person"


def test_where_the_remover_goes_is_shown_at_its_step(guide: Guide) -> None:
    assert led(guide).reply.shows is None
    assert led(guide, "done").reply.shows == "innermost-fitting"


def test_who_got_stuck_comes_back_to_the_step_by_asking_for_the_steps(guide: Guide) -> None:
    person = led(guide, "done")
    step = at(person)
    person.says("it slips", "it slips", "it slips")
    assert (person.reply.status, at(person)) == ("person", "")
    person.says("steps")
    assert at(person) == step
    assert person.reply.of(Step)


def test_again_after_a_try_is_that_trouble_again(guide: Guide) -> None:
    person = led(guide, "done", "done", "it slips out", "again")
    assert person.case.now.reason == "stuck"


def test_it_can_be_left_and_come_back_to(guide: Guide) -> None:
    person = led(guide, "done", "done", "stop")
    assert at(person) == ""
    assert person.reply.status == "answer"
    person.says("thanks")
    person.says("take me through it")
    assert at(person) == "freewheel/loosen"
    assert person.reply.of(Remark)[0].about == "steps-resumed"


def test_a_worn_fitting_ends_it(guide: Guide) -> None:
    person = led(guide, "done", "it's rounded off")
    assert (person.case.now.outcome, person.case.now.reason) == ("person", "referral")
    assert at(person) == ""


def test_another_count_leads_out_of_it_and_to_another_answer(guide: Guide) -> None:
    person = led(guide, "done", "oh there are 12 after all")
    assert at(person) == ""
    assert person.reply.status == "question"
    assert person.reply.of(Remark)[0].about == "changed-answer"
    person.says("23 mm by calliper", "I don't know")
    assert "12-spline" in person.reply.of(Finding)[0].text


def test_what_is_told_at_a_step_adds_its_caution_there(guide: Guide) -> None:
    person = led(guide, "nuts", "done")
    assert "solid-axle" in [block.caution for block in person.reply.of(Hazard)]


def test_a_motor_is_warned_of_first(guide: Guide) -> None:
    person = ScriptedPerson(guide)
    person.says("electric bike, motor by the pedals", FREEWHEEL)
    person.says("take me through it")
    hazards = [block.caution for block in person.reply.of(Hazard)]
    assert person.reply.of(Step)
    assert "electric" in hazards


def test_before_an_answer_there_are_no_steps(guide: Guide) -> None:
    person = ScriptedPerson(guide)
    person.presses("steps")
    assert at(person) == ""
    assert person.reply.question is not None


def test_a_mentor_gets_each_step_twice(guide: Guide) -> None:
    person = led(guide, "done")
    made = to_mentor(guide, person.case, "the blue one", person.reply, joined=False, ended=False)
    (forward,) = made.of(Forward)
    assert [type(block) for block in forward.blocks][-1] is Step
    assert any(block.about == "mentor-watch" for block in made.of(Remark))
    assert made.of(Step) == ()


def test_what_helps_is_for_the_mentor_to_send_on_too_and_stuck_is_said_as_it_is(guide: Guide) -> None:
    person = led(guide, "done", "its in", "it slips")
    made = to_mentor(guide, person.case, "the blue one", person.reply, joined=False, ended=False)
    (forward,) = made.of(Forward)
    assert [block.text for block in forward.blocks] == [person.reply.of(Step)[0].text]
    assert any(block.about == "mentor-watch-help" for block in made.of(Remark))
    person.says("it slips")
    made = to_mentor(guide, person.case, "the blue one", person.reply, joined=False, ended=True)
    assert "Leave it there" in plain(made)
    assert "before any tool goes on" not in plain(made)


def test_a_shop_says_a_step_in_its_own_words_and_adds_one(guide: Guide) -> None:
    own = (
        ShopStep.model_validate({"instead-of": "make-room", "text": "Wheel out, nut off, into the blue tray."}),
        ShopStep.model_validate({"after": "make-room", "id": "ask", "text": "Show us.", "cautions": ["teeth-cut"]}),
    )
    notes = tuple(
        replace(note, head=note.head.model_copy(update={"steps": own}))
        if "freewheel-20-spline" in note.head.fastenings
        else note
        for note in guide.shop.notes
    )
    shops = replace(guide, shop=replace(guide.shop, notes=notes))
    person = led(shops)
    assert "Step 1 of 7. Wheel out, nut off, into the blue tray." in plain(person.reply)
    person.says("done")
    assert "Step 2 of 7. Show us." in plain(person.reply)
    assert "teeth-cut" in [block.caution for block in person.reply.of(Hazard)]


def test_who_steps_keeps_the_case_of_before_these_steps_readable(guide: Guide) -> None:
    case = open_case(guide, "K7M-4QX", "en", told(guide, with_removers(guide)[0]).opened)
    assert fold_events(case.events) == case


def test_where_force_turns_something_a_picture_shows_which_way(guide: Guide) -> None:
    person = led(guide, "done", "its in")
    assert person.reply.of(Picture) == (Picture("turning-anticlockwise:freewheel-20-spline"),)
    assert led(guide, "done").reply.of(Picture) == (Picture("innermost-fitting"),)
    assert led(guide).reply.of(Picture) == ()
    ring = next(each for each in guide.topic.procedures if each.id == "fixed-ring")
    assert [(row.id, row.turns) for row in ring.steps if row.by_force] == [
        ("ring", "clockwise"),
        ("sprocket", "anticlockwise"),
    ]


def test_a_step_that_takes_nothing_says_so(guide: Guide) -> None:
    person = led(guide, "I don't have that")
    assert person.reply.of(Needs) == ()
    assert "nothing of ours" in plain(person.reply)
    assert led(guide, "done", "I don't have that").reply.of(Needs) != ()


def test_what_is_known_already_is_said_with_the_step_once(guide: Guide) -> None:
    person = led(guide, "done", "there are 20 after all")
    assert at(person) == "freewheel/fit-tool"
    assert len(person.reply.of(Step)) == 1
    assert len(person.reply.of(Hazard)) == 1


@pytest.mark.parametrize("words", ["again", "which tool?", "say that again"])
def test_who_is_stuck_is_not_told_again_how_it_turns(guide: Guide, words: str) -> None:
    person = led(guide, "done", "its in", "it slips", "it slips")
    assert person.case.now.reason == "stuck"
    person.says(words)
    assert person.reply.of(Direction) == ()
    assert "leave it for us" in plain(person.reply)


@pytest.mark.parametrize("words", ["leave it for now", "I'll come back later", "tomorrow"])
def test_who_leaves_for_now_comes_back_to_the_step(guide: Guide, words: str) -> None:
    person = led(guide, "done", words)
    assert at(person) == ""
    assert "Nothing is lost" in plain(person.reply)
    person.says("steps")
    assert at(person) == "freewheel/fit-tool"
    person.says("bye")
    assert "we’ll carry on right there" in plain(person.reply)
    assert at(person) == "freewheel/fit-tool"


def test_where_nothing_can_go_wrong_nobody_is_asked_to_choose(guide: Guide) -> None:
    person = led(guide, "the moon is up")
    assert "once that’s done" in plain(person.reply)
    assert "Which is nearest" not in plain(person.reply)
