"""The branches of a chain: each is a shop's folder within the folder `shops`, with settings of its own.

Decided here and nowhere else:
- a branch is called as its folder is, a lowercase word such as `high-street`; what begins with a dot is no branch;
- what a branch sets itself stands in `settings.toml` in its folder, and goes before the settings of all branches; a
  file of a secret may be a credential of the service manager's, called `BRANCH.telegram-token` and so on;
- what only one bot can have (its token, its account, its staff's room) is the branch's alone, and what there is once
  for all (the data folder, the database, the web server, the log) is set for all;
- each branch has its own folder in the data folder, its own key file and its own part of the address of the pages, all
  called by its name.
"""

import re
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from triagebot.errors import SettingsError
from triagebot.settings.model import Settings
from triagebot.settings.sources import Given, Source, merge, source_in, sources_of
from triagebot.settings.values import plain

#: A branch's own settings, in its folder.
FILE_NAME = "settings.toml"
#: Where the branches' data folders are within the data folder, and their pages below the address of all pages.
DATA, PAGES = "branches", "/b/"

#: What only a branch can set.
OWN = frozenset(
    {
        *("telegram_token", "telegram_token_file", "telegram_webhook", "telegram_webhook_secret"),
        *("telegram_staff_room", "matrix_user", "matrix_password", "matrix_password_file", "matrix_token"),
        *("matrix_token_file", "matrix_staff_room"),
    }
)
#: What a branch can set for itself, else is set for all.
EITHER = frozenset(
    {"topic", "language", "telegram_server", "matrix_server", "matrix_allow", "matrix_bridges", "web_frames"}
)
#: The files of secrets that may be credentials, and how those are called after the branch's name.
CREDENTIALS = {
    "telegram_token_file": "telegram-token",
    "matrix_password_file": "matrix-password",
    "matrix_token_file": "matrix-token",
}
_NAME, _LONGEST = re.compile(r"[a-z][a-z0-9]*(-[a-z0-9]+)*"), 40


@dataclass(frozen=True, slots=True)
class Branch:
    """A shop and its settings. `name` is "" where there is one shop, and no branches are set up."""

    name: str
    settings: Settings


def load_branches(environment: Mapping[str, str], overrides: Mapping[str, object] | None = None) -> tuple[Branch, ...]:
    """The branches that are set up, by name; one without a name where there are none. The arguments are those of
    `load_settings`; somebody who names a shop when giving a command means that shop alone.

    Raises SettingsError with a line for everything that is wrong, in whichever branch.
    """
    told = {name: value for name, value in (overrides or {}).items() if value is not None}
    sources = sources_of(environment, told)
    if "shop" in told or "shops" in told:
        other = "shops" if "shop" in told else "shop"
        sources = tuple(_without(source, {other}) if other not in told else source for source in sources)
    merged, problems = merge(sources)
    common = Settings.model_construct(**merged)
    if common.shops is None or problems:
        _raise(problems)
        return (Branch("", common),)
    problems += _given_for_all(sources)
    folders, wrong = _folders(common.shops)
    problems += wrong
    branches = []
    for folder in folders:
        of_the_branch, wrong = _settings(folder, sources, common, environment)
        problems += wrong
        branches.append(Branch(folder.name, of_the_branch))
    _raise(problems)
    return tuple(branches)


def clashes(branches: Sequence[Branch]) -> list[str]:
    """A line for each thing that several branches have, where only one can: a bot, an account, a room, a webhook.
    Files of secrets are read; what is wrong with them is said elsewhere."""
    held: defaultdict[tuple[str, object], list[str]] = defaultdict(list)
    for branch in branches:
        for what, value in _only_once(branch.settings):
            held[what, value].append(branch.name)
    return [
        f"{' and '.join(names)}: have the same {what}; each needs its own"
        for (what, _), names in held.items()
        if names[1:]
    ]


def _only_once(settings: Settings) -> Iterable[tuple[str, object]]:
    try:
        token = settings.token_for_telegram()
    except SettingsError:
        token = None
    found = {
        "Telegram bot (telegram_token)": token and token.partition(":")[0],
        "Telegram group (telegram_staff_room)": settings.telegram_staff_room,
        "address for Telegram (telegram_webhook)": settings.telegram_webhook,
        "Matrix account (matrix_user)": settings.matrix_user,
        "Matrix room (matrix_staff_room)": settings.matrix_staff_room,
    }
    return [(what, value) for what, value in found.items() if value is not None]


