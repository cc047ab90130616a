"""The commands for staff, for studies and for whoever keeps the bot running; `cli` has the rest."""

from triagebot.commands import keeping, staff, study

__all__ = ["keeping", "staff", "study"]
