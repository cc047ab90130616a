"""The migrations, the tables and the list of revisions say the same; a migration happens whole or not at all."""

import shutil
import sqlite3
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from alembic.autogenerate import compare_metadata
from alembic.runtime.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import create_engine
from sqlalchemy.dialects import postgresql
from sqlalchemy.schema import CreateIndex, CreateTable

from tests.store.reading import current_case
from triagebot.errors import StoreError
from triagebot.store import DATABASE, Store, migrations, open_store, transactions
from triagebot.store.bikes import Bikes
from triagebot.store.encryption import Cipher
from triagebot.store.key_file import read_or_make_keys
from triagebot.store.message_rows import OutboxRow
from triagebot.store.migrations import NEWEST, REVISIONS
from triagebot.store.post import Post
from triagebot.store.requests import Requests
from triagebot.store.staff import Ticket, Tickets
from triagebot.store.tables import metadata

NOW = datetime(2026, 3, 1, 12, tzinfo=UTC)
ME = "terminal:me"
EVENT = {"kind": "said", "at": NOW.isoformat()}

REBUILDING = f'''
"""Rebuilds the table that others point to, which is where events would go astray."""
import sqlalchemy as sa
from alembic import op

revision = "9999"
down_revision = "{NEWEST}"

def upgrade() -> None:
    with op.batch_alter_table("cases", recreate="always", table_kwargs={{"sqlite_autoincrement": True}}) as cases:
        cases.add_column(sa.Column("shelf", sa.Text, nullable=False, server_default="A"))
'''
FAILING = REBUILDING + '    op.execute("INSERT INTO nowhere VALUES (1)")\n'
STRAYING = REBUILDING + '    op.execute("DELETE FROM cases")\n'


def test_the_list_of_revisions_is_that_of_the_files() -> None:
    scripts = ScriptDirectory.from_config(migrations.configuration())
    assert [script.revision for script in scripts.walk_revisions()] == list(reversed(REVISIONS))
    assert scripts.get_heads() == [NEWEST]
    files = sorted(path.name for path in (migrations.HERE / "versions").glob("m*.py"))
    assert [name[1:5] for name in files] == list(REVISIONS)


def test_the_migrations_end_at_the_tables(store: Store) -> None:
    engine = create_engine(f"sqlite:///{store.folder / DATABASE}")
    with engine.connect() as connection:
        assert compare_metadata(MigrationContext.configure(connection), metadata) == []
    engine.dispose()


def test_the_migrated_database_is_the_one_that_the_tables_describe(store: Store, tmp_path: Path) -> None:
    """Down to constraints, autoincrement and deletion, which the comparison above does not see."""
    described = create_engine(f"sqlite:///{tmp_path / 'described'}")
    metadata.create_all(described)
    described.dispose()

    def form(path: Path) -> dict[str, Any]:
        with sqlite3.connect(path) as db:
            tables = [row[0] for row in db.execute("SELECT name FROM sqlite_master WHERE type = 'table'")]
            found = {
                table: (
                    db.execute(f"PRAGMA table_info({table})").fetchall(),
                    sorted(db.execute(f"PRAGMA foreign_key_list({table})").fetchall()),
                    sorted(row[1:] for row in db.execute(f"PRAGMA index_list({table})")),
                )
                for table in tables
                if table != "alembic_version"
            }
        db.close()
        return found

    assert form(store.folder / DATABASE) == form(tmp_path / "described")
    assert "sqlite_sequence" in form(store.folder / DATABASE)


def test_the_same_tables_can_be_made_on_postgresql() -> None:
    dialect = postgresql.dialect()
    lines = [str(CreateTable(table).compile(dialect=dialect)) for table in metadata.sorted_tables]
    lines += [str(CreateIndex(index).compile(dialect=dialect)) for t in metadata.sorted_tables for index in t.indexes]
    text = "\n".join(lines)
    for part in (
        "TIMESTAMP WITH TIME ZONE",
        "pk_events PRIMARY KEY (case_id, seq)",
        "ON DELETE CASCADE",
        "uq_cases_code",
    ):
        assert part in text


