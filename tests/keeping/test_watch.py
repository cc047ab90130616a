"""What /health and /ready say of a running bot, well or not, and the alert rules on its metrics."""

import json
import re
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import httpx
import pytest
import yaml
from prometheus_client import generate_latest
from prometheus_client.parser import text_string_to_metric_families

from tests.delivery.fixtures import _own_key, channel, codes, guide, office
from tests.delivery.office import Office
from tests.delivery.recorded import RecordedChannel
from tests.pages.conftest import Visitor
from triagebot.conversation import Guide
from triagebot.delivery.metrics import registry_of
from triagebot.keeping import watch as watching
from triagebot.keeping.gauges import WORDS, Gauges
from triagebot.keeping.watch import LATELY, MOST_WAITING, Watch
from triagebot.pages import app
from triagebot.store import DATABASE
from triagebot.store.backlog import Backlog
from triagebot.store.message_rows import Correspondent
from triagebot.store.post import Post

__all__ = ["_own_key", "channel", "codes", "guide", "office"]
ALERTS = Path(__file__).parents[2] / "deploy" / "alerts.yaml"


class Seconds:
    """A clock that passes when it is told to."""

    now = 0.0

    def __call__(self) -> float:
        return self.now


@pytest.fixture
def seconds() -> Seconds:
    return Seconds()


@pytest.fixture
def watch(office: Office, seconds: Seconds) -> Watch:
    return Watch(office.delivery, office.store.store, seconds)


@pytest.fixture
def unwell(office: Office, watch: Watch, seconds: Seconds) -> Callable[[], dict[str, str]]:
    """What is not well just now, by what was looked at."""

    def look() -> dict[str, str]:
        seconds.now += watching.STANDS + 1
        return {row.what: row.said for row in office.run(watch.ready()) if not row.well}

    return look


@pytest.fixture
def reaching(channel: RecordedChannel, monkeypatch: pytest.MonkeyPatch) -> Iterator[Callable[[float | None], None]]:
    """Says how long ago the platform answered."""

    def reached(ago: float | None) -> None:
        monkeypatch.setattr(type(channel), "reached", property(lambda _: ago), raising=False)

    return reached


def test_all_is_well_and_every_row_says_so(office: Office, watch: Watch, reaching: Any) -> None:
    reaching(3.0)
    rows = office.run(watch.ready())
    assert [row.what for row in rows] == ["data", "writer", "database", office.channel.name, "backlog"]
    assert all(row.well and row.said for row in rows)


def test_a_data_folder_that_was_moved_away(
    office: Office, watch: Watch, unwell: Callable[[], dict[str, str]], tmp_path: Path
) -> None:
    office.bring("ada", "hello")
    assert unwell() == {}
    elsewhere = office.folder.rename(tmp_path / "elsewhere")
    assert "moved" in unwell()["data"]
    assert [row.what for row in watch.healthy() if not row.well] == ["data"]
    elsewhere.rename(office.folder)
    assert unwell() == {}


def test_that_the_folder_was_moved_is_said_at_once(office: Office, watch: Watch, tmp_path: Path) -> None:
    assert all(row.well for row in office.run(watch.ready()))
    office.folder.rename(tmp_path / "elsewhere")
    assert [row.what for row in office.run(watch.ready()) if not row.well] == ["data"]


def test_another_database_in_its_place(office: Office, watch: Watch) -> None:
    (office.folder / DATABASE).rename(office.folder / "old")
    (office.folder / DATABASE).touch()
    assert [row.what for row in watch.healthy() if not row.well] == ["data"]


def test_a_database_that_cannot_be_written(
    office: Office, unwell: Callable[[], dict[str, str]], monkeypatch: pytest.MonkeyPatch
) -> None:
    assert unwell() == {}
    monkeypatch.setattr(watching, "WRITTEN_WITHIN", 0.05)
    with office.store.store.begin():  # as another process would that does not let go
        assert "within" in unwell()["database"]
    monkeypatch.undo()
    assert unwell() == {}


def test_a_writer_that_ended(office: Office, unwell: Callable[[], dict[str, str]]) -> None:
    office.delivery._writer.close()
    assert unwell().keys() == {"writer", "database"}


def test_a_platform_that_does_not_answer(unwell: Callable[[], dict[str, str]], reaching: Any) -> None:
    for ago, well in ((None, False), (LATELY, True), (LATELY + 1, False)):
        reaching(ago)
        assert (not unwell()) is well


def test_more_waits_than_may(
    watch: Watch, unwell: Callable[[], dict[str, str]], monkeypatch: pytest.MonkeyPatch
) -> None:
    for count, well in ((MOST_WAITING, True), (MOST_WAITING + 1, False)):
        found = (Backlog("paper", "in", count - 1, None, 0), Backlog("paper", "out", 1, None, 0))
        monkeypatch.setattr(watch, "backlogs", lambda found=found: found)
        assert (not unwell()) is well


