"""What is said at a step is read as about the work: trouble is never success, and success never a spin test.

Each kind of saying has siblings; what counts is what the conversation does next."""

from functools import cache

import pytest

from tests.conversation.guides import shipped_guide
from tests.conversation.invariants import hold_after_a_turn
from triagebot.conversation import plain
from triagebot.conversation.blocks import Advice, Excerpt, Remark, Step
from triagebot.conversation.turn import Turn
from triagebot.testing import ScriptedPerson

#: What leads to an answer whose work is led through, by procedure.
ANSWERS = {
    "freewheel": ("one cog, four notches, 40mm, coasts",),
    "lockring": ("9 sprockets, turns, 12 splines, nine splines on the body one narrower",),
    "fixed-ring": ("fixed wheel, one sprocket, ring with 4 notches on the outside", "no"),
    "snap-ring": ("one sprocket, snap ring, coaster brake", "nothing that a tool could grip"),
}


@cache
def _before(procedure: str, step: str) -> Turn:
    person = ScriptedPerson(shipped_guide())
    person.says(*ANSWERS[procedure])
    person.presses("steps")
    for _ in range(6):
        if _at(person) == f"{procedure}/{step}":
            return person.last
        person.presses("done")
    raise AssertionError(f"{procedure} has no step {step}")


def _at(person: ScriptedPerson) -> str:
    guided = person.case.now.at("guided")
    return guided.what if guided is not None else ""


def led_to(at: str) -> ScriptedPerson:
    """Somebody who has just been told that step."""
    person = ScriptedPerson(shipped_guide())
    person.last = _before(*at.split("/"))
    return person


def said(at: str, *texts: str) -> ScriptedPerson:
    person = led_to(at)
    for text in texts:
        person.says(text)
        hold_after_a_turn(person.guide, person.case, person.reply, person.last.events)
    return person


def helps(person: ScriptedPerson) -> list[str]:
    return [block.id for block in person.reply.of(Step) if block.id.startswith("help-")]


def unspun(person: ScriptedPerson, before: ScriptedPerson) -> bool:
    """Whether nothing was learned of the wheel but worn edges and what holds it ("nuts are off")."""
    kept = [each for each in person.case.now.readings if each.question not in ("condition", "axle")]
    return kept == list(before.case.now.readings)


# --- trouble: what helps, at its own step or the nearest that has it --------------------------------------------------

SLIPS = (
    "it came out again and again", "it slips out", "it jumped out", "the tool popped off", "it keeps coming out",
    "remover sprang out of the notches", "it's come out of the slots", "spanner flew off", "it won't stay in",
    "the thing hopped out when I pulled", "it came away from the hub", "fell out", "it cams out under load",
    "it bounced out", "it lost its grip", "out it came", "it came out", "its out", "it wobbles when i pull",
)  # fmt: skip
ROCKS = (
    "it rocks", "there's play", "it wobbles a bit", "sits loosely", "it's a bit loose in there", "it wiggles",
    "it feels sloppy", "sits crooked", "it goes in but it rocks a little", "it wont sit straight", "it tilts",
)  # fmt: skip
HALF_IN = (
    "it goes in only half way", "half in", "it goes in halfway then stops", "sticks out a few mm", "not fully in",
    "it won't seat", "nearly in", "it goes in a bit", "stops halfway", "theres a gap", "it hits something",
    "it isn't flush", "its not going all the way in", "axle is in the way", "not home yet", "it's too wide",
    "can't push it in", "it went in but only part way",
)  # fmt: skip
STUCK = (
    "nothing moves", "it won't budge", "rock solid", "i pulled really hard", "used oil overnight", "it hasn't moved",
    "i'm not strong enough", "i stood on the spanner", "no movement at all", "still tight", "no",
)  # fmt: skip
WORN = (
    "i think the notches are getting round", "edges look rounded", "the slots are chewed up", "it's rounding off",
    "metal shavings coming off", "the corners are going", "two notches are nearly gone", "im ruining the notches",
    "splines look worn", "it's stripping", "it moved but the notches look chewed", "the edges get rounder each time",
)  # fmt: skip
WRONG_WAY = (
    "i think i turned it the wrong way", "it got tighter", "it turned clockwise", "oops i tightened it",
    "wrong direction", "i pulled it clockwise", "it went tighter not looser", "i turned it to the right",
    "am i going the wrong way?", "i've been turning it clockwise",
)  # fmt: skip
CLAMP_ON = (
    "i left the nut on, thats fine right", "can i leave the nut on", "the nut is still on", "i'll leave it on",
    "do i need to take the clamp off", "forgot to take the skewer off", "i didnt take the nut off",
    "can the clamp stay on", "must i take off the nut", "kept the nut on", "skewer's still in",
)  # fmt: skip
CABLE = (
    "the cable is in the way", "the remover doesnt go past the cable", "i cant get the plug apart",
    "the wire is too thick", "plug won't come off", "connector wont go through the tool", "cable blocks it",
    "how do i get it past the wire", "the plug is stuck", "it won't go over the cable",
)  # fmt: skip
BROKE = (
    "something snapped", "the tool broke", "axle bent", "a piece broke off", "the balls fell out",
    "remover has cracked", "i sheared it", "i bent the tool", "ring has cracked", "it moved but something broke",
)  # fmt: skip
TURNS_ALONG = (
    "the whole wheel turns", "everything spins", "it all turns", "the wheel just spins", "the hub turns along",
    "the cassette turns with it", "how do i hold the wheel", "sprockets turn", "it just spins", "cogs just spin",
)  # fmt: skip
WHIP = (
    "chain whip slips", "the whip jumps off", "whip wont hold", "the chain whip keeps slipping", "the whip came off",
)  # fmt: skip


