"""How the log is written: its level, its two forms, and that an error's own words never stand in it."""

import io
import json
import logging
from collections.abc import Iterator

import pytest

from triagebot.logs import FORMATS, LEVELS, log_to
from triagebot.settings import Settings
from triagebot.settings.model import about

OURS, OTHERS = logging.getLogger("triagebot.delivery.inbox"), logging.getLogger("some.library")


@pytest.fixture(autouse=True)
def _as_it_was() -> Iterator[None]:
    root, ours = logging.getLogger(), logging.getLogger("triagebot")
    before = (root.handlers[:], root.level, ours.level)
    yield
    root.handlers[:] = before[0]
    root.setLevel(before[1])
    ours.setLevel(before[2])


def logged(level: str = "info", form: str = "text") -> list[str]:
    """What comes of one line of each weight, of ours and of a library's."""
    stream = io.StringIO()
    log_to(stream, level, form)
    for logger in (OURS, OTHERS):
        for weight in LEVELS:
            getattr(logger, weight)("%s says %s", logger.name.partition(".")[0], weight)
    return stream.getvalue().splitlines()


@pytest.mark.parametrize("level", LEVELS)
def test_a_level_and_what_is_heavier_is_logged_and_of_libraries_only_what_is_wrong(level: str) -> None:
    told = [line.partition(" says ") for line in logged(level)]
    found = {(before.rpartition(" ")[2], weight) for before, _, weight in told}
    heavy = LEVELS[LEVELS.index(level) :]
    assert found == {("triagebot", each) for each in heavy} | {
        ("some", each) for each in heavy if each in ("warning", "error")
    }


def test_json_is_one_object_a_line_with_its_time_in_utc() -> None:
    objects = [json.loads(line) for line in logged(form="json")]
    assert objects[0].keys() == {"at", "level", "from", "message"}
    assert objects[0]["at"].endswith("+00:00")
    assert (objects[0]["level"], objects[0]["from"]) == ("info", OURS.name)
    assert objects[0]["message"] == "triagebot says info"


@pytest.mark.parametrize("form", FORMATS)
def test_an_error_is_told_by_its_kind_and_never_by_its_words(form: str) -> None:
    stream = io.StringIO()
    log_to(stream, form=form)
    try:
        raise ValueError("6 sprockets, says Ada")
    except ValueError:
        OTHERS.exception("a task failed")
    line = stream.getvalue()
    assert "a task failed" in line
    assert "ValueError" in line
    assert "Ada" not in line
    assert len(line.splitlines()) == 1


@pytest.mark.parametrize("form", FORMATS)
def test_nobody_can_forge_a_line(form: str) -> None:
    stream = io.StringIO()
    log_to(stream, form=form)
    OURS.warning("shop: %s", "a name\n2026-01-01 00:00:00,000 INFO all is well")
    assert len(stream.getvalue().splitlines()) == 1


def test_the_settings_take_these_levels_and_forms() -> None:
    for name, values in (("log_level", LEVELS), ("log_format", FORMATS)):
        for value in values:
            assert getattr(Settings.model_validate({name: value}), name) == value
            assert value in about(name).right
