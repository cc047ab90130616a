"""All that is kept goes from SQLite to PostgreSQL and back as it is, and nobody goes on with what was left or is half
there."""

import re
import sqlite3
import stat
from contextlib import closing
from datetime import timedelta
from pathlib import Path
from typing import Any

import psycopg
import pytest
from sqlalchemy import Column, Table, insert, select

from tests.commands import line, run
from tests.store import cluster
from tests.store.conftest import Runs
from tests.store.other_process import NOW, PERSON, event
from tests.store.reading import cases_of
from triagebot.errors import StoreError
from triagebot.keeping import take_backup
from triagebot.keeping.backup import STAGE, _others
from triagebot.store import DATABASE, Store, open_store
from triagebot.store.database import Characters, Instant
from triagebot.store.moving import FILLING, to_postgresql, to_sqlite
from triagebot.store.tables import cases, events, lookup_key, metadata

#: What somebody may have typed, and what databases sort differently or cannot hold.
ODD = ("b", "B", "a_", "aB", "é", "\0", "\ud800", "\\", "%s", "Z", "", "ß", "10", "9")

Everything = dict[str, list[tuple[Any, ...]]]


def value(column: Column[Any], n: int) -> Any:
    """The n-th value of a column; those of a key differ."""
    if column.foreign_keys:
        return n + 1
    if column.nullable and n % 3 == 0:
        return None
    if isinstance(column.type, Instant):
        return NOW + timedelta(microseconds=1_000_001 * n)
    if column.type.python_type is int:
        return n + 1
    if not isinstance(column.type, Characters):
        return f"gAAAA{n}"  # as what is encrypted
    return f"{ODD[n % len(ODD)]}{n // len(ODD) or ''}{'' if column.primary_key else column.name}"


def fill(folder: Path, rows: int = 30) -> None:
    """Puts rows into every table, and takes the last case away again: its number was given out."""
    with open_store(folder) as store:
        with store.begin() as tx:
            for table in metadata.sorted_tables:
                if table is not lookup_key:
                    given = [{each.name: value(each, n) for each in table.columns} for n in range(rows)]
                    tx.connection.execute(insert(table), given)
        with store.begin() as tx:
            tx.connection.execute(cases.delete().where(cases.c.id == rows))


def everything(store: Store) -> Everything:
    """Every row of every table."""

    def rows(table: Table) -> list[tuple[Any, ...]]:
        return sorted((tuple(row) for row in view.connection.execute(select(table))), key=repr)

    with store.read() as view:
        return {table.name: rows(table) for table in metadata.sorted_tables}


def in_folder(folder: Path, url: str | None = None) -> Everything:
    with open_store(folder, database=url) as store:
        return everything(store)


def silent(stage: str, table: str, count: int) -> None:
    """Nobody wants to know how far it is."""


def refused(folder: Path, words: str, url: str | None = None) -> None:
    with pytest.raises(StoreError, match=words), open_store(folder, database=url):
        pytest.fail("it opened")


def test_every_row_goes_there_and_back(folder: Path, key_file: Path, database: str) -> None:
    fill(folder)
    before = in_folder(folder)
    assert all(before.values())
    key_file.rename(key_file.with_name("away"))  # it is not needed: nothing is decrypted
    told: list[tuple[str, str, int]] = []
    moved = to_postgresql(folder, database, lambda *what: told.append(what), NOW)
    assert moved.rows == {name: len(rows) for name, rows in before.items()}
    assert told == [
        (stage, each.name, moved.rows[each.name]) for stage in ("done", "compared") for each in metadata.sorted_tables
    ]
    key_file.with_name("away").rename(key_file)
    assert in_folder(folder, database) == before

    key_file.rename(key_file.with_name("away"))
    assert to_sqlite(folder, database, silent).rows == moved.rows
    key_file.with_name("away").rename(key_file)
    assert in_folder(folder) == before
    assert stat.S_IMODE((folder / DATABASE).stat().st_mode) == 0o600
    assert {path.name for path in folder.iterdir()} == {DATABASE, Path(moved.left).name}


def test_what_is_encrypted_stays_as_it_is(folder: Path, database: str) -> None:
    with open_store(folder) as store, store.begin() as tx:
        tx.append(tx.open_case(PERSON, "ABCD", "t", NOW), 0, [event(n) for n in range(3)])
    query = "SELECT body FROM events ORDER BY seq"
    with closing(sqlite3.connect(folder / DATABASE)) as before:
        encrypted = before.execute(query).fetchall()
    to_postgresql(folder, database, silent, NOW)
    with psycopg.connect(database) as there:
        assert there.execute(query).fetchall() == encrypted
    with open_store(folder, database=database) as store, store.read() as view:
        assert [case.events for case in cases_of(view, PERSON)] == [tuple(event(n) for n in range(3))]