def _each(texts: tuple[str, ...], at: str, step: str, help: str) -> list[tuple[str, str, str, str]]:
    return [(at, text, step, help) for text in texts]


@pytest.mark.parametrize(
    ("at", "text", "step", "help"),
    [
        *_each(SLIPS, "freewheel/loosen", "freewheel/loosen", "clamp-again"),
        *_each(
            ("the tool jumps out", "it slips", "my screwdriver keeps popping out"),
            "snap-ring/ring",
            "snap-ring/ring",
            "find-the-gap",
        ),
        *_each(ROCKS, "freewheel/fit-tool", "freewheel/fit-tool", "clean-splines"),
        *_each(HALF_IN, "freewheel/fit-tool", "freewheel/fit-tool", "clean-splines"),
        *_each(HALF_IN, "lockring/loosen", "lockring/fit-tool", "clean-splines"),
        *_each(STUCK, "freewheel/loosen", "freewheel/loosen", "direction"),
        *_each(TURNS_ALONG, "lockring/loosen", "lockring/loosen", "whip-holds-back"),
        *_each(CABLE, "freewheel/fit-tool", "freewheel/fit-tool", "cable-passes"),
        *_each(WHIP, "lockring/loosen", "lockring/loosen", "whip-round-a-large-one"),
        ("freewheel/fit-tool", "nothing moves", "freewheel/loosen", "direction"),
        ("freewheel/clamp-off", "it slipped", "freewheel/loosen", "clamp-again"),
        ("lockring/refit", "it won't go on", "lockring/refit", "start-by-hand"),
        ("freewheel/make-room", "the nuts wont turn", "freewheel/make-room", "wheel-stays-in"),
        ("lockring/loosen", "the tool slips", "lockring/loosen", "tool-and-whip"),
    ],
)
def test_trouble_gets_what_helps(at: str, text: str, step: str, help: str) -> None:
    # "again and again" says that it is no first time, so the shop is next
    person = said(at, text)
    assert unspun(person, led_to(at))
    if "again" in text:
        assert person.reply.status == "person"
    else:
        assert (_at(person), helps(person)) == (step, [f"help-{help}"])


@pytest.mark.parametrize("text", [*WORN, *BROKE])
@pytest.mark.parametrize("at", ["freewheel/loosen", "lockring/loosen", "freewheel/clamp-off"])
def test_worn_edges_and_what_broke_end_the_work(at: str, text: str) -> None:
    person = said(at, text)
    assert (person.reply.status, _at(person)) == ("person", "")
    assert unspun(person, led_to(at))


