"""Files of secrets: who else may read one.

A secret is its owner's alone. A service manager hands one over in a folder of its own ($CREDENTIALS_DIRECTORY, see
systemd.exec(5)), which only the service can enter; there the file belongs to the system, and the rights of the service
show as those of the group.
"""

import os
import stat
from pathlib import Path


def open_to_others(file: Path, mode: int) -> bool:
    """Whether somebody else may read a file of this mode."""
    handed_over = os.environ.get("CREDENTIALS_DIRECTORY", "")
    if handed_over and file.absolute().parent == Path(handed_over).absolute():
        return bool(mode & (stat.S_IRWXO | stat.S_IWGRP))
    return bool(mode & (stat.S_IRWXG | stat.S_IRWXO))
