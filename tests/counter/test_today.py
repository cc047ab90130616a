"""The owner's digest: what a day counts, on the shop's own clock, and how it reads."""

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

from tests.conversation.guides import shipped_guide
from tests.counter.shop import Shop
from tests.study.shelf import FOUR_NOTCH, closed, keep, said
from triagebot.cases.summaries import counted
from triagebot.conversation import Case, Guide
from triagebot.counter import digest, digest_of, digest_text
from triagebot.counter.today import Digest
from triagebot.store import open_store
from triagebot.store.loans import Loan
from triagebot.store.staff import Ticket, Tickets
from triagebot.testing import START

GUIDE = shipped_guide()
TEXTS = GUIDE.language("en").texts
#: The last moments of a day where the shop is: later than that day in UTC, or earlier, as the zone has it.
NOW = START.replace(hour=22)


@contextmanager
def opened(folder: Path) -> Iterator[Shop]:
    shop = Shop(folder)
    try:
        yield shop
    finally:
        shop.end()


def ticket(case: int, state: str, hours: float) -> Ticket:
    return Ticket(case, state, "asked", None, None, NOW - timedelta(hours=hours))  # type: ignore[arg-type]


def told(
    cases: Sequence[Case], tickets: Sequence[Ticket], guide: Guide, now: datetime, *loans: Sequence[Loan]
) -> Digest:
    """The digest of these cases, every one of them folded."""
    begin = now.astimezone(guide.shop.zone).replace(hour=0, minute=0, second=0, microsecond=0)
    return digest(counted(cases, begin, now), tickets, guide, now, *loans)


def some() -> list[Case]:
    return [
        said(*FOUR_NOTCH, code="AAA-001"),
        closed(said(*FOUR_NOTCH, code="AAA-002"), "freewheel-4-notch-24", True),
        closed(said(*FOUR_NOTCH, code="AAA-003"), "freewheel-2-notch", False),
        said("person", code="AAA-004"),
        said("12 splines", "stop", code="AAA-005"),
        said("12 splines", code="AAA-006"),
        said(*FOUR_NOTCH, code="AAA-007", days=-3),
    ]


def test_what_a_day_counts() -> None:
    tickets = [ticket(4, "waiting", 2), ticket(8, "waiting", 30), ticket(9, "claimed", 3), ticket(10, "snoozed", 1)]
    found = told(some(), tickets, GUIDE, NOW)

    assert dict(found.begun) == {"answer": 3, "look-alike": 0, "person": 1, "stopped": 1, "open": 1}
    assert found.conversations == 6
    assert (found.closed, found.fitted, found.misfits) == (2, 1, 1)
    assert (found.waiting, found.held, found.asleep) == (2, 1, 1)
    assert found.waiting_since == NOW - timedelta(hours=30)
    assert (found.lent, found.late) == (0, 0)


def test_a_case_begun_before_and_closed_today_counts_as_closed() -> None:
    older = said(*FOUR_NOTCH, days=-3)
    late = replace(closed(older, "freewheel-4-notch-24", None).closed, at=NOW)  # type: ignore[type-var]
    found = told([replace(older, closed=late)], [], GUIDE, NOW)

    assert found.conversations == 0
    assert (found.closed, found.fitted, found.misfits) == (1, 0, 0)


def test_the_day_is_the_shops_own() -> None:
    """Half an hour after midnight where the shop is, yesterday's evening is yesterday; the night clocks go forward has
    a day of 23 hours."""
    zone = GUIDE.shop.zone
    evening = datetime(2026, 3, 28, 23, 30, tzinfo=zone)
    case = replace(said("12 splines"), opened=evening)

    assert told([case], [], GUIDE, evening + timedelta(minutes=20)).conversations == 1
    assert told([case], [], GUIDE, datetime(2026, 3, 29, 0, 30, tzinfo=zone)).conversations == 0
    morning = replace(case, opened=datetime(2026, 3, 29, 0, 10, tzinfo=zone).astimezone(UTC))
    assert told([morning], [], GUIDE, datetime(2026, 3, 29, 23, 50, tzinfo=zone)).conversations == 1
    assert told([morning], [], GUIDE, datetime(2026, 3, 30, 0, 1, tzinfo=zone)).conversations == 0