@pytest.mark.parametrize(
    ("at", "text", "help"),
    [
        *[("freewheel/loosen", text, "other-way") for text in WRONG_WAY],
        *[("freewheel/clamp-off", text, "clamp-off-now") for text in CLAMP_ON],
        ("fixed-ring/ring", "it got tighter", "other-way-left"),
        ("fixed-ring/ring", "i turned it anticlockwise", "other-way-left"),
        ("fixed-ring/sprocket", "it went clockwise", "other-way"),
        ("freewheel/loosen", "the nut is on", "clamp-right-now"),
        ("freewheel/unscrew", "i left the clamp on", "clamp-off-now"),
        ("freewheel/fit-tool", "the locknut is still on", "nut-off-first"),
        ("lockring/loosen", "it made a crunch", "what-noise"),
        ("lockring/lift-off", "a spacer fell out", "keep-the-parts"),
        ("freewheel/loosen", "what if it slips?", "clamp-again"),
        ("freewheel/loosen", "im scared it will jump out", "clamp-again"),
    ],
)
def test_some_things_are_only_told(at: str, text: str, help: str) -> None:
    person = said(at, text)
    assert (_at(person), helps(person)) == (at, [f"help-{help}"])
    tried = person.case.now.at("guided")
    assert tried is not None
    assert tried.tried == ()
    assert unspun(person, led_to(at))
    assert plain(said(at, text, text).reply) != plain(person.reply), "never the same words twice in a row"


@pytest.mark.parametrize(
    "texts",
    [
        ("it came out again",),
        ("it slips out", "it popped out again"),
        ("the spanner slips off", "it jumped off a second time"),
        ("it slipped twice",),
        ("it slips out", "again"),
        ("it slips", "same thing"),
        ("it jumped out for the third time",),
        ("slipped", "slipped again"),
        ("it flew off", "it slips still"),
        ("popped out two times now",),
    ],
)
def test_slipping_twice_is_enough(texts: tuple[str, ...]) -> None:
    person = said("freewheel/loosen", *texts)
    assert (person.reply.status, person.case.now.reason) == ("person", "stuck")


@pytest.mark.parametrize(
    "text",
    [
        "i cut my hand", "my finger is bleeding", "i smashed my knuckles", "the tool slipped and skinned my knuckles",
        "i've trapped my thumb", "hit my hand on the sprocket", "something flew into my eye", "gashed my palm",
        "i hurt my wrist", "my hand slipped into the teeth", "ouch", "it moved but my thumb got caught",
    ],
)  # fmt: skip
def test_an_injury_goes_first(text: str) -> None:
    person = said("lockring/loosen", text)
    assert person.reply.of(Remark)[0].about == "steps-hurt"
    assert _at(person) == "lockring/loosen"
    assert unspun(person, led_to("lockring/loosen"))


# --- success ----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("at", "texts", "step"),
    [
        (
            "freewheel/fit-tool",
            (
                "home", "its in", "it's all the way in", "in", "fully home", "it fits", "sits tight",
                "it went in easily", "it's flush", "it fits fully", "the tool fits all the way",
                "it wouldnt go in but now it's home", "it doesn't wobble", "rock solid", "done",
            ),
            "loosen",
        ),
        (
            "freewheel/loosen",
            (
                "it moved", "it moved a bit", "it moved a tiny bit", "it moved more", "it gave", "it turned",
                "it's loose",
                "it let go", "it cracked", "came loose", "it broke loose", "it turned anticlockwise",
                "it wouldnt move but now it's loose", "it slipped at first but now it moved", "barely moved",
            ),
            "clamp-off",
        ),
        ("lockring/loosen", ("loud clicks", "it clicked loudly", "clicking", "the ring is turning"), "lift-off"),
        (
            "freewheel/clamp-off",
            ("clamp is off", "nut off", "took the nut off", "ive taken the skewer off", "its off", "i undid the nut"),
            "unscrew",
        ),
        (
            "lockring/lift-off",
            ("they are off", "they're off", "all off", "sprockets are off", "it came off", "lifted them off"),
            "refit",
        ),
        ("fixed-ring/ring", ("ring is off", "the ring came off", "it's off", "lockring unscrewed"), "sprocket"),
        ("fixed-ring/sprocket", ("sprocket is off", "cog came off", "got it off"), "refit"),
        ("snap-ring/ring", ("it popped out", "the ring is out", "its out", "it sprang off"), "sprocket"),
        ("snap-ring/protect", ("glasses on", "ive got my glasses on", "wearing goggles"), "ring"),
        ("freewheel/make-room", ("wheel is out", "took the wheel out", "nuts are off", "skewer out", "ok"), "fit-tool"),
        ("freewheel/loosen", ("the freewheel came off",), "refit"),
    ],
)  # fmt: skip
def test_success_leads_on(at: str, texts: tuple[str, ...], step: str) -> None:
    for text in texts:
        person = said(at, text)
        assert _at(person) == f"{at.partition('/')[0]}/{step}", text
        assert unspun(person, led_to(at)), text


