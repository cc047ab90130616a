"""The words that always work (contract C6) and small talk: what each does to a case."""

import re
from collections.abc import Callable, Mapping
from dataclasses import replace
from datetime import timedelta

from triagebot.conversation import asking, at_hand, enquiring, handing, housekeeping, outcome, stepping, visiting
from triagebot.conversation.blocks import HowTo, Remark
from triagebot.conversation.events import Answered, Concluded, Listed, Restarted, Undid, Withdrew
from triagebot.conversation.scene import KEPT, Scene
from triagebot.conversation.taking import note, take
from triagebot.conversation.understanding.other_languages import other_languages
from triagebot.conversation.understood import Fact, Meaning
from triagebot.conversation.wording import how_to, listing, said
from triagebot.identify import ChoiceReading
from triagebot.shop import fold

#: Who has written nothing for so long comes back.
AWAY = timedelta(hours=1)
#: What a message may be that asks something.
_ASKING = frozenset({None, "question", "about"})
#: After so many messages in a row that gave nothing, a person is offered and nothing else.
_OFTEN = 2
#: How a command of a chat program begins.
_ORDER = re.compile(r"\s*[/!][^\W\d_]")


def not_understood(scene: Scene, meant: Meaning, text: str) -> None:
    if asking.is_asked(scene, text) and asking.answered(scene, text):
        scene.stand_still()
        return
    if stepping.cannot_say(scene, text):
        return
    if (misplaced := at_hand.misplaced(scene, text)) is not None:
        scene.remark(misplaced, text)
        scene.say(_for_the_outcome(scene, misplaced))
        scene.keep_open()
        return
    if at_hand.afterwards(scene, text):  # it was answered just now, and is no riddle
        scene.remark("afterwards", text)
        scene.stand_still()
        return
    offered = enquiring.offered(scene, text) if meant.mood in _ASKING and scene.case.missed < _OFTEN else ()
    scene.remark("not-understood", text)
    if offered:
        scene.say("perhaps-asked", count=len(offered), contact=scene.guide.shop.contact.line)
        scene.keep_open()
        scene.asides = scene.offers = offered
        return
    missed = scene.case.missed
    scene.say(_what_was_missed(scene, meant, missed), contact=scene.guide.shop.contact.line)
    question = scene.question()
    if question is not None and missed >= 2:
        labels = [choice.label for choice in question.choices]
        if labels:
            scene.say("example-answers", first=labels[0], last=labels[-1])
        else:
            scene.say("example-number", number="12")
    if missed >= 2:
        scene.say("offer-person")
    scene.stand_still()


def _for_the_outcome(scene: Scene, name: str) -> str:
    """A text as it is said where a case ended so, if that is said otherwise."""
    reached = scene.case.now.outcome or ""
    return f"{name}.{reached}" if reached and scene.texts.has(name, reached) else name


def _what_was_missed(scene: Scene, meant: Meaning, missed: int) -> str:
    """The text that says so: by what the message speaks of, else in other words each time."""
    if meant.mood is not None and missed == 1:
        return f"mood-{meant.mood}"
    name = f"not-understood-{meant.tone}"
    variant = ("", "second", "third")[(missed - 1) % 3]
    if not variant:
        return name
    return f"{name if scene.texts.has(name, variant) else 'not-understood-plain'}.{variant}"


def in_another_language(scene: Scene, language: str, text: str) -> None:
    """Says in that language which one is spoken here, and how to reach the shop."""
    scene.remark("another-language", text)
    sentence = other_languages()[language].sentence
    scene.tell(Remark(sentence.replace("{ $contact }", scene.guide.shop.contact.line), "another-language"))
    scene.stand_still()


def _who(scene: Scene, meant: Meaning, text: str) -> None:
    scene.remark("who", text)
    scene.introduced = True
    scene.say("who-answers", shop=scene.guide.shop.name)
    scene.stand_still()


def _left(scene: Scene, meant: Meaning, text: str) -> None:
    scene.remark("left", text)
    scene.say("questions-left", count=len({fact.reading.question for fact in scene.case.now.facts}))
    scene.stand_still()


def touched_on(scene: Scene, meant: Meaning, text: str) -> None:
    """Something was named and nothing told about it, perhaps in a question about the work."""
    offered = any(scene.guide.topic.questions[question].needs_tool for question in meant.mentions)
    asked = not offered and asking.is_asked(scene, text)
    answered = asked and asking.answered(scene, text)
    if scene.case.now.outcome is None or not (answered or offered):
        if scene.case.now.outcome is None and not answered:
            _lead_in(scene, meant, text, asked=asked)
        take(scene, (), meant.mentions, text)
        return
    if not follow_up(scene, meant.mentions, text):
        scene.stand_still()


