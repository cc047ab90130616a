"""Where settings come from, and which source wins.

Decided here and nowhere else: from lowest to highest, the defaults; the settings file, `triagebot.toml` in the user's
configuration folder or the file named by TRIAGEBOT_SETTINGS; variables TRIAGEBOT_*; what a command was told. What a
branch of a chain adds to that is in `branches`.

Sources are read here and not by `pydantic-settings`, whose import takes another 0.2 s beside pydantic's own: more than
a quarter of what a whole one-shot question may take. Two further needs are met on the way: every fault of every source
is said in one go, and each with the file's line or the variable's name.
"""

import os
import re
from collections.abc import Iterable, Iterator, Mapping
from contextlib import suppress
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import platformdirs
from pydantic import ValidationError

from triagebot.errors import SettingsError
from triagebot.settings.model import Settings, about
from triagebot.settings.values import plain

PREFIX = "TRIAGEBOT_"
#: The variable that names the settings file; it has no place in that file itself. `/dev/null` means no file.
FILE_VARIABLE = f"{PREFIX}SETTINGS"
FILE_NAME = "triagebot.toml"


@dataclass(frozen=True, slots=True)
class Given:
    """A value that somebody gave for a setting, with the place to name when it is wrong."""

    value: object
    place: str


@dataclass(frozen=True, slots=True)
class Source:
    """One layer: what it gives, where its relative paths begin, and what is wrong with it so far."""

    given: Mapping[str, Given]
    base: Path
    problems: tuple[str, ...] = ()


def load_settings(environment: Mapping[str, str], overrides: Mapping[str, object] | None = None) -> Settings:
    """The settings in force. `overrides` are what a command was told, by name of the setting; None means not told.

    The folders of the user (for the settings file and for data) are those of the process, whatever `environment` says.
    Raises SettingsError with a line for everything that is wrong, in whichever source, overridden or not.
    """
    merged, problems = merge(sources_of(environment, overrides or {}))
    if problems:
        raise SettingsError("\n".join(dict.fromkeys(problems)))
    return Settings.model_construct(**merged)  # each was validated where it came from


def sources_of(environment: Mapping[str, str], overrides: Mapping[str, object]) -> tuple[Source, ...]:
    """The lowest first."""
    return _from_system(environment), _from_file(environment), _from_variables(environment), _told(overrides)


def merge(sources: Iterable[Source]) -> tuple[dict[str, Any], list[str]]:
    """What is set by these, the lowest first, each value as it is used; and a line for everything that is wrong."""
    problems: list[str] = []
    merged: dict[str, Any] = {}
    for source in sources:
        problems += source.problems
        try:
            merged |= _validated(source).model_dump(exclude_unset=True)
        except ValidationError as error:
            problems += _in_words(source, error)
    return merged, problems


def settings_table() -> str:
    """Every setting as a Markdown table, for the documentation: name, variable, default, meaning."""
    rows = [("Setting", "Variable", "Default", "Meaning"), ("---",) * 4]
    rows += [
        (f"`{name}`", f"`{PREFIX}{name.upper()}`", told.default, told.meaning)
        for name in Settings.model_fields
        for told in [about(name)]
    ]
    rows.append(("", f"`{FILE_VARIABLE}`", f"`{FILE_NAME}` in the user's configuration folder", "The settings file."))
    return "".join(f"| {' | '.join(row)} |\n" for row in rows)


def _validated(source: Source) -> Settings:
    known = {name: given.value for name, given in source.given.items()}
    return Settings.model_validate(known, context={"base": source.base})


def _in_words(source: Source, error: ValidationError) -> Iterator[str]:
    for fault in error.errors(include_url=False):
        name = str(fault["loc"][0])
        given, cause = source.given[name], fault.get("ctx", {}).get("error")
        because = f" ({cause})" if cause else ""
        value = "not right" if about(name).secret else repr(given.value)
        yield f"{given.place}: {name} is {value}{because}; right would be {about(name).right}"


# --- the sources, lowest first ------------------------------------------------------------------------------------


def _from_system(environment: Mapping[str, str]) -> Source:
    """The language of the system, when it says one: `de_AT.UTF-8` is `de`."""
    said = next((environment[name] for name in ("LC_ALL", "LC_MESSAGES", "LANG") if environment.get(name)), "")
    language = re.match(r"([a-z]{2,3})(?=$|[_.@])", said)
    return Source({"language": Given(language[1], "LANG")} if language else {}, Path())


