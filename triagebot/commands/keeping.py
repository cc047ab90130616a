"""The commands for running the bot: backups, finding out what is wrong, messages that were set aside."""

import json
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import asdict, replace
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, NoReturn

from cyclopts import App, Parameter

from triagebot.errors import SettingsError, UsageError
from triagebot.loading import BranchName, DataFolder, Folder, branches_of, settings_for, shop_folder, store_of

if TYPE_CHECKING:
    from triagebot.keeping.rows import Row
    from triagebot.settings import Branch, Settings
    from triagebot.store import Store

#: What must be well before a platform is tried: the login may be in the data folder, and is opened with the key.
_NEEDED = ("data folder", "database", "version", "key")
#: How the data folder's own file is called, where a database is to be named.
_OWN = "sqlite"
_UNITS = ("bytes", "kB", "MB", "GB")


def backup(
    file: Path,
    /,
    *,
    force: Annotated[bool, Parameter(negative="", help="Replace the file, if it is there.")] = False,
    keep: Annotated[int | None, Parameter(help="With a folder: how many of its newest backups stay.")] = None,
    branch: BranchName = None,
    data: DataFolder = None,
) -> None:
    """Write an encrypted copy of all that is kept into one file, while the bot runs. A folder gets a file by date."""
    from triagebot.keeping import say, take_backup

    if keep is not None and (keep < 1 or not file.is_dir()):
        raise UsageError(say("backup-keep-where"))
    settings = _in_the_folder(settings_for(branch, data_folder=data))
    now = datetime.now(UTC)
    taken = take_backup(settings.data_folder, settings.key_file, file, now, force=force, keep=keep)
    print(say("backup-taken", file=taken.file, size=_size(taken.size), key=taken.key))
    for each in taken.dropped:
        print(say("backup-dropped", file=each))


def restore(
    file: Path,
    /,
    *,
    check: Annotated[bool, Parameter(negative="", help="Only try whether it could be restored.")] = False,
    branch: BranchName = None,
    data: DataFolder = None,
) -> None:
    """Put a backup back into an empty data folder."""
    from triagebot.keeping import restore_backup, say

    settings = _in_the_folder(settings_for(branch, data_folder=data))
    done = restore_backup(file, settings.data_folder, settings.key_file, only_check=check)
    made_at = f"{datetime.fromisoformat(done.header.made_at):%Y-%m-%d %H:%M} UTC"
    if check:
        print(say("restore-well", file=file, made_at=made_at, cases=done.cases, key=done.header.key))
        return
    print(say("restore-done", folder=settings.data_folder, made_at=made_at, cases=done.cases))
    if done.older is not None:
        print(say("restore-migrated", schema=done.older))
    if done.forgotten:
        print(say("restore-forgotten", count=done.forgotten))
    if done.set_aside:
        print(say("restore-set-aside", count=done.set_aside))
    print(say("restore-after"))


def _in_the_folder(settings: "Settings") -> "Settings":
    """Raises UsageError where cases are in a database elsewhere: a backup is of the data folder."""
    from triagebot.keeping import say

    if settings.database is not None:
        raise UsageError(say("backup-elsewhere"))
    return settings


