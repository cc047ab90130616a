"""Faults: what happens to updates and requests, and that a seed decides it."""

import asyncio
from contextlib import nullcontext

import httpx
import pytest
from telegram import Update
from telegram.error import NetworkError, RetryAfter, TimedOut

from tests.doubles.telegram import FAULTS, Faults, rules, serve
from tests.doubles.telegram.faults import FaultInjector, Transit
from tests.doubles.telegram_tests.stage import FOR_EVER, Stage
from tests.doubles.telegram_tests.test_talking import keyboard


def said(updates: tuple[Update, ...]) -> list[str | None]:
    return [
        update.callback_query.data if update.callback_query else update.message.text if update.message else None
        for update in updates
    ]


async def asked(stage: Stage) -> int:
    return (await stage.bot.send_message(stage.ada.id, "?", reply_markup=keyboard("Yes", "No"))).message_id


@pytest.mark.asyncio
async def test_a_message_and_a_press_change_places_but_never_two_messages(stage: Stage) -> None:
    await asked(stage)
    stage.telegram.set_faults(Faults(swap=1, hold_seconds=30))
    stage.ada.write("1")
    stage.ada.write("2")
    stage.telegram.set_faults(Faults())
    assert said(await stage.bot.get_updates()) == []
    assert stage.telegram.pending(stage.token) == 2
    stage.ada.press("Yes")
    assert said(await stage.bot.get_updates()) == ["yes", "1"], "the second is held for itself"
    stage.telegram.skip(31)
    assert said(await stage.bot.get_updates()) == ["yes", "1", "2"]


@pytest.mark.asyncio
async def test_what_is_late_comes_by_itself(stage: Stage) -> None:
    stage.telegram.set_faults(Faults(delay=1, delay_seconds=0.3))
    stage.ada.write("1")
    assert said(await stage.bot.get_updates()) == []
    assert said(await stage.bot.get_updates(timeout=5)) == ["1"]


@pytest.mark.asyncio
async def test_a_press_is_sent_again_under_a_new_number(stage: Stage) -> None:
    await asked(stage)
    stage.telegram.set_faults(Faults(duplicate=1))
    queries = {stage.ada.press("Yes") for _ in range(12)}
    updates = await stage.bot.get_updates()
    assert said(updates) == ["yes"] * 24
    assert len({update.update_id for update in updates}) == 24
    shown = [update.callback_query.id for update in updates if update.callback_query]
    assert len(queries) == 12
    assert 12 < len(set(shown)) < 24, "half of them with a query id of their own"
    for query in shown:
        assert await stage.bot.answer_callback_query(query)


@pytest.mark.asyncio
async def test_a_message_is_given_again_under_its_number_even_when_confirmed(stage: Stage) -> None:
    stage.telegram.set_faults(Faults(duplicate=1))
    stage.ada.write("1")
    first, second = await stage.bot.get_updates()
    assert first.update_id == second.update_id
    stage.ada.write("2")
    late = await stage.bot.get_updates(offset=first.update_id + 2)
    assert said(late) == ["2"]
    assert late[0].update_id == first.update_id + 1, "confirmed before it was given out, and given out once more"


@pytest.mark.asyncio
async def test_lost_updates_stand_on_the_phone_only(stage: Stage) -> None:
    stage.telegram.set_faults(Faults(drop=1))
    stage.ada.write("1")
    assert await stage.bot.get_updates() == ()
    assert stage.ada.screen().last.text == "1"


def story(seed: int) -> list[tuple[int, str]]:
    """What a bot is given of the same acts under that seed, as numbers from the first and what was said."""
    with serve() as telegram:
        token = f"123456789:{'A' * 35}"
        telegram.add_bot(token, "some_bot")
        people = [telegram.add_person(name) for name in ("Ada", "Bob", "Cy")]
        telegram.set_faults(Faults(seed=seed, drop=0.1, duplicate=0.2, swap=0.3, hold_seconds=1000))
        for number in range(20):
            for person in people:
                person.write(f"{person.name} {number}")
        telegram.skip(1001)
        return _given(telegram.base_url, token)


def _given(base_url: str, token: str) -> list[tuple[int, str]]:
    updates = httpx.get(f"{base_url}{token}/getUpdates", trust_env=False).json()["result"]
    return [(update["update_id"], update["message"]["text"]) for update in updates]


def test_the_same_seed_is_the_same_faults_and_another_is_another() -> None:
    first = story(1)
    assert first == story(1)
    assert first != story(2)
    texts = [text for _, text in first]
    assert 40 < len(set(texts)) < 60, "some are lost"
    assert len(set(texts)) < len(texts), "some come twice"