def _raise(problems: Sequence[str]) -> None:
    if problems:
        raise SettingsError("\n".join(dict.fromkeys(problems)))


def _without(source: Source, names: set[str] | frozenset[str]) -> Source:
    return replace(source, given={name: given for name, given in source.given.items() if name not in names})


def _given_for_all(sources: Iterable[Source]) -> list[str]:
    """What is wrong with the settings of all branches, now that there are branches."""
    given = [(name, each.place) for source in sources for name, each in source.given.items()]
    alone = f"is each branch's own; set it in {FILE_NAME} in the branch's folder"
    problems = [f"{place}: {name} {alone}" for name, place in given if name in OWN]
    problems += [
        f"{place}: shop and shops are both set; set shop where there is one shop, shops where there are branches"
        for name, place in given
        if name == "shop"
    ]
    return problems


def _folders(shops: Path) -> tuple[list[Path], list[str]]:
    """The branches' folders, by name, and what is wrong with those names."""
    found = sorted(path for path in shops.iterdir() if path.is_dir() and not path.name.startswith("."))
    good = [path for path in found if _NAME.fullmatch(path.name) and len(path.name) <= _LONGEST]
    problems = [
        f"{plain(str(path))}: a branch is called by a lowercase word of up to {_LONGEST} letters, such as high-street"
        for path in found
        if path not in good
    ]
    if not found:
        problems.append(f"{plain(str(shops))}: holds no branch; put a shop's folder for each branch into it")
    return good, problems


def _settings(
    folder: Path, sources: Sequence[Source], common: Settings, environment: Mapping[str, str]
) -> tuple[Settings, list[str]]:
    """A branch's settings, and what is wrong with those that it sets itself."""
    name = folder.name
    file = source_in(folder / FILE_NAME)
    problems = [
        f"{given.place}: {each} is the same for all branches; set it where shops is set"
        for each, given in file.given.items()
        if each not in OWN | EITHER
    ]
    file = replace(_without(file, set(file.given) - OWN - EITHER), problems=tuple(map(_in_a_file, file.problems)))
    *below, told = sources
    own = merge((file, _credentials(name, environment)))
    problems += own[1]
    merged: dict[str, Any] = merge(_without(source, OWN) for source in below)[0] | own[0]
    merged |= merge([_without(told, OWN)])[0]
    if not any(each.startswith("matrix_") for each in own[0].keys() & OWN):
        merged.pop("matrix_server", None)  # where the others' accounts are
    merged |= {"shop": folder, "data_folder": common.data_folder / DATA / name, "key_file": _key(common.key_file, name)}
    if common.web_address is not None:
        merged["web_address"] = f"{common.web_address}{PAGES}{name}"
    return Settings.model_construct(**merged), problems


def _in_a_file(problem: str) -> str:
    """A secret of one branch has no variable."""
    made = r": telegram_webhook_secret is a secret; leave it out, and it is made from the token"
    problem = re.sub(r": telegram_webhook_secret is a secret; set \S+ in its place", made, problem)
    return re.sub(
        r": (telegram_token|matrix_password|matrix_token) is a secret; set \S+ in its place",
        r": \1 is a secret; put it into a file of its own and name that with \1_file",
        problem,
    )


def _credentials(branch: str, environment: Mapping[str, str]) -> Source:
    """What the service manager hands over: https://systemd.io/CREDENTIALS/."""
    folder = environment.get("CREDENTIALS_DIRECTORY")
    files = {name: Path(folder, f"{branch}.{called}") for name, called in CREDENTIALS.items()} if folder else {}
    return Source({name: Given(file, str(file)) for name, file in files.items() if file.is_file()}, Path())


def _key(file: Path, branch: str) -> Path:
    """`triagebot.key` is `triagebot.high-street.key` for a branch."""
    return file.with_name(f"{file.stem}.{branch}{file.suffix}")
