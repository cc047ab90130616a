"""The parts of an answer that are worked out: what would change it, what speaks against it, what the shop offers."""

from datetime import UTC, datetime

import pytest

from tests.words import words_of
from triagebot.conversation import Guide
from triagebot.conversation.policy import NextStep
from triagebot.conversation.reply import plain_of
from triagebot.conversation.shop_offers import reach
from triagebot.conversation.telling_apart import telling_question, typical_finding, what_would_change
from triagebot.identify import Decision, belief
from triagebot.testing import ScriptedPerson
from triagebot.topics import Fastening, remedy_of


@pytest.mark.parametrize(
    ("fastening", "finding"),
    [
        ("cassette-12-spline", "the hub’s body has eight deep splines"),
        ("cassette-12-spline-deep", "the hub’s body has nine splines with one narrower"),
        ("freewheel-12-spline-odd", "the 23 mm freewheel remover goes all the way home"),
        ("cassette-notched-ring", "the pedals always go round with the wheel"),
        ("fixed-notched-ring", "the bike can roll while the pedals stay still"),
    ],
)
def test_what_would_change_an_answer_is_the_check_that_a_mechanic_would_name(
    guide: Guide, fastening: str, finding: str
) -> None:
    step, row = _sure_of(guide, fastening), _row(guide, fastening)
    assert what_would_change(guide, guide.language("en").texts, step, row).startswith(
        f"If {finding}, it’s more likely to be "
    )


def test_what_would_change_an_answer_leads_to_another_remedy(guide: Guide) -> None:
    texts = guide.language("en").texts
    names = {texts(f"fastening-{f.id}"): f for f in guide.topic.catalogue.fastenings if not f.broad}
    for fastening in guide.topic.catalogue.fastenings:
        if fastening.remover is None:
            continue
        sentence = what_would_change(guide, texts, _sure_of(guide, fastening.id), fastening)
        rival = next(
            f
            for name, f in names.items()
            if sentence.endswith(f"it’s more likely to be {name}. In that case, stop and tell me.")
        )
        assert remedy_of(rival) != remedy_of(fastening)


def test_the_question_that_tells_two_apart_is_one_that_this_shop_can_put(guide: Guide) -> None:
    pair = [_row(guide, "freewheel-12-spline"), _row(guide, "freewheel-12-spline-odd")]
    assert telling_question(guide, pair) == "marking"
    assert telling_question(guide, [_row(guide, "freewheel-4-notch-32"), _row(guide, "freewheel-4-notch-40")]) == "size"


def test_what_speaks_against_an_answer_is_no_reason_for_it(person: ScriptedPerson) -> None:
    reply = person.says("5 cogs, stays still, two notches, 34 mm, it coasts, plain hub")
    while reply.status == "question":
        reply = person.says("I don't know")
    assert reply.result.remover == "remover-2-notch"
    told = words_of(person.says("why"))
    why = next(line for line in told.split("\n") if line.startswith("Why: "))
    assert "34 mm" not in why
    assert "This doesn’t fit, and the rest outweighs it: it measures 34 mm." in told


def test_hours_are_told_as_the_language_writes_them(guide: Guide) -> None:
    texts = guide.language("en").texts
    open_now = plain_of([reach(guide, texts, datetime(2026, 11, 25, 10, 0, tzinfo=UTC))])
    assert open_now.endswith("The shop is open now, until 13:00.")
    assert (
        reach(guide, texts, datetime(2026, 11, 25, 13, 30, tzinfo=UTC))
        .lines[-1]
        .endswith("The shop opens today at 14:00.")
    )
    assert (
        reach(guide, texts, datetime(2026, 12, 24, 12, 0, tzinfo=UTC))
        .lines[-1]
        .endswith("The shop opens on Tuesday 5 January at 15:00.")
    )


def test_services_for_damage_are_offered_to_those_who_have_it(person: ScriptedPerson, guide: Guide) -> None:
    person.says("5 cogs, stays still, two notches")
    sound = person.says("price")
    assert "while you wait" in words_of(sound)
    assert "stuck" not in words_of(sound)
    worn = ScriptedPerson(guide)
    worn.says("5 cogs, two notches, all rounded off")
    worn = worn.says("let the shop do it")
    assert "while you wait" not in words_of(worn)
    assert "stuck" in words_of(worn)


def _row(guide: Guide, fastening: str) -> Fastening:
    return guide.topic.fastenings[fastening]


def _sure_of(guide: Guide, fastening: str) -> NextStep:
    """A step after the answers that somebody with this fastening most likely gives about its middle."""
    model, row = guide.topic.model, _row(guide, fastening)
    found = [typical_finding(guide.topic.questions[q], row) for q in ("spin", "fitting", "count", "size", "sprockets")]
    decision = Decision("answer", (model.remedy_of(fastening),), 0.0)
    return NextStep(None, decision, belief(model, [finding for finding in found if finding is not None]))