def test_no_number_is_given_out_again(folder: Path, database: str) -> None:
    fill(folder, 5)  # the fifth case is gone
    to_postgresql(folder, database, silent, NOW)
    with open_store(folder, database=database) as store, store.begin() as tx:
        assert tx.open_case(PERSON, "ABCD", "t", NOW) == 6
        tx.connection.execute(cases.delete().where(cases.c.id == 6))
    to_sqlite(folder, database, silent)
    with open_store(folder) as store, store.begin() as tx:
        assert tx.open_case(PERSON, "ABCD", "t", NOW) == 7


def test_a_database_that_sorts_otherwise(folder: Path, server: str) -> None:
    """Its language puts "a" before "B", and SQLite does not."""
    with psycopg.connect(cluster.url(server, "postgres"), autocommit=True) as connection:
        locale = "LOCALE_PROVIDER icu ICU_LOCALE 'en-GB'"
        connection.execute(f"CREATE DATABASE sorted TEMPLATE template0 {locale}")
    url = cluster.url(server, "sorted")
    try:
        fill(folder)
        before = in_folder(folder)
        with psycopg.connect(url) as there:
            assert there.execute("SELECT 'a' < 'B'").fetchone() == (True,)
        to_postgresql(folder, url, silent, NOW)
        assert in_folder(folder, url) == before
        to_sqlite(folder, url, silent)
        assert in_folder(folder) == before
    finally:
        with psycopg.connect(cluster.url(server, "postgres"), autocommit=True) as connection:
            connection.execute("DROP DATABASE sorted WITH (FORCE)")


# --- what is left, and what is half there -----------------------------------------------------------------------------


def test_nobody_goes_on_with_what_was_left(tmp_path: Path, folder: Path, database: str) -> None:
    fill(folder, 3)
    left = to_postgresql(folder, database, silent, NOW).left
    assert left == folder / f"{DATABASE}.moved-20260301T120000Z"
    refused(folder, "its cases are in postgresql:.*TRIAGEBOT_DATABASE is not set")
    with pytest.raises(StoreError, match=r"its cases are in postgresql:.*move them from there"):
        to_postgresql(folder, database, silent, NOW)
    to_sqlite(folder, database, silent)
    refused(folder, "in a file of SQLite's", database)
    refused(tmp_path / "other", r"was moved elsewhere.*go on there", database)
    (tmp_path / "other").mkdir()
    with pytest.raises(StoreError, match="was moved elsewhere"):
        to_sqlite(tmp_path / "other", database, silent)


def test_a_backup_leaves_out_what_was_left(tmp_path: Path, folder: Path, key_file: Path, database: str) -> None:
    fill(folder, 3)
    to_postgresql(folder, database, silent, NOW)
    to_sqlite(folder, database, silent)
    (folder / FILLING).touch()
    (folder / "other").touch()
    assert [path.name for path in _others(folder)] == ["other"]
    assert take_backup(folder, key_file, tmp_path / "b", NOW).size
    assert not (folder / STAGE).exists()


@pytest.mark.parametrize("at", [1, 20, 21, 40])
def test_kill_9_on_the_way_there(at: int, tmp_path: Path, folder: Path, database: str, run_process: Runs) -> None:
    fill(folder, 3)
    before = in_folder(folder)
    with pytest.raises(AssertionError):
        run_process("moving", folder, database, "there", at)
    assert in_folder(folder) == before
    refused(tmp_path / "other", r"holds half of what was being moved here.*once more", database)
    to_postgresql(folder, database, silent, NOW)
    assert in_folder(folder, database) == before


@pytest.mark.parametrize("at", [1, 40])
def test_kill_9_on_the_way_back(at: int, folder: Path, database: str, run_process: Runs) -> None:
    fill(folder, 3)
    before = in_folder(folder)
    to_postgresql(folder, database, silent, NOW)
    with pytest.raises(AssertionError):
        run_process("moving", folder, database, "back", at)
    assert (folder / FILLING).exists()
    refused(folder, "its cases are in postgresql:")
    assert in_folder(folder, database) == before
    to_sqlite(folder, database, silent)
    assert in_folder(folder) == before
    assert not (folder / FILLING).exists()


def test_a_row_that_is_not_the_same_is_noticed(tmp_path: Path, folder: Path, database: str) -> None:
    fill(folder, 3)
    before = in_folder(folder)

    def spoil(stage: str, table: str, count: int) -> None:
        if (stage, table) == ("compared", cases.name):
            with psycopg.connect(database) as other:
                other.execute("UPDATE events SET body = 'another' WHERE case_id = 2")

    with pytest.raises(StoreError, match=r"events is not the same there as in .*keep what you have"):
        to_postgresql(folder, database, spoil, NOW)
    assert in_folder(folder) == before
    refused(tmp_path / "other", "holds half", database)


