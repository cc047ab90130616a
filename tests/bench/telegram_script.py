"""One conversation for every bot that is measured: what is asked, in full, and what each person does about it.

The words, the marks, the buttons and the pictures are ours, as a phone shows them, so that all bots send the same
bytes. Questions are answered by buttons, and by typing where a number is wanted.
"""

import json
from dataclasses import asdict, dataclass
from pathlib import Path

from triagebot.channels.telegram.layout import sheet
from triagebot.conversation import Guide, Message
from triagebot.testing import ScriptedPerson

#: What is answered, by question; anything else is not known. What is no choice is typed.
ANSWERS = {
    "body": "no-splines",
    "fitting": "notches",
    "spin": "stays",
    "count": "four",
    "size": "24 mm with a calliper",
    "axle": "nuts",
}


@dataclass(frozen=True, slots=True)
class Step:
    """One message of the bot, as HTML, and what is done about it: a button's label or a text, "" at the end.

    `marker` is what tells the message from others; `settled` is what it is changed to once it was answered. `rows` are
    of labels with what the buttons carry. `choice` is what the answer means."""

    html: str
    picture: bool
    rows: tuple[tuple[tuple[str, str], ...], ...]
    settled: str
    marker: str
    press: str
    text: str
    question: str
    choice: str


def script(guide: Guide) -> list[Step]:
    """The whole conversation, from the greeting to the end."""
    texts = guide.language(guide.shop.language).texts
    person, steps = ScriptedPerson(guide, language=guide.shop.language), list[Step]()
    while (question := person.reply.question) is not None:
        reply = person.reply
        shown, answer = sheet(reply, texts), ANSWERS.get(question.id, "unsure")
        labels = {choice: label for row in shown.buttons for label, choice in row}
        if answer in labels:
            person.presses(answer)
        else:
            person.says(answer)
        rows = tuple(
            tuple((label, f"q:AAA-001:{len(steps)}:{choice}") for label, choice in row) for row in shown.buttons
        )
        is_picture = shown.caption is not None
        settled = sheet(reply, texts, labels.get(answer, answer))
        assert len(shown.texts) == (0 if is_picture else 1), "the messages of the script are single ones"
        html, changed = (s.caption if is_picture else s.texts[0] for s in (shown, settled))
        press, typed = (labels[answer], "") if answer in labels else ("", answer)
        steps.append(
            Step(html or "", is_picture, rows, changed or "", question.text, press, typed, question.id, answer)
        )
    last = sheet(person.reply, texts)
    ending = person.reply.text.split("\n")[0]
    return [*steps, Step(last.texts[0], False, (), "", ending, "", "", "", "")]


def somebody(guide: Guide, steps: list[Step], answered: int) -> ScriptedPerson:
    """Who has given so many of the answers."""
    person = ScriptedPerson(guide, language=guide.shop.language)
    for step in steps[:answered]:
        person.send(Message(step.text, choice=None if step.text else step.choice))
    return person


def write(steps: list[Step], path: Path) -> None:
    path.write_text(json.dumps([asdict(step) for step in steps]), encoding="utf-8")


def read(path: Path) -> list[Step]:
    found = json.loads(path.read_text(encoding="utf-8"))
    return [Step(**{**each, "rows": tuple(tuple(map(tuple, row)) for row in each["rows"])}) for each in found]
