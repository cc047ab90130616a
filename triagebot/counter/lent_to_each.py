"""A line that gives tools to several people: "lend the fat 12 to ivy and the twenty to ike til 6".

Rules of this file:
- each part of the line has one tool and somebody to get it, or it is no such line;
- a time that only the last part has may be for all of them, so it is asked about.
"""

import re

from triagebot.counter.heard import Heard, hear
from triagebot.counter.meant import ACTIONS, command_lines, senses, who_is_meant
from triagebot.counter.work import Work
from triagebot.shop import fold

_BETWEEN = re.compile(r"\s*(?:[,;&+]|\band\b)\s*", re.IGNORECASE)
#: It takes so many people.
_SEVERAL = 2


def lent_to_each(work: Work, text: str) -> tuple[list[str], bool] | None:
    """The command for each part of a line, and whether that is sure; None for any other line."""
    parts = [part for part in _BETWEEN.split(text) if part]
    if len(parts) < _SEVERAL:
        return None
    found: list[tuple[Heard, str]] = []
    for place, part in enumerate(parts):
        heard = hear(work, part)
        said = senses(work, heard)
        who, _ = who_is_meant(work, heard, said)
        actions = {each.sense for each in said if each.sense in ACTIONS}
        lends = actions == {"lend"} if place == 0 else actions <= {"lend"}
        if not lends or not who or len(heard.tools) != 1 or len(heard.tools[0].tools) != 1 or heard.question:
            return None
        found.append((heard, who))
    if len({fold(who) for _, who in found}) < _SEVERAL:
        return None
    sure = len({bool(heard.when) for heard, _ in found}) == 1
    return [line for heard, who in found for line in command_lines(work, "lend", heard, who)], sure
