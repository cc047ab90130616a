"""What is looked at again before a remover is named, said to the built-in topic as readings."""

from collections.abc import Mapping

import pytest

from tests.strategies import rear_sprockets
from triagebot.conversation import Guide, plain
from triagebot.conversation.policy import NextStep, next_step
from triagebot.conversation.second_look import contradicted, motion_unseen, outweighed, unlike
from triagebot.identify import (
    ChoiceReading,
    CountReading,
    Decision,
    Reading,
    SizeReading,
    UnsureReading,
    belief,
    odd_one_out,
)
from triagebot.testing import ScriptedPerson

TOPIC = rear_sprockets()
STAYS, TURNS = ChoiceReading("spin", "stays"), ChoiceReading("spin", "turns")
SPLINES, NOTCHES = ChoiceReading("fitting", "splines"), ChoiceReading("fitting", "notches")
OUTER = ChoiceReading("fitting", "outer-notches")


def count(number: int) -> CountReading:
    return CountReading("count", number, number)


def mm(size: float, means: str = "calliper") -> SizeReading:
    return SizeReading("size", size, means=means)


def naming(fastening: str) -> Decision:
    return Decision("answer", (TOPIC.model.remedy_of(fastening),), 0.0)


def told(*readings: Reading, more: Mapping[str, Reading] | None = None) -> NextStep:
    """How it ends where somebody tells this, answers `more` when asked, and knows nothing else."""
    said, known = list(readings), dict(more or {})
    asked = dict.fromkeys((reading.question for reading in said), 1)
    while (step := next_step(TOPIC, said, asked)).question is not None:
        asked[step.question] = asked.get(step.question, 0) + 1
        said.append(known.get(step.question, UnsureReading(step.question)))
    return step


def asked_next(*readings: Reading) -> NextStep:
    return next_step(TOPIC, list(readings), dict.fromkeys((reading.question for reading in readings), 1))


@pytest.mark.parametrize(
    "seen",
    [
        pytest.param([SPLINES, STAYS, count(24), count(24), count(24), mm(23)], id="24 splines as wide as 12"),
        pytest.param([NOTCHES, STAYS, count(3), count(3), mm(25)], id="3 notches as wide as 2"),
        pytest.param([NOTCHES, STAYS, count(6), count(2)], id="6 notches, then 2"),
        pytest.param([SPLINES, TURNS, count(16), count(16), mm(23.4)], id="16 splines that turn"),
        pytest.param([NOTCHES, STAYS, count(8), count(8), mm(24)], id="8 notches as wide as 4"),
        pytest.param([NOTCHES, STAYS, count(6), mm(17)], id="the locknut's flats"),
    ],
)
def test_a_count_said_twice_is_not_overruled_and_flats_are_no_notches(seen: list[Reading]) -> None:
    step = told(*seen)

    assert step.decision.kind == "person"


def test_a_count_put_right_twice_is_put_right() -> None:
    step = told(SPLINES, STAYS, count(24), count(20), count(20), mm(21.5), CountReading("sprockets", 6, 6))

    assert step.decision.kind == "answer"


def test_a_size_that_fits_settles_two_counts_that_differ() -> None:
    named = naming("freewheel-12-spline")

    assert contradicted(TOPIC, named, (SPLINES, STAYS, count(20), count(12), mm(23))) == ()
    assert contradicted(TOPIC, named, (SPLINES, STAYS, count(20), count(12))) == ("size", "count")
    assert contradicted(TOPIC, named, (SPLINES, STAYS, count(20), count(12), mm(35))) == ("count",)


def test_a_remover_that_rests_on_the_motion_waits_for_the_spin_test() -> None:
    step = asked_next(SPLINES, count(12), count(12), mm(23.4), CountReading("sprockets", 7, 7))

    assert step.question in ("spin", "wheel")


def test_a_name_that_rests_on_what_nobody_saw_is_known_for_it() -> None:
    nothing_known = belief(TOPIC.model, [])

    assert motion_unseen(TOPIC, naming("freewheel-12-spline"), nothing_known, [SPLINES, count(12)]) == "spin"
    assert motion_unseen(TOPIC, naming("freewheel-12-spline"), nothing_known, [STAYS]) is None
    assert motion_unseen(TOPIC, naming("snap-ring-sprocket"), nothing_known, [SPLINES]) is None


def test_ten_sprockets_stand_for_the_spin_test() -> None:
    step = told(SPLINES, count(12), count(12), CountReading("sprockets", 10, 10))

    assert step.decision.kind == "answer"
    assert not step.unseen


def test_a_ring_that_unscrews_the_other_way_is_asked_about_twice() -> None:
    fixed = ChoiceReading("drive", "fixed")
    seen = (OUTER, TURNS, CountReading("sprockets", 1, 1), mm(38), count(3))
    once, twice = asked_next(*seen, fixed), told(*seen, fixed, fixed)

    assert once.question == "drive"
    assert twice.decision.kind == "answer"
    assert TOPIC.model.remedies[twice.decision.remedies[0]].direction == "clockwise"


