"""Everything that can be configured: what each setting means, and what it must look like.

A secret is never shown in a message, and has no place in the settings file, which others may read: it is set by its
variable, or lies in a file of its own that only this user can read.
"""

import os
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Annotated

import platformdirs
from pydantic import AfterValidator, BaseModel, BeforeValidator, ConfigDict, Field

from triagebot.errors import SettingsError
from triagebot.settings.values import (
    Description,
    Folder,
    SomePath,
    language_tag,
    listed,
    patterns,
    secret_in,
    sites,
    table_or_json,
    who_may_invite,
    without_slash,
    written,
)

KEY_FILE = "triagebot.key"


def _at_home(folder: Callable[..., Path]) -> Path:
    """A folder of the user's. A user without a home folder gets one that can never be made, and is told to name another
    when it is needed."""
    try:
        return folder("triagebot", appauthor=False)
    except RuntimeError:
        return Path(os.devnull) / "triagebot"


class Settings(BaseModel):
    """What a run of triagebot goes by. Paths are absolute."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    topic: Annotated[
        Folder,
        Description(
            "Folder of the topic: what can be identified, and the questions.",
            "the built-in `rear-sprockets`",
            "the path of a topic's folder",
        ),
    ] = None
    shop: Annotated[
        Folder,
        Description(
            "Folder of the shop: its name, hours, tools and procedure notes.",
            "the example shop",
            "the path of a shop's folder",
        ),
    ] = None
    shops: Annotated[
        Folder,
        Description(
            "Folder that holds a shop's folder for each branch of a chain, in place of `shop`.",
            "none; there is one shop",
            "the path of a folder with a shop's folder for each branch",
        ),
    ] = None
    data_folder: Annotated[
        SomePath,
        Description(
            "Folder where cases are kept. It is made when it is missing.",
            "`triagebot` in the user's data folder",
            "the path of a folder",
        ),
    ] = Field(default_factory=lambda: _at_home(platformdirs.user_data_path))
    key_file: Annotated[
        SomePath,
        Description(
            "File of the key that encrypts personal data. It is made when it is missing; keep a copy.",
            "`triagebot.key` in the user's configuration folder",
            "the path of a file outside the data folder",
        ),
    ] = Field(default_factory=lambda: _at_home(platformdirs.user_config_path) / KEY_FILE)
    database: Annotated[
        str | None,
        written(r"postgres(ql)?://[^\s/?#]*/[^\s/?#]+(\?\S*)?", "the address of a PostgreSQL database"),
        Description(
            "PostgreSQL database in which cases are kept. Its password may be in `~/.pgpass`.",
            "none; they are in a file in the data folder",
            "an address like postgresql://triagebot@db.example.org/triagebot",
            secret=True,
        ),
    ] = Field(default=None, repr=False)
    language: Annotated[
        str,
        AfterValidator(language_tag),
        Description(
            "Language to begin a conversation in.",
            "that of the system (`LANG`), else `en`",
            "a language tag such as en or pt-BR",
        ),
    ] = "en"
    web_host: Annotated[
        str,
        written(r"[0-9A-Za-z.:-]+", "a name or number of this machine"),
        Description(
            "Address of this machine on which the pages, and Telegram's webhook, are served.",
            "`127.0.0.1`, which only this machine can reach",
            "a name or number of this machine, such as 127.0.0.1 or 0.0.0.0",
        ),
    ] = "127.0.0.1"
    web_port: Annotated[
        int,
        Field(ge=0, le=65535),
        Description("Port on which they are served.", "8321", "a number from 0 (any free one) to 65535"),
    ] = 8321
    web_address: Annotated[
        str | None,
        written(r"https?://[^\s/?#]+(/[^\s?#]*[^\s?#/])?", "an address"),
        Description(
            "Address at which people reach the pages, for the links in chats: that of whatever holds the certificate.",
            "none; links lead to this machine, and chats on a messenger have none",
            "an address like https://bot.example.org",
        ),
    ] = None
    web_frames: Annotated[
        tuple[str, ...],
        BeforeValidator(listed),
        AfterValidator(sites),
        Description(
            "Sites that may show the chat in a frame (`/chat/frame`).",
            "none but the address of the pages",
            "addresses without a path, with spaces between, like https://shop.example.org",
        ),
    ] = ()
    log_level: Annotated[
        str,
        written(r"debug|info|warning|error", "a level"),
        Description("How much is logged.", "`info`", "debug, info, warning or error"),
    ] = "info"
    log_format: Annotated[
        str,
        written(r"text|json", "a format"),
        Description("Whether the log is lines to read or JSON, one object a line.", "`text`", "text or json"),
    ] = "text"
    telegram_token: Annotated[
        str | None,
        written(r"[0-9]{3,}:[A-Za-z0-9_-]{20,}", "a token"),
        Description(
            "Token of the Telegram bot. With it, `triagebot serve` answers on Telegram.",
            "none; give this or the next one",
            "a number, a colon, and some 35 letters and digits, as the platform gave it out",
            secret=True,
        ),
    ] = Field(default=None, repr=False)
    telegram_token_file: Annotated[
        SomePath | None,
        Description(
            "File that holds the token and nothing else, and that only this user can read.",
            "none",
            "the path of a file",
        ),
    ] = None
    telegram_webhook: Annotated[
        str | None,
        written(r"https?://[^\s/?#]+/[^\s?#]+", "an address with a path"),
        Description(
            "Address to which Telegram sends messages (a webhook). Without it, triagebot fetches them itself.",
            "none",
            "an address like https://bot.example.org/telegram",
        ),
    ] = None
    telegram_webhook_secret: Annotated[
        str | None,
        written(r"[A-Za-z0-9_-]{16,256}", "16 to 256 letters, digits, _ and -"),
        Description(
            "What Telegram proves itself by at the webhook.",
            "made from the token",
            "16 to 256 letters, digits, _ and -",
            secret=True,
        ),
    ] = Field(default=None, repr=False)
    telegram_staff_room: Annotated[
        int | None,
        Description(
            "Number of the group in which cases are laid out that need a person; where it has topics, each in its own.",
            "none",
            "a number like -1001234567890, as the platform gives a group",
        ),
    ] = None
    telegram_server: Annotated[
        str,
        written(r"https?://[^\s/?#]+", "an address without a path"),
        Description(
            "Bot API server: the platform's own, or one that you run.",
            "`https://api.telegram.org`",
            "an address like https://api.telegram.org",
        ),
    ] = "https://api.telegram.org"

    matrix_server: Annotated[
        str | None,
        BeforeValidator(without_slash),
        written(r"https?://[^\s/?#]+(/[^\s?#]*[^\s?#/])?", "an address"),
        Description(
            "Address of the Matrix homeserver. With it, `triagebot serve` answers on Matrix.",
            "none",
            "an address like https://matrix.example.org",
        ),
    ] = None
    matrix_user: Annotated[
        str | None,
        written(r"@[^\s:@]+:[^\s@]+", "a whole user id"),
        Description("The bot's account there.", "none", "a whole user id like @bot:example.org"),
    ] = None
    matrix_password: Annotated[
        str | None,
        Description(
            "Its password. It is used once; after that the login is kept, encrypted, in the data folder.",
            "none; give this, the next one, or a token",
            "the password of the account",
            secret=True,
        ),
    ] = Field(default=None, repr=False)
    matrix_password_file: Annotated[
        SomePath | None,
        Description(
            "File that holds the password and nothing else, and that only this user can read.",
            "none",
            "the path of a file",
        ),
    ] = None
    matrix_token: Annotated[
        str | None,
        written(r"[!-~]{8,}", "an access token"),
        Description(
            "An access token of the account, in place of its password; nothing else may use the same one.",
            "none",
            "what the homeserver gave out when somebody logged in as the bot",
            secret=True,
        ),
    ] = Field(default=None, repr=False)
    matrix_token_file: Annotated[
        SomePath | None,
        Description(
            "File that holds the access token and nothing else, and that only this user can read.",
            "none",
            "the path of a file",
        ),
    ] = None
    matrix_staff_room: Annotated[
        str | None,
        written(r"[!#][^\s:]+(:[^\s:]+(:\d+)?)?", "a room's id or alias"),
        Description(
            "Room in which cases are laid out that need a person, each in a thread of its own.",
            "none",
            "a room's id or alias like !abc:example.org or #workshop:example.org",
        ),
    ] = None
    matrix_allow: Annotated[
        tuple[str, ...],
        BeforeValidator(listed),
        AfterValidator(who_may_invite),
        Description(
            "Who may invite the bot into a room: servers, people, or `*` for everybody.",
            "people of the bot's own server",
            "names like example.org or @ada:example.org, with spaces between, or *",
        ),
    ] = ()
    matrix_bridges: Annotated[
        Mapping[str, str],
        BeforeValidator(table_or_json),
        AfterValidator(patterns),
        Description(
            "Accounts behind which a bridge has several people: for each the pattern (a regular expression with a part "
            "`name`) of what it puts before what they say.",
            "none",
            'a table (in a variable: JSON) such as {"@bridge:example.org": "<(?P<name>[^>]{1,64})> "}',
        ),
    ] = Field(default_factory=dict)

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
            right = about("telegram_token").right
            raise SettingsError(f"{self.telegram_token_file}: holds no token; right would be {right}")
        return token

    def account_for_matrix(self) -> "MatrixAccount | None":
        """Where the bot lives on Matrix and what it logs in with, files read; None if nothing of it is set.

        Raises SettingsError with a line for everything that is missing or too much, and for files as in `secret_in`.
        """
        ways = ("matrix_password", "matrix_password_file", "matrix_token", "matrix_token_file")
        needed = ("matrix_server", "matrix_user")
        given = [name for name in (*needed, *ways) if getattr(self, name) is not None]
        if not given:
            return None
        problems = [f"{name} is missing, but {given[0]} is set" for name in needed if name not in given]
        chosen = [name for name in ways if name in given]
        if not chosen:
            problems.append(
                "matrix_password_file is missing (or matrix_password, or matrix_token_file, or matrix_token)"
            )
        if len(chosen) > 1:
            problems.append(f"{' and '.join(chosen)} are both set; set one of them")
        if problems:
            raise SettingsError("\n".join(problems))
        assert self.matrix_server is not None
        assert self.matrix_user is not None
        value = getattr(self, chosen[0])
        secret = secret_in(value, "utf-8") if isinstance(value, Path) else str(value)
        if not secret:
            raise SettingsError(f"{value}: is empty; right would be {about(chosen[0].removesuffix('_file')).right}")
        bridges = {account: re.compile(pattern) for account, pattern in self.matrix_bridges.items()}
        password, token = ("", secret) if "token" in chosen[0] else (secret, "")
        return MatrixAccount(self.matrix_server, self.matrix_user, password, token, self.matrix_allow, bridges)


@dataclass(frozen=True, slots=True)
class MatrixAccount:
    """An account on a homeserver: `password` or `token` is what it logs in with, the other is empty."""

    server: str
    user: str
    password: str = field(repr=False)
    token: str = field(repr=False)
    allow: tuple[str, ...] = ()
    bridges: Mapping[str, re.Pattern[str]] = field(default_factory=dict)


def about(name: str) -> Description:
    return next(part for part in Settings.model_fields[name].metadata if isinstance(part, Description))
