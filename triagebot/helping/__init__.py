"""Mentors and their riders: who takes part in a case, what is sent on, invitations."""

from triagebot.helping.mentoring import attend, forgetting, share
from triagebot.helping.seats import At, Here, Links, Made, Seat, Spoken, no_links

__all__ = ["At", "Here", "Links", "Made", "Seat", "Spoken", "attend", "forgetting", "no_links", "share"]
