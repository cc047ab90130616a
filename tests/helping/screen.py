"""`python -m tests.helping.screen [FILE]`: somebody helps two riders who are elsewhere, as the phones of all three
show it. Written out from what went out; nothing is made up."""

import re
from pathlib import Path

from tests.conversation.guides import shipped_guide
from tests.delivery.office import Office
from tests.delivery.recorded import RecordedChannel
from tests.written import quoted, write_out
from triagebot.conversation import plain
from triagebot.messages import Pressed, new_code

#: Who says what, in order; CODE is the last invitation's, and what stands in brackets is a button.
DAY = (
    ("mo", "I’m helping somebody"),
    ("mo", "the blue commuter"),
    ("mo", "it stays still"),
    ("mo", "how do I check?"),
    ("mo", "[unsure]"),
    ("mo", "I help a friend: Red Racer"),
    ("mo", "cases"),
    ("mo", "blue commuter"),
    ("mo", "invite"),
    ("ria", "CODE"),
    ("ria", "who are you?"),
    ("ria", "yes"),
    ("ria", "it has 4 notches"),
    ("ria", "about 32 mm, with a rule"),
    ("mo", "no, it measures 40 mm"),
    ("ria", "why"),
    ("mo", "summary"),
    ("mo", "red racer: 9 sprockets, it turns"),
    ("mo", "12 splines"),
    ("mo", "no name on it"),
    ("mo", "rename it to the red one"),
    ("ria", "leave"),
    ("mo", "cases"),
    ("mo", "finish"),
    ("mo", "the blue one"),
    ("mo", "cases"),
    ("ria", "CODE"),
)
NAMES = {"mo": "Mo, who helps", "ria": "Ria, with the blue commuter"}


def written(folder: Path) -> str:
    channel = RecordedChannel()
    office = Office(folder / "data", shipped_guide(), channel, codes=new_code)
    lines, seen, code = ["# Helping somebody elsewhere", ""], dict.fromkeys(NAMES, 0), ""
    for who, text in DAY:
        office.clock.wait(minutes=1)
        said = text.replace("CODE", code)
        if button := re.fullmatch(r"\[(.+)\]", said):
            shown = next(m for m in reversed(channel.screens[who]) if m.reply.question is not None)
            office.bring(who, Pressed(shown.case, shown.turn, button[1]))
        else:
            office.bring(who, said)
        lines += [f"**{NAMES[who]}**", "", said, ""]
        for other in (who, *(each for each in NAMES if each != who)):
            for message in channel.screens[other][seen[other] :]:
                lines += [f"**The bot, to {other.capitalize()}**", "", *quoted(plain(message.reply)), ""]
                invited = re.search(r"\b[B-Z]{4}-[B-Z]{4}-[B-Z]{4}\b", plain(message.reply))
                code = invited[0] if invited is not None else code
            seen[other] = len(channel.screens[other])
    office.close()
    office.runner.close()
    return "\n".join(lines).rstrip() + "\n"


if __name__ == "__main__":
    write_out(written)
