"""One message of one person, taken through its steps inside a transaction."""

from triagebot.turns.in_hand import Outcome, Taken, Turns
from triagebot.turns.plan import answered, set_aside
from triagebot.turns.take_message import STEPS, take

__all__ = ["STEPS", "Outcome", "Taken", "Turns", "answered", "set_aside", "take"]