def test_who_looked_at_the_locknut_is_sent_to_the_ring_beside_it() -> None:
    step = asked_next(NOTCHES, STAYS, count(6), mm(16))

    assert step.mistaken == "locknut-flats"
    assert step.question in TOPIC.flow.outcomes.sights


def test_what_somebody_does_not_know_is_asked_once_more_at_most() -> None:
    said: list[Reading] = [TURNS]
    asked: dict[str, int] = {"spin": 1}
    while (step := next_step(TOPIC, said, asked)).question is not None:
        asked[step.question] = asked.get(step.question, 0) + 1
        known = {"fitting": SPLINES, "count": count(12), "sprockets": CountReading("sprockets", 8, 8)}
        said.append(known.get(step.question, UnsureReading(step.question)))

    assert {asked.get(name, 0) <= 2 for name in ("body", "marking", "torque", "size")} == {True}
    assert asked.get("lockring-tool", 0) <= 1


def test_all_that_was_outweighed_is_found() -> None:
    readings: list[Reading] = [STAYS, SPLINES, count(24), count(12), count(12), mm(23), ChoiceReading("torque", "yes")]
    decision = naming("freewheel-12-spline")

    assert outweighed(TOPIC, decision, readings) == [count(24), ChoiceReading("torque", "yes")]
    assert outweighed(TOPIC, decision, [STAYS, SPLINES, count(12), mm(23)]) == []


@pytest.mark.parametrize(("number", "fits"), [(1, True), (4, False), (5, False), (7, True), (12, True), (13, True)])
def test_numbers_of_sprockets_that_a_cassette_never_has_are_outweighed(number: int, fits: bool) -> None:
    told_of_it = CountReading("sprockets", number, number)

    assert outweighed(TOPIC, naming("cassette-12-spline"), [told_of_it]) == ([] if fits else [told_of_it])


def test_what_fits_badly_is_asked_again_only_where_it_decides() -> None:
    seven = CountReading("sprockets", 7, 7)
    name = ChoiceReading("marking", "common-ring")
    narrow = ChoiceReading("body", "nine-one-narrow")

    assert odd_one_out(TOPIC.model, [seven, TURNS, count(12), name, narrow]) == "sprockets"
    assert asked_next(seven, TURNS, count(12), name, narrow).question is None


def test_the_fitting_and_the_motion_test_come_before_what_is_hard_to_see() -> None:
    nine = CountReading("sprockets", 9, 9)

    assert asked_next(nine, TURNS).question == "count"
    assert TOPIC.questions[str(asked_next(nine, TURNS, count(12)).question)].hidden


def test_a_tool_that_was_spoken_of_is_tried_like_all_else() -> None:
    eleven = CountReading("sprockets", 11, 11)
    seen = [eleven, TURNS, count(12), UnsureReading("body"), UnsureReading("marking")]
    asked = dict.fromkeys((reading.question for reading in seen), 1)

    assert next_step(TOPIC, seen, asked).question != "lockring-tool"
    assert next_step(TOPIC, seen, asked, frozenset({"lockring-tool"})).question == "lockring-tool"


def test_what_is_miscounted_now_and_then_is_no_contradiction() -> None:
    twelve, four = naming("freewheel-12-spline"), naming("freewheel-4-notch-40")

    assert contradicted(TOPIC, twelve, [count(11)]) == ()
    assert contradicted(TOPIC, twelve, [count(24)]) == ("count",)
    assert contradicted(TOPIC, four, [count(5)]) == ()
    assert "count" in contradicted(TOPIC, four, [count(6)])
    assert contradicted(TOPIC, naming("snap-ring-sprocket"), [count(9)]) == ()


@pytest.mark.parametrize("fastening", TOPIC.model.fastenings)
def test_whatever_is_named_can_be_looked_at_once_more(fastening: str) -> None:
    """The last of the remedies too."""
    readings: list[Reading] = [STAYS, TURNS, SPLINES, NOTCHES, count(1), mm(5)]
    assert set(unlike(TOPIC, fastening, readings)) >= set(outweighed(TOPIC, naming(fastening), readings))
    contradicted(TOPIC, naming(fastening), readings)


def test_what_is_unlike_one_fastening_may_be_like_another_that_no_remover_takes() -> None:
    told_of_it: list[Reading] = [STAYS, SPLINES, count(12), TURNS]
    assert unlike(TOPIC, "freewheel-12-spline-small", told_of_it) == [TURNS]
    assert outweighed(TOPIC, naming("freewheel-12-spline-small"), told_of_it) == []


@pytest.mark.parametrize("said", [("20 splines",), ("20",), ("20", "20 splines"), ("it has twenty splines",)])
def test_a_count_that_is_rare_only_because_its_kind_is_is_not_doubted(guide: Guide, said: tuple[str, ...]) -> None:
    person = ScriptedPerson(guide)
    person.says("7 cogs", "the middle stays still", *said)
    assert person.reply.status == "answer"
    assert person.reply.result.fastening == "freewheel-20-spline"


