"""One turn: a case and a message in, the case and a reply out. Pure and deterministic; no I/O.

Rules of this file:
- what each kind of message does to a case, and in which order (commands, then what was said, then what is puzzling);
- the echo of what was understood always comes first, and the open question always comes last;
- nothing that a person writes ends a conversation but their own "stop" (contract C8);
- the uppermost state reads a message first, then those beneath it (`_READERS`); a person of the shop who has the case
  gets all that is not about the conversation itself (see `handing`).
"""

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from datetime import datetime

from triagebot.conversation import at_hand, outcome
from triagebot.conversation.case import Case, follow
from triagebot.conversation.commands import (
    COMMANDS,
    change,
    follow_up,
    in_another_language,
    introduce,
    introduce_shortly,
    not_understood,
    obey,
    order,
    ordered,
    touched_on,
)
from triagebot.conversation.doing_first import done_first, hindered_by, said_as_shown
from triagebot.conversation.edition import catch_up
from triagebot.conversation.enquiries import Enquiries, Enquiry
from triagebot.conversation.enquiring import (
    ASK,
    COMMANDS_TOO,
    asked_before_a_visit,
    beside,
    enquired,
    only_unsure,
    picked,
    tell_answer,
    tell_offered,
    warned,
)
from triagebot.conversation.events import Opened, Spoke
from triagebot.conversation.guide import UNSURE, Guide
from triagebot.conversation.handing import FOR_THE_BOT, keep
from triagebot.conversation.housekeeping import YES_NO, named_language, speak
from triagebot.conversation.machine import latest_choices
from triagebot.conversation.putting_right import LONGEST_CALL, change_by_name, put_right
from triagebot.conversation.reply import Reply
from triagebot.conversation.scene import SPEAK, Scene, Turn
from triagebot.conversation.stepping import only_of_the_work
from triagebot.conversation.stepping import read as read_at_a_step
from triagebot.conversation.taking import counted_again, note, puzzle, said_once_more, stands_by, take
from triagebot.conversation.understanding import Setting, counted_only, plain_answer, readable, understand
from triagebot.conversation.understood import Fact, Meaning
from triagebot.conversation.wording import ANOTHER
from triagebot.conversation.work_told import cable_in_the_way, moved_outside, trouble_outside
from triagebot.identify import ChoiceReading, UnsureReading
from triagebot.topics import Question

#: Which answer is to change: open like a question while answers are listed, but never one of a topic's.
_WHICH = "which answer"
#: A message of so few words may do nothing but tell, if it has no mark of a question or a second sentence.
_FEW, _CURT = 4, 8
#: A question, or another sentence. A run of stops is looked at from its last, one of line breaks from its first alone.
_SEVERAL = re.compile(r"\?|(?:[.!;](?![.!;])|(?<!\n)\n)\s*+[^\s\w]*+\w")


@dataclass(frozen=True, slots=True)
class Message:
    """What came in: text, or the id of a choice that was pressed. `language` asks for another language."""

    text: str = ""
    choice: str | None = None
    language: str | None = None


def open_case(guide: Guide, code: str, language: str, now: datetime) -> Case:
    """A new case, pinned to the topic's digest."""
    topic = guide.topic
    return follow(None, Opened(now, code, topic.id, topic.digest, language, topic.flow.start))


def ask_first(guide: Guide, case: Case, question: str, now: datetime) -> Case:
    """A case in which that question is open, whatever would be asked first."""
    scene = Scene(guide, case, now)
    scene.ask_again(question)
    return scene.case


def greet(guide: Guide, case: Case, now: datetime) -> Turn:
    """The first words, before anything was said: who this is, what for, and the first question."""
    scene = Scene(guide, case, now)
    introduce(scene)
    scene.go_on()
    return scene.turn()