@pytest.fixture
def next_version(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Any:
    """Makes this triagebot one revision newer, with the given step."""

    def become(step: str) -> None:
        steps = tmp_path / "migrations"
        shutil.copytree(migrations.HERE, steps, ignore=shutil.ignore_patterns("__pycache__"))
        (steps / "versions" / "m9999_next.py").write_text(step)
        monkeypatch.setattr(migrations, "HERE", steps)
        monkeypatch.setattr(migrations, "REVISIONS", (*REVISIONS, "9999"))
        monkeypatch.setattr(transactions, "NEWEST", "9999")

    return become


def with_a_case(folder: Path) -> None:
    with open_store(folder) as store, store.begin() as tx:
        tx.append(tx.open_case(ME, "ABCD", "t", NOW), 0, [EVENT])


def test_rebuilding_a_table_keeps_what_points_to_it(folder: Path, next_version: Any) -> None:
    with_a_case(folder)
    next_version(REBUILDING)
    with open_store(folder) as store, store.begin() as tx:
        case = current_case(tx, ME)
        assert case is not None
        assert case.events == (EVENT,)
        assert tx.connection.exec_driver_sql("SELECT shelf FROM cases").all() == [("A",)]
        assert tx.connection.exec_driver_sql("SELECT version_num FROM alembic_version").all() == [("9999",)]
        # Foreign keys, off while migrating, are on again.
        tx.forget(ME)
        assert tx.connection.exec_driver_sql("SELECT count(*) FROM events").scalar() == 0


@pytest.mark.parametrize(("step", "words"), [(FAILING, "no such table: nowhere"), (STRAYING, "point nowhere")])
def test_a_migration_that_fails_leaves_the_database_as_it_was(
    folder: Path, next_version: Any, step: str, words: str
) -> None:
    with_a_case(folder)
    before = (folder / DATABASE).read_bytes()
    next_version(step)
    with pytest.raises(StoreError, match=words):
        open_store(folder)
    assert (folder / DATABASE).read_bytes() == before
    assert [path.name for path in folder.iterdir()] == [DATABASE]


def test_a_first_migration_that_fails_leaves_no_trace(folder: Path, next_version: Any) -> None:
    next_version(FAILING)
    with pytest.raises(StoreError, match="nowhere"):
        open_store(folder)
    assert not folder.exists()


@pytest.mark.parametrize("revision", ["0004", "0005"])
def test_columns_that_nothing_reads_go_and_nothing_with_them(folder: Path, key_file: Path, revision: str) -> None:
    cipher = Cipher(read_or_make_keys(key_file, folder), bytes(32))
    folder.mkdir()
    engine = create_engine(f"sqlite:///{folder / DATABASE}")
    at = "2026-03-01 12:00:00.000000"

    def letter(n: int) -> tuple[object, ...]:
        return (n, "telegram", "c", 7, "send", None, cipher.encrypt_json({"n": n}), at, "waiting", 0, None, None, "")

    with engine.begin() as connection:
        migrations.upgrade(connection, revision, cipher=cipher, lookup=cipher.encrypt(bytes(32).hex()))
        for table, row in (
            ("cases", (1, "somebody", "ABCD", "t", at)),
            ("conversations", ("c", "telegram", cipher.encrypt_json({"chat": 1}), None, None)),
            *(("outbox", letter(n)) for n in (1, 2, 3)),
            ("tickets", (1, "closed", "doubt", "ada", None, at, at, "a thread", "a place")),
        ):
            connection.exec_driver_sql(f"INSERT INTO {table} VALUES ({', '.join('?' * len(row))})", row)
        connection.exec_driver_sql("DELETE FROM outbox WHERE id = 3")
    engine.dispose()
    with open_store(folder) as store, store.begin() as tx:
        post, tickets = Post(tx), Tickets(tx)
        for number in (1, 2):
            claimed = post.claim("c", None)
            assert isinstance(claimed, OutboxRow)
            assert (claimed.id, claimed.body, claimed.address) == (number, {"n": number}, {"chat": 1})
        reached = post.found("c").reached
        assert reached is not None
        # A platform tells repeats by these numbers, so that of a message that is gone is not given out again.
        assert post.put_out(reached, "c", "send", {}, NOW) == 4
        assert tickets.of(1) == tickets.in_thread("a thread") == Ticket(1, "closed", "doubt", "ada", None, NOW)
        assert tickets.open(1, "staff", NOW)
        for table, gone in (("outbox", {"inbox_id"}), ("tickets", {"place", "closed_at"})):
            columns = {row[1] for row in tx.connection.exec_driver_sql(f"PRAGMA table_info({table})")}
            assert columns
            assert not columns & gone


def test_a_store_from_before_bikes_and_visits_takes_them(folder: Path, key_file: Path) -> None:
    cipher = Cipher(read_or_make_keys(key_file, folder), bytes(32))
    folder.mkdir()
    engine = create_engine(f"sqlite:///{folder / DATABASE}")
    at = "2026-03-01 12:00:00.000000"
    with engine.begin() as connection:
        migrations.upgrade(connection, "0006", cipher=cipher, lookup=cipher.encrypt(bytes(32).hex()))
        for table, row in (
            ("cases", (1, "somebody", "ABCD", "t", at)),
            ("parties", (1, "somebody", "person", 1, None)),
            ("events", (1, 0, cipher.encrypt_json(EVENT))),
            ("tickets", (1, "waiting", "asked", None, None, at, None)),
        ):
            connection.exec_driver_sql(f"INSERT INTO {table} VALUES ({', '.join('?' * len(row))})", row)
    engine.dispose()
    with open_store(folder) as store, store.begin() as tx:
        stored = tx.case(1)
        assert stored is not None
        assert stored.events == (EVENT,)
        assert [ticket.case for ticket in Tickets(tx).queue()] == [1]
        assert (Bikes(tx).all(), Requests(tx).waiting()) == ((), ())
        Bikes(tx).take_in(1, "blue tourer", "Sam", "", "", NOW, None, apart=False)
        assert Requests(tx).ask_visit(1, "2026-03-05", "afternoon", 1, "2026-03-05 afternoon -", "", NOW)
        assert not Requests(tx).ask_visit(2, "2026-03-05", "afternoon", 1, "2026-03-05 afternoon -", "", NOW)
        assert [bike.whose for bike in Bikes(tx).here()] == ["Sam"]
