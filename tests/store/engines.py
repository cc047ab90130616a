"""The databases that a test is run on, each in its turn, where its file says `pytestmark = ON_BOTH`. With the variable
`TESTS_DATABASE` (`TRIAGEBOT_TEST_DATABASE=postgresql bash tests/run.sh -k …`) every test is run on the one it names."""

import os
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.store import cluster
from triagebot.store import data_folder

ON_BOTH = pytest.mark.usefixtures("engine")
#: For a test in such a file that looks into the files of SQLite.
ON_SQLITE = pytest.mark.parametrize("engine", ["sqlite"], indirect=True)


@pytest.fixture(scope="session")
def server() -> Iterator[str]:
    """One server for all tests of a process."""
    if cluster.programs() is None:
        why = "there is no PostgreSQL from version 15 on (Debian and Ubuntu: apt install postgresql)"
        if os.environ.get("CI"):
            pytest.fail(why)
        pytest.skip(f"NOTHING TRIED ON POSTGRESQL: {why}")
    with cluster.running() as socket:
        yield socket


@pytest.fixture
def database(server: str, folder: Path) -> Iterator[str]:
    """The address of an empty database, for this folder."""
    yield cluster.url_for(server, folder)
    cluster.drop_all(server)


#: The database that all tests are run on; none if those that say so are run on both, and the rest on SQLite.
ALONE = os.environ.get("TESTS_DATABASE")


@pytest.fixture(params=None if ALONE else ["sqlite", "postgresql"])
def engine(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> Iterator[str]:
    """What every store of this test is kept in, here and in other processes."""
    if getattr(request, "param", ALONE) == "postgresql":
        socket = request.getfixturevalue("server")
        monkeypatch.setenv(cluster.CLUSTER, socket)
        monkeypatch.setattr(data_folder, "database_of", cluster.on_cluster)
        yield "postgresql"
        cluster.drop_all(socket)
    else:
        yield "sqlite"


if ALONE:

    @pytest.fixture(autouse=True)
    def _on_it_alone(engine: str) -> None:
        """Every test has the database that is named, unless it is marked otherwise."""
