"""What single settings must look like, and what is said of one that does not."""

import json
import os
import re
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated

from pydantic import AfterValidator, BeforeValidator, ValidationInfo

from triagebot.credentials import open_to_others
from triagebot.errors import SettingsError


@dataclass(frozen=True, slots=True)
class Description:
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


def plain(text: str) -> str:
    """A text that may hold anything, fit for one line of a message."""
    return text if text.isprintable() else repr(text)


def _folder_that_exists(path: Path | None) -> Path | None:
    try:
        stands = path is None or path.is_dir()
    except OSError as error:  # a name too long, a folder above that may not be entered
        raise ValueError(error.strerror) from error
    if not stands:
        raise ValueError(f"there is no folder {plain(str(path))}")
    return path


def language_tag(value: str) -> str:
    if not re.fullmatch(r"[a-z]{2,3}(-[A-Za-z0-9]{2,8})*", value):
        raise ValueError("not a language tag")
    return value


def written(pattern: str, what: str) -> AfterValidator:
    """A text that fits a pattern, whole; `what` it is not otherwise."""

    def fits(value: str | None) -> str | None:
        if value is not None and not re.fullmatch(pattern, value):
            raise ValueError(f"not {what}")
        return value

    return AfterValidator(fits)


def without_slash(value: object) -> object:
    """An address as people copy it, without the slash at its end."""
    return value.strip().rstrip("/") if isinstance(value, str) else value


def listed(value: object) -> object:
    """Names with spaces or commas between, or a list of them."""
    return tuple(re.split(r"[\s,]+", value.strip(" \t\n,"))) if isinstance(value, str) else value


def who_may_invite(names: tuple[str, ...]) -> tuple[str, ...]:
    for name in names:
        if not re.fullmatch(r"\*|(@[^\s:@]+:)?[A-Za-z0-9.\-\[\]:]+", name):
            raise ValueError(f"{plain(name)} is no server and nobody")
    return names


def sites(names: tuple[str, ...]) -> tuple[str, ...]:
    for name in names:
        if not re.fullmatch(r"https?://[^\s/?#;,'\"]+", name):
            raise ValueError(f"{plain(name)} is no site")
    return names


def table_or_json(value: object) -> object:
    """A table, or JSON that holds one."""
    try:
        return json.loads(value) if isinstance(value, str) else value
    except ValueError as error:
        raise ValueError("not JSON") from error


def patterns(bridges: Mapping[str, str]) -> Mapping[str, str]:
    for account, pattern in bridges.items():
        if not re.fullmatch(r"@[^\s:@]+:[^\s@]+", account):
            raise ValueError(f"{plain(account)} is no user id")
        try:
            named = "name" in re.compile(pattern).groupindex
        except re.error as error:
            raise ValueError(f"the pattern of {account} cannot be read: {error}") from error
        if not named:
            raise ValueError(f"the pattern of {account} has no part (?P<name>…)")
    return bridges


SomePath = Annotated[Path, BeforeValidator(_written_path)]
Folder = Annotated[SomePath | None, AfterValidator(_folder_that_exists)]


def secret_in(file: Path, encoding: str = "ascii") -> str:
    """What a file holds that only its owner may read. Raises SettingsError, which shows nothing of it."""
    try:
        with file.open("rb") as stream:
            if open_to_others(file, os.fstat(stream.fileno()).st_mode):
                raise SettingsError(f"{file}: can be read by others; take that right away: chmod 600 {file}")
            return stream.read(1 << 12).decode(encoding).strip()
    except OSError as error:
        raise SettingsError(f"{file}: cannot be read ({error.strerror}); give this user the right to") from error
    except UnicodeDecodeError:
        what = "letters and digits" if encoding == "ascii" else "text"
        raise SettingsError(f"{file}: holds something else than {what}") from None
