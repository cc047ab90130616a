"""Ways to talk: the terminal and JSON lines."""

from triagebot.channels import lines, terminal

__all__ = ["lines", "terminal"]
