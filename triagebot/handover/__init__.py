"""A case laid out in the staff's room, and words both ways."""

from triagebot.handover.to_staff import HandOver, StaffRoom

__all__ = ["HandOver", "StaffRoom"]
