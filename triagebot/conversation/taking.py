"""What somebody says about their wheel, applied to a case: the echo, warnings that cannot wait, and what comes next.

Rules of this file: what was read is echoed first, with what it replaces; a warning that it calls for stands before the
next question; after an outcome only what changes is said.
"""

import re
from dataclasses import replace

from triagebot.conversation import outcome
from triagebot.conversation.blocks import Understood
from triagebot.conversation.case import Case, Standing
from triagebot.conversation.events import Answered, Concluded, Insisted, Puzzled
from triagebot.conversation.machine import latest_choices, needed
from triagebot.conversation.policy import NextStep, next_step
from triagebot.conversation.scene import KEPT, Scene
from triagebot.conversation.second_look import outweighed
from triagebot.conversation.shop_offers import remover
from triagebot.conversation.understood import Fact, Meaning, Puzzle
from triagebot.conversation.wording import echo, either, listing, said
from triagebot.identify import ChoiceReading, CountReading, Decision, Reading, SizeReading, UnsureReading

#: A message that says nothing besides its facts.
NOTHING_ELSE = Meaning()

#: A message of at most so many words repeats a number and says nothing else.
_SHORTLY = 3
_NUMBER = re.compile(r"\d+")


def take(
    scene: Scene, facts: tuple[Fact, ...], mentions: tuple[str, ...], text: str, meant: Meaning = NOTHING_ELSE
) -> None:
    """Apply readings: echo them, say what of the message was left out, then go on."""
    asked, again = scene.case.now.question, scene.case.now.again
    stands = bool(facts) and _no_news(scene, facts)
    if stands and not meant.insists:
        scene.remark("repeated", text)
        scene.understood = facts
        clauses = [said(scene.guide, scene.texts, fact.reading) for fact in facts]
        scene.say("known-already", clauses=listing(scene.texts, clauses))
        _left_out(scene, meant)
        scene.stand_still()
        return
    before = note(scene, facts, mentions, text)
    told = {fact.reading.question for fact in facts}
    for question in sorted(told) if stands else [asked] if meant.insists and again and asked in told else []:
        scene.add(Insisted(scene.at, str(question)))
    waits_for = _to_ask_back_first(scene, before, facts, meant)
    _left_out(scene, meant, waits_for)
    if before.puzzle is not None and before.puzzle.question not in told and waits_for != before.puzzle:
        _set_aside(scene, before.puzzle)
    if waits_for is not None:
        if waits_for not in meant.puzzles:
            puzzle(scene, waits_for)
        return
    if before.outcome in outcome.NAMED and facts:
        _after_the_end(scene, before, facts)
        return
    if before.outcome == "person" and facts and _still_for_a_person(scene, before):
        if before.reason == "stuck":
            scene.fire("person", lambda state: Concluded(scene.at, "person", state, "stuck"))
        else:
            scene.conclude(scene.decide())
        scene.say("person-stays", code=scene.case.code)
        scene.offer_more()
        return
    warnings = _early_warnings(scene, before)
    if warnings and scene.decide().question is not None:
        scene.tell(*outcome.hazards(scene.guide, scene.texts, warnings))
    scene.go_on()


def _to_ask_back_first(scene: Scene, before: Standing, facts: tuple[Fact, ...], meant: Meaning) -> Puzzle | None:
    """What is to be asked back first, since a tool would be named now, and another or none if that is meant: what this
    message says too little surely, or what was asked back `before` and this message passes over."""
    told = {fact.reading.question for fact in facts}
    passed_over = before.puzzle if before.puzzle is not None and before.puzzle.question not in told else None
    for each in (*meant.puzzles[:1], *([passed_over] if passed_over else []), *meant.dropped):
        if each.proposed is not None and _hangs_on(scene, each.proposed):
            return each
    return None