def test_draws_do_not_depend_on_who_else_is_there() -> None:
    alone, crowded = FaultInjector(Faults(seed=5)), FaultInjector(Faults(seed=5))
    expected = [alone.draws("message", 7).random() for _ in range(10)]
    found = []
    for _ in range(10):
        crowded.draws("message", 8)
        found.append(crowded.draws("message", 7).random())
    assert found == expected


def test_a_lane_keeps_its_order_whatever_the_faults() -> None:
    transit = Transit(FaultInjector(Faults(seed=3, delay=0.5, delay_seconds=5, swap=0.5, hold_seconds=3)))
    came: list[tuple[str, int]] = []

    def nothing() -> None:
        """Nothing is doubled here."""

    for number in range(200):
        name = ("message", "press")[number % 2]
        lane, other = (name, 1), ("press" if name == "message" else "message", 1)
        transit.send(lane, other, number / 10, lambda came=came, of=(name, number): came.append(of), nothing)  # type: ignore[misc]
    while (due := transit.release(1000.0)) is not None:
        raise AssertionError(due)
    for name in ("message", "press"):
        numbers = [number for kind, number in came if kind == name]
        assert numbers == sorted(numbers)
    assert len(came) == 200
    assert [number for _, number in came] != sorted(number for _, number in came), "the lanes did change places"


@pytest.mark.asyncio
@pytest.mark.parametrize(
    ("fault", "error", "is_applied"),
    [("500", NetworkError, False), ("502", NetworkError, False), ("lost", NetworkError, False),
     ("cut", NetworkError, True), ("429", RetryAfter, False)],
)  # fmt: skip
async def test_a_request_that_fails_once(stage: Stage, fault: str, error: type[Exception], is_applied: bool) -> None:
    assert fault in FAULTS
    stage.telegram.inject("sendMessage", fault)
    with pytest.raises(error):
        await stage.bot.send_message(stage.ada.id, "hello")
    assert (stage.ada.screen().last.text == "hello") is is_applied
    await stage.bot.send_message(stage.ada.id, "again")
    assert stage.calls[-2:] == [("sendmessage", "", fault), ("sendmessage", "", "")]


@pytest.mark.asyncio
async def test_a_slow_answer_runs_into_the_clients_time_limit_though_it_was_applied(stage: Stage) -> None:
    stage.telegram.set_faults(Faults(slow_seconds=0.5))
    stage.telegram.inject("sendMessage", "slow")
    with pytest.raises(TimedOut):
        await stage.bot.send_message(stage.ada.id, "hello", read_timeout=0.1)
    await stage.ada.watch(lambda screen: screen.last.text == "hello")


@pytest.mark.asyncio
async def test_faults_by_chance_meet_the_methods_named(stage: Stage) -> None:
    faults = Faults(seed=4, server_error=0.3, lost=0.3, cut=0.3, methods=("sendmessage",))
    stage.telegram.set_faults(faults)
    drawn = FaultInjector(faults)  # a request's fault depends on the bot and on how many came before it
    due = [drawn.fault("sendmessage", stage.bot.id)[0] or "" for _ in range(30)]
    for number in range(30):
        await stage.bot.get_me()
        with nullcontext() if due[number] == "" else pytest.raises(NetworkError):
            await stage.bot.send_message(stage.ada.id, str(number))
    assert [fault for method, _, fault in stage.calls if method == "sendmessage"] == due
    assert len(set(due)) > 1


@pytest.mark.asyncio
async def test_an_outage_cuts_everything_and_loses_nothing(stage: Stage) -> None:
    stage.telegram.outage(3600)
    stage.ada.write("anybody?")
    for attempt in (stage.bot.get_me(), stage.bot.get_updates(), stage.bot.send_message(stage.ada.id, "yes")):
        with pytest.raises(NetworkError):
            await attempt
    stage.telegram.skip(3600)
    assert said(await stage.bot.get_updates()) == ["anybody?"]


@pytest.mark.asyncio
async def test_an_outage_cuts_a_held_poll(stage: Stage, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(rules, "LONGEST_POLL", FOR_EVER)
    polled = asyncio.create_task(stage.bot.get_updates(timeout=FOR_EVER))
    await stage.holds_a_poll()
    stage.telegram.outage(3600)
    with pytest.raises(NetworkError):
        await polled


def test_a_fault_that_does_not_exist_is_refused() -> None:
    with pytest.raises(ValueError, match="no such fault: rain"):
        Faults.of({"rain": 1})
    with pytest.raises(ValueError, match="no such fault: hail"):
        FaultInjector(Faults()).inject("sendMessage", "hail", 1)  # type: ignore[arg-type]
