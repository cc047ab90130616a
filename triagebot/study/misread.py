"""What a message was taken for, beside what its author meant."""

from dataclasses import dataclass

from triagebot.conversation import Event
from triagebot.conversation.case import Concluded, Listed, Remarked, Restarted, Undid, Withdrew
from triagebot.conversation.guide import UNSURE
from triagebot.identify import BoundReading, ChoiceReading, CountReading, Reading, SizeReading, UnsureReading

#: Two lengths that differ by less than this (mm) are the same.
_SAME = 0.011


@dataclass(frozen=True, slots=True)
class Misreading:
    """A message of which something was taken that its author did not mean. `open`: what was asked."""

    open: str
    text: str
    meant: str
    taken: str


def agrees(taken: Reading, meant: Reading) -> bool:
    """Whether a reading says nothing else than what was meant about the same question; it may say less."""
    match taken, meant:
        case ChoiceReading(), ChoiceReading():
            return taken == meant or (taken.choice == meant.choice) != taken.denied
        case CountReading(), CountReading():
            return taken.low <= meant.low and meant.high <= taken.high
        case SizeReading(), SizeReading():
            near = abs(taken.mm - meant.mm) <= taken.half_width + _SAME
            return near and taken.means in (meant.means, "unknown")
        case BoundReading(), SizeReading():
            return (taken.low or 0.0) - _SAME <= meant.mm <= (taken.high or meant.mm) + _SAME
        case _:
            return taken == meant


def in_short(reading: Reading) -> str:
    """A reading for those who mend the reader: `fitting=splines`, `size=23.4 (rule)`."""
    match reading:
        case ChoiceReading():
            value = f"{'not ' if reading.denied else ''}{reading.choice}"
        case CountReading():
            value = str(reading.low) if reading.low == reading.high else f"{reading.low} to {reading.high}"
        case SizeReading():
            value = f"{reading.mm:g} ({reading.means})"
        case BoundReading():
            value = f"{reading.low or ''} to {reading.high or ''}"
        case UnsureReading():
            value = UNSURE
    return f"{reading.question}={value}"


def unasked_command(event: Event) -> str:
    """What somebody must have been taken to ask for, that nobody here asks for; "" for every other event."""
    match event:
        case Concluded(outcome="stopped"):
            return "stop"
        case Concluded(reason="asked"):
            return "person"
        case Remarked(what="erase"):
            return "erase"
        case Undid():
            return "back"
        case Withdrew() | Listed():
            return "change"
        case Restarted():
            return "restart"
        case _:
            return ""