def _hangs_on(scene: Scene, proposed: Reading) -> bool:
    """Whether a remover would be named now, and not the same if this were told too."""
    now, step = scene.case.now, scene.decide()
    if step.question is not None or step.referral is not None or step.decision.kind not in outcome.NAMED:
        return False
    barred = scene.guide.barred | now.settled
    then = next_step(scene.guide.topic, (*now.readings, proposed), now.asks, now.mentioned, barred)
    return then.question is not None or _ends(scene, then) != _ends(scene, step)


def _no_news(scene: Scene, facts: tuple[Fact, ...]) -> bool:
    """Whether all of this is known and none of it is what is asked or asked back, or stands in the way of an answer."""
    now = scene.case.now
    open_now = {now.question} | (needed(scene.guide.topic, now.question) if now.question is not None else frozenset())
    return now.puzzle is None and all(
        fact.reading in now.readings and fact.reading.question not in open_now for fact in facts
    )


def stands_by(scene: Scene, text: str) -> bool:
    """ "I told you": the answer to the open question that was given before counts once more, and the question is not
    asked again. False where there is none."""
    now = scene.case.now
    told = tuple(fact for fact in now.facts if fact.reading.question == now.question)
    if now.question is None or not told or isinstance(told[-1].reading, UnsureReading):
        return False
    _insist(scene, told[-1], text)
    return True


def counted_again(scene: Scene, facts: tuple[Fact, ...]) -> tuple[Fact, ...]:
    """Facts, with the count that was told in place of what says it once more, while a question is open that its words
    would answer too: "12 splines, as I said" while the hub's body is. What has a number of its own keeps it."""
    words = scene.guide.setting(scene.case.language, scene.case.now.question).words
    told = {f.reading.low: f for f in scene.case.now.facts if isinstance(f.reading, CountReading)}

    def meant(fact: Fact) -> Fact:
        reading, numbers = fact.reading, {int(number) for number in _NUMBER.findall(fact.text)}
        known = told.get(next(iter(numbers))) if len(numbers) == 1 else None
        if known is None or not isinstance(reading, ChoiceReading) or reading.question != scene.case.now.question:
            return fact
        covered = known.reading.question in words.covers.get(reading.question, ())
        return known if covered and (reading.question, reading.choice) not in words.own_counts else fact

    return tuple(dict.fromkeys(meant(fact) for fact in facts))


def said_once_more(scene: Scene, meant: Meaning, text: str) -> Meaning:
    """A message that says a count once more: it counts where it can say nothing else ("yes 24" while a maker's name is
    asked for), and is asked back where it may ("yes 3, I counted them twice" of three notches, while the sprockets
    are)."""
    now = scene.case.now
    told = {f.reading.low: f for f in now.facts if isinstance(f.reading, CountReading)}
    numbers = {int(number) for number in _NUMBER.findall(text)}
    before = told.get(next(iter(numbers))) if len(numbers) == 1 else None
    if before is None or now.question in (None, before.reading.question) or meant.command not in (None, "yes"):
        return meant
    if not meant.facts and not meant.puzzles:
        said = meant.insists or len(text.split()) <= _SHORTLY
        return replace(meant, facts=(before,), command=None) if said else meant
    (fact, *more) = meant.facts or (None,)
    again = meant.insists and not more and fact is not None and isinstance(fact.reading, CountReading)
    known = {each.reading.question for each in now.facts}
    if fact is None or now.question in known or not again or fact.reading.question != now.question:
        return meant
    return replace(meant, facts=(), puzzles=(Puzzle("likely", now.question, fact.text, fact.reading),))


def _insist(scene: Scene, fact: Fact, text: str) -> None:
    scene.reopen()
    scene.add(Answered(scene.at, (fact,), (), text[: 4 * KEPT]))
    scene.add(Insisted(scene.at, fact.reading.question))
    scene.understood = (fact,)
    scene.say("insisted")
    scene.go_on()