@pytest.mark.parametrize(
    ("at", "text"),
    [
        ("freewheel/clamp-off", "it moved more"),
        ("freewheel/clamp-off", "do i keep turning?"),
        ("freewheel/loosen", "its in"),
        ("freewheel/loosen", "home"),
        ("freewheel/loosen", "it came off"),
        ("freewheel/loosen", "it slid off sideways"),
        ("freewheel/fit-tool", "is it in?"),
        ("freewheel/fit-tool", "it's in, right?"),
        ("freewheel/fit-tool", "how do i know its in?"),
        ("freewheel/fit-tool", "it moved"),
        ("freewheel/loosen", "it doesn't slip any more"),
        ("freewheel/loosen", "nothing broke"),
        ("freewheel/unscrew", "it turns"),
    ],
)
def test_what_is_no_success_of_this_step_stays_at_it(at: str, text: str) -> None:
    person = said(at, text)
    assert _at(person) == at
    assert person.reply.status == "answer"
    assert not helps(person)
    assert unspun(person, led_to(at))


@pytest.mark.parametrize("text", ["ok", "done", "yes", "next", "go on"])
def test_after_something_to_try_a_plain_word_is_asked_about(text: str) -> None:
    person = said("freewheel/loosen", "it slips out", text)
    assert _at(person) == "freewheel/loosen"
    assert [block.about for block in person.reply.of(Remark)] == ["steps-and-now"]
    person.says("it moved")
    assert _at(person) == "freewheel/clamp-off"


def test_what_nothing_answers_at_a_step_gets_what_can_be_said_there() -> None:
    person = said("freewheel/fit-tool", "blub")
    assert "It’s home" in plain(person.reply)
    assert "person" in plain(person.reply)
    assert plain(said("freewheel/fit-tool", "blub", "blub").reply) != plain(person.reply)


@pytest.mark.parametrize(
    ("procedure", "text", "step", "help"),
    [
        ("lockring", "chain whip slips", "loosen", "whip-round-a-large-one"),
        ("freewheel", "It goes in but it rocks a little", "fit-tool", "clean-splines"),
        ("freewheel", "the spanner keeps slipping off", "loosen", "clamp-again"),
        ("freewheel", "it won't budge", "loosen", "direction"),
        ("freewheel", "it only goes half way in", "fit-tool", "clean-splines"),
    ],
)
def test_trouble_told_before_the_steps_leads_to_its_step(procedure: str, text: str, step: str, help: str) -> None:
    person = ScriptedPerson(shipped_guide())
    person.says(*ANSWERS[procedure], text)
    assert (_at(person), helps(person)) == (f"{procedure}/{step}", [f"help-{help}"])


def test_trouble_told_after_it_is_the_shop_s_stays_there() -> None:
    person = said("freewheel/loosen", "it came out again", "still stuck")
    assert (person.reply.status, person.case.now.reason) == ("person", "stuck")
    assert [block.about for block in person.reply.of(Remark)] == ["steps-stuck-still"]


@pytest.mark.parametrize("text", ["Thank you. Please proceed.", "go on", "yes please", "proceed", "bet lets go"])
def test_who_wants_to_go_on_after_the_answer_gets_the_first_step(text: str) -> None:
    person = ScriptedPerson(shipped_guide())
    person.says(*ANSWERS["freewheel"], text)
    assert _at(person) == "freewheel/make-room"


def test_the_notes_are_not_read_out_for_what_is_told_at_a_step() -> None:
    for at, text in (("freewheel/clamp-off", "do i keep turning?"), ("lockring/loosen", "i put the whip on the left")):
        assert not said(at, text).reply.of(Excerpt), text


@pytest.mark.parametrize(
    "text",
    [
        "the cable is in the way",
        "the remover doesnt go past the cable",
        "i cant get the plug apart",
        "the plug is stuck",
    ],
)
def test_a_cable_in_the_way_is_no_answer_of_the_triage(text: str) -> None:
    person = ScriptedPerson(shipped_guide())
    person.says("my ebike back wheel has the motor in it and the gears are worn, 7 gears")
    before = person.case.now
    person.says(text)
    assert (person.case.now.readings, person.case.now.question) == (before.readings, before.question)
    assert [block.id for block in person.reply.of(Advice)] == ["help-cable-passes"]
