"""What `triagebot serve` does around its start."""

import subprocess
import sys
from pathlib import Path

import pytest

from tests.commands import PATIENCE
from tests.store.fresh import open_fresh
from triagebot.serving import starting
from triagebot.store.staff import Staff
from triagebot.testing import START

#: kB that are mapped from files, before and after; and what libraries work out whose code was given back.
_PROGRAM = """
import hashlib, sqlite3
from pathlib import Path
import numpy as np
from triagebot.serving import give_back

def from_files():
    rows = (line.split() for line in Path("/proc/self/status").read_text().splitlines())
    return next(int(row[1]) for row in rows if row[0] == "RssFile:")

before = from_files()
give_back()
after = from_files()
solved = np.linalg.solve(np.array([[2.0, 0.0], [0.0, 4.0]]), np.array([2.0, 8.0])).round(9).tolist()
print(before, after, *solved, sqlite3.connect(":memory:").execute("select 6 * 7").fetchone()[0])
print(hashlib.sha256(b"abc").hexdigest())
"""


def test_pages_of_libraries_are_given_back_and_read_again() -> None:
    """The digest is that of FIPS 180-2, appendix B.1."""
    done = subprocess.run(
        [sys.executable, "-c", _PROGRAM], capture_output=True, text=True, check=False, timeout=PATIENCE
    )
    assert done.returncode == 0, done.stderr
    figures, digest = done.stdout.splitlines()
    before, after, *worked_out = map(float, figures.split())
    assert after < before / 2
    assert worked_out == [1.0, 2.0, 42.0]
    assert digest == "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"


def test_the_words_of_staff_are_read_where_there_are_staff(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    read: list[str] = []
    monkeypatch.setattr(starting, "staff_words", read.append)
    with open_fresh(tmp_path / "data", tmp_path / "key") as store:
        starting.read_staff_words(store, "en")
        assert read == []
        with store.begin() as tx:
            Staff(tx).admit("ada", "staff", "Ada", START)
        starting.read_staff_words(store, "en")
        assert read == ["en"]