def _counted_before(scene: Scene, puzzle: Puzzle) -> Fact | None:
    """The count that was told and is said once more, where its number cannot answer what is open: "24, with a marker"
    while the sprockets are."""
    is_one = puzzle.kind == "range" or isinstance(puzzle.proposed, SizeReading)
    numbers = {int(number) for number in _NUMBER.findall(puzzle.text)} if is_one else set()
    counts = (fact for fact in reversed(scene.case.now.facts) if fact.reading.question != puzzle.question)
    return next((f for f in counts if isinstance(f.reading, CountReading) and {f.reading.low} == numbers), None)


def _left_out(scene: Scene, meant: Meaning, asked_back: Puzzle | None = None) -> None:
    """What of a message did not count, in the person's own words, but for what is `asked_back`."""
    for scope, words in meant.asides:
        if scope in ("other", "front", "memory"):
            scene.say("passed-other", said=words)
        elif scope in ("hearsay", "belief"):
            scene.say("passed-hearsay", said=words)
    if scene.case.now.outcome == "person":
        return
    if meant.unread and (asked_back is None or meant.unread not in asked_back.text):
        scene.say("not-read", said=meant.unread)


def _early_warnings(scene: Scene, before: Standing) -> list[str]:
    """Warnings that what was just told or touched on calls for, before hands go near the wheel again."""
    old, new = latest_choices(before.readings), latest_choices(scene.case.now.readings)
    touched = scene.case.now.mentioned - before.mentioned
    found = [
        row.caution
        for row in scene.guide.topic.flow.extra_cautions
        if (new.get(row.question) == row.choice and old.get(row.question) != row.choice)
        or (row.question in touched and row.question not in new)
    ]
    cautions = scene.guide.topic.cautions
    return [caution for caution in dict.fromkeys(found) if cautions[caution].signal == "warning"]


def note(scene: Scene, facts: tuple[Fact, ...], mentions: tuple[str, ...], text: str) -> Standing:
    """Apply readings and echo them; gives the standing before."""
    scene.reopen()
    before = scene.case
    scene.add(Answered(scene.at, facts, mentions, text[: 4 * KEPT]))
    scene.understood = facts
    if facts:
        scene.tell(_echo(scene, facts, before))
    return before.now


def _after_the_end(scene: Scene, before: Standing, facts: tuple[Fact, ...]) -> None:
    """Something told after the outcome: only what it changes is said; the whole outcome where another one holds."""
    step = scene.decide()
    was = next_step(scene.guide.topic, before.readings, before.asks, before.mentioned, scene.guide.barred)
    if step.question is not None or step.referral is not None or _ends(scene, step) != _ends(scene, was):
        scene.leave_steps()
        if step.question is not None and step.referral is None:
            scene.say("changed-answer")
        scene.go_on(lead=scene.texts("changed-answer"))
        return
    named = outcome.leading(scene.guide, step, step.decision)
    old, new = latest_choices(before.readings), latest_choices(scene.case.now.readings)
    told = {question: choice for question, choice in new.items() if old.get(question) != choice}
    added = outcome.added_cautions(scene.guide, told, named)
    scene.conclude(step)
    now, then = outcome.sureness(scene.guide, step), outcome.sureness(scene.guide, was)
    if now != then:
        scene.say(f"how-sure-{now}")
    if added:
        scene.tell(*outcome.hazards(scene.guide, scene.texts, added, short=True))
    against = tuple(outcome.reasons(scene.guide, scene.texts, scene.case, step, only_against=True))
    if against and any(fact.reading in outweighed(scene.guide.topic, step.decision, (fact.reading,)) for fact in facts):
        scene.tell(*against)
    if added or now != then:
        scene.say("rest-stays")
    else:
        scene.say("still-stands", tool=_in_short(scene, step))
    scene.offer_more()
    scene.follow_up_on(step, before)