# --- what is refused --------------------------------------------------------------------------------------------------


def test_nothing_is_moved_over_anything(folder: Path, database: str) -> None:
    fill(folder, 3)
    before = in_folder(folder)
    with psycopg.connect(database) as other:
        other.execute("CREATE TABLE recipes (name text)")
    with pytest.raises(StoreError, match=r"holds something already.*empty"):
        to_postgresql(folder, database, silent, NOW)
    with pytest.raises(StoreError, match=rf"{DATABASE}: holds something already"):
        to_sqlite(folder, database, silent)
    assert in_folder(folder) == before


def test_not_while_another_program_has_it_open(folder: Path, database: str) -> None:
    used = pytest.raises(StoreError, match=r"another program has it open; stop every triagebot")
    with open_store(folder) as store, store.read() as view:
        cases_of(view, PERSON)
        with used:
            to_postgresql(folder, database, silent, NOW, patience=0.1)
    to_postgresql(folder, database, silent, NOW)
    with open_store(folder, database=database), used:
        to_sqlite(folder, database, silent)
    with psycopg.connect(database):  # somebody who looks there by another program
        to_sqlite(folder, database, silent)


def test_nobody_opens_it_meanwhile(folder: Path, database: str) -> None:
    fill(folder, 3)
    seen: set[str] = set()

    def try_to_open(stage: str, table: str, count: int) -> None:
        if table == events.name:
            with pytest.raises(StoreError, match="is being written by another program"):
                open_store(folder, 0.1)
            seen.add(stage)

    to_postgresql(folder, database, try_to_open, NOW)
    assert seen == {"done", "compared"}


def test_an_older_one_is_brought_up_to_date_first(folder: Path, database: str) -> None:
    fill(folder, 3)
    with closing(sqlite3.connect(folder / DATABASE)) as older:
        older.execute("UPDATE alembic_version SET version_num = '0010'")
        older.commit()
    with pytest.raises(StoreError, match=r"is at revision 0010, .*start this triagebot once"):
        to_postgresql(folder, database, silent, NOW)


def test_where_nothing_is(folder: Path, database: str) -> None:
    folder.mkdir()
    with pytest.raises(StoreError, match="holds no cases"):
        to_postgresql(folder, database, silent, NOW)
    with pytest.raises(StoreError, match="holds no cases"):
        to_sqlite(folder, database, silent)
    assert list(folder.iterdir()) == []


def test_the_cases_of_another_folder(folder: Path, database: str) -> None:
    fill(folder, 3)
    to_postgresql(folder, database, silent, NOW)
    with pytest.raises(StoreError, match=r"its cases are in postgresql:///.*; move them from there"):
        to_sqlite(folder, "postgresql://127.0.0.1:1/another", silent)


# --- the command ------------------------------------------------------------------------------------------------------


def test_the_command_moves_a_conversation_there_and_back(tmp_path: Path, database: str) -> None:
    data, kept = tmp_path / "d", {"XDG_CONFIG_HOME": str(tmp_path / "c")}

    def say(text: str, **more: str) -> str:
        done = run("talk", "--lines", said=line("p", text), data=data, **kept, **more)
        assert done.returncode == 0, done.stderr
        return done.stdout

    def move(*way: str) -> str:
        done = run("move-store", *way, data=data, **kept)
        assert done.returncode == 0, done.stderr
        return done.stdout

    say("9 sprockets")
    there = move("sqlite", database)
    assert re.search(r"^events: \d+ carried\n(.+\n)*events: \d+ compared, and the same\n", there, re.MULTILINE)
    assert re.search(rf"all is in postgresql:///.*: \d+ rows.*\nNow set TRIAGEBOT_DATABASE.*{DATABASE}\.moved-", there)
    assert "9" in say("what did I say", TRIAGEBOT_DATABASE=database)
    back = move(database, "sqlite")
    assert "take the setting TRIAGEBOT_DATABASE away" in back
    assert "9" in say("what did I say")


@pytest.mark.parametrize("way", [("sqlite", "sqlite"), ("postgresql://h/d", "postgresql://h/e"), ("sqlite", "cases")])
def test_databases_that_are_not_one_of_each(way: tuple[str, str], tmp_path: Path) -> None:
    done = run("move-store", *way, data=tmp_path)
    assert (done.returncode, done.stdout) == (2, "")
    assert "one database of each kind" in done.stderr


def test_not_while_it_serves(folder: Path, database: str) -> None:
    from triagebot.delivery import staffed

    fill(folder, 3)
    with staffed(folder):
        done = run("move-store", "sqlite", database, data=folder)
    assert done.returncode == 1
    assert "staffed already" in done.stderr
    assert run("move-store", "sqlite", database, data=folder / "none").returncode == 2