def _lead_in(scene: Scene, meant: Meaning, text: str, *, asked: bool) -> None:
    """Before the question that is open anyhow: who begins with what they want done is told what the bot does, and who
    asks for it later, what that depends on; to a word that people mix up there is something to say."""
    if len(scene.case.events) == 1:
        introduce(scene)
    elif asked:
        scene.say("notes-depend")
    for question in () if asked else meant.mentions:
        name = f"question-{question}"
        called = scene.texts(f"{name}.called").split(", ") if scene.texts.has(name, "called") else [""]
        if scene.texts.has(name, "touched") and any(fold(each) in fold(text) for each in called):
            scene.say(f"{name}.touched")


def follow_up(scene: Scene, mentions: tuple[str, ...], text: str) -> bool:
    """After a question was answered: ask about what it touched on, where that can matter still."""
    before = note(scene, (), mentions, text)
    step = scene.decide()
    if before.outcome in outcome.NAMED and step.question is None and step.decision.kind == before.outcome:
        scene.follow_up_on(step, before)
        return scene.case.now.question is not None
    scene.go_on()
    return True


def obey(scene: Scene, meant: Meaning, text: str) -> None:
    assert meant.command is not None
    COMMANDS[meant.command](scene, meant, text)


def ordered(text: str) -> str:
    """What stands behind a stroke or an exclamation mark, which is how chat programs have commands; else ""."""
    found = _ORDER.match(text)
    return text[found.end() - 1 :] if found is not None else ""


def order(scene: Scene, meant: Meaning, text: str) -> None:
    """Such a command is one of the words that always work, or none of ours: it answers nothing."""
    if meant.whole and meant.command is not None:
        obey(scene, meant, text)
        return
    first = len(scene.case.events) == 1
    scene.remark("no-command", text)
    scene.say("no-such-command")
    if first:
        introduce(scene)
    scene.keep_open()


def _help(scene: Scene, meant: Meaning, text: str) -> None:
    scene.remark("help", text)
    scene.introduced = True
    scene.say("help", shop=scene.guide.shop.name, purpose=scene.texts("topic-purpose"))
    scene.stand_still()


def _how(scene: Scene, meant: Meaning, text: str) -> None:
    if _about_the_work(scene, meant) and asking.answered(scene, text, surely=True):
        scene.stand_still()
        return
    begins = len(scene.case.events) == 1 and not meant.whole
    scene.remark("how", text)
    if begins:  # not how to check something, but how to do what the bot is for
        introduce(scene)
        scene.stand_still()
        return
    target = meant.target or scene.case.now.question
    if target is None:
        scene.say("how-nothing")
    else:
        scene.tell(HowTo(how_to(scene.texts, target), target))
        if scene.guide.address is not None and scene.guide.topic.questions[target].kind == "size":
            scene.say("gauge-how", url=f"{scene.guide.address}/gauge")
    if scene.case.now.outcome is None:
        scene.stand_still()


def _about_the_work(scene: Scene, meant: Meaning) -> bool:
    """Whether a "how" is not about how to check something: it says more than that, and names no question; or it names
    one that is not open, when what one has is known."""
    if meant.target is None:
        return meant.command == "how" and not meant.whole
    return meant.target != scene.case.now.question and scene.case.now.outcome in outcome.NAMED


def _back(scene: Scene, meant: Meaning, text: str) -> None:
    if scene.case.now.puzzle is not None:
        _yes_no(scene, replace(meant, command="no"), text)
        return
    if not scene.case.past:
        scene.remark("back", text)
        scene.say("back-nothing")
        scene.stand_still()
        return
    undone = scene.case.now.facts
    scene.add(Undid(scene.at))
    gone = [f for f in undone if f not in scene.case.now.facts]
    clauses = [said(scene.guide, scene.texts, fact.reading) for fact in gone]
    scene.say("back-done" if clauses else "back-plain", clauses=listing(scene.texts, clauses))
    if scene.case.now.outcome is not None:
        scene.tell_outcome()
    else:
        scene.stand_still()


def change(scene: Scene, question: str) -> None:
    name = scene.texts(f"question-{question}.name")
    scene.reopen()
    scene.add(Withdrew(scene.at, question))
    scene.say("change-done", name=name)
    scene.ask_again(question)


def _change_command(scene: Scene, meant: Meaning, text: str) -> None:
    known = scene.changeable()
    if meant.target in known:
        change(scene, str(meant.target))
        return
    if not known:
        scene.remark("change", text)
        scene.say("change-nothing")
        scene.stand_still()
        return
    if len(known) == 1 and meant.target is None:
        change(scene, known[0])
        return
    scene.fire("list", lambda _: Listed(scene.at))


def _restart(scene: Scene, meant: Meaning, text: str) -> None:
    scene.reopen()
    scene.decide()
    scene.fire("restart", lambda state: Restarted(scene.at, state))
    scene.say("restarted")
    scene.go_on()


def _stop(scene: Scene, meant: Meaning, text: str) -> None:
    if scene.case.now.outcome in ("answer", "look-alike", "person"):
        scene.remark("stop", text)
        scene.say("goodbye.steps" if scene.case.now.at("guided") else "goodbye", code=scene.case.code)
        return
    if scene.case.now.outcome == "stopped":
        scene.remark("stop", text)
        scene.say_stopped()
        return
    scene.decide()
    scene.fire("stop", lambda state: Concluded(scene.at, "stopped", state))