def test_overdue_notes_are_named_and_the_rest_counted() -> None:
    found = told([], [], GUIDE, NOW.replace(year=2031))
    text = digest_text(GUIDE, TEXTS, found)

    assert len(found.overdue) == len(GUIDE.shop.notes)
    assert f"{len(found.overdue)} notes need checking again:" in text
    assert text.count("\n– ") == 6
    assert f"– and {len(found.overdue) - 5} more" in text


def test_how_it_reads() -> None:
    loans = [Loan(1, "remover-4-notch-24", "Ben", None, "Ada", NOW - timedelta(days=2), None)]
    found = replace(told(some(), [ticket(4, "waiting", 30)], GUIDE, NOW, loans), overdue=())

    text = digest_text(GUIDE, TEXTS, found)
    first, *rest = text.splitlines()
    assert first.startswith("Monday 2 March, ")
    assert first.endswith("6 conversations today.")
    assert rest[:4] == ["– 3 got an answer", "– 1 went to a person", "– 1 stopped", "– 1 not finished"]
    assert rest[4] == "Closed today: 2. The tool fitted: 1. It didn’t fit: 1."
    assert rest[5].startswith("One is waiting for a person, since Sun")
    assert rest[6:] == ["One tool is lent out."]


def test_what_ought_to_be_back() -> None:
    due = [None, NOW - timedelta(minutes=1), NOW + timedelta(hours=1), NOW - timedelta(days=3)]
    out = [Loan(n, "hook-spanner", "Ben", None, "Ada", NOW - timedelta(days=9), each) for n, each in enumerate(due)]
    found = told([], [], GUIDE, NOW, out)
    assert (found.lent, found.late) == (4, 2)
    assert (
        digest_text(GUIDE, TEXTS, found).splitlines()[-1] == "4 tools are lent out, and 2 should be back by now: “out”."
    )


def test_a_quiet_day() -> None:
    text = digest_text(GUIDE, TEXTS, replace(told([], [], GUIDE, NOW), overdue=()))

    assert text.splitlines()[0].endswith("nobody has asked anything yet today.")
    assert text.splitlines()[1:] == ["Nobody is waiting for a person."]


def test_out_of_a_store(tmp_path: Path) -> None:
    cases = some()
    key = keep(tmp_path / "data", [*cases, said(*FOUR_NOTCH, code="AAA-008", days=-90)])
    with open_store(tmp_path / "data", key_file=key) as store:
        with store.begin() as tx:
            Tickets(tx).open(4, "asked", NOW - timedelta(hours=1))
        with store.read() as view:
            found = digest_of(view, GUIDE, NOW)

    assert found == told(cases, [ticket(4, "waiting", 1)], GUIDE, NOW)


def test_who_works_here_is_no_customer(tmp_path: Path) -> None:
    """An owner says hello first, and then brings the code."""
    with opened(tmp_path) as shop:
        shop.says("olga", "hello")
        shop.says("bob", "hello")
        shop.staff("olga", "owner")
        with shop.reading() as view:
            assert digest_of(view, GUIDE, shop.clock()).conversations == 1


def test_a_case_that_waited_before_there_was_a_queue_is_in_it_once(tmp_path: Path) -> None:
    with opened(tmp_path) as shop:
        code = shop.needs_a_person("bob")
        shop.says("eve", "hello")
        shop.staff("ada")
        with shop.writing() as tx:  # as an older store has it
            for table in ("tickets", "positions"):
                tx.connection.exec_driver_sql(f"DELETE FROM {table}")
        assert "Nobody is waiting" in shop.says("ada", "queue")
        shop.close()
        shop.open()
        assert f"1 {code}" in shop.says("ada", "queue")
        shop.says("ada", f"close {code} not tried")
        with shop.writing() as tx:
            tx.connection.exec_driver_sql("DELETE FROM tickets")
        shop.close()
        shop.open()
        assert "Nobody is waiting" in shop.says("ada", "queue")
