"""One message of one person, taken through its steps inside a transaction."""

from triagebot.turns.take_message import Clerk, Taken

__all__ = ["Clerk", "Taken"]
