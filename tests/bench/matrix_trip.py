"""Round trips on Matrix: from when somebody begins to send until they can read the answer."""

from collections.abc import Callable
from time import perf_counter

from tests.channels.matrix.person import Person


async def measure(
    person: Person, bot_user: str, room: str, n: int, text: Callable[[int], str] = lambda number: f"number {number}"
) -> list[float]:
    """`n` round trips one after another, s. `text` is what is said for each; the bot must answer each with one message.

    The first in an encrypted room carries the making of its keys on both sides: say something before.
    """
    trips = []
    for number in range(n):
        before = perf_counter()
        await person.say(room, text(number))
        await person.hears(lambda heard: heard.sender == bot_user, room=room)
        trips.append(perf_counter() - before)
    return trips
