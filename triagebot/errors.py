"""Every error that triagebot raises on purpose, each with the reason why it exists.

An error carries fields, says where (file:line:column, state or question) and tells the reader what to do.
"""

from dataclasses import dataclass
from pathlib import Path


class TriagebotError(Exception):
    """Root of the family, so that one `except` at the top can print a clear line in place of a traceback."""


@dataclass(frozen=True, slots=True, order=True)
class Problem:
    """One thing wrong in one data file. Lines and columns count from 1; 0 means the whole file. `ought`: it can be used
    as it is, and is only less than it might be."""

    file: str
    line: int
    column: int
    message: str
    ought: bool = False

    def __str__(self) -> str:
        weight = "ought: " if self.ought else ""
        return f"{self.file}:{self.line}:{self.column}: {weight}{self.message}"


class DataError(TriagebotError):
    """A topic or shop folder cannot be used; holds every problem found, so that all are mended in one go."""

    def __init__(self, folder: Path | str, problems: tuple[Problem, ...]) -> None:
        self.folder = str(folder)
        self.problems = tuple(sorted(problems))
        super().__init__("\n".join(str(problem) for problem in self.problems))


class SettingsError(TriagebotError):
    """The settings cannot be used; names each setting, its value's fault and where it came from."""


class StoreError(TriagebotError):
    """The data folder or the database cannot be used; says which path and what to do about it."""


class UsageError(TriagebotError):
    """A command was asked for something it cannot do (an unknown profile, a missing folder)."""