def _from_file(environment: Mapping[str, str]) -> Source:
    named = environment.get(FILE_VARIABLE)
    path = Path(FILE_NAME).absolute()
    try:
        path = platformdirs.user_config_path("triagebot", appauthor=False) / FILE_NAME
    except RuntimeError:  # a user without a home folder has no settings file, unless one is named
        named = named or os.devnull
    if named:
        with suppress(RuntimeError):  # no such user's home folder: then there is no such file either
            named = str(Path(named).expanduser())
        path = Path(named)
    return source_in(path, f"{FILE_VARIABLE}: " if named else None)


def source_in(path: Path, missing: str | None = None) -> Source:
    """What a settings file says. Where there is none, it says nothing; or that is a problem, told after `missing`."""
    try:
        text = path.read_text(encoding="utf-8")
    except FileNotFoundError:
        told = f"{missing}there is no file {path}; right would be the path of a settings file"
        return Source({}, path.parent, () if missing is None else (told,))
    except OSError as error:
        return Source({}, path.parent, (f"{path}: cannot be read ({error.strerror}); give the right to read it",))
    except UnicodeDecodeError as error:
        return Source({}, path.parent, (f"{path}: byte {error.start} is not UTF-8; save the file as UTF-8",))
    import tomllib

    try:
        values = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        what = re.fullmatch(r"(.*) \(at line (\d+), column (\d+)\)", str(error))
        fault = f"{path}:{what[2]}:{what[3]}: {what[1]}" if what else f"{path}: {error}"
        return Source({}, path.parent, (f'{fault}; right would be lines like language = "en"',))
    given = {name: Given(value, f"{path}{_place_of(name, text)}") for name, value in values.items()}
    source = _known(Source(given, path.absolute().parent), {name: name for name in Settings.model_fields})
    misplaced = [name for name in source.given if about(name).secret]
    problems = [f"{source.given[n].place}: {n} is a secret; set {PREFIX}{n.upper()} in its place" for n in misplaced]
    kept = {name: given for name, given in source.given.items() if name not in misplaced}
    return replace(source, given=kept, problems=(*source.problems, *problems))


def _place_of(name: str, text: str) -> str:
    """`:LINE:COLUMN` of the first line that sets a name at the top of a file or begins a table of that name."""
    written = re.compile(rf"""\s*\[*\s*(["']?{re.escape(name)})["']?\s*[=.\]]""")
    found = ((n, written.match(line)) for n, line in enumerate(text.splitlines(), 1))
    return next((f":{n}:{match.start(1) + 1}" for n, match in found if match), "")


def _from_variables(environment: Mapping[str, str]) -> Source:
    """Variables that are set but empty count as not set, as container files leave them."""
    given = {
        name: Given(value, name)
        for name, value in sorted(environment.items())
        if name.startswith(PREFIX) and value and name != FILE_VARIABLE
    }
    variables = {f"{PREFIX}{name.upper()}": name for name in Settings.model_fields}
    return _known(Source(given, Path()), {**variables, FILE_VARIABLE: ""})


def _told(overrides: Mapping[str, object]) -> Source:
    given = {
        name: Given(value, f"--{name.replace('_', '-')}") for name, value in overrides.items() if value is not None
    }
    return _known(Source(given, Path()), {name: name for name in Settings.model_fields})


def _known(source: Source, names: Mapping[str, str]) -> Source:
    """The source under the settings' own names; what is not among `names` becomes a problem."""
    import difflib

    problems = list(source.problems)
    bare = {name.removeprefix(PREFIX).lower(): name for name in names}
    for name, given in source.given.items():
        if name not in names:
            near = difflib.get_close_matches(name.removeprefix(PREFIX).lower(), bare, n=1)
            hint = f"did you mean {bare[near[0]]}?" if near else f"there are {', '.join(names)}"
            where = "" if given.place == name else f" {plain(name)}"
            problems.append(f"{plain(given.place)}: unknown setting{where}; {hint}")
    own = {names[name]: given for name, given in source.given.items() if name in names}
    return replace(source, given=own, problems=tuple(problems))
