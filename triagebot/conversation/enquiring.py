"""What somebody asks in between is answered at once, and what was open stays open.

Rules of this file:
- words that always work go before an enquiry, but "what is a spline?" is answered before "how do I check?";
- what is said of the wheel beside an enquiry, in other sentences or clauses than the one that asks, counts after the
  answer. A question gives no reading by itself;
- who has a tool to try by hand offers it, and asks for none;
- an enquiry found only by its likeness to an example gives way to everything else that was understood, and so does what
  people tell as well as ask ("my brakes squeal").
"""

from collections.abc import Iterator, Sequence
from dataclasses import replace

from triagebot.conversation import asking, outcome, visiting
from triagebot.conversation.blocks import Block, Choice
from triagebot.conversation.case import ASKED
from triagebot.conversation.enquiries import (
    Enquiries,
    Enquiry,
    find_enquiry,
    load_enquiries,
    nearest_enquiries,
)
from triagebot.conversation.enquiries.answers import answer
from triagebot.conversation.enquiries.learned import ANSWERED
from triagebot.conversation.events import Remarked
from triagebot.conversation.scene import Scene
from triagebot.conversation.understanding import Setting, plain_answer, understand
from triagebot.conversation.understood import Command, Fact, Meaning
from triagebot.identify import UnsureReading
from triagebot.shop import fold

#: These give way to an enquiry that is sure, unless they are all that the message says.
_SOFT: frozenset[Command] = frozenset({"help", "how", "why", "yes", "no", "greeting", "thanks", "resume"})
#: What stands before many a question.
_POLITE: frozenset[Command] = frozenset({"greeting", "thanks"})
#: Words for these stand in many a question: "can somebody do it for me, I give up".
_DRASTIC: frozenset[Command] = frozenset({"stop", "back", "change", "restart"})
#: How what is offered begins: `ask-price`. So many are offered.
ASK, OFFERED = "ask-", 2
#: Enquiries that are answered as the words that always work are.
COMMANDS_TOO = frozenset({"privacy", "language", "who", "left", "said", "why", "person"})
#: How long the work takes somebody is no question of how long this talk does.
_NOT_LEFT = frozenset({"how-long-me", "how-long-shop"})
#: What the shop's own people need for it has more words than these: "how long?"
_THEIRS = frozenset({"you", "u", "shop", "workshop", "mechanic", "lot", "ready", "day", "wait", "guys"})
#: Who wants to talk to somebody and asks for the number gets the number.
_THE_NUMBER = frozenset({"telephone"})
#: Nor for somebody who asks for the work to be done, or who answers here.
_NO_PERSON = frozenset({"do-it-for-me", "who"})
#: Answered also where "how" asks of one question: how to check it is told with the next words.
_OF_A_TARGET = frozenset({"other-trouble", "wheel-how"})
#: "How do I test that safely?" asks how to check.
_ABOUT_CHECKING = frozenset({"danger", "how-hard", "photo", "again"})
#: So much the words of an enquiry must tell that facts in its sentence are none: where it has the form of a question,
#: and where it only has words of asking in it.
ASKED_OUT, PLAIN = 5.0, 7.0
#: And so much to go before all else once a fastening was named.
CLEAR = 9.0
#: So much of a message one enquiry must cover that it goes before the notes.
COVERED = 0.8
#: What the conversation is for: beside facts it says nothing more.
_THE_JOB = frozenset({"which-tool", "tool-here", "stuck"})
#: Once it is known what somebody has, the notes say more of these; and of these, more than the shop's own list does.
_NOTES_FIRST = frozenset({"buy-part"})
_NOTES_TOO = frozenset({"what-to-buy"})


def enquired(
    scene: Scene, text: str, meant: Meaning, setting: Setting, *, curt: bool = False
) -> tuple[Enquiry, Enquiries, tuple[Fact, ...]] | None:
    """What is asked in a message that was understood so, if it is answered here, and the facts that stand outside the
    part that asks; in one so `curt` that it may only tell, what is asked in a part of its own."""
    known = load_enquiries(scene.texts.language, scene.guide.topic.folder)
    words = scene.guide.language(scene.case.language).words
    enquiry = find_enquiry(text, known, words.common, _open(scene))
    if enquiry is None or (enquiry.id == "again" and scene.case.now.outcome in outcome.NAMED):
        return None
    guessed = not enquiry.sure and enquiry.worth < COVERED
    if guessed and meant.mentions and scene.case.now.outcome in outcome.NAMED:
        return None
    outside = _outside(setting, enquiry, meant)
    apart = bool(outside)
    if scene.case.now.outcome in outcome.NAMED and meant.command is None and enquiry.sure and _clearly(enquiry):
        return enquiry, known, outside
    if curt and not (apart and enquiry.sure and (enquiry.id == "what-is" or enquiry.worth >= ASKED_OUT)):
        return None
    if meant.language is not None or not _stands(meant, enquiry, apart):
        return None
    return enquiry, known, outside