def turn(guide: Guide, case: Case, message: Message, now: datetime) -> Turn:
    """Answer one message. Never raises on what a person writes."""
    scene = Scene(guide, case, now)
    if len(message.text) > LONGEST_CALL and not scene.case.handed:
        message = replace(message, text=readable(message.text))
    if message.language and message.language != case.language and message.language in guide.spoken:
        scene.add(Spoke(now, message.language))
    if scene.outdated:
        catch_up(scene)
    if message.choice is None and not scene.case.handed and (rest := ordered(message.text)):
        order(scene, understand(rest, _nothing_open(scene)), message.text)
        scene.settle()
        return scene.turn()
    for place in reversed(scene.case.now.places):
        if _READERS.get(place.kind, _not_for_it)(scene, message):
            break
    else:
        _pressed(scene, message) if message.choice is not None else _written(scene, message.text)
    if not scene.case.handed:
        scene.settle()
    if len(case.events) == 1 and message.choice is None:
        introduce_shortly(scene)
    return scene.turn()


def answers_plainly(guide: Guide, case: Case, text: str) -> bool:
    """Whether a text is nothing but an answer to the question that is open in a case."""
    now = case.now
    if now.question is None or now.puzzle is not None:
        return False
    return plain_answer(text, guide.setting(case.language, now.question)) is not None


def look(guide: Guide, case: Case, now: datetime) -> Reply:
    """The reply that shows where a case stands now, without changing it: after a reload, for a counter."""
    scene = Scene(guide, case, now)
    catch_up(scene)
    standing = scene.case.now
    if standing.at("handed"):
        scene.stand_still()
    elif standing.at("choosing"):
        scene.list_answers()
    elif standing.at("ended"):
        scene.tell_outcome()
    else:
        scene.stand_still()
    return scene.turn().reply


# --- states that read a message before all others ---------------------------------------------------------------------


def _not_for_it(scene: Scene, message: Message) -> bool:
    return False


def _confirm(scene: Scene, message: Message) -> bool:
    """A yes or no, or the name of a language, right after that was asked. It answers no question from before."""
    if message.choice is not None:
        return False
    if (named := named_language(scene, message.text)) is not None:
        speak(scene, named)
        return True
    plainly = understand(message.text, _nothing_open(scene))
    if scene.case.now.confirming in YES_NO and plainly.command in ("yes", "no") and not plainly.facts:
        obey(scene, plainly, message.text)
        return True
    return False


def _for_staff(scene: Scene, message: Message) -> bool:
    """While a person of the shop has the case, all that is not about the conversation itself is for them."""
    choice, text = message.choice, message.text
    if choice is None:
        meant = understand(text, _nothing_open(scene))
        obey(scene, meant, text) if meant.whole and meant.command in FOR_THE_BOT else keep(scene, text)
    elif choice in FOR_THE_BOT or choice.startswith(SPEAK):
        _pressed(scene, message)
    else:
        scene.stand_still()
    return True


def _pick(scene: Scene, message: Message) -> bool:
    """Which answer is to change, by its number, in words, or by the name of what was asked; or something else."""
    if message.choice is not None:
        return False
    setting = _picking(scene)
    picked, meant = _picked(change_by_name(scene, message.text, setting) or understand(message.text, setting))
    if picked is not None:
        change(scene, picked)
    else:
        _act(scene, meant, message.text)
    return True


def _at_a_step(scene: Scene, message: Message) -> bool:
    read = read_at_a_step(scene, message.text, message.choice)
    if read and message.choice is None and len(message.text.split()) > _FEW:
        warned(scene, message.text)
    return read


#: Which states read a message before the states beneath them do. Each says whether the message was for it.
_READERS: Mapping[str, Callable[[Scene, Message], bool]] = {
    "guided": _at_a_step,
    "confirming": _confirm,
    "choosing": _pick,
    "handed": _for_staff,
}


# --- every other message ----------------------------------------------------------------------------------------------


