"""Matrix: the whole conversation in rooms, plain and encrypted, by typing and by numbers under the questions."""

from triagebot.channels.matrix.account import connected, problems
from triagebot.channels.matrix.channel import Matrix

__all__ = ["Matrix", "connected", "problems"]
