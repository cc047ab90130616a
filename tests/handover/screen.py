"""`python -m tests.handover.screen [FILE]`: a case that is handed over, with what the customer reads on the left and
what the staff read in their room on the right. Written out from what went out; nothing is made up."""

import textwrap
from collections.abc import Iterator
from pathlib import Path

from tests.doubles.telegram.content import plain_png
from tests.handover.workshop import ROOM, Workshop, workshop
from tests.written import write_out
from triagebot.conversation import plain
from triagebot.messages import Edited, Gone, Sent

WIDTH, GAP = 62, 4

#: Who does what, in order: Bob has a wheel; Ada is staff, Eve is only in the room.
DAY: tuple[tuple[str, str], ...] = (
    ("bob", "it stays still, 4 notches, about 40 mm"),
    ("bob", "person"),
    ("bob", "it is a blue commuter, the wheel wobbles too"),
    ("bob", "PHOTO"),
    ("eve", "I would throw it away"),
    ("ada", "Which notch is worn?"),
    ("bob", "two of them, I think"),
    ("bob", "VOICE"),
    ("ada", "Bring it in at three."),
    ("ada", "EDIT Bring it in at four."),
    ("ada", "At four, sorry."),
    ("bob", "help"),
    ("bob", "back to the bot"),
    ("ada", "I have found one that fits."),
    ("bob", "great"),
    ("ada", "back to the bot"),
    ("bob", "GONE"),
    ("ada", "Are you still there?"),
    ("bob", "yes"),
    ("bob", "person"),
    ("ada", "CLOSE"),
    ("ada", "Was it all right?"),
    ("bob", "forget me"),
    ("bob", "yes"),
)


def rows(shop: Workshop) -> Iterator[str]:
    seen = {"bob": 0, ROOM: 0}
    shop.roomy.files = {"notch": plain_png(64, 48)}
    for number, (who, text) in enumerate(DAY):
        said = _does(shop, who, text, number)
        if said:
            yield from _side(f"{'BOB' if who == 'bob' else who.upper()}: {said}", right=who != "bob")
        for chat in ("bob", ROOM):
            for shown in shop.roomy.screens[chat][seen[chat] :]:
                photo = "[photo] " if shown.photo is not None else ""
                yield from _side(f"{photo}{plain(shown.reply)}", right=chat == ROOM, mark="| ")
            seen[chat] = len(shop.roomy.screens[chat])


def _does(shop: Workshop, who: str, text: str, number: int) -> str:
    """Has somebody do it; gives how it reads."""
    if text == "GONE":
        shop.roomy.fates["bob"].append(Gone("blocked"))
        return "(blocks the bot)"
    if text == "CLOSE":
        code = shop.code("bob")
        shop.says("ada", f"close {code} fitted 4n 40")
        return f"(to the bot in private) close {code} fitted 4n 40"
    if who != "bob":
        edits = text.startswith("EDIT ")
        content = Edited(text.removeprefix("EDIT "), f"answer {number - 1}") if edits else text
        shop.says_in_room(who, content, key=f"answer {number}")
        return f"(changes that) {text.removeprefix('EDIT ')}" if edits else f"(as a reply) {text}"
    sent = {"PHOTO": Sent("photo", ({"file": "notch"},)), "VOICE": Sent("voice")}.get(text)
    shop.says("bob", sent or text)
    return {"PHOTO": "(a photo)", "VOICE": "(a voice message)"}.get(text, text)


def _side(text: str, *, right: bool, mark: str = "") -> Iterator[str]:
    margin = " " * (WIDTH + GAP) if right else ""
    for line in text.split("\n"):
        for part in textwrap.wrap(line, WIDTH - len(mark)) or [""]:
            yield f"{margin}{mark}{part}".rstrip()
    yield ""


def written(folder: Path) -> str:
    with workshop(folder) as shop:
        head = f"{'The customer':{WIDTH + GAP}}The room of the staff"
        return "\n".join([head, "", *rows(shop)]).rstrip() + "\n"


if __name__ == "__main__":
    write_out(written)