def offered(scene: Scene, text: str) -> tuple[Choice, ...]:
    """The two things that a message which asks something may ask for, where nothing was found in it."""
    known = load_enquiries(scene.texts.language, scene.guide.topic.folder)
    common = scene.guide.language(scene.case.language).words.common
    labels = ((name, _label(scene, name)) for name in nearest_enquiries(text, known, common, _open(scene)))
    named = [Choice(name if name in COMMANDS_TOO else f"{ASK}{name}", label) for name, label in labels if label]
    return tuple(named[:OFFERED])


def warned(scene: Scene, text: str) -> None:
    """Before all else, what is wrong with a short cut that somebody tells of beside what they report from a step: "it's
    home, I've tied a belt round the sprockets"."""
    known = load_enquiries(scene.texts.language, scene.guide.topic.folder)
    common = scene.guide.language(scene.case.language).words.common
    enquiry = find_enquiry(text, known, common, _open(scene))
    if enquiry is not None and enquiry.id in known.work & known.told and enquiry.worth >= ASKED_OUT:
        scene.blocks[:0] = answer(scene, known, enquiry)


def _label(scene: Scene, enquiry: str) -> str:
    """What an enquiry is called where it is offered; "" for one that is not."""
    names = (f"may-ask-{enquiry}", f"enquiry-{enquiry}.offer")
    return next((scene.texts(name) for name in names if scene.texts.has(*name.split("."))), "")


def picked(scene: Scene, text: str) -> str | None:
    """What was just offered in these very words."""
    last = scene.case.events[-1]
    if not (isinstance(last, Remarked) and last.what == "not-understood"):
        return None
    return next((each.id for each in offered(scene, last.text) if fold(each.label) == fold(text)), None)


def tell_offered(scene: Scene, choice: str) -> None:
    """What was picked of what was offered."""
    known = load_enquiries(scene.texts.language, scene.guide.topic.folder)
    if (name := choice.removeprefix(ASK)) in known.kinds:
        tell_answer(scene, Enquiry(name), known, choice)
    scene.keep_open()


def _clearly(enquiry: Enquiry) -> bool:
    """Whether it goes before what else is read once a fastening was named, when people mostly ask."""
    return enquiry.worth >= CLEAR and enquiry.formed and not enquiry.rather and not enquiry.tells


def _open(scene: Scene) -> str | None:
    """The open question; once a fastening was named, that it was."""
    now = scene.case.now
    return ANSWERED if now.outcome in outcome.NAMED else now.question


def beside(setting: Setting, enquiry: Enquiry, meant: Meaning, outside: Sequence[Fact]) -> Meaning:
    """What a message says of the wheel beside what it asks: in other sentences and clauses (`outside`)."""
    if enquiry.tells and not only_unsure(meant):
        return replace(meant, command=None)
    rest = understand(enquiry.rest, setting) if enquiry.rest else Meaning()
    known = {fact.reading.question for fact in outside}
    left = rest.facts or tuple(
        fact for part in _plain_parts(setting, enquiry) for fact in understand(part, setting).facts
    )
    facts = (*outside, *(fact for fact in left if fact.reading.question not in known))
    asked_back = (p for p in meant.puzzles if p.proposed is not None and p.question == setting.open_question)
    puzzles = tuple(asked_back) if enquiry.own and enquiry.put and not facts else ()
    told = replace(rest, facts=facts, puzzles=puzzles)
    return Meaning() if facts and only_unsure(told) else told


def _plain_parts(setting: Setting, enquiry: Enquiry) -> Iterator[str]:
    """The sentences beside what is asked that are nothing but an answer: "6. Also, do you fix kickstands?"."""
    parts = (part.strip(" .") for part in enquiry.rest.split(". "))
    return (part for part in parts if part and plain_answer(part, setting) is not None)


def _outside(setting: Setting, enquiry: Enquiry, meant: Meaning) -> tuple[Fact, ...]:
    """The facts of a message that the part which asks something does not tell."""
    if not enquiry.own:
        return ()
    asked = {fact.reading.question for fact in understand(enquiry.own, setting).facts}
    told = tuple(fact for fact in meant.facts if fact.reading.question not in asked)
    return () if all(isinstance(fact.reading, UnsureReading) for fact in told) else told


