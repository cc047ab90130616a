"""A data folder with something in it, and the key that it was encrypted with."""

import sqlite3
from pathlib import Path

import pytest

from tests.keeping.place import Place, filled


@pytest.fixture
def place(tmp_path: Path) -> Place:
    """A case with events, a message that waits and one that was sent; a folder like Matrix's, with a database in it."""
    return filled(tmp_path)


@pytest.fixture
def big(place: Place) -> Place:
    """So much that writing it takes a while."""
    with sqlite3.connect(place.data / "matrix" / "store.db") as other:
        other.executemany("INSERT INTO names VALUES (?)", [("x" * 4000,)] * 1500)
    other.close()
    return place
