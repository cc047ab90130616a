"""Runs the pages and every channel that is set up, of one shop or of all branches of a chain, until the process is told
to stop; and tells beforehand what is missing."""

from triagebot.serving.preflight import preflight, readable
from triagebot.serving.serve import OpenBranch, serve
from triagebot.serving.starting import give_back, prepare

__all__ = ["OpenBranch", "give_back", "preflight", "prepare", "readable", "serve"]
