"""The desk: takes a message in, runs one turn, hands out what comes of it, all crash-safe."""

from triagebot.desk.codes import new_code
from triagebot.desk.sitting import Heard, Sitting

__all__ = ["Heard", "Sitting", "new_code"]
