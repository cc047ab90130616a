"""An empty data folder, as `open_store` leaves it: made once a process and copied from then on, since bringing a new
database up to date takes longer than most tests. What is about opening makes its own."""

import os
import shutil
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory

from tests.store import cluster
from triagebot.store import DATABASE, Store, open_store


def open_fresh(folder: Path, key_file: Path) -> Store:
    """`open_store`, where there is nothing yet in less time."""
    if not folder.exists() and not key_file.exists():
        socket = os.environ.get(cluster.CLUSTER)
        kept = Path(_kept(socket).name)
        folder.mkdir(mode=0o700, parents=True)
        key_file.parent.mkdir(parents=True, exist_ok=True)
        if socket is None:
            shutil.copy(kept / "data" / DATABASE, folder / DATABASE)
        else:
            cluster.url_for(socket, folder, template=cluster.KEPT)
        shutil.copy(kept / "key", key_file)
    return open_store(folder, key_file=key_file)


@cache
def _kept(socket: str | None) -> "TemporaryDirectory[str]":
    """The folder that is copied; it goes when the process ends. On PostgreSQL, only its key is."""
    folder = TemporaryDirectory(prefix="fresh-")
    url = None if socket is None else cluster.make_kept(socket)
    open_store(Path(folder.name) / "data", key_file=Path(folder.name) / "key", database=url).close()
    return folder
