"""The commands for staff and for studies; `cli` has the rest."""

from triagebot.commands import staff, study

__all__ = ["staff", "study"]
