"""Where settings come from, and which source wins.

Decided here and nowhere else: from lowest to highest, the defaults; the settings file, `triagebot.toml` in the user's
configuration folder or the file named by TRIAGEBOT_SETTINGS; variables TRIAGEBOT_*; what a command was told.

Sources are read here and not by `pydantic-settings`, whose import takes another 0.2 s beside pydantic's own: more than
a quarter of what a whole one-shot question may take. Two further needs are met on the way: every fault of every source
is said in one go, and each with the file's line or the variable's name.
"""

import os
import re
from collections.abc import Iterator, Mapping
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
class _Given:
    """A value that somebody gave for a setting, with the place to name when it is wrong."""

    value: object
    place: str


@dataclass(frozen=True, slots=True)
class _Source:
    """One layer: what it gives, where its relative paths begin, and what is wrong with it so far."""

    given: Mapping[str, _Given]
    base: Path
    problems: tuple[str, ...] = ()


def load_settings(environment: Mapping[str, str], overrides: Mapping[str, object] | None = None) -> Settings:
    """The settings in force. `overrides` are what a command was told, by name of the setting; None means not told.

    The folders of the user (for the settings file and for data) are those of the process, whatever `environment` says.
    Raises SettingsError with a line for everything that is wrong, in whichever source, overridden or not.
    """
    sources = (_from_system(environment), _from_file(environment), _from_variables(environment), _told(overrides or {}))
    problems: list[str] = []
    merged: dict[str, Any] = {}
    for source in sources:
        problems += source.problems
        try:
            merged |= _validated(source).model_dump(exclude_unset=True)
        except ValidationError as error:
            problems += _in_words(source, error)
    if problems:
        raise SettingsError("\n".join(dict.fromkeys(problems)))
    return Settings.model_construct(**merged)  # each was validated where it came from


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


def _validated(source: _Source) -> Settings:
    known = {name: given.value for name, given in source.given.items()}
    return Settings.model_validate(known, context={"base": source.base})


def _in_words(source: _Source, error: ValidationError) -> Iterator[str]:
    for fault in error.errors(include_url=False):
        name = str(fault["loc"][0])
        given, cause = source.given[name], fault.get("ctx", {}).get("error")
        because = f" ({cause})" if cause else ""
        value = "not right" if about(name).secret else repr(given.value)
        yield f"{given.place}: {name} is {value}{because}; right would be {about(name).right}"


# --- the sources, lowest first ------------------------------------------------------------------------------------


def _from_system(environment: Mapping[str, str]) -> _Source:
    """The language of the system, when it says one: `de_AT.UTF-8` is `de`."""
    said = next((environment[name] for name in ("LC_ALL", "LC_MESSAGES", "LANG") if environment.get(name)), "")
    language = re.match(r"([a-z]{2,3})(?=$|[_.@])", said)
    return _Source({"language": _Given(language[1], "LANG")} if language else {}, Path())


def _from_file(environment: Mapping[str, str]) -> _Source:
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
    try:
        text = path.read_text(encoding="utf-8")
    except FileNotFoundError:
        missing = (f"{FILE_VARIABLE}: there is no file {path}; right would be the path of a settings file",)
        return _Source({}, path.parent, missing if named else ())
    except OSError as error:
        return _Source({}, path.parent, (f"{path}: cannot be read ({error.strerror}); give the right to read it",))
    except UnicodeDecodeError as error:
        return _Source({}, path.parent, (f"{path}: byte {error.start} is not UTF-8; save the file as UTF-8",))
    import tomllib

    try:
        values = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        what = re.fullmatch(r"(.*) \(at line (\d+), column (\d+)\)", str(error))
        fault = f"{path}:{what[2]}:{what[3]}: {what[1]}" if what else f"{path}: {error}"
        return _Source({}, path.parent, (f'{fault}; right would be lines like language = "en"',))
    given = {name: _Given(value, f"{path}{_line_of(name, text)}") for name, value in values.items()}
    source = _known(_Source(given, path.absolute().parent), {name: name for name in Settings.model_fields})
    misplaced = [name for name in source.given if about(name).secret]
    problems = [f"{source.given[n].place}: {n} is a secret; set {PREFIX}{n.upper()} in its place" for n in misplaced]
    kept = {name: given for name, given in source.given.items() if name not in misplaced}
    return replace(source, given=kept, problems=(*source.problems, *problems))


def _line_of(name: str, text: str) -> str:
    """`:LINE` of the first line that sets a name at the top of a file or begins a table of that name."""
    written = re.compile(rf"""\s*\[*\s*["']?{re.escape(name)}["']?\s*[=.\]]""")
    return next((f":{n}" for n, line in enumerate(text.splitlines(), 1) if written.match(line)), "")


def _from_variables(environment: Mapping[str, str]) -> _Source:
    """Variables that are set but empty count as not set, as container files leave them."""
    given = {
        name: _Given(value, name)
        for name, value in sorted(environment.items())
        if name.startswith(PREFIX) and value and name != FILE_VARIABLE
    }
    variables = {f"{PREFIX}{name.upper()}": name for name in Settings.model_fields}
    return _known(_Source(given, Path()), {**variables, FILE_VARIABLE: ""})


def _told(overrides: Mapping[str, object]) -> _Source:
    given = {
        name: _Given(value, f"--{name.replace('_', '-')}") for name, value in overrides.items() if value is not None
    }
    return _known(_Source(given, Path()), {name: name for name in Settings.model_fields})


def _known(source: _Source, names: Mapping[str, str]) -> _Source:
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
