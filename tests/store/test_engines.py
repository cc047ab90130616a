"""One room knows which databases there are: nobody else imports a driver, or writes what only one of them reads."""

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

import triagebot
from triagebot.store.engines import insert_into
from triagebot.store.tables import cases

PACKAGE = Path(triagebot.__file__).parent
#: The room, and the files that have an SQLite of their own, which is not the store's.
MAY = (
    "store/engines/",
    "shop/search.py",
    "channels/matrix/nio_internals.py",
    "channels/matrix/store_encryption.py",
)
DRIVERS = re.compile(r"(sqlite3|psycopg\w*|sqlalchemy\.dialects)(\.|$)")
#: Words of statements that one database alone reads.
ONLY_ONE = re.compile(
    r"\b(PRAGMA|BEGIN (IMMEDIATE|EXCLUSIVE|DEFERRED)|VACUUM|rowid|changes\(\)|last_insert_rowid|sqlite_(master|schema"
    r"|sequence)|wal_checkpoint|INSERT OR (IGNORE|REPLACE)|json_extract|strftime\('|GLOB '|pg_\w+\(|FOR UPDATE|SKIP"
    r" LOCKED|LISTEN|NOTIFY|ILIKE)\b"
)


def broken_rules(source: str) -> Iterator[tuple[int, str]]:
    """Line and word of what breaks the rule; what a docstring tells is no statement."""
    tree = ast.parse(source)
    told = {
        id(node.value) for node in ast.walk(tree) if isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant)
    }
    for node in ast.walk(tree):
        if isinstance(node, ast.Import | ast.ImportFrom):
            start = f"{node.module}." if isinstance(node, ast.ImportFrom) and node.module else ""
            yield from ((node.lineno, start + each.name) for each in node.names if DRIVERS.match(start + each.name))
        elif isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in told:
            yield from ((node.lineno, match[0]) for match in ONLY_ONE.finditer(node.value))


def test_nobody_else_knows_a_database() -> None:
    files = {path.relative_to(PACKAGE).as_posix(): path for path in PACKAGE.rglob("*.py")}
    others = {name: path for name, path in files.items() if not name.startswith(MAY)}
    assert "store/post.py" in others
    found = {name: list(broken_rules(path.read_text(encoding="utf-8"))) for name, path in others.items()}
    assert {name: lines for name, lines in found.items() if lines} == {}


def test_whoever_may_does() -> None:
    """A file that is excepted and knows none ought not to be excepted."""
    for name in MAY:
        paths = (PACKAGE / name).rglob("*.py") if name.endswith("/") else [PACKAGE / name]
        assert any(list(broken_rules(path.read_text(encoding="utf-8"))) for path in paths), name


@pytest.mark.parametrize(
    "line",
    [
        "import sqlite3",
        "def late():\n    from sqlite3 import connect",
        "from sqlalchemy.dialects import postgresql",
        "import psycopg",
        "x.execute('PRAGMA foreign_keys=ON')",
        "x.execute(f'SELECT rowid FROM {table}')",
    ],
)
def test_what_breaks_the_rule_is_noticed(line: str) -> None:
    assert list(broken_rules(line))


def test_a_docstring_may_tell_of_them() -> None:
    assert list(broken_rules('"""We set a PRAGMA."""\nx = "BEGIN"')) == []


def test_an_insert_is_made_once_for_each_database() -> None:
    assert insert_into(cases, "sqlite") is insert_into(cases, "sqlite")
    assert type(insert_into(cases, "postgresql")) is not type(insert_into(cases, "sqlite"))