def _pressed(scene: Scene, message: Message) -> None:
    choice = message.choice or ""
    question = scene.guide.topic.questions.get(scene.case.now.question or "")
    if choice in COMMANDS:
        obey(scene, Meaning(command=choice), message.text)  # type: ignore[arg-type]
    elif choice.startswith(SPEAK):
        speak(scene, choice.removeprefix(SPEAK))
    elif question is not None and choice in (UNSURE, *question.choices):
        reading = UnsureReading(question.id) if choice == UNSURE else ChoiceReading(question.id, choice)
        take(scene, (Fact(reading, choice),), (), choice)
    elif question is not None and question.kind == "count" and choice.isdecimal():
        _written(scene, choice)
    elif question is not None and question.kind == "count" and choice == ANOTHER:
        scene.say("write-the-number")
        scene.keep_open()
    elif choice.startswith(ASK):
        tell_offered(scene, choice)
    elif (hindered := hindered_by(scene, choice)) is not None:
        take(scene, (Fact(hindered, choice),), (), choice)
    else:
        scene.remark("not-understood", choice)
        if scene.question() is not None:
            scene.say("not-a-choice")
        scene.stand_still()


def _written(scene: Scene, text: str) -> None:
    settled = scene.case.now.question is None
    if settled and (asked := at_hand.asked_exactly(scene, text)) is not None:
        obey(scene, Meaning(command=asked, whole=True), text)
        return
    setting = _setting(scene)
    if not settled and plain_answer(text, setting) is not None:  # it asks nothing, so nothing asked is looked for
        _act(scene, understand(text, setting), text)
        return
    if not settled and (hindered := said_as_shown(scene, text)) is not None:
        take(scene, (Fact(hindered, text),), (), text)
        return
    if (choice := picked(scene, text)) is not None:
        _pressed(scene, Message(choice=choice))
        return
    if (before := asked_before_a_visit(scene, text)) is not None:
        _before_a_visit(scene, *before, text)
        return
    if put_right(scene, text, _act) or cable_in_the_way(scene, text) or moved_outside(scene, text):
        return
    meant = only_of_the_work(scene, change_by_name(scene, text, setting) or understand(text, setting))
    meant = done_first(scene, meant, text) if scene.case.now.first else meant
    if settled and enquired(scene, text, meant, setting) is None:
        meant = at_hand.recounted(scene, meant, text, setting) or at_hand.hinted(scene, meant, text) or meant
    curt = _tells_only(meant, text, setting)
    plainly = curt and plain_answer(text, setting) is not None
    found = None if plainly or at_hand.afterwards(scene, text) else enquired(scene, text, meant, setting, curt=curt)
    of_work = meant.command in (None, "no") or (meant.command == "help" and not meant.whole)  # "nothing moves. help"
    if settled and not (found and found[0].sure) and not meant.facts and of_work and trouble_outside(scene, text):
        return
    if found is None:
        _act(scene, meant, text)
        return
    enquiry, known, outside = found
    told = only_of_the_work(scene, beside(setting, enquiry, meant, outside))
    first = len(scene.case.events) == 1
    if enquiry.id in COMMANDS_TOO:
        obey(scene, Meaning(command=enquiry.id, mentions=meant.mentions), text)  # type: ignore[arg-type]
    else:
        tell_answer(scene, enquiry, known, text)
    if told.facts or told.puzzles:
        _act(scene, told, text)
    if told.facts or told.puzzles or enquiry.id in COMMANDS_TOO:
        return
    if first:
        introduce(scene)
    scene.keep_open()


def _before_a_visit(scene: Scene, enquiry: Enquiry, known: Enquiries, text: str) -> None:
    """What somebody asks before they come; what they tell of the wheel beside it counts."""
    first = len(scene.case.events) == 1
    told = understand(enquiry.rest, _setting(scene)) if enquiry.rest else Meaning()
    if told.facts and not only_unsure(told):
        note(scene, told.facts, told.mentions, enquiry.rest)
    tell_answer(scene, enquiry, known, text)
    if first:
        introduce(scene)
    if scene.case.now.confirming:
        return
    touched = understand(text, _setting(scene)).mentions if scene.case.now.outcome in outcome.NAMED else ()
    if not touched or not follow_up(scene, touched, text):
        scene.keep_open()


