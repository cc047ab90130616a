"""The conversations for every bot that is measured: what is asked, in full, and what each person does about it.

The words, the marks, the buttons and the pictures are ours, as a phone shows them, so that all bots send the same
bytes. Questions are answered by buttons, and by typing where a number is wanted.

Two crowds: one in which all say the same, and one of simulated people (`triagebot.study`), each with a wheel and with
slips of their own, so that hardly anything that was worked out for one serves another.
"""

import json
from collections.abc import Callable, Sequence
from dataclasses import asdict, dataclass
from functools import partial
from html import unescape
from itertools import count, islice
from pathlib import Path
from re import sub

from triagebot.channels.telegram.sending import sheet
from triagebot.conversation import Guide, Message
from triagebot.identify import ChoiceReading, CountReading, Reading, SizeReading
from triagebot.pictures import picture
from triagebot.study.people import PROFILES, Person, draw_person
from triagebot.testing import ScriptedPerson
from triagebot.topics import Question

#: What is answered where all say the same, by question; anything else is not known. What is no choice is typed.
ANSWERS = {
    "body": "no-splines",
    "fitting": "notches",
    "spin": "stays",
    "count": "four",
    "size": "24 mm with a calliper",
    "axle": "nuts",
}
#: How somebody says by what means they measured.
MEANS = {"calliper": "with a calliper", "rule": "with a ruler", "eye": "by eye"}
#: So many different people, drawn with this seed: more than the bot remembers cases of.
DIFFERENT, SEED = 400, 7
#: Nobody goes on for longer.
LONGEST = 30


@dataclass(frozen=True, slots=True)
class Step:
    """One turn of the bot, as HTML, and what is done about it: a button's label or a text, "" at the end.

    A picture with its `caption` (None for none) comes first, then `html` ("" for nothing more). `marker` is what tells
    the last of them from others, and `shortly` does where it comes again, to somebody who comes back ("" for no other);
    `settled` is what that is changed to once it was answered. `rows` are of labels with what the buttons carry.
    `choice` is what the answer means."""

    caption: str | None
    html: str
    rows: tuple[tuple[tuple[str, str], ...], ...]
    settled: str
    marker: str
    press: str
    text: str
    question: str
    choice: str
    otherwise: tuple[str, ...] = ()

    def shows(self, text: str) -> bool:
        """Whether a message of the bot is this one, in whichever of its words."""
        return any(words in text for words in (self.marker, *self.otherwise))


#: What somebody answers to a question: a choice's id, else a text.
Answers = Callable[[Question], str]


def scripts(guide: Guide, different: int) -> list[list[Step]]:
    """The conversations of so many people who differ; with 1, the one that all have alike."""
    if different == 1:
        return [_script(guide, lambda question: ANSWERS.get(question.id, "unsure"))]
    drawn = (draw_person(guide.topic, number, SEED, PROFILES["household"]) for number in count())
    found = (_script(guide, partial(_said, person, {})) for person in drawn)
    return list(islice(filter(_is_plain, found), different))


def _is_plain(steps: Sequence[Step]) -> bool:
    """Whether it is told from what a message says how far somebody is: nothing is asked twice in the same words."""
    return 3 < len(steps) <= LONGEST and len({step.marker for step in steps}) == len(steps)


def _said(person: Person, before: dict[str, list[Reading]], question: Question) -> str:
    heard = before.setdefault(question.id, [])
    reading = person.answer(question, heard)
    heard.append(reading)
    match reading:
        case ChoiceReading():
            return reading.choice
        case CountReading():
            return str(reading.low)
        case SizeReading():
            return f"{reading.mm:g} mm {MEANS[reading.means]}"
        case _:
            return "unsure"


def _script(guide: Guide, answers: Answers) -> list[Step]:
    """A whole conversation, from the greeting to the end."""
    texts = guide.language(guide.shop.language).texts
    person, steps = ScriptedPerson(guide, language=guide.shop.language), list[Step]()
    while (question := person.reply.question) is not None and len(steps) < LONGEST:
        reply = person.reply
        words = picture(guide.topic, reply.shows, texts).alt if reply.shows else ""
        shown = sheet(reply, texts, words)
        labels = {choice: label for row in shown.buttons for label, choice in row}
        puzzled = person.case.now.puzzle is not None
        answer = "yes" if puzzled else answers(guide.topic.questions[question.id])
        if answer in labels:
            person.presses(answer)
        else:
            person.says(answer)
        rows = tuple(
            tuple((label, f"q:AAA-001:{len(steps)}:{choice}") for label, choice in row) for row in shown.buttons
        )
        settled = sheet(reply, texts, answered=labels.get(answer, answer))
        press, typed = (labels[answer], "") if answer in labels else ("", answer)
        last = shown.texts[-1] if shown.texts else shown.caption or ""
        marker = question.text if question.text in plain(last) else plain(last).split("\n")[-1]
        name = f"question-{question.id}"
        otherwise = tuple(texts(f"{name}{way}") for way in ("", ".short", ".again") if texts.has(name, way[1:] or None))
        changed = settled.texts[-1] if settled.texts else settled.caption or ""
        html = "\n\n".join(shown.texts)
        steps.append(Step(shown.caption, html, rows, changed, marker, press, typed, question.id, answer, otherwise))
    reply = person.reply
    words = picture(guide.topic, reply.shows, texts).alt if reply.shows else ""
    shown = sheet(reply, texts, words)
    last = shown.texts[-1] if shown.texts else shown.caption or ""
    ending = plain(last).split("\n")[0]
    return [*steps, Step(shown.caption, "\n\n".join(shown.texts), (), "", ending, "", "", "", "")]


def plain(html: str) -> str:
    """What is read of a text."""
    return unescape(sub(r"</?(?:b|i|a)(?: [^>]*)?>", "", html))


def answered(steps: Sequence[Step], most: int) -> int:
    """How many answers somebody has given whose state is kept: so many, or all but the last."""
    return min(most, len(steps) - 2)


def somebody(guide: Guide, steps: Sequence[Step], given: int) -> ScriptedPerson:
    """Who has given so many of the answers."""
    person = ScriptedPerson(guide, language=guide.shop.language)
    for step in steps[:given]:
        person.send(Message(step.text, choice=None if step.text else step.choice))
    return person


def write(found: list[list[Step]], path: Path) -> None:
    path.write_text(json.dumps([[asdict(step) for step in steps] for steps in found]), encoding="utf-8")


def read(path: Path) -> list[list[Step]]:
    found = json.loads(path.read_text(encoding="utf-8"))
    return [
        [Step(**{**each, "rows": tuple(tuple(map(tuple, row)) for row in each["rows"])}) for each in s] for s in found
    ]