def move_store(
    source: Annotated[str, Parameter(help="Where the cases are: sqlite, or the address of a PostgreSQL database.")],
    target: Annotated[str, Parameter(help="Where they are to go: the same, the other way round.")],
    /,
    *,
    branch: BranchName = None,
    data: DataFolder = None,
) -> None:
    """Move all that is kept from the data folder's own file (sqlite) to PostgreSQL, or back, and compare every row."""
    from triagebot.delivery import staffed
    from triagebot.keeping import say
    from triagebot.store.moving import to_postgresql, to_sqlite

    if [source, target].count(_OWN) != 1:
        raise UsageError(say("move-which"))
    try:
        settings = settings_for(branch, data_folder=data, database=target if source == _OWN else source)
    except SettingsError as error:
        if not str(error).startswith("--database"):
            raise
        raise UsageError(say("move-which")) from error
    folder, url = settings.data_folder, settings.database
    assert url is not None
    if not folder.is_dir():
        raise UsageError(say("letters-no-data", folder=folder))

    def tell(stage: str, table: str, count: int) -> None:
        print(say(f"move-{stage}", table=table, count=f"{count:,}"), flush=True)

    with staffed(folder):
        moved = to_postgresql(folder, url, tell, datetime.now(UTC)) if source == _OWN else to_sqlite(folder, url, tell)
    print(say("move-all", count=f"{sum(moved.rows.values()):,}", tables=len(moved.rows), place=moved.place))
    print(say("move-there" if source == _OWN else "move-back", left=moved.left, place=moved.place))


def tidy(
    *,
    dry_run: Annotated[bool, Parameter(negative="", help="Only say what would be deleted.")] = False,
    shop: Folder = None,
    branch: BranchName = None,
    data: DataFolder = None,
) -> None:
    """Delete what was kept for as long as it may be. The running bot does this by itself, once an hour."""
    from triagebot.keeping import say
    from triagebot.shop import load_shop
    from triagebot.store.retention import KINDS, due, unkeyed

    kept = load_shop(shop_folder(settings_for(branch, shop=shop, data_folder=data)), None).kept
    counts = dict.fromkeys(KINDS, 0)
    with _kept(branch, data) as store:
        for make_keys in () if dry_run else unkeyed(store):
            with store.begin() as tx:
                make_keys(tx)
        for job in due(store, kept, datetime.now(UTC)):
            if dry_run:
                counts[job.kind] += len(job.numbers)
                continue
            with store.begin() as tx:
                counts[job.kind] += job(tx)
        if not dry_run:
            store.note_forgotten()
        empty = dry_run or store.empty_log()
        done = "tidy-done" if store.database.ours else "tidy-deleted"
    for kind, count in counts.items():
        print(say("tidy-row", kind=kind, count=count, days=kept[kind].days))
    print(say("tidy-would" if dry_run else done if empty else "tidy-log-held"))


def _size(count: float) -> str:
    for unit in _UNITS[:-1]:
        if count < 1000:
            return f"{count:.0f} {unit}"
        count /= 1000
    return f"{count:.1f} {_UNITS[-1]}"


letters = App(name="letters", help="Messages that were set aside: list them, take or send them again, delete them.")


@letters.default
def list_letters(*, branch: BranchName = None, data: DataFolder = None) -> None:
    """List what was set aside: its name, when, on which channel, and why. No words of people."""
    from triagebot.keeping import say
    from triagebot.keeping.letters import letters as aside

    with _kept(branch, data) as store, store.read() as view:
        found = aside(view)
    if not found:
        print(say("letters-none"))
    for letter in found:
        at, channel = f"{letter.at:%Y-%m-%d %H:%M}", letter.channel
        print(say("letters-row", id=letter.id, at=at, channel=channel, reason=letter.reason or "-"))


@letters.command(name="again")
def letters_again(*ids: str, branch: BranchName = None, data: DataFolder = None) -> None:
    """Take, or send, these once more."""
    from triagebot.keeping import say
    from triagebot.keeping.letters import again

    with _kept(branch, data) as store, store.begin() as tx:
        again(tx, ids)
    print(say("letters-again", count=len(ids)))


@letters.command(name="drop")
def letters_drop(*ids: str, branch: BranchName = None, data: DataFolder = None) -> None:
    """Delete these for good."""
    from triagebot.keeping import say
    from triagebot.keeping.letters import drop_letters

    with _kept(branch, data) as store, store.begin() as tx:
        drop_letters(tx, ids)
    print(say("letters-dropped", count=len(ids)))


