"""In groups: only when spoken to, one case for each person in each thread, and buttons that are one person's own."""

from pathlib import Path

import pytest

from tests.channels.telegram.stage import Stage, polling, said_back, until
from tests.doubles.telegram import Person, Screen, Telegram
from tests.store.reading import current_case

pytestmark = pytest.mark.asyncio


def name_of(stage: Stage) -> str:
    return f"@bot{stage.token[:9]}_bot"


async def said(stage: Stage, who: Person, group: int, count: int) -> Screen:
    return await who.watch(lambda screen: len(screen.from_bots) >= count, chat=group)


async def test_it_answers_only_when_it_is_spoken_to(stage: Stage) -> None:
    ada, bob = stage.person("Ada"), stage.person("Bob")
    group = stage.platform.add_group(ada, "Workshop", people=[bob], bots=[stage.token])
    ada.write("has anybody got a chain whip?", chat=group)
    ada.write("hello @somebody_else", chat=group)
    ada.write("/unknown", chat=group)
    ada.write("/start@another_bot", chat=group)
    ada.write(f"it has 6 sprockets {name_of(stage)}, I think", chat=group)
    screen = await said(stage, ada, group, 1)
    assert "6 sprockets" in screen.from_bots[0].text
    assert screen.from_bots[0].reply_to == screen.messages[-2].id
    ada.write("the wheel is out", chat=group, reply_to=screen.from_bots[0].id)
    screen = await said(stage, ada, group, 2)
    assert "the wheel is out" in screen.last.text
    await stage.quiet()
    assert len(ada.screen(chat=group).from_bots) == 2


async def test_a_command_is_speaking_to_it(stage: Stage) -> None:
    ada = stage.person("Ada")
    group = stage.platform.add_group(ada, "Workshop", bots=[stage.token])
    ada.write(f"/start{name_of(stage)}", chat=group)
    screen = await said(stage, ada, group, 1)
    assert "I’m the bot" in screen.last.text
    ada.write("/case", chat=group)
    screen = await said(stage, ada, group, 2)
    assert "Your case code is" in screen.last.text


async def test_each_person_has_a_case_and_the_buttons_are_theirs_alone(stage: Stage) -> None:
    ada, bob = stage.person("Ada"), stage.person("Bob")
    group = stage.platform.add_group(ada, "Workshop", people=[bob], bots=[stage.token])
    ada.write("/start", chat=group)
    screen = await said(stage, ada, group, 1)
    hers = screen.last
    bob.press("I don’t know", chat=group, message=hers.id)
    screen = await bob.watch(lambda screen: bool(screen.notices), chat=group)
    assert screen.notices[0].text == "These buttons are for somebody else. Write to me, and I’ll ask you too."
    assert len(screen.from_bots) == 1
    bob.write(f"{name_of(stage)} 9 sprockets", chat=group)
    screen = await said(stage, bob, group, 2)
    assert said_back(screen, "9 sprockets")
    ada.press("I don’t know", chat=group, message=hers.id)
    screen = await said(stage, ada, group, 3)
    assert said_back(screen, "No matter.")
    with stage.store.read() as view:
        cases = [current_case(view, f"telegram:{group}/0/{who.id}") for who in (ada, bob)]
    assert len({case.code for case in cases if case}) == 2


async def test_each_thread_has_a_case_and_is_answered_in_it(stage: Stage) -> None:
    ada = stage.person("Ada")
    group = stage.platform.add_group(ada, "Workshop", topics=["Wheels", "Gears"], bots=[stage.token])
    for thread in (1, 2):
        ada.write("/start", chat=group, thread=thread)
        screen = await said(stage, ada, group, thread)
        assert screen.last.thread == thread
        ada.press("I don’t know", chat=group, message=screen.last.id)
        await stage.quiet()
        break
    screen = ada.screen(chat=group)
    assert [message.thread for message in screen.from_bots] == [1, 1]
    ada.write("/start", chat=group, thread=2)
    screen = await said(stage, ada, group, 3)
    assert "I’m the bot" in screen.last.text
    assert screen.last.thread == 2


async def test_a_group_that_becomes_larger_is_followed(stage: Stage) -> None:
    ada = stage.person("Ada")
    group = stage.platform.add_group(ada, "Workshop", kind="group", bots=[stage.token])
    ada.write(f"{name_of(stage)} it has 6 sprockets", chat=group)
    await said(stage, ada, group, 1)
    await stage.quiet()
    larger = stage.platform.migrate(ada, group)
    await stage.quiet()
    ada.write(f"{name_of(stage)} why", chat=larger)
    screen = await said(stage, ada, larger, 1)
    assert said_back(screen, "6 sprockets")


async def test_what_was_to_go_to_the_smaller_group_goes_to_the_larger(stage: Stage) -> None:
    ada = stage.person("Ada")
    group = stage.platform.add_group(ada, "Workshop", kind="group", bots=[stage.token])
    stage.platform.inject("sendMessage", "500", 1)
    ada.write(f"{name_of(stage)} hello", chat=group)
    await until(lambda: stage.delivery.counts.retried > 0)
    larger = stage.platform.migrate(ada, group)
    screen = await said(stage, ada, larger, 1)
    assert "How many sprockets" in screen.last.text


async def test_a_person_who_throws_it_out_is_not_written_to_any_more(stage: Stage) -> None:
    """Thrown out between an answer that did not get through and its next attempt: that one is the last."""
    ada = stage.person("Ada")
    group = stage.platform.add_group(ada, "Workshop", bots=[stage.token])
    ada.write("/start", chat=group)
    screen = await said(stage, ada, group, 1)
    await stage.quiet()
    for method in ("sendMessage", "sendPhoto"):
        stage.platform.inject(method, "500", 1)
    ada.press("I don’t know", chat=group, message=screen.last.id)
    await until(lambda: any(fault for *_, fault in stage.calls()))
    stage.platform.throw_out(ada, group, stage.token)
    await stage.quiet()
    *_, failed, last = [call for call in stage.calls() if call[0].lower().startswith("send")]
    assert (failed[3], last[2].split(":")[0]) == ("500", "Forbidden")
    assert (stage.delivery.counts.gone, stage.delivery.counts.refused) == (1, 0)
    assert len(ada.screen(chat=group).from_bots) == 1


async def test_a_larger_group_is_still_known_after_a_restart(platform: Telegram, tmp_path: Path) -> None:
    async with polling(platform, tmp_path) as stage:
        ada, token = stage.person("Ada"), stage.token
        group = platform.add_group(ada, "Workshop", kind="group", bots=[token])
        ada.write(f"{name_of(stage)} it has 6 sprockets", chat=group)
        await said(stage, ada, group, 1)
        await stage.quiet()
        larger = platform.migrate(ada, group)
        await stage.quiet()
    async with polling(platform, tmp_path, token=token) as stage:
        ada.write(f"{name_of(stage)} why", chat=larger)
        screen = await said(stage, ada, larger, 1)
        assert said_back(screen, "6 sprockets")
