"""What `triagebot serve --check` says of Telegram: the staff's room and the webhook."""

from collections.abc import Callable

import pytest

from tests.channels.telegram.stage import fresh_token
from tests.doubles.telegram import Telegram
from triagebot.channels.telegram.bot_api import SERVER
from triagebot.channels.telegram.preflight import problems, webhook_problem

pytestmark = pytest.mark.asyncio


@pytest.fixture
def bot(platform: Telegram) -> tuple[str, str]:
    """The token and the name of a bot of this test's own."""
    token = fresh_token()
    name = f"bot{token[:9]}_bot"
    platform.add_bot(token, name)
    return token, name


@pytest.fixture
def group(platform: Telegram, bot: tuple[str, str]) -> Callable[..., int]:
    """A group with Ada; without anybody else, she has left."""

    def make(*, topics: bool = True, rights: bool = True, there: bool = True, alone: bool = False) -> int:
        ada = platform.add_person("Ada", bot=bot[0])
        given = {"topics": ["General"] if topics else [], "bots": [bot[0]] if there else []}
        made = platform.add_group(ada, "Workshop", **given)
        if topics and rights:
            platform.let_make_topics(made, bot[0])
        if alone:
            platform.leave(ada, made)
        return made

    return make


async def looked(platform: Telegram, token: str, room: int | None, webhook: str | None = None) -> tuple[str, str]:
    wrong, well = await problems(token, platform.base_url.removesuffix("/bot"), webhook, room)
    assert token.split(":")[1] not in "\n".join([*wrong, *well])
    return "\n".join(wrong), "\n".join(well)


async def test_a_room_that_is_well(platform: Telegram, bot: tuple[str, str], group: Callable[..., int]) -> None:
    wrong, well = await looked(platform, bot[0], group())
    assert wrong == ""
    assert well.splitlines()[1] == "telegram: the staff's room “Workshop”: 2 members, a topic for each case"
    wrong, well = await looked(platform, bot[0], group(topics=False))
    assert wrong == ""
    assert "without topics: each case is a thread of replies" in well


@pytest.mark.parametrize(
    ("made", "said"),
    [
        ({"rights": False}, "the bot may not manage topics; make it an administrator with that right"),
        ({"there": False}, "add the bot to the group"),
        ({"alone": True}, "nobody but the bot is in it"),
    ],
)
async def test_what_is_wrong_with_a_room(
    platform: Telegram, bot: tuple[str, str], group: Callable[..., int], made: dict[str, bool], said: str
) -> None:
    wrong, well = await looked(platform, bot[0], group(**made))
    assert said in wrong
    assert "room" not in well


async def test_a_room_that_is_none(platform: Telegram, bot: tuple[str, str]) -> None:
    assert "-100123 cannot be found" in (await looked(platform, bot[0], -100123))[0]


async def test_the_platform_itself_sends_to_https_alone(platform: Telegram, bot: tuple[str, str]) -> None:
    """A server of one's own, as here, may send anywhere."""
    address = "http://wheels.example/telegram"
    assert (await looked(platform, bot[0], None, address))[0] == ""
    assert webhook_problem(address, SERVER).startswith("telegram: http://wheels.example/telegram begins with http://")
    assert webhook_problem("https://wheels.example/telegram", SERVER) == ""