@contextmanager
def _kept(branch: str | None, data: Path | None) -> Iterator["Store"]:
    """The store. Raises UsageError where nothing is kept: looking makes no data folder."""
    from triagebot.keeping import say
    from triagebot.store import holds_cases

    settings = settings_for(branch, data_folder=data)
    if not holds_cases(settings.data_folder, settings.database):
        raise UsageError(say("letters-no-data", folder=settings.data_folder))
    with store_of(settings) as store:
        yield store


def doctor(
    *,
    offline: Annotated[bool, Parameter(negative="", help="Do not try the platforms.")] = False,
    json_: Annotated[bool, Parameter(name="--json", negative="", help="Print JSON.")] = False,
    branch: BranchName = None,
    data: DataFolder = None,
) -> None:
    """Look what is wrong, and say what to do about it. Exit status: 0 if all is well, 1 if anything is to mend."""
    from triagebot.keeping import say
    from triagebot.keeping.rows import Row
    from triagebot.settings import clashes

    rows: list[Row] = []
    try:
        branches = branches_of(data_folder=data)
        if branch is not None:
            branches = tuple(each for each in branches if each.name == branch) or _no_branch(branch, branches)
        rows.append(Row("settings", well=True, said=say("doctor-settings")))
        rows += [Row("settings", well=False, said=line) for line in clashes(branches)]
        for each in branches:
            rows += _examined(each, offline=offline)
    except SettingsError as error:
        rows += [Row("settings", well=False, said=line) for line in str(error).splitlines()]
    bad = sum(not row.well for row in rows)
    if json_:
        print(json.dumps([asdict(row) for row in rows], ensure_ascii=False, indent=2))
    else:
        for row in rows:
            print(f"{say('doctor-well' if row.well else 'doctor-to-mend'):<8} {row.what}: {row.said}")
        print(say("doctor-mend-count", count=bad) if bad else say("doctor-all-well"))
    sys.exit(1 if bad else 0)


def _no_branch(name: str, branches: "tuple[Branch, ...]") -> NoReturn:
    known = ", ".join(each.name for each in branches if each.name)
    raise UsageError(f"there is no branch {name!r}; there is: {known or 'one shop, without branches'}")


def _examined(branch: "Branch", *, offline: bool) -> "list[Row]":
    """What is so with a branch's data and its platforms."""
    from triagebot.keeping.doctor import examine

    settings = branch.settings
    rows = examine(settings.data_folder, settings.key_file, datetime.now(UTC), settings.database)
    if not offline and all(row.well for row in rows if row.what in _NEEDED):
        rows += _platforms(settings)
    return [replace(row, what=f"{branch.name} {row.what}") for row in rows] if branch.name else rows


def _platforms(settings: "Settings") -> "list[Row]":
    """What each platform says that is set up, and whether its clock is ours."""
    import asyncio

    from triagebot import serving
    from triagebot.delivery.counts import place_of
    from triagebot.errors import StoreError
    from triagebot.keeping import say
    from triagebot.keeping.doctor import clock_rows
    from triagebot.keeping.rows import Row
    from triagebot.settings import Branch

    if settings.token_for_telegram() is None and settings.account_for_matrix() is None:
        return []
    try:
        problems, well = asyncio.run(serving.preflight((Branch("", settings),), pages=False))
    except (SettingsError, StoreError) as error:
        return [Row("platforms", well=False, said=str(error))]
    except Exception as error:  # whatever a server answers that is no such platform, the other rows are told
        return [Row("platforms", well=False, said=say("doctor-platform-odd", place=place_of(error)))]
    rows = [*(Row("platforms", True, line) for line in well), *(Row("platforms", False, line) for line in problems)]
    servers = [settings.telegram_server] if settings.token_for_telegram() is not None else []
    servers += [settings.matrix_server] if settings.matrix_server is not None else []
    return [*rows, *(row for server in servers for row in clock_rows(server, datetime.now(UTC)))]
