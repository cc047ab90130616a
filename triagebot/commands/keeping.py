"""The commands of whoever keeps the bot running: backups, what is wrong and what to do, letters that were set aside."""

from datetime import UTC, datetime
from pathlib import Path
from typing import Annotated

from cyclopts import Parameter

from triagebot.errors import UsageError
from triagebot.loading import DataFolder, settings_of

_UNITS = ("bytes", "kB", "MB", "GB")


def backup(
    file: Path,
    /,
    *,
    force: Annotated[bool, Parameter(negative="", help="Replace the file, if it is there.")] = False,
    keep: Annotated[int | None, Parameter(help="With a folder: how many of its newest backups stay.")] = None,
    data: DataFolder = None,
) -> None:
    """Write an encrypted copy of all that is kept into one file, while the bot runs. A folder gets a file by date."""
    from triagebot.keeping import say, take_backup

    if keep is not None and (keep < 1 or not file.is_dir()):
        raise UsageError(say("backup-keep-where"))
    settings = settings_of(data_folder=data)
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
    data: DataFolder = None,
) -> None:
    """Put a backup back into an empty data folder."""
    from triagebot.keeping import restore_backup, say

    settings = settings_of(data_folder=data)
    done = restore_backup(file, settings.data_folder, settings.key_file, only_check=check)
    made_at = f"{datetime.fromisoformat(done.header.made_at):%Y-%m-%d %H:%M} UTC"
    if check:
        print(say("restore-well", file=file, made_at=made_at, cases=done.cases, key=done.header.key))
        return
    print(say("restore-done", folder=settings.data_folder, made_at=made_at, cases=done.cases))
    if done.older is not None:
        print(say("restore-migrated", schema=done.older))
    if done.set_aside:
        print(say("restore-set-aside", count=done.set_aside))
    print(say("restore-after"))


def _size(count: float) -> str:
    for unit in _UNITS[:-1]:
        if count < 1000:
            return f"{count:.0f} {unit}"
        count /= 1000
    return f"{count:.1f} {_UNITS[-1]}"
