"""Whole conversations for measuring, as the messages that somebody sends: picks, free text, changes of mind."""

from collections.abc import Iterator

from tests.bench.clocks import Times
from triagebot.conversation import Guide, Message
from triagebot.testing import ScriptedPerson

TALKS: tuple[tuple[str, ...], ...] = (
    ("12 splines, about 23,4 mm, doesn't turn", "no", "I don't know", "quick release", "thanks", "stop"),
    ("hello", "it turns", "splines", "12", "9 wide grooves, one is narrower", "yes", "nuts", "no motor"),
    ("The sprockets won't come off", "1", "1", "2", "four", "about an inch", "1", "1", "1", "why?"),
    ("it stays still, four notches, a bit wider than a 1-euro coin", "24.2 by calliper", "good", "nuts", "bye"),
    ("wheel is still in the bike", "done", "it turns", "how do I check?", "splines", "not sure", "eleven or twelve"),
    ("single speed, 4 notches, 32 mm", "stays", "no wait, 40 mm", "40.1 mm", "1", "2", "restart", "help"),
    ("fixed wheel with a ring that has notches on the outside", "3", "36 mm", "1", "1", "change", "1", "outer notches"),
    ("2 notches 25mm", "doesn't turn", "axle with nuts", "the notches are worn", "person"),
    ("there is a cable through the axle, it's an e-bike", "turns", "12", "23.4", "deep ones", "yes", "rear hub", "ok"),
    ("I have no idea", "unsure", "unsure", "don't know", "no idea", "don't know", "unsure", "unsure", "person"),
    ("20 splines", "stays", "7/8 inch", "21.6 mm with a ruler", "1", "back", "back", "20", "2.15 cm", "1"),
    ("turns, 12 splines, 22.8 mm, ten sprockets", "8 deep", "the deep one", "40 Nm", "through-axle", "none", "stop"),
)


def messages(talk: tuple[str, ...]) -> tuple[Message, ...]:
    return tuple(Message(text) for text in talk)


def hold(guide: Guide, times: Times) -> Iterator[ScriptedPerson]:
    """Hold every conversation once, taking down the time of each turn; gives the people as they end."""
    for talk in TALKS:
        person = ScriptedPerson(guide)
        for message in messages(talk):
            times.run(lambda message=message, person=person: person.send(message))  # type: ignore[misc]
        yield person
