"""Mentors and their riders: who takes part in a case, what is sent on, invitations."""

from triagebot.helping.mentoring import Mentoring

__all__ = ["Mentoring"]
