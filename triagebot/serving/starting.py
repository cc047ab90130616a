"""What is done around the start: the database is brought up to date in a process of its own, and memory that only
starting up needed goes back to the system."""

import ctypes
import gc
import logging
import mmap
import os
import re
from collections.abc import Callable, Iterator, Sequence
from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING

from triagebot.counter import staff_words
from triagebot.settings import Settings
from triagebot.store.staff import Staff

if TYPE_CHECKING:
    from triagebot.store import Store

log = logging.getLogger(__name__)

#: In the list of what is mapped (proc(5)): where something begins, and where a library that cannot be written to does.
_MAPPING = re.compile(r"([0-9a-f]+)-([0-9a-f]+) ")
_LIBRARY = re.compile(r"([0-9a-f]+)-([0-9a-f]+) r-.p \S+ \S+ \d+ +\S*\.so[.0-9]*$")
#: How many things to mend are told at the start.
MOST_WARNINGS = 10


def warn_of(to_mend: Sequence[str]) -> None:
    """Says what of the shop's own data ought to be mended, though it can be served."""
    for line in to_mend[:MOST_WARNINGS]:
        log.warning("shop: %s", line)
    if len(to_mend) > MOST_WARNINGS:
        log.warning("shop: %d more; triagebot check tells all", len(to_mend) - MOST_WARNINGS)


def prepare(branches: Sequence[Settings], to_mend: Callable[[], Sequence[str]]) -> None:
    """Warns of what the shops ought to mend, and makes the databases or brings them up to date, in a process that then
    ends, since what is loaded for that (some 12 MB) is of no use afterwards. Call it before any thread runs.
    `open_store` tells what goes wrong with a database."""
    import triagebot.store.transactions  # noqa: F401 - with the database's library: else it would load twice
    from triagebot.store import open_store

    child = os.fork()
    if child:
        os.waitpid(child, 0)
        return
    try:
        warn_of(to_mend())
        for settings in branches:
            open_store(settings.data_folder, key_file=settings.key_file, database=settings.database).close()
    finally:
        os._exit(0)


def read_staff_words(store: "Store", language: str) -> None:
    """Where there are staff: else their first line after a start would wait for it, and everybody with them."""
    with store.read() as view:
        if Staff(view).members():
            staff_words(language)


def give_back() -> None:
    """Returns to the system the memory that only starting up needed, where it can be told (Linux, glibc): what was
    allocated and is free, and the pages of libraries' files. Of these the system maps again what is used."""
    gc.collect()
    with suppress(AttributeError, OSError):
        library = ctypes.CDLL(None, use_errno=True)
        library.malloc_trim(0)
        for start, size in _unchanged_library_pages():
            library.madvise(ctypes.c_void_p(start), ctypes.c_size_t(size), mmap.MADV_DONTNEED)


def _unchanged_library_pages() -> Iterator[tuple[int, int]]:
    """Start and size of what is mapped read-only from libraries and was never written to, so that it stands in their
    files as it is. A library once loaded stays where it is."""
    start = end = 0
    readable = False
    for line in Path("/proc/self/smaps").read_text(encoding="utf-8", errors="replace").splitlines():
        if mapped := _LIBRARY.match(line):
            start, end, readable = int(mapped[1], 16), int(mapped[2], 16), True
        elif _MAPPING.match(line):
            readable = False
        elif readable and line.split() == ["Anonymous:", "0", "kB"]:
            yield start, end - start
