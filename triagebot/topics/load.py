"""A topic folder read into one frozen value, and any data file read against its pydantic model.

Decided here and nowhere else: which files a topic has, where the built-in topic lies, and what its digest covers.
Errors of shape are found here; what the files say about each other is proved in `check.py`.
"""

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from types import MappingProxyType
from typing import Any, TypeVar

from pydantic import BaseModel, ValidationError

from triagebot.errors import DataError, Problem
from triagebot.identify import Model
from triagebot.topics.compile import compile_model
from triagebot.topics.marks import Marks, Place, read_yaml
from triagebot.topics.schema import (
    Accessory,
    Catalogue,
    Caution,
    Fastening,
    Flow,
    Gauges,
    Question,
    Remover,
    Source,
    Sources,
)

M = TypeVar("M", bound=BaseModel)

#: The topic that comes with the program.
BUILT_IN = "rear-sprockets"


@dataclass(frozen=True, eq=False)
class Topic:
    """What one folder under `flows/` says. Maps by id keep the order of the files; `gauges` are in mm.

    `digest` (SHA-256, hex) changes with any byte or name of any file in the folder, so that a case can pin it.
    """

    folder: Path
    id: str
    catalogue: Catalogue
    flow: Flow
    sources: Mapping[str, Source]
    gauges: Mapping[str, float]
    digest: str

    @cached_property
    def questions(self) -> Mapping[str, Question]:
        return MappingProxyType({q.id: q for q in self.flow.questions})

    @cached_property
    def fastenings(self) -> Mapping[str, Fastening]:
        return MappingProxyType({f.id: f for f in self.catalogue.fastenings})

    @cached_property
    def removers(self) -> Mapping[str, Remover]:
        return MappingProxyType({r.id: r for r in self.catalogue.removers})

    @cached_property
    def accessories(self) -> Mapping[str, Accessory]:
        return MappingProxyType({a.id: a for a in self.catalogue.accessories})

    @cached_property
    def cautions(self) -> Mapping[str, Caution]:
        return MappingProxyType({c.id: c for c in self.catalogue.cautions})

    @cached_property
    def model(self) -> Model:
        """The arrays that identification works on."""
        return compile_model(self.catalogue, self.flow)


def built_in_topic() -> Path:
    """The folder of the topic that comes with the program: inside an installed package, else beside a checkout's."""
    package = Path(__file__).resolve().parent.parent
    installed = package / "_data" / "flows" / BUILT_IN
    return installed if installed.is_dir() else package.parent / "flows" / BUILT_IN


def load_topic(folder: Path) -> Topic:
    """Read a topic folder. Raises DataError holding every problem of shape in any of its files."""
    problems: list[Problem] = []
    catalogue = _part(Catalogue, folder / "catalogue.yaml", problems)
    flow = _part(Flow, folder / "flow.yaml", problems)
    sources = _part(Sources, folder / "sources.yaml", problems)
    gauges = _part(Gauges, folder / "gauges.yaml", problems)
    if catalogue is None or flow is None or sources is None or gauges is None:
        raise DataError(folder, tuple(problems))
    return Topic(
        folder=folder,
        id=flow.topic,
        catalogue=catalogue,
        flow=flow,
        sources=MappingProxyType({s.id: s for s in sources.sources}),
        gauges=MappingProxyType({g.id: g.mm for g in gauges.gauges}),
        digest=digest(folder),
    )


def digest(folder: Path) -> str:
    """SHA-256 (hex) over the names and bytes of all files in a folder; hidden files are left out (editors make them).

    Raises DataError when a file cannot be read.
    """
    total = hashlib.sha256()
    try:
        files = [f for f in folder.rglob("*") if f.is_file() and not _hidden(f.relative_to(folder))]
        for name, file in sorted((f.relative_to(folder).as_posix(), f) for f in files):
            content = file.read_bytes()
            total.update(f"{len(name.encode())} {name} {len(content)} ".encode())
            total.update(content)
    except OSError as error:
        place = str(error.filename or folder)
        raise DataError(folder, (Problem(place, 0, 0, f"cannot be read: {error.strerror or error}"),)) from error
    return total.hexdigest()


def validated(model_class: type[M], path: Path) -> M:
    """Read a YAML file into `model_class`. Raises DataError with the place of every value that does not fit."""
    return validated_with_marks(model_class, path)[0]


def validated_with_marks(model_class: type[M], path: Path) -> tuple[M, Marks]:
    """As `validated`, with the places of the file's keys and values for later complaints."""
    data, marks = read_yaml(path)
    try:
        return model_class.model_validate(data), marks
    except ValidationError as error:
        rows = (_problem(path, marks, row) for row in error.errors(include_url=False, include_context=False))
        raise DataError(path.parent, tuple(dict.fromkeys(rows))) from error


def _part(model_class: type[M], path: Path, problems: list[Problem]) -> M | None:
    try:
        return validated(model_class, path)
    except DataError as error:
        problems.extend(error.problems)
        return None


def _hidden(name: Path) -> bool:
    return any(part.startswith(".") or part == "__pycache__" for part in name.parts)


#: What pydantic calls a fault, and what an editor of the file reads.
_WORDS = {
    "missing": "is missing",
    "extra_forbidden": "is no key that is known here",
    "string_type": "should be text",
    "dict_type": "should be keys with values (key: value)",
    "model_type": "should be keys with values (key: value)",
    "tuple_type": "should be a list",
    "float_parsing": "should be a number",
    "float_type": "should be a number",
    "int_parsing": "should be a whole number",
    "int_type": "should be a whole number",
    "bool_parsing": "should be true or false",
}


def _problem(path: Path, marks: Marks, row: Any) -> Problem:
    loc = [part for part in row["loc"] if part != "[key]"]
    known = marks.known(loc)
    at_key = row["type"] == "extra_forbidden" or "[key]" in row["loc"]
    place: Place = marks.key(known) if at_key else marks.value(known)
    named = (*known, loc[-1]) if row["type"] == "missing" and loc else known
    message = _WORDS.get(row["type"], row["msg"].removeprefix("Value error, ").removeprefix("Input "))
    field = field_name(marks.data, named)
    return Problem(str(path), *place, f"{field}: {message}" if field else message)


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
