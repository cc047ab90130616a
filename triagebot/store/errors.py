"""What can go wrong with a data folder or its database, and what the reader is told to do about it.

The tables below are the whole list; a fault that is not in them is passed on in the words of the system that raised it.
"""

import errno
from collections.abc import Mapping
from pathlib import Path

from triagebot.errors import StoreError

#: Within a data folder: where a backup is unpacked before it is moved to its place, the database last.
RESTORING = ".restore"

ELSEWHERE = "or set another data folder (TRIAGEBOT_DATA_FOLDER)"

FULL = "the disk is full; free some space and try again. Nothing that was confirmed is lost"
READ_ONLY = f"cannot be written by this user; give the user the right to write there, {ELSEWHERE}"
LOCKED = "is being written by another program; close the other triagebot, or try again in a moment"
DAMAGED = (
    "the database is damaged; keep a copy of the folder, then put back your last good backup (triagebot restore) or "
    f"rescue what can be read with `sqlite3 FILE .recover`, {ELSEWHERE}"
)
FAILING = (
    "the disk refused to read or write; look for a full disk, a quota, a limit on file size, "
    "a lost network drive or a failing disk, then try again. Nothing that was confirmed is lost"
)
NO_FOLDER = f"is not a folder, or lies below a file; remove or rename what stands there, {ELSEWHERE}"
NO_DATABASE = f"is not a database; move the file away if it is not needed, {ELSEWHERE}"
RESTORE_CUT_OFF = f"a restore into it is under way, or was cut off; run triagebot restore once more, {ELSEWHERE}"
FOREIGN = f"is the database of some other program; move the file away if it is not needed, {ELSEWHERE}"
UNKNOWN = "the database cannot be used ({error}); keep a copy of the folder and put back the last good one"
NEWER = f"was made by a newer triagebot; upgrade triagebot, {ELSEWHERE}"

#: A database on a server.
AWAY = (
    "the database cannot be reached ({error}); see that the server runs, then try again. "
    "Nothing that was confirmed is lost"
)
REFUSED = "the database refuses us ({error}); mend the name, the password or the rights in TRIAGEBOT_DATABASE"
SERVER_READ_ONLY = "takes nothing to write just now, as a server that only follows another; name the one that leads"
SERVER_FAILING = (
    "the server cannot read or write its disk ({error}); look into its log. Nothing that was confirmed is lost"
)
STOPPED = "the server ended a transaction in which this process had stopped; what it was about to write is taken again"
NO_DRIVER = "PostgreSQL needs a driver that is not installed: pip install 'triagebot[postgresql]'"
OLD_SERVER = "is a PostgreSQL {version} with the encoding {encoding}; it must be 15 or newer, with UTF8"
IN_SQLITE = (
    "holds cases in a file of SQLite's, but TRIAGEBOT_DATABASE names another database; take that setting away, "
    "or name another data folder (TRIAGEBOT_DATA_FOLDER)"
)
IN_POSTGRESQL = (
    "its cases are in {place}, but TRIAGEBOT_DATABASE is not set; set it, or delete {file} to begin anew without them"
)

#: While all of a store is moved from one database to another, and afterwards.
IN_USE = "another program has it open; stop every triagebot that uses it, then try again"
HALF_MOVED = (
    "holds half of what was being moved here; run triagebot move-store once more, or go on where the cases still are"
)
MOVED_AWAY = "all that it held was moved elsewhere (triagebot move-store); go on there, and drop this database"
NOT_EMPTY = "holds something already, and nothing is moved over it; name a database that is empty"
NO_CASES_YET = "holds no cases, so there is nothing to move; name another data folder with --data"
OLDER = "is at revision {held}, and what is moved must be at {newest}; start this triagebot once without moving"
OTHER_CASES = "its cases are in {place}; move them from there, or name another data folder with --data"
NOT_THE_SAME = (
    "{table} is not the same there as in {source} ({held} rows, {wanted} were moved); keep what you have, and try again"
)

KEY_ELSEWHERE = "or set another key file (TRIAGEBOT_KEY_FILE)"

NO_KEY = (
    "the key file is missing, and what {data} holds cannot be read without it; put it back from your copy, "
    f"{KEY_ELSEWHERE}. If it is lost for good: {ELSEWHERE[3:]} and begin anew"
)
WRONG_KEY = (
    "what the database holds was encrypted with another key than those in {file}; put the right key file there, "
    f"{KEY_ELSEWHERE}"
)
KEY_CHANGED = "the key file was changed since this process was begun; begin it again"
FORGOTTEN_UNWRITABLE = (
    "cannot be written ({why}); it lists who was forgotten, so that restoring an older backup does not bring them "
    "back. Give this user the right to write there; what is missing is added once an hour"
)
KEY_OPEN_TO_OTHERS = "the key can be read by others; take that right away: chmod 600 {file}"
KEY_UNREADABLE = f"the key file cannot be read ({{why}}); give this user the right to read it, {KEY_ELSEWHERE}"
KEY_UNMAKABLE = f"the key file cannot be made ({{why}}); mend that, {KEY_ELSEWHERE}"
NO_KEYS_IN_IT = f"holds no keys, or something else than keys; put the right key file there, {KEY_ELSEWHERE}"
KEY_BESIDE_DATA = (
    "the key must not lie in the data folder, or a copy of the one holds the other; "
    "move it away and say where it is (TRIAGEBOT_KEY_FILE)"
)

_SYSTEM_WORDS: Mapping[int, str] = {
    errno.EACCES: READ_ONLY,
    errno.EPERM: READ_ONLY,
    errno.EROFS: READ_ONLY,
    errno.ENOTDIR: NO_FOLDER,
    errno.EEXIST: NO_FOLDER,
    errno.ENOSPC: FULL,
    errno.EDQUOT: FULL,
}


class StoreConflict(StoreError):  # noqa: N818 - says what happened, and is caught to go on
    """Another process wrote first (or the case was forgotten): read the case again and take the turn again."""


def fault(place: Path | str, words: str) -> StoreError:
    """The error that names the place and says what to do."""
    return StoreError(f"{place}: {words}")


def system_fault(place: Path, error: OSError) -> StoreError:
    """An operating system's error, in words."""
    words = _SYSTEM_WORDS.get(error.errno or 0) or f"cannot be used ({error.strerror or error}); mend that, {ELSEWHERE}"
    return fault(place, words)
