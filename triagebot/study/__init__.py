"""Looking back and ahead: simulated people, what closed cases teach, and what an edit would change."""

from triagebot.study.simulate import Report, simulate

__all__ = ["Report", "simulate"]
