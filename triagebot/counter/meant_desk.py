"""What a line says of the queue, the next case, help or who is on duty, whatever the order of its words.

Rules of this file:
- a line is made of words that each say something (`desk-words`), and of those that say nothing; the commands of
  `desk-lines` list which words make them;
- a command is sure where no word of the line is left over; one with a word left over is only offered;
- a line that names a tool, a case or a peg is about that, and none of these.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from triagebot.counter.heard import CASE, COMMA, PEG, WHEN, Heard
from triagebot.counter.heard_tools import TOOL
from triagebot.counter.work import Work
from triagebot.shop import fold
from triagebot.store.staff import Staff

#: No phrase of the words has more words.
_LONGEST = 3
#: So many words may be left over of a line that is offered, and fewer than it is made of.
_LEFT = 2
#: What a time is said with: until when somebody is off, not from when.
_DUTY = ("off-duty", "on-duty")


@dataclass(frozen=True, slots=True)
class Desk:
    """A command, whether that is sure, and who it is said of: "" for the member who writes."""

    command: str
    sure: bool
    who: str = ""


def desk_meant(work: Work, heard: Heard) -> Desk | None:
    """The command that a line comes to; None where it says nothing of the kind."""
    if heard.tools or heard.code or any(sign in heard.words for sign in (TOOL, PEG)):
        return None
    words = [word for said in heard.words for word in ((WHEN, *_of_today(work, heard)) if said == WHEN else (said,))]
    parts = _parts(work, [word.lower() if word == CASE else word for word in words if word != COMMA])
    names = {fold(member.name) for member in Staff(work.tx).members()}
    soft = set(work.words.desk_soft)
    best: tuple[int, int, str, list[str]] | None = None
    family = {command: set[str]() for command in _DUTY}
    for command, wanted in work.words.desk_lines:
        family.get(command, set()).update(wanted)
    for command, wanted in work.words.desk_lines:
        if not all(any(name in senses for _, senses in parts) for name in wanted):
            continue
        left = [
            said
            for said, senses in parts
            if not senses & (set(wanted) | soft | family.get(command, set()))
            and said not in (WHEN, *work.words.queue_fillers)
            and said not in names
        ]
        rank = (len(left), -len(wanted), command, left)
        best = rank if best is None or rank[:2] < best[:2] else best
    if best is None or (best[0] and (best[0] > _LEFT or best[0] >= len(parts) - best[0] + 1)):
        return None
    who = next((said for said, _ in parts if said in names and said != fold(work.member.name)), "")
    command = best[2]
    if (
        heard.due is not None
        and any(said == WHEN for said, _ in parts)
        and command not in (*_DUTY, "who-is-on", "queue")
    ):
        command = {"claim-next": "claim-next", "today": "today", "out": "out"}.get(command, "")
        if not command or heard.when.split()[-1] not in work.words.desk_words["today"]:
            return None
    return Desk(_with_time(work, heard, command), not best[0], who if command in _DUTY else "")


def _of_today(work: Work, heard: Heard) -> tuple[str, ...]:
    """The words of a time that say something of the desk: "closed today"."""
    return tuple(w for w in heard.when.split() if any(w in known for known in work.words.desk_words.values()))


def _parts(work: Work, words: Sequence[str]) -> list[tuple[str, set[str]]]:
    """The words and phrases of a line, each with all that it may say."""
    found: list[tuple[str, set[str]]] = []
    place = 0
    while place < len(words):
        for length in range(min(_LONGEST, len(words) - place), 0, -1):
            said = " ".join(words[place : place + length])
            senses = {name for name, known in work.words.desk_words.items() if said in known}
            senses |= {"when"} if said == WHEN else set()
            if senses or length == 1:
                break
        found.append((said, senses))
        place += length
    return found


def _with_time(work: Work, heard: Heard, command: str) -> str:
    """A command about duty with the time at which that begins or ends."""
    if heard.due is None or command not in _DUTY or heard.when in ("today", "on today", "now"):
        return {"off-duty": "off duty", "on-duty": "on duty"}.get(command, command)
    begins = command == "on-duty" or heard.begins
    units = {unit for each in ("minutes", "hours", "days", "weeks") for unit in work.words.times[each]}
    lasts = any(word in units for word in heard.when.split())
    return f"off duty {'' if lasts and not begins else 'from ' if begins else 'until '}{heard.when_alone}"
