"""A case as it is loaded from the store; its card, its ticket, going on with it on another channel."""

from triagebot.cases.loaded import LoadedCase, Memory

__all__ = ["LoadedCase", "Memory"]