def asked_before_a_visit(scene: Scene, text: str) -> tuple[Enquiry, Enquiries] | None:
    """What somebody asks before they come, whatever else is read in it: the five of "at five" counts nothing."""
    known = load_enquiries(scene.texts.language, scene.guide.topic.folder)
    if (answered := visiting.when_answered(scene, known, text)) is not None:
        return answered, known
    if known.orders.isdisjoint(fold(text).split()):
        return None
    enquiry = find_enquiry(text, known, scene.guide.language(scene.case.language).words.common, _open(scene))
    return (enquiry, known) if enquiry is not None and enquiry.sure and enquiry.id in visiting.ANSWERS else None


def _stands(meant: Meaning, enquiry: Enquiry, apart: bool) -> bool:
    """Whether the enquiry is answered beside what else the message says. `apart`: that is told in a part of its own."""
    if (
        enquiry.told and meant.command in ("help", *_POLITE) and not meant.whole
    ):  # "flat tyre. help", "hi, my tyre is flat"
        return not meant.facts
    if enquiry.told:
        return (apart or not meant.facts) and not (meant.puzzles or meant.mentions or meant.command or meant.insists)
    if meant.command in _POLITE and not meant.whole and enquiry.formed:
        return True
    if meant.command is not None:
        word = "what-is" in (enquiry.id, enquiry.also.partition(":")[0])
        return enquiry.sure and (word or _before(meant, enquiry))
    if enquiry.rather and (meant.facts or meant.puzzles):
        return False
    if enquiry.tells and (meant.facts or meant.puzzles):
        return True
    if meant.facts and enquiry.id == "what-is" and not apart:
        return enquiry.sure and (enquiry.put or only_unsure(meant))
    if meant.mentions and enquiry.id == "tool-here" and not enquiry.put:
        return False
    if meant.facts and enquiry.id in _THE_JOB and not enquiry.tool and not (apart and enquiry.id == "stuck"):
        return False
    if meant.facts and apart:
        return enquiry.worth >= ASKED_OUT or (enquiry.sure and enquiry.put)
    if meant.facts:
        return enquiry.sure and enquiry.worth >= (ASKED_OUT if enquiry.put else PLAIN)
    return enquiry.sure or not meant.puzzles or enquiry.worth >= PLAIN


def _before(meant: Meaning, enquiry: Enquiry) -> bool:
    """Whether an enquiry that is sure goes before the command that was understood."""
    if meant.command == "left":
        return enquiry.id in _NOT_LEFT and (enquiry.id == "how-long-me" or not _THEIRS.isdisjoint(enquiry.keys))
    if meant.command == "person":
        put = enquiry.put or (enquiry.formed and enquiry.id == "who")  # "am I talking to somebody there or a computer"
        theirs = enquiry.id in _NO_PERSON and put
        return enquiry.id in _THE_NUMBER or theirs or enquiry.whole
    if meant.command in _SOFT:
        told = meant.target is None or enquiry.id in _OF_A_TARGET or enquiry.leans
        return told and enquiry.id not in _ABOUT_CHECKING
    return enquiry.whole or (meant.command in _DRASTIC and (enquiry.put or enquiry.id == "do-it-for-me"))


def _in_the_notes(scene: Scene, enquiry: Enquiry) -> bool:
    """Whether the notes are looked up first: for what they say more of, and what is only much like an enquiry."""
    return scene.case.now.outcome in outcome.NAMED and (
        enquiry.id in _NOTES_FIRST or (not enquiry.sure and (enquiry.worth < COVERED or enquiry.id in _THE_JOB))
    )


def only_unsure(meant: Meaning) -> bool:
    """Whether all that is said of the wheel is that something is not known: "I don't know what a spline is"."""
    return all(isinstance(fact.reading, UnsureReading) for fact in meant.facts)


def tell_answer(scene: Scene, enquiry: Enquiry, known: Enquiries, text: str) -> None:
    """The answer, from the notes where they tell more."""
    if enquiry.id in visiting.ANSWERS:
        visiting.tell(scene, known, enquiry, text)
        if enquiry.id in _NOTES_TOO:
            asking.told_too(scene, text)
        return
    if _in_the_notes(scene, enquiry) and asking.answered(scene, text):
        return
    blocks: tuple[Block, ...] = answer(scene, known, enquiry)
    if enquiry.also and enquiry.also not in visiting.ANSWERS and enquiry.also not in COMMANDS_TOO:
        name, _, term = enquiry.also.partition(":")
        blocks += answer(scene, known, replace(enquiry, id=name, term=term))
    scene.remark(ASKED, text)
    scene.tell(*blocks)
