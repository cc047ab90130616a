"""What a one-shot question loads: the heavy libraries stay out, and so does what only checks or keeps.

No times here: they belong to the benches. `-X importtime` names every module that was loaded.
"""

import os
import subprocess
import sys
from pathlib import Path

import pytest

from tests.commands import PATIENCE

#: Neither the libraries for the database, notes, pictures and a full-screen terminal, nor our rooms that need them.
LEFT_OUT = (
    "alembic", "markdown_it", "mdit_py_plugins", "nh3", "prompt_toolkit", "rapidfuzz", "rich", "scipy", "sqlalchemy",
    "sqlite3", "triagebot.delivery", "triagebot.pictures", "triagebot.shop.check", "triagebot.store", "triagebot.study",
    "triagebot.topics.check",
)  # fmt: skip


@pytest.fixture(scope="module")
def loaded(tmp_path_factory: pytest.TempPathFactory) -> frozenset[str]:
    """The modules that answering one message loads, in a process of its own."""
    command = [sys.executable, "-X", "importtime", "-m", "triagebot", "ask", "12 splines, about 23,4 mm, doesn't turn"]
    done = subprocess.run(
        command,
        cwd=Path(__file__).parent.parent,
        env={**os.environ, "TRIAGEBOT_SETTINGS": os.devnull},
        stdin=subprocess.DEVNULL,
        capture_output=True,
        text=True,
        check=False,
        timeout=PATIENCE,
    )
    assert done.returncode == 0, done.stderr
    assert "23.4 mm" in done.stdout
    rows = (line.split("|") for line in done.stderr.splitlines() if line.startswith("import time:"))
    return frozenset(row[2].strip() for row in rows if len(row) == 3)


def test_what_the_answer_is_made_with_is_loaded(loaded: frozenset[str]) -> None:
    assert {"numpy", "pydantic", "fluent.runtime", "transitions", "triagebot.conversation.turn"} <= loaded


@pytest.mark.parametrize("name", LEFT_OUT)
def test_it_is_left_out(loaded: frozenset[str], name: str) -> None:
    assert not {module for module in loaded if module == name or module.startswith(f"{name}.")}
