"""What stands in the way of serving, told beforehand."""

from collections.abc import Coroutine, Sequence
from contextlib import nullcontext
from typing import Any

from triagebot.errors import SettingsError
from triagebot.serving.web import host_in_address, listening
from triagebot.settings import Branch, MatrixAccount, Settings, clashes

#: How to add a channel, for an owner who has none yet.
ADD = (
    "to answer on Telegram, too, set TRIAGEBOT_TELEGRAM_TOKEN (or _TOKEN_FILE) to the token of a bot; "
    "on Matrix, set TRIAGEBOT_MATRIX_SERVER, _USER and _PASSWORD_FILE (see the README)"
)
#: The same for a branch.
ADD_TO_BRANCH = (
    "to answer on Telegram, too, set telegram_token_file in the branch's settings.toml to a file with the token of a "
    "bot; on Matrix, set matrix_user and matrix_password_file"
)


def led_by(branch: str, lines: Sequence[str]) -> list[str]:
    """Lines about a branch, with its name before each; about the one shop, as they are."""
    return [f"{branch}: {line}" if branch else line for line in lines]


def readable(branches: Sequence[Branch]) -> tuple[Sequence[str], Sequence[str]]:
    """As `preflight`, of nothing but the files of secrets and what only one branch can have."""
    problems = clashes(branches)
    for branch in branches:
        for secret in (branch.settings.token_for_telegram, branch.settings.account_for_matrix):
            try:
                secret()
            except SettingsError as error:
                problems += led_by(branch.name, str(error).splitlines())
    return problems, () if problems else ("settings, topic and shop can be read",)


async def preflight(branches: Sequence[Branch], *, pages: bool = True) -> tuple[Sequence[str], Sequence[str]]:
    """What stands in the way of serving, and what is well, in lines for the person who runs this. Without `pages` only
    of the channels, as beside a bot that runs and has the port. Raises SettingsError for files of secrets."""
    problems, well = clashes(branches), list[str]()
    settings = branches[0].settings
    try:
        with listening(settings) if pages else nullcontext() as door:
            if door is not None:
                port = door.getsockname()[1]
                well.append(f"pages: http://{host_in_address(settings.web_host)}:{port}/ can be served")
    except SettingsError as error:
        problems.append(f"pages: {error}")
    for branch in branches:
        wrong, right = await _of_channels(branch.settings)
        problems += led_by(branch.name, wrong)
        well += led_by(branch.name, right or [ADD_TO_BRANCH if branch.name else ADD] if not wrong else right)
    return problems, well


async def _of_channels(settings: Settings) -> tuple[list[str], list[str]]:
    problems, well = list[str](), list[str]()
    token, account = settings.token_for_telegram(), settings.account_for_matrix()
    looks: list[Coroutine[Any, Any, tuple[list[str], list[str]]]] = []
    if token is not None:
        looks.append(_problems_of_telegram(settings, token))
    if account is not None:
        looks.append(_problems_of_matrix(settings, account))
    for look in looks:
        found = await look
        problems += found[0]
        well += found[1]
    return problems, well


async def _problems_of_matrix(settings: Settings, account: MatrixAccount) -> tuple[list[str], list[str]]:
    from triagebot.channels.matrix import problems
    from triagebot.store import open_store

    with open_store(settings.data_folder, key_file=settings.key_file, database=settings.database) as store:
        return await problems(account, store, settings.matrix_staff_room or "")


async def _problems_of_telegram(settings: Settings, token: str) -> tuple[list[str], list[str]]:
    from triagebot.channels.telegram.preflight import problems

    return await problems(token, settings.telegram_server, settings.telegram_webhook, settings.telegram_staff_room)
