"""A Markdown file taken apart into its head and its text, the head read against a pydantic model.

A head is `---` on the first line, YAML as in the other data files, and `---` on a line of its own; then comes the text.
"""

from pathlib import Path
from typing import TypeVar

from pydantic import BaseModel

from triagebot.errors import DataError, Problem
from triagebot.topics import Marks, text_of, validated_with_marks

M = TypeVar("M", bound=BaseModel)

BYTES = 1_000_000
HEAD = 4_000
_FENCE = "---"


def split_note(path: Path, model_class: type[M]) -> tuple[M, Marks, str, int]:
    """The head, the places of its values, the text below it, and the line on which that text begins.

    Raises DataError, with line and column, for a file that cannot be read, has no head, or whose head does not fit.
    """
    lines = text_of(path, BYTES).replace("\r\n", "\n").split("\n")
    end = next((n for n, line in enumerate(lines[1:], 1) if line.rstrip() == _FENCE), None)
    if lines[0].rstrip() != _FENCE or end is None:
        raise _fault(path, "a note starts with its head: title and so on, between two lines of ---")
    head = "\n".join(lines[:end])
    if len(head) > HEAD:
        raise _fault(path, f"the head is longer than {HEAD} characters")
    value, marks = validated_with_marks(model_class, path, head, "the head")
    return value, marks, "\n".join(lines[end + 1 :]), end + 2


def _fault(path: Path, message: str) -> DataError:
    return DataError(path.parent, (Problem(str(path), 1, 1, message),))
