"""A Markdown file taken apart into its head and its text, the head read against a pydantic model.

Decided here and nowhere else: what a head looks like. `---` on the first line, flat YAML (words, or lists and mappings
of words), `---` on a line of its own; then the text. Every scalar stays a string, as in the other data files.
"""

from pathlib import Path
from typing import Any, TypeVar

import yaml
from pydantic import BaseModel, ValidationError

from triagebot.errors import DataError, Problem
from triagebot.topics import Marks, field_name

M = TypeVar("M", bound=BaseModel)

BYTES = 1_000_000
HEAD = 4_000
_FENCE = "---"
#: What the parser says about a slip that nearly everybody makes, and what they need to know.
_WORDS = {"mapping values are not allowed in this context": 'a text that holds ": " needs quotes round it: "one: two"'}


def split_note(path: Path, model_class: type[M]) -> tuple[M, Marks, str, int]:
    """The head, the places of its values, the text below it, and the line on which that text begins.

    Raises DataError, with line and column, for a file that cannot be read, has no head, or whose head does not fit.
    """
    lines = _text(path).split("\n")
    end = next((n for n, line in enumerate(lines[1:], 1) if line.rstrip() == _FENCE), None)
    if lines[0].rstrip() != _FENCE or end is None:
        raise _fault(path, 1, 1, "a note starts with its head: title and so on, between two lines of ---")
    head = _Head(path, "\n".join(lines[:end]))
    return head.fitted(model_class), head.marks, "\n".join(lines[end + 1 :]), end + 2


class _Head:
    def __init__(self, path: Path, text: str) -> None:
        self.path = path
        self.marks = Marks()
        self._seen: set[int] = set()
        if len(text) > HEAD:
            raise _fault(path, 1, 1, f"the head is longer than {HEAD} characters")
        try:
            node = yaml.compose(text, Loader=yaml.CBaseLoader)
        except yaml.MarkedYAMLError as error:
            mark = error.problem_mark or error.context_mark
            place = (mark.line + 1, mark.column + 1) if mark else (1, 1)
            words = _WORDS.get(str(error.problem), f"this is not YAML: {error.problem or error.context}")
            raise _fault(path, *place, words) from error
        except yaml.YAMLError as error:
            raise _fault(path, 1, 1, f"this is not YAML: {error}") from error
        if not isinstance(node, yaml.MappingNode):
            raise _fault(path, 1, 1, "the head must hold keys with values (key: value)")
        self.marks.data = self._plain(node, 0)

    def fitted(self, model_class: type[M]) -> M:
        try:
            return model_class.model_validate(self.marks.data)
        except ValidationError as error:
            rows = [self._problem(row) for row in error.errors(include_url=False, include_context=False)]
            raise DataError(self.path.parent, tuple(dict.fromkeys(rows))) from error

    def _plain(self, node: yaml.Node, depth: int) -> Any:
        line, column = node.start_mark.line + 1, node.start_mark.column + 1
        if depth > 3:
            raise _fault(self.path, line, column, "nested too deep for the head of a note")
        if id(node) in self._seen:
            raise _fault(self.path, line, column, "anchors (&) and aliases (*) are not used here: write the value out")
        self._seen.add(id(node))
        if isinstance(node, yaml.ScalarNode):
            return node.value if node.style or node.value not in ("", "~", "null") else None
        if isinstance(node, yaml.SequenceNode):
            items: list[Any] = []
            for item in node.value:
                place = (item.start_mark.line + 1, item.start_mark.column + 1)
                self.marks.note(items, len(items), place, place)
                items.append(self._plain(item, depth + 1))
            return items
        assert isinstance(node, yaml.MappingNode)  # the only kind of node left
        entries: dict[str, Any] = {}
        for key, value in node.value:
            place = (key.start_mark.line + 1, key.start_mark.column + 1)
            if not isinstance(key, yaml.ScalarNode):
                raise _fault(self.path, *place, "a key must be a word")
            if key.value in entries:
                raise _fault(self.path, *place, f"the key {key.value!r} stands twice in the same place")
            self.marks.note(entries, key.value, place, (value.start_mark.line + 1, value.start_mark.column + 1))
            entries[key.value] = self._plain(value, depth + 1)
        return entries

    def _problem(self, row: Any) -> Problem:
        known = self.marks.known([part for part in row["loc"] if part != "[key]"])
        unknown = row["type"] == "extra_forbidden"
        place = self.marks.key(known) if unknown or "[key]" in row["loc"] else self.marks.value(known)
        missing = row["type"] == "missing"
        name = field_name(self.marks.data, (*known, row["loc"][-1]) if missing else known)
        message = "is missing" if missing else "is no key that is known here" if unknown else row["msg"]
        message = message.removeprefix("Value error, ").removeprefix("Input ")
        return Problem(str(self.path), *place, f"{name}: {message}" if name else message)


def _text(path: Path) -> str:
    try:
        with path.open("rb") as file:
            raw = file.read(BYTES + 1)
    except OSError as error:
        raise _fault(path, 0, 0, f"cannot be read: {error.strerror or error}") from error
    if len(raw) > BYTES:
        raise _fault(path, 0, 0, f"the file is larger than {BYTES // 1_000_000} MB")
    try:
        return raw.decode("utf-8-sig").replace("\r\n", "\n")
    except UnicodeDecodeError as error:
        line = raw[: error.start].count(b"\n") + 1
        raise _fault(path, line, 1, "this is not UTF-8: save the file in that encoding") from error


def _fault(path: Path, line: int, column: int, message: str) -> DataError:
    return DataError(path.parent, (Problem(str(path), line, column, message),))
