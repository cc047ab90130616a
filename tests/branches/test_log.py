"""Which branch a line of the log is about, from every thread and task."""

import io
import json
from collections.abc import Iterator
from contextlib import closing
from logging import getLogger
from pathlib import Path

import pytest

from tests.store.fresh import open_fresh
from tests.test_logs import _as_it_was
from triagebot.delivery.writer import Writer
from triagebot.logs import BRANCH, FORMATS, log_to
from triagebot.store import Transaction

__all__ = ["_as_it_was"]


@pytest.fixture
def north() -> Iterator[None]:
    token = BRANCH.set("north")
    yield
    BRANCH.reset(token)


@pytest.mark.usefixtures("north")
@pytest.mark.parametrize("form", FORMATS)
def test_what_the_writer_logs_is_of_the_branch_that_it_writes_for(tmp_path: Path, form: str) -> None:
    stream = io.StringIO()
    log_to(stream, form=form)

    def job(_tx: Transaction) -> None:
        getLogger("triagebot.delivery.inbox").warning("a turn failed")

    with open_fresh(tmp_path / "data", tmp_path / "key") as store, closing(Writer(store)) as writer:
        BRANCH.set("harbour")
        writer.post(job).result()
    if form == "json":
        assert json.loads(stream.getvalue())["branch"] == "north"
    else:
        assert stream.getvalue().endswith(" WARNING north: a turn failed\n")