def _still_for_a_person(scene: Scene, before: Standing) -> bool:
    """Whether a person must look for the same reason as `before`, at the same kind, and nobody asked for one. Somebody
    who got stuck with a tool stays stuck while it is the same tool."""
    step = scene.decide()
    if before.reason == "stuck":
        was = next_step(scene.guide.topic, before.readings, before.asks, before.mentioned, scene.guide.barred)
        return step.question is None and step.referral is None and _ends(scene, step) == _ends(scene, was)
    if step.question is not None or (step.decision.kind != "person" and step.referral is None):
        return False
    was = next_step(scene.guide.topic, before.readings, before.asks, before.mentioned, scene.guide.barred)
    if scene.reason(step) != before.reason or step.referral != was.referral:
        return False
    kinds = [outcome.leading(scene.guide, each, Decision("person", (), 0.0))[0].id for each in (step, was)]
    return kinds[0] == kinds[1] or before.reason == "doubt"


def _ends(scene: Scene, step: NextStep) -> tuple[str, tuple[str, ...]]:
    """What an outcome names."""
    named = outcome.leading(scene.guide, step, step.decision) if step.decision.kind in outcome.NAMED else ()
    return step.decision.kind, tuple(fastening.id for fastening in named)


def _in_short(scene: Scene, step: NextStep) -> str:
    """The removers that an outcome names, as the shop calls them."""
    removers = [str(fastening.remover) for fastening in outcome.leading(scene.guide, step, step.decision)]
    tools = [remover(scene.guide, scene.texts, each) for each in removers]
    return either(scene.texts, [tool.name or scene.texts(f"remover-{tool.remover}") for tool in tools])


def _echo(scene: Scene, facts: tuple[Fact, ...], earlier: Case) -> Understood:
    before = earlier.now
    old = {f.reading.question: f for f in before.facts if not isinstance(f.reading, UnsureReading)}
    changed = [
        f
        for f in facts
        if (f.corrects or not before.again)
        and f.reading.question in old
        and old[f.reading.question].reading != f.reading
        and not isinstance(f.reading, UnsureReading)
        and scene.guide.topic.questions[f.reading.question].purpose != "ability"
    ]
    text = echo(scene.guide, scene.texts, earlier, facts)
    if changed:
        instead = [said(scene.guide, scene.texts, old[f.reading.question].reading) for f in changed]
        text += " " + scene.texts("instead-of", clauses=listing(scene.texts, instead))
    return Understood(text, tuple(dict.fromkeys(fact.reading.question for fact in facts)))


def _set_aside(scene: Scene, passed_over: Puzzle) -> None:
    """Say that what was asked back does not count, since something else was told in place of a yes or no."""
    if passed_over.proposed is not None:
        scene.say("puzzle-set-aside", said=passed_over.text)


def puzzle(scene: Scene, puzzle: Puzzle) -> None:
    """Ask back about something before it counts; only a proposal waits for a yes or no."""
    scene.reopen()
    before = scene.case.now.puzzle
    if puzzle.proposed is not None and puzzle.proposed in scene.case.now.readings:  # it holds already
        if not scene.understood:
            take(scene, (Fact(puzzle.proposed, puzzle.text),), (), puzzle.text)
        return
    if puzzle.proposed is not None and before is not None and before.proposed == puzzle.proposed:
        take(scene, (Fact(puzzle.proposed, puzzle.text),), (), puzzle.text)  # said once more, so it is meant
        return
    counted = _counted_before(scene, puzzle) if puzzle.question != scene.case.now.question else None
    if puzzle.proposed is not None and counted is None:
        if before is not None and before.question != puzzle.question:
            _set_aside(scene, before)
        scene.decide()
        scene.fire("doubt", lambda state: Puzzled(scene.at, puzzle, state))
        return
    if (counted := counted or _counted_before(scene, puzzle)) is not None:
        _insist(scene, counted, puzzle.text)
        return
    scene.remark("not-understood", puzzle.text)
    name, question = scene.texts(f"question-{puzzle.question}.name"), scene.guide.topic.questions[puzzle.question]
    scene.say(f"puzzle-{puzzle.kind}-plain", said=puzzle.text, name=name, least=question.least, most=question.most)