def test_a_count_that_no_kind_has_is_still_doubted(guide: Guide) -> None:
    person = ScriptedPerson(guide)
    person.says("7 cogs", "the middle stays still", "19 splines")
    assert person.reply.question is not None
    assert person.reply.question.id == "count"


@pytest.mark.parametrize(("number", "size"), [(4, 32.0), (4, 40.0), (2, 25.0)])
@pytest.mark.parametrize("half_width", [0.0, 0.5, 0.8])
def test_a_width_that_is_just_its_kinds_is_not_measured_again(number: int, size: float, half_width: float) -> None:
    gauge = SizeReading("size", size, half_width=half_width, means="screen-gauge")
    step = asked_next(NOTCHES, count(number), gauge)
    assert step.question != "size"
    assert step.decision.kind == "answer"


def test_a_width_that_fits_no_kind_is_measured_again() -> None:
    one = CountReading("sprockets", 1, 1)
    assert asked_next(NOTCHES, count(4), STAYS, one, mm(28)).question == "size"


def test_a_look_alike_that_nothing_speaks_against_keeps_the_answer_from_being_sure() -> None:
    seven, no_name = CountReading("sprockets", 7, 7), ChoiceReading("marking", "other")
    seen = [seven, count(12), SPLINES, STAYS, mm(23, "rule"), no_name]
    step, tried = told(*seen), told(*seen, ChoiceReading("freewheel-tool", "home"))
    assert (step.decision.kind, step.alike) == ("answer", True)
    assert (tried.decision.kind, tried.alike) == ("answer", False)


def test_who_offers_a_tool_tries_it_first() -> None:
    ten, twelve = CountReading("sprockets", 10, 10), count(12)
    asked = {"sprockets": 1, "count": 1}
    assert next_step(TOPIC, [ten, twelve], asked).question == "body"
    assert next_step(TOPIC, [ten, twelve], asked, frozenset({"lockring-tool"})).question == "lockring-tool"


def look_alike(guide: Guide) -> ScriptedPerson:
    """Somebody who was told two kinds, with nothing at hand to tell them apart."""
    person = ScriptedPerson(guide)
    person.says("10 sprockets", "12", "eight deep ones", "no name", "eight deep ones", "I don't have the tool")
    assert person.reply.status == "look-alike"
    return person


def test_who_has_the_tool_after_all_is_asked_to_try_it_and_the_try_decides(guide: Guide) -> None:
    person = look_alike(guide)
    person.says("I've got the lockring tool here")
    assert person.reply.question is not None
    assert person.reply.question.id == "lockring-tool"
    person.says("it stops short")
    assert person.reply.status == "answer"
    assert person.reply.result.remover == "lockring-tool-12-spline-deep"


def test_a_drive_that_was_told_unasked_is_asked_about_as_for_the_first_time(guide: Guide) -> None:
    person = ScriptedPerson(guide)
    person.says("fixed wheel, one sprocket, ring with 4 notches on the outside")
    assert person.reply.question is not None
    texts = guide.language("en").texts
    assert person.reply.question.text == texts("question-drive")
    assert texts("decides-direction") in plain(person.reply)


def test_the_usual_one_of_two_tools_that_look_alike_is_answered_for(guide: Guide) -> None:
    texts = guide.language("en").texts
    person = ScriptedPerson(guide)
    person.says("8 sprockets", "it turns", "12", "eight deep ones", "Wexmarrow")
    assert texts("enquiry-usual-tool.other") in plain(person.says("can I use the normal one"))
    assert texts("enquiry-how-different.other") in plain(person.says("how is it different"))
    assert "I’m fairly sure" in plain(person.says("which one is likelier"))
    assert texts("enquiry-usual-tool") in plain(look_alike(guide).says("can I use the normal one"))
    common = ScriptedPerson(guide)
    common.says("10 sprockets", "12", "nine splines")
    assert texts("enquiry-usual-tool.usual") in plain(common.says("is the usual tool ok?"))


def test_a_wire_ring_on_a_braking_hub_is_all_there_is_to_see() -> None:
    seen = ChoiceReading("hub", "brakes-backwards"), CountReading("sprockets", 1, 1), ChoiceReading("wire-ring", "yes")
    step = next_step(TOPIC, seen, {"fitting": 1})
    assert step.question is None
    assert step.decision.remedies == naming("snap-ring-sprocket").remedies
    assert asked_next(*seen[:2]).question in TOPIC.flow.outcomes.sights


def test_a_wire_ring_that_is_not_there_stands_for_no_look_at_the_fitting() -> None:
    known = CountReading("sprockets", 9, 9), ChoiceReading("body", "nine-one-narrow"), ChoiceReading("wire-ring", "no")
    assert asked_next(*known).question in TOPIC.flow.outcomes.sights
