"""Everything that can be configured, and where it may come from.

Decided here and nowhere else: what can be set, what each setting means and what it must look like, and which source
wins. From lowest to highest: the defaults below; the settings file, `triagebot.toml` in the user's configuration folder
or the file named by TRIAGEBOT_SETTINGS; variables TRIAGEBOT_*; what a command was told.

A secret is never shown in a message, and has no place in the settings file, which others may read: it is set by its
variable, or lies in a file of its own that only this user can read.

Sources are read here and not by `pydantic-settings`, whose import takes another 0.2 s beside pydantic's own: more than
a quarter of what a whole one-shot question may take. Two further needs are met on the way: every fault of every source
is said in one go, and each with the file's line or the variable's name.
"""

import os
import re
import stat
from collections.abc import Iterator, Mapping
from contextlib import suppress
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Annotated, Any

import platformdirs
from pydantic import AfterValidator, BaseModel, BeforeValidator, ConfigDict, Field, ValidationError, ValidationInfo

from triagebot.errors import SettingsError

PREFIX = "TRIAGEBOT_"
#: The variable that names the settings file; it has no place in that file itself. `/dev/null` means no file.
FILE_VARIABLE = f"{PREFIX}SETTINGS"
FILE_NAME = "triagebot.toml"
KEY_FILE = "triagebot.key"


@dataclass(frozen=True, slots=True)
class Told:
    """What the documentation and the error messages say about a setting."""

    meaning: str
    default: str
    right: str
    secret: bool = False


def _written_path(value: object, info: ValidationInfo) -> object:
    """A path as somebody wrote it: `~` is the home folder, and relative paths begin at the source that names them."""
    if isinstance(value, str) and (not value.strip() or "\0" in value):
        raise ValueError("not a path")
    if not isinstance(value, str | Path):
        return value
    try:
        path = Path(value).expanduser()
    except RuntimeError as error:
        raise ValueError("no such user's home folder") from error
    return (info.context or {}).get("base", Path()).absolute() / path


def _plain(text: str) -> str:
    """A text that may hold anything, fit for one line of a message."""
    return text if text.isprintable() else repr(text)


def _folder_that_exists(path: Path | None) -> Path | None:
    try:
        stands = path is None or path.is_dir()
    except OSError as error:  # a name too long, a folder above that may not be entered
        raise ValueError(error.strerror) from error
    if not stands:
        raise ValueError(f"there is no folder {_plain(str(path))}")
    return path


def _language_tag(value: str) -> str:
    if not re.fullmatch(r"[a-z]{2,3}(-[A-Za-z0-9]{2,8})*", value):
        raise ValueError("not a language tag")
    return value


def _written(pattern: str, what: str) -> AfterValidator:
    """A text that fits a pattern, whole; `what` it is not otherwise."""

    def fits(value: str | None) -> str | None:
        if value is not None and not re.fullmatch(pattern, value):
            raise ValueError(f"not {what}")
        return value

    return AfterValidator(fits)


_SomePath = Annotated[Path, BeforeValidator(_written_path)]
_Folder = Annotated[_SomePath | None, AfterValidator(_folder_that_exists)]


