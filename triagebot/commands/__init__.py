"""The commands for staff, for studies and for running the bot; `cli` has the rest."""

from triagebot.commands import checking, keeping, staff, study

__all__ = ["checking", "keeping", "staff", "study"]
