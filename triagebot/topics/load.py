"""A topic folder read into one frozen value, and any data file read against its pydantic model.

A topic that loads has every id resolved and every number in range (`references.py`); `check.py` proves the machine, the
texts, and what can be told apart.
"""

import hashlib
from collections.abc import Iterator, Sequence
from difflib import get_close_matches
from pathlib import Path
from types import MappingProxyType
from typing import Any, TypeVar, get_args

from pydantic import BaseModel, ValidationError
from pydantic.fields import FieldInfo

from triagebot.errors import DataError, Problem
from triagebot.topics.gauges import Gauges
from triagebot.topics.marks import Files, Marks, Place, field_name, read_yaml
from triagebot.topics.procedure_rows import Procedures
from triagebot.topics.references import broken_references
from triagebot.topics.schema import Catalogue, Flow, Sources
from triagebot.topics.topic import Topic

M = TypeVar("M", bound=BaseModel)

#: The one file that a topic may leave out.
PROCEDURES = "procedures.yaml"
#: The topic that comes with the program.
BUILT_IN = "rear-sprockets"


def built_in_topic() -> Path:
    """The folder of the topic that comes with the program: inside an installed package, else beside a checkout's."""
    package = Path(__file__).resolve().parent.parent
    installed = package / "_data" / "flows" / BUILT_IN
    return installed if installed.is_dir() else package.parent / "flows" / BUILT_IN


def load_topic(folder: Path) -> Topic:
    """Read a topic folder. Raises DataError with all faults of shape, or else every id and number that is wrong."""
    topic, files = read_topic(folder)
    problems = broken_references(topic, files)
    if problems:
        raise DataError(folder, tuple(problems))
    return topic


class Parts:
    """The files of one folder, read one by one: every problem is kept, and the place of every value."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.problems: list[Problem] = []
        self.marks: dict[str, Marks] = {}

    def read(self, model_class: type[M], name: str) -> M | None:
        """The file as `model_class`; None when it has problems, which are kept."""
        try:
            value, self.marks[name] = validated_with_marks(model_class, self.folder / name)
        except DataError as error:
            self.problems.extend(error.problems)
            return None
        return value


def read_topic(folder: Path) -> tuple[Topic, Files]:
    """Read a folder for checking: its files fit the schema, their ids may still point nowhere. Raises DataError."""
    parts = Parts(folder)
    catalogue = parts.read(Catalogue, "catalogue.yaml")
    flow = parts.read(Flow, "flow.yaml")
    sources = parts.read(Sources, "sources.yaml")
    gauges = parts.read(Gauges, "gauges.yaml")
    procedures = Procedures(source="none")
    if (folder / PROCEDURES).exists():
        procedures = parts.read(Procedures, PROCEDURES) or procedures
    if parts.problems or catalogue is None or flow is None or sources is None or gauges is None:
        raise DataError(folder, tuple(parts.problems))
    topic = Topic(
        folder=folder,
        id=flow.topic,
        catalogue=catalogue,
        flow=flow,
        sources=MappingProxyType({s.id: s for s in sources.sources}),
        gauges=MappingProxyType({g.id: g.mm for g in gauges.gauges}),
        digest=digest(folder),
        procedures=procedures.procedures,
    )
    return topic, Files(folder, MappingProxyType(parts.marks))


def digest(folder: Path) -> str:
    """SHA-256 (hex) over the names and bytes of all files in a folder. Hidden files are left out (editors make them),
    and so is what only teaches or tries it, and what a shop copies from, since no case depends on these.

    Raises DataError when a file cannot be read.
    """
    total = hashlib.sha256()
    try:
        files = [f for f in folder.rglob("*") if f.is_file() and not _left_out(f.relative_to(folder))]
        for name, file in sorted((f.relative_to(folder).as_posix(), f) for f in files):
            content = file.read_bytes()
            total.update(f"{len(name.encode())} {name} {len(content)} ".encode())
            total.update(content)
    except OSError as error:
        place = str(error.filename or folder)
        raise DataError(folder, (Problem(place, 0, 0, f"cannot be read: {error.strerror or error}"),)) from error
    return total.hexdigest()


def validated_with_marks(
    model_class: type[M], path: Path, text: str | None = None, what: str = "the file"
) -> tuple[M, Marks]:
    """Read a YAML file into `model_class`, with the places of its keys and values for later complaints. Of a file that
    goes on otherwise, only the `text` that it begins with is read, which complaints call `what`.

    Raises DataError with the place of every value that does not fit.
    """
    data, marks = read_yaml(path, text, what)
    try:
        return model_class.model_validate(data), marks
    except ValidationError as error:
        rows = (
            _problem(path, marks, row, model_class) for row in error.errors(include_url=False, include_context=False)
        )
        raise DataError(path.parent, tuple(dict.fromkeys(rows))) from error


#: How files end from which the reader learns, that hold what it has learned, or what simulated people are and say.
_TEACHING = (".guess", ".jsonl", ".speech.yaml", "people.yaml")


#: The folder of ready priors, which a shop copies from.
READY_PRIORS = "priors"


def _left_out(name: Path) -> bool:
    hidden = any(part.startswith(".") or part == "__pycache__" for part in name.parts)
    return hidden or name.name.endswith(_TEACHING) or name.parts[0] == READY_PRIORS


#: What pydantic calls a fault, and what an editor of the file reads.
_WORDS = {
    "missing": "is missing",
    "extra_forbidden": "is no key that is known here",
    "string_type": "should be text",
    "string_pattern_mismatch": "should be lowercase words joined by hyphens",
    "dict_type": "should be keys with values (key: value)",
    "model_type": "should be keys with values (key: value)",
    "tuple_type": "should be a list",
    "float_parsing": "should be a number",
    "float_type": "should be a number",
    "finite_number": "should be a number",
    "int_parsing": "should be a whole number",
    "int_type": "should be a whole number",
    "bool_parsing": "should be true or false",
}


def _problem(path: Path, marks: Marks, row: Any, model_class: type[BaseModel]) -> Problem:
    loc = [part for part in row["loc"] if part != "[key]"]
    known = marks.known(loc)
    at_key = row["type"] == "extra_forbidden" or "[key]" in row["loc"]
    place: Place = marks.key(known) if at_key else marks.value(known)
    named = (*known, loc[-1]) if row["type"] == "missing" and loc else known
    message = _WORDS.get(row["type"], row["msg"].removeprefix("Value error, ").removeprefix("Input "))
    if row["type"] == "extra_forbidden":
        close = get_close_matches(str(loc[-1]), _keys(model_class, loc[:-1]), n=1)
        message += f"; did you mean {close[0]}?" if close else ""
    field = field_name(marks.data, named)
    return Problem(str(path), *place, f"{field}: {message}" if field else message)


def _keys(model_class: type[BaseModel], path: Sequence[Any]) -> list[str]:
    """The keys that are known at a place in a file of this shape."""
    here: set[type[BaseModel]] = {model_class}
    for part in path:
        inner = [field.annotation for model in here for field in _fields(model).get(part, ())]
        here = {model for annotation in inner for model in _models_in(annotation)} if inner else here
    return sorted(name for model in here for name in _fields(model))


def _fields(model: type[BaseModel]) -> dict[str, tuple[FieldInfo, ...]]:
    return {field.alias or name: (field,) for name, field in model.model_fields.items()}


def _models_in(annotation: Any) -> Iterator[type[BaseModel]]:
    """The shapes that a field may hold, however they are nested in lists and alternatives."""
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        yield annotation
    for inner in get_args(annotation):
        yield from _models_in(inner)