class Settings(BaseModel):
    """What a run of triagebot goes by. Paths are absolute."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    topic: Annotated[
        _Folder,
        Told(
            "Folder of the topic: what can be identified, and the questions.",
            "the built-in `rear-sprockets`",
            "the path of a topic's folder",
        ),
    ] = None
    shop: Annotated[
        _Folder,
        Told(
            "Folder of the shop: its name, hours, tools and procedure notes.",
            "the example shop",
            "the path of a shop's folder",
        ),
    ] = None
    data_folder: Annotated[
        _SomePath,
        Told(
            "Folder where cases are kept. It is made when it is missing.",
            "`triagebot` in the user's data folder",
            "the path of a folder",
        ),
    ] = Field(default_factory=lambda: platformdirs.user_data_path("triagebot", appauthor=False))
    key_file: Annotated[
        _SomePath,
        Told(
            "File of the key that closes what is personal among the data. It is made when it is missing; keep a copy.",
            "`triagebot.key` in the user's configuration folder",
            "the path of a file outside the data folder",
        ),
    ] = Field(default_factory=lambda: platformdirs.user_config_path("triagebot", appauthor=False) / KEY_FILE)
    language: Annotated[
        str,
        AfterValidator(_language_tag),
        Told(
            "Language to begin a conversation in.",
            "that of the system (`LANG`), else `en`",
            "a language tag such as en or pt-BR",
        ),
    ] = "en"
    web_host: Annotated[
        str,
        _written(r"[0-9A-Za-z.:-]+", "a name or number of this machine"),
        Told(
            "Address of this machine on which the pages, and Telegram's webhook, are served.",
            "`127.0.0.1`, which only this machine can reach",
            "a name or number of this machine, such as 127.0.0.1 or 0.0.0.0",
        ),
    ] = "127.0.0.1"
    web_port: Annotated[
        int,
        Field(ge=0, le=65535),
        Told("Port on which they are served.", "8321", "a number from 0 (any free one) to 65535"),
    ] = 8321
    web_address: Annotated[
        str | None,
        _written(r"https?://[^\s/?#]+(/[^\s?#]*[^\s?#/])?", "an address"),
        Told(
            "Address at which people reach the pages, for the links in chats: that of whatever holds the certificate.",
            "none; links lead to this machine, and chats on a messenger have none",
            "an address like https://bot.example.org",
        ),
    ] = None
    telegram_token: Annotated[
        str | None,
        _written(r"[0-9]{3,}:[A-Za-z0-9_-]{20,}", "a token"),
        Told(
            "Token of the Telegram bot. With it, `triagebot serve` answers on Telegram.",
            "none; give this or the next one",
            "a number, a colon, and some 35 letters and digits, as the platform gave it out",
            secret=True,
        ),
    ] = Field(default=None, repr=False)
    telegram_token_file: Annotated[
        _SomePath | None,
        Told(
            "File that holds the token and nothing else, and that only this user can read.",
            "none",
            "the path of a file",
        ),
    ] = None
    telegram_webhook: Annotated[
        str | None,
        _written(r"https?://[^\s/?#]+/[^\s?#]+", "an address with a path"),
        Told(
            "Address to which Telegram sends messages (a webhook). Without it, triagebot fetches them itself.",
            "none",
            "an address like https://bot.example.org/telegram",
        ),
    ] = None
    telegram_webhook_secret: Annotated[
        str | None,
        _written(r"[A-Za-z0-9_-]{16,256}", "16 to 256 letters, digits, _ and -"),
        Told(
            "What Telegram proves itself by at the webhook.",
            "made from the token",
            "16 to 256 letters, digits, _ and -",
            secret=True,
        ),
    ] = Field(default=None, repr=False)
    telegram_server: Annotated[
        str,
        _written(r"https?://[^\s/?#]+", "an address without a path"),
        Told(
            "Bot API server: the platform's own, or one that you run.",
            "`https://api.telegram.org`",
            "an address like https://api.telegram.org",
        ),
    ] = "https://api.telegram.org"

    def token_for_telegram(self) -> str | None:
        """The bot's token, from the setting or from its file; None if there is neither.

        Raises SettingsError for both, and for a file that others can read or that holds no token.
        """
        if self.telegram_token_file is None:
            return self.telegram_token
        if self.telegram_token is not None:
            raise SettingsError("telegram_token and telegram_token_file are both set; set one of them")
        token = secret_in(self.telegram_token_file)
        if not re.fullmatch(r"[0-9]{3,}:[A-Za-z0-9_-]{20,}", token):
            right = _about("telegram_token").right
            raise SettingsError(f"{self.telegram_token_file}: holds no token; right would be {right}")
        return token


def secret_in(file: Path) -> str:
    """What a file holds that only its owner may read. Raises SettingsError, which shows nothing of it."""
    try:
        with file.open("rb") as stream:
            mode = os.fstat(stream.fileno()).st_mode
            if stat.S_IMODE(mode) & (stat.S_IRWXG | stat.S_IRWXO):
                raise SettingsError(f"{file}: can be read by others; take that right away: chmod 600 {file}")
            return stream.read(1 << 12).decode("ascii").strip()
    except OSError as error:
        raise SettingsError(f"{file}: cannot be read ({error.strerror}); give this user the right to") from error
    except UnicodeDecodeError:
        raise SettingsError(f"{file}: holds something else than letters and digits") from None


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
        for told in [_about(name)]
    ]
    rows.append(("", f"`{FILE_VARIABLE}`", f"`{FILE_NAME}` in the user's configuration folder", "The settings file."))
    return "".join(f"| {' | '.join(row)} |\n" for row in rows)


def _about(name: str) -> Told:
    return next(part for part in Settings.model_fields[name].metadata if isinstance(part, Told))


def _validated(source: _Source) -> Settings:
    known = {name: given.value for name, given in source.given.items()}
    return Settings.model_validate(known, context={"base": source.base})


def _in_words(source: _Source, error: ValidationError) -> Iterator[str]:
    for fault in error.errors(include_url=False):
        name = str(fault["loc"][0])
        given, cause = source.given[name], fault.get("ctx", {}).get("error")
        because = f" ({cause})" if cause else ""
        value = "not right" if _about(name).secret else repr(given.value)
        yield f"{given.place}: {name} is {value}{because}; right would be {_about(name).right}"


# --- the sources, lowest first ------------------------------------------------------------------------------------


def _from_system(environment: Mapping[str, str]) -> _Source:
    """The language of the system, when it says one: `de_AT.UTF-8` is `de`."""
    said = next((environment[name] for name in ("LC_ALL", "LC_MESSAGES", "LANG") if environment.get(name)), "")
    language = re.match(r"([a-z]{2,3})(?=$|[_.@])", said)
    return _Source({"language": _Given(language[1], "LANG")} if language else {}, Path())


def _from_file(environment: Mapping[str, str]) -> _Source:
    named = environment.get(FILE_VARIABLE)
    path = platformdirs.user_config_path("triagebot", appauthor=False) / FILE_NAME
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
    misplaced = [name for name in source.given if _about(name).secret]
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
            where = "" if given.place == name else f" {_plain(name)}"
            problems.append(f"{_plain(given.place)}: unknown setting{where}; {hint}")
    own = {names[name]: given for name, given in source.given.items() if name in names}
    return replace(source, given=own, problems=tuple(problems))
