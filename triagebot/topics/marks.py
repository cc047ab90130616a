"""YAML read with the place of every key and value, so that each complaint can say file:line:column.

A data file may use a small part of YAML. Plain mappings, lists and scalars only: no anchors,
aliases or tags, one document, keys once each, no deeper than `DEPTH`, no larger than `BYTES`. Every scalar stays a
string (so `yes` and `no` are words), apart from an unquoted `null`, `~` or nothing at all, which is None.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import yaml

from triagebot.errors import DataError, Problem

BYTES = 2_000_000
DEPTH = 40

#: What the parser says about a slip that nearly everybody makes, and what they need to know.
_WORDS = {
    "mapping values are not allowed in this context": 'a text that holds ": " needs quotes round it: "one: two"',
    "found a tab character that violates indentation": "there is a tab here: indent with spaces",
}

#: Line and column, from 1.
Place = tuple[int, int]


@dataclass(eq=False)
class Marks:
    """Where the keys and values of one file stand. `path` arguments are keys and list indexes from the top."""

    data: Any = None
    top: Place = (1, 1)
    _places: dict[int, dict[Any, tuple[Place, Place]]] = field(default_factory=dict)

    def note(self, container: Any, key: Any, key_place: Place, value_place: Place) -> None:
        """Remember where an entry of a mapping or list stands."""
        self._places.setdefault(id(container), {})[key] = (key_place, value_place)

    def value(self, path: Sequence[Any]) -> Place:
        """The place of the value at `path`, or of the nearest thing around it that exists."""
        return self._find(path)[1]

    def key(self, path: Sequence[Any]) -> Place:
        """The place of the key at `path` (in a list: of the item), or of the nearest thing around it."""
        return self._find(path)[0]

    def known(self, path: Sequence[Any]) -> tuple[Any, ...]:
        """`path` without the parts that are not in the file (names of variants, missing keys)."""
        found: list[Any] = []
        here = self.data
        for part in path:
            if _has(here, part):
                found.append(part)
                here = here[part]
        return tuple(found)

    def _find(self, path: Sequence[Any]) -> tuple[Place, Place]:
        here, places = self.data, (self.top, self.top)
        for part in path:
            if _has(here, part):
                places = self._places[id(here)][part]
                here = here[part]
        return places


def _has(container: Any, part: Any) -> bool:
    if isinstance(container, dict):
        return part in container
    return isinstance(container, list) and type(part) is int and 0 <= part < len(container)


@dataclass(frozen=True, slots=True)
class Files:
    """Where the entries of a topic's files stand, so that a fault found later is named by line and column."""

    folder: Path
    marks: Mapping[str, Marks]

    def problem(self, file: str, path: tuple[Any, ...], message: str, *, key: bool = False) -> Problem:
        """A problem at the value at `path` in one of the files; with `key`, at the key that names it."""
        marks = self.marks[file]
        place = marks.key(path) if key else marks.value(path)
        name = field_name(marks.data, marks.known(path))
        return Problem(str(self.folder / file), *place, f"{name}: {message}" if name else message)


def field_name(data: Any, path: tuple[Any, ...]) -> str:
    """A path as an editor of the file would say it: list items by their id, where they have one."""
    name = ""
    for part in path:
        data = data[part] if isinstance(data, list) or (isinstance(data, dict) and part in data) else None
        if isinstance(part, int):
            own = data.get("id") if isinstance(data, dict) else None
            name += f"[{own if isinstance(own, str) else part + 1}]"
        else:
            name += f".{part}" if name else str(part)
    return name


def read_yaml(path: Path, text: str | None = None, what: str = "the file") -> tuple[dict[str, Any], Marks]:
    """Read a YAML file whose top is a mapping; or, of another file, the `text` that it begins with, called `what`.

    Raises DataError, naming line and column, for a file that cannot be read, is no UTF-8, is too large or too deep,
    is no YAML, repeats a key, uses anchors, aliases or tags, or holds anything but a mapping.
    """
    reader = _Reader(path)
    data = reader.read(text_of(path) if text is None else text)
    if not isinstance(data, dict):
        raise reader.fault(reader.marks.top, f"{what} must hold keys with values (key: value)")
    return data, reader.marks