def _person(scene: Scene, meant: Meaning, text: str) -> None:
    now = scene.case.now
    if now.outcome == "person" and now.reason == "asked" and scene.case.closed is None and not scene.blocks:
        scene.remark("person", text)
        scene.say("person-again", contact=scene.guide.shop.contact.line)
        scene.stand_still()
        return
    if text and scene.guide.language(scene.case.language).words.alone.get(fold(text)) is None:
        handing.note(scene, text)
    scene.decide()
    scene.fire("person", lambda state: Concluded(scene.at, "person", state, "asked"))
    scene.tell_outcome()


def _resume(scene: Scene, meant: Meaning, text: str) -> None:
    left = scene.at - scene.case.touched >= AWAY
    scene.remark("resume", text)
    known = outcome.because(scene.guide, scene.texts, scene.case)
    if known and not scene.blocks and (left or not text or scene.case.now.outcome is not None):
        scene.say("welcome-back", known=known)
    elif known and not scene.blocks:
        scene.say("still-open")
    scene.reopen()
    scene.stand_still()


def introduce(scene: Scene) -> None:
    """Say who this is and what for, before all else."""
    scene.introduced = True
    greeting = scene.texts("greeting", shop=scene.guide.shop.name, purpose=scene.texts("topic-purpose"))
    scene.blocks.insert(0, Remark(greeting, "greeting"))


def introduce_shortly(scene: Scene) -> None:
    """Say in a sentence, before all else, that a bot answers: to somebody who began without a greeting. Before an
    outcome only where that is still read at a glance."""
    if scene.introduced or (scene.case.now.outcome is not None and not outcome.has_room_for_a_greeting(scene.blocks)):
        return
    scene.blocks.insert(0, Remark(scene.texts("greeting-in-short", shop=scene.guide.shop.name), "greeting-in-short"))


def _greeting(scene: Scene, meant: Meaning, text: str) -> None:
    first = len(scene.case.events) == 1
    scene.remark("greeting", text)
    if first:  # nothing has been said to this person yet, so they are told who speaks
        introduce(scene)
    else:
        scene.say("hello-again" if scene.case.now.facts else "hello")
    scene.stand_still()


def _thanks(scene: Scene, meant: Meaning, text: str) -> None:
    scene.remark("thanks", text)
    scene.say("welcome")
    if scene.case.now.outcome is None:
        scene.stand_still()


def _yes_no(scene: Scene, meant: Meaning, text: str) -> None:
    now = scene.case.now
    yes = meant.command == "yes"
    if (asked := housekeeping.YES_NO.get(scene.case.now.confirming)) is not None:
        asked[0 if yes else 1](scene, meant, text)
        return
    if now.puzzle is not None and now.puzzle.proposed is not None:
        if yes:
            take(scene, (Fact(now.puzzle.proposed, now.puzzle.text),), (), text)
        else:
            scene.add(Answered(scene.at, (), (), text[:KEPT]))
            scene.say("puzzle-no")
            _ask_about(scene, now.puzzle.question)
        return
    question = scene.guide.topic.questions.get(now.question or "")
    if question is not None and question.kind == "choice" and len(question.choices) == 2:
        choices = question.choices
        if set(choices) == {"yes", "no"} or question.purpose == "ability":
            take(scene, (Fact(ChoiceReading(question.id, choices[0 if yes else 1]), text.strip()),), (), text)
            return
    not_understood(scene, replace(meant, command=None), text)


def _ask_about(scene: Scene, question: str) -> None:
    """Ask about the thing that was not meant so; or go on where it cannot be asked."""
    if scene.guide.topic.questions[question].purpose != "ability" and scene.case.now.asks.get(question, 0) < 4:
        scene.ask_again(question)
    else:
        scene.go_on()


COMMANDS: Mapping[str, Callable[[Scene, Meaning, str], None]] = {
    "help": _help,
    "how": _how,
    "why": at_hand.why,
    "said": at_hand.why,
    "left": _left,
    "who": _who,
    "back": _back,
    "change": _change_command,
    "restart": _restart,
    "stop": _stop,
    "person": _person,
    "resume": _resume,
    "greeting": _greeting,
    "thanks": _thanks,
    "yes": _yes_no,
    "no": _yes_no,
    "case": housekeeping.code,
    "privacy": housekeeping.privacy,
    "export": housekeeping.export,
    "language": housekeeping.language,
    "forget": housekeeping.forget,
    "erase": housekeeping.erase,
    "keep": housekeeping.keep,
    "move": housekeeping.move,
    "stay": housekeeping.stay,
    "ask-them": visiting.ask_them,
    "dont-ask": visiting.dont_ask,
    handing.BOT: handing.bot,
    "steps": stepping.begin,
    **dict.fromkeys(sorted(at_hand.ABOUT_IT), at_hand.obey),
}
