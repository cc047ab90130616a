"""Several schemas in one PostgreSQL, one for each branch: what is in one cannot be reached from another."""

from pathlib import Path

import psycopg
import pytest

from tests.store.other_process import NOW, PERSON, event
from tests.store.reading import cases_of, current_case
from triagebot.errors import StoreError
from triagebot.keeping.doctor import examine
from triagebot.store import open_store
from triagebot.store.engines import database_of, in_schema
from triagebot.store.moving import to_postgresql, to_sqlite


@pytest.mark.parametrize(
    ("url", "wanted"),
    [
        ("postgresql://me@db.example.org/cases", "postgresql://me@db.example.org/cases?options=-csearch_path%3Dnorth"),
        ("postgresql:///cases?host=/run", "postgresql:///cases?host=/run&options=-csearch_path%3Dnorth"),
        (
            "postgresql:///cases?options=-cwork_mem%3D8MB&host=/run",
            "postgresql:///cases?host=/run&options=-cwork_mem%3D8MB%20-csearch_path%3Dnorth",
        ),
    ],
)
def test_the_address_of_a_schema_keeps_what_else_it_says(url: str, wanted: str) -> None:
    assert in_schema(url, "north") == wanted


def test_what_is_in_one_schema_is_not_seen_in_another(folder: Path, database: str) -> None:
    north, harbour = (in_schema(database, name) for name in ("branch_north", "branch_harbour"))
    with (
        open_store(folder / "north", database=north) as here,
        open_store(folder / "harbour", database=harbour) as there,
        open_store(folder / "whole", database=database) as beside,
    ):
        with here.begin() as tx:
            tx.append(tx.open_case(PERSON, "ABCD", "t", NOW), 0, [event(0)])
        for other in (there, beside):
            with other.read() as view:
                assert view.case_by_code("ABCD") is None
                assert current_case(view, PERSON) is None
        assert here.database.identity() != there.database.identity()
    with open_store(folder / "north", database=north) as again, again.read() as view:
        assert [case.events for case in cases_of(view, PERSON)] == [(event(0),)]
    with psycopg.connect(database) as connection:
        found = connection.execute("SELECT schemaname FROM pg_tables WHERE tablename = 'cases' ORDER BY 1").fetchall()
    assert [name for (name,) in found] == ["branch_harbour", "branch_north", "public"]


def test_who_writes_in_one_waits_for_nobody_in_another(folder: Path, database: str) -> None:
    with (
        open_store(folder / "north", 0.2, database=in_schema(database, "branch_north")) as here,
        open_store(folder / "harbour", 0.2, database=in_schema(database, "branch_harbour")) as there,
        open_store(folder / "north", 0.2, database=in_schema(database, "branch_north")) as second,
        here.begin(),
    ):
        with there.begin() as tx:
            tx.open_case(PERSON, "ABCD", "t", NOW)
        with pytest.raises(StoreError, match=r"schema branch_north.*being written"), second.begin():
            pytest.fail("two writers at once")


def test_a_branch_is_moved_there_and_back_beside_others_that_are_open(folder: Path, database: str) -> None:
    url = in_schema(database, "branch_north")
    with open_store(folder / "north") as store, store.begin() as tx:
        tx.open_case(PERSON, "ABCD", "t", NOW)
    with open_store(folder / "harbour", database=in_schema(database, "branch_harbour")):
        to_postgresql(folder / "north", url, lambda *_: None, NOW)
        with open_store(folder / "north", database=url) as store, store.read() as view:
            assert view.case_by_code("ABCD") is not None
        to_sqlite(folder / "north", url, lambda *_: None)
    with open_store(folder / "north") as store, store.read() as view:
        assert view.case_by_code("ABCD") is not None


def test_the_cases_of_one_shop_become_those_of_a_branch(folder: Path, database: str) -> None:
    """As deploy/branches.md says."""
    with open_store(folder, database=database) as store, store.begin() as tx:
        tx.open_case(PERSON, "ABCD", "t", NOW)
    with psycopg.connect(database, autocommit=True) as connection:
        connection.execute("ALTER SCHEMA public RENAME TO branch_high_street")
        connection.execute("CREATE SCHEMA public")
    url = in_schema(database, "branch_high_street")
    with open_store(folder, database=url) as store, store.begin() as tx:
        assert tx.case_by_code("ABCD") is not None
        tx.open_case(PERSON, "EFGH", "t", NOW)


def test_the_doctor_looks_at_the_schema_alone(folder: Path, key_file: Path, database: str) -> None:
    url = in_schema(database, "branch_north")
    open_store(folder, database=url).close()
    rows = examine(folder, key_file, NOW, url)
    assert [row for row in rows if not row.well] == []
    assert 0 < database_of(folder, url, 1.0).size() < database_of(folder, database, 1.0).size()


def test_a_schema_that_may_not_be_made_is_told(folder: Path, database: str) -> None:
    with psycopg.connect(database, autocommit=True) as connection:
        connection.execute("DROP ROLE IF EXISTS guest")
        connection.execute("CREATE ROLE guest LOGIN")
    refused = database.replace("//tests@", "//guest@")
    with pytest.raises(StoreError, match="mend the name, the password or the rights"):
        open_store(folder, database=in_schema(refused, "branch_north"))