def test_however_many_ask_it_is_looked_once_in_a_while(office: Office, watch: Watch, seconds: Seconds) -> None:
    before = office.delivery._writer.commits
    for _ in range(5):
        office.run(watch.ready())
    assert office.delivery._writer.commits == before + 1
    seconds.now += watching.STANDS + 0.1
    office.run(watch.ready())
    assert office.delivery._writer.commits == before + 2


def test_the_figures_count_what_waits_and_what_was_set_aside(office: Office, watch: Watch) -> None:
    with office.store.begin() as tx:
        for number, state in enumerate(("waiting", "waiting", "aside", "done")):
            Post(tx).receive("paper", f"key {number}", "somebody", office.clock(), state, {"n": number})
    told = figures(watch)
    assert told[("triagebot_backlog", "paper", "in")] == 2
    assert told[("triagebot_set_aside", "paper", "in")] == 1
    assert told[("triagebot_backlog", "paper", "out")] == 0
    assert told[("triagebot_oldest_waiting_seconds", "paper", "in")] > 0
    assert told[("triagebot_oldest_waiting_seconds", "paper", "out")] == 0
    assert told[("triagebot_healthy", "", "")] == told[("triagebot_database_readable", "", "")] == 1


def test_what_waits_to_be_sent_and_what_never_went(office: Office, watch: Watch) -> None:
    name = office.channel.name
    somebody = Correspondent(name, {"chat": "ada"}, None, gone=False)
    with office.store.begin() as tx:
        post = Post(tx)
        for kind, failed in (("send", False), ("send", False), ("notice", True), ("edit", True)):
            number = post.put_out(somebody, "nobody", kind, {}, office.clock())
            if failed:
                post.failed(number, "no")
    told = figures(watch)
    assert told[("triagebot_backlog", name, "out")] == 2
    assert told[("triagebot_set_aside", name, "out")] == 1


def figures(watch: Watch) -> dict[tuple[str, str, str], float]:
    printed = generate_latest(registry_of(watch._delivery.counts, Gauges(watch))).decode()
    return {
        (sample.name, sample.labels.get("channel", ""), sample.labels.get("way", "")): sample.value
        for family in text_string_to_metric_families(printed)
        for sample in family.samples
    }


def test_a_database_that_cannot_be_read_is_a_figure(office: Office, watch: Watch, tmp_path: Path) -> None:
    office.folder.rename(tmp_path / "elsewhere")
    office.folder.mkdir()
    office.store.store._engine.dispose()  # what is opened from now on finds nothing
    told = figures(watch)
    assert told[("triagebot_database_readable", "", "")] == 0
    assert told[("triagebot_healthy", "", "")] == 0
    assert not any(name == "triagebot_backlog" for name, _, _ in told)
    (office.folder / DATABASE).unlink(missing_ok=True)
    office.folder.rmdir()
    (tmp_path / "elsewhere").rename(office.folder)


# --- the pages ----------------------------------------------------------------------------------------------------


class Looked:
    """A watch that found what it is told to have found."""

    def __init__(self, well: bool) -> None:
        self._rows = [watching.Row("database", True, "can be written"), watching.Row("data", well, "moved away")]

    def healthy(self) -> list[watching.Row]:
        return self._rows[1:]

    async def ready(self) -> list[watching.Row]:
        return self._rows


@pytest.mark.parametrize("well", [True, False])
def test_who_is_near_sees_the_rows_and_all_others_whether_all_is_well(guide: Guide, well: bool) -> None:
    near = Visitor(app(guide, watch=Looked(well)), "127.0.0.1")
    for path, count in (("/health", 1), ("/ready", 2)):
        for visitor, rows in ((near, count), (near.at("8.8.8.8"), 0)):
            answer: httpx.Response = visitor(path)
            assert answer.status_code == (200 if well else 503)
            assert answer.headers["cache-control"] == "no-store"
            told = json.loads(answer.text)
            assert told["ok"] is well
            assert len(told.get("rows", ())) == rows
    assert "rows" not in json.loads(near("/ready", headers={"x-forwarded-for": "10.0.0.1"}).text)


def test_without_a_watch_there_is_nothing_to_be_ready(guide: Guide) -> None:
    assert Visitor(app(guide))("/ready").status_code == 404


# --- the rules for alerts -----------------------------------------------------------------------------------------


def test_the_rules_name_only_figures_that_there_are(office: Office, watch: Watch, guide: Guide) -> None:
    registry = registry_of(office.delivery.counts, Gauges(watch))
    app(guide, registry=registry)  # counts the pages
    there = {
        sample.name
        for family in registry.collect()
        for sample in family.samples
    } | {f"triagebot_page_seconds_{end}" for end in ("count", "sum", "bucket")} | set(WORDS)  # fmt: skip
    rules = [rule for group in yaml.safe_load(ALERTS.read_text("utf-8"))["groups"] for rule in group["rules"]]
    named = {name for rule in rules for name in re.findall(r"\btriagebot_\w+", rule["expr"])}
    assert named
    assert named <= there
    assert len({rule["alert"] for rule in rules}) == len(rules)
    for rule in rules:
        assert rule["labels"]["severity"] in ("page", "warn")
        assert rule["annotations"]["summary"]
        assert rule["annotations"]["action"]