def _tells_only(meant: Meaning, text: str, setting: Setting) -> bool:
    """Whether a message tells something of the wheel and asks nothing: a listed answer, a word or two, a figure."""
    words = len(text.split())
    figure = any(character.isdigit() for character in text)
    tells = words <= _FEW or (figure and words <= _CURT) or text.strip() in setting.labels
    return bool(meant.facts) and tells and not _SEVERAL.search(text)


def _act(scene: Scene, meant: Meaning, text: str) -> None:
    """Do what a message means: what it says of the wheel first, then what it asks for."""
    meant = said_once_more(scene, replace(meant, facts=_news(scene, meant.facts)), text)
    if meant.cut:
        scene.say("message-cut")
    if meant.language is not None:
        in_another_language(scene, meant.language, text)
    elif meant.facts and meant.command == "person":
        note(scene, meant.facts, meant.mentions, text)
        obey(scene, meant, text)
    elif meant.facts:
        take(scene, meant.facts, meant.mentions, text, meant)
        for puzzled in meant.puzzles[:1]:
            puzzle(scene, puzzled)
    elif meant.insists and stands_by(scene, text):
        pass
    elif (asked := at_hand.asked_within(scene, meant, text)) is not None:
        obey(scene, Meaning(command=asked), text)
    elif meant.command is not None:
        obey(scene, meant, text)
    elif meant.puzzles:
        puzzle(scene, meant.puzzles[0])
    elif meant.mentions:
        touched_on(scene, meant, text)
    else:
        not_understood(scene, meant, text)


def _news(scene: Scene, facts: tuple[Fact, ...]) -> tuple[Fact, ...]:
    """Facts without what only names in general words what was told more finely, unless that is what is asked now."""
    now = scene.case.now
    told = {question: choice for question, choice in latest_choices(now.readings).items() if question != now.question}
    return counted_again(scene, counted_only(_setting(scene).words, facts, told))


def _nothing_open(scene: Scene) -> Setting:
    """For what is about the conversation itself, whatever is asked about the wheel."""
    return replace(_setting(scene), open_question=None, choices=(), labels=(), confirming=False)


def _setting(scene: Scene) -> Setting:
    """Where the conversation stands, for understanding."""
    now = scene.case.now
    return replace(
        scene.guide.setting(scene.case.language, now.question),
        confirming=now.puzzle is not None,
        answered=frozenset(r.question for r in now.readings if not isinstance(r, UnsureReading)),
        begun=bool(now.readings),
    )


def _picking(scene: Scene) -> Setting:
    """While answers are listed to pick one that is to change, which of them is the open question: by number, in words,
    or by the name of what was asked. What was asked before is not open, and a number off the list answers nothing."""
    known = tuple(scene.changeable())
    which = Question.model_construct(id=_WHICH, kind="choice", choices=known, price=1.0, source="")
    return replace(
        _setting(scene),
        questions={**scene.guide.topic.questions, _WHICH: which},
        open_question=_WHICH,
        choices=known,
        labels=tuple(scene.texts(f"question-{question}.name") for question in known),
        answered=frozenset(scene.guide.topic.questions),
    )


def _picked(meant: Meaning) -> tuple[str | None, Meaning]:
    """The answer that was picked from the list, if one was, and all the rest of what was understood."""
    picked = [
        f.reading.choice for f in meant.facts if isinstance(f.reading, ChoiceReading) and f.reading.question == _WHICH
    ]
    rest = replace(
        meant,
        facts=tuple(fact for fact in meant.facts if fact.reading.question != _WHICH),
        puzzles=tuple(puzzle for puzzle in meant.puzzles if puzzle.question != _WHICH),
    )
    return picked[0] if picked else None, rest