def text_of(path: Path, most: int = BYTES) -> str:
    """What a file of UTF-8 says, with `most` bytes at most. Raises DataError."""
    try:
        with path.open("rb") as file:
            raw = file.read(most + 1)
    except OSError as error:
        raise _fault(path, (0, 0), f"cannot be read: {error.strerror or error}") from error
    if len(raw) > most:
        raise _fault(path, (0, 0), f"the file is larger than {most // 1_000_000} MB")
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        place = _place_in(raw, error.start)
        raise _fault(path, place, "this is not UTF-8: save the file in that encoding") from error


def _fault(path: Path, place: Place, message: str) -> DataError:
    return DataError(path.parent, (Problem(str(path), *place, message),))


_ENDS = (yaml.MappingEndEvent, yaml.SequenceEndEvent)
_SAYS = (yaml.NodeEvent, yaml.DocumentStartEvent)
_HOLDERS = (dict, list)


class _Reader:
    """One pass over the parser's events, without recursion, so that no depth of nesting can exhaust the stack."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.marks = Marks()

    def fault(self, place: Place, message: str) -> DataError:
        return _fault(self.path, place, message)

    def read(self, text: str) -> Any:
        try:
            return self._build(yaml.parse(text, Loader=yaml.CBaseLoader))
        except yaml.MarkedYAMLError as error:
            mark = error.problem_mark or error.context_mark
            place = (mark.line + 1, mark.column + 1) if mark else (1, 1)
            said = error.problem or error.context
            if text.splitlines()[place[0] - 1 : place[0]] and text.splitlines()[place[0] - 1][: place[1]].endswith(
                "\t"
            ):
                said = "found a tab character that violates indentation"
            raise self.fault(place, _WORDS.get(str(said), f"this is not YAML: {said}")) from error
        except yaml.reader.ReaderError as error:
            place = _place_in(text.encode("utf-8"), error.position)
            raise self.fault(place, f"this is not YAML: {error.reason}") from error
        except yaml.YAMLError as error:
            raise self.fault((1, 1), f"this is not YAML: {error}") from error

    def _build(self, events: Any) -> Any:
        open_ones: list[tuple[Any, Place]] = []
        waiting: list[tuple[str, Place] | None] = []
        documents = 0
        for event in events:
            if isinstance(event, _ENDS):
                open_ones.pop()
                waiting.pop()
                continue
            if not isinstance(event, _SAYS):
                continue
            mark: Any = event.start_mark
            place = (mark.line + 1, mark.column + 1)
            if isinstance(event, yaml.DocumentStartEvent):
                documents += 1
                if documents > 1:
                    raise self.fault(place, "a second document starts here; a file holds one")
                continue
            value = self._value(event, place)
            if not open_ones:
                self.marks.data, self.marks.top = value, place
            else:
                self._add(open_ones[-1][0], waiting, value, place)
            if isinstance(value, _HOLDERS):
                if len(open_ones) >= DEPTH:
                    raise self.fault(place, f"nested more than {DEPTH} deep")
                open_ones.append((value, place))
                waiting.append(None)
        return self.marks.data

    def _value(self, event: Any, place: Place) -> Any:
        if event.anchor:
            raise self.fault(place, "anchors (&) and aliases (*) are not used here: write the value out")
        if event.tag:
            raise self.fault(place, "tags (!) are not used here")
        if isinstance(event, yaml.MappingStartEvent):
            return {}
        if isinstance(event, yaml.SequenceStartEvent):
            return []
        plain = not event.style
        return None if plain and event.value in ("", "~", "null", "Null", "NULL") else event.value

    def _add(self, container: Any, waiting: list[tuple[str, Place] | None], value: Any, place: Place) -> None:
        if isinstance(container, list):
            self.marks.note(container, len(container), place, place)
            container.append(value)
            return
        key = waiting[-1]
        if key is not None:
            self.marks.note(container, key[0], key[1], place)
            container[key[0]] = value
            waiting[-1] = None
        elif not isinstance(value, str):
            raise self.fault(place, "a key must be a word")
        elif value in container:
            raise self.fault(place, f"the key {value!r} stands twice in the same place")
        else:
            waiting[-1] = (value, place)


def _place_in(raw: bytes, position: int) -> Place:
    before = raw[:position]
    line = before.count(b"\n") + 1
    return line, len(before[before.rfind(b"\n") + 1 :].decode("utf-8", "replace")) + 1
