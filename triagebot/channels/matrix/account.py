"""From the settings to a channel, or what stands in its way."""

from typing import TYPE_CHECKING

from triagebot.channels.matrix.channel import Matrix
from triagebot.channels.matrix.connection import Connection
from triagebot.channels.matrix.http import Denied, HttpClient, MatrixAway, MatrixRefused, path_of
from triagebot.channels.matrix.session import AccountFolder, ensure_login
from triagebot.conversation import Guide
from triagebot.delivery import Delivery
from triagebot.errors import StoreError
from triagebot.settings import MatrixAccount

if TYPE_CHECKING:
    from triagebot.store import Store


def connected(
    account: MatrixAccount, guide: Guide, delivery: Delivery, store: "Store", language: str, staff_room: str = ""
) -> Matrix:
    """The channel of an account; its login and keys are kept beside the database, encrypted like it."""
    connection = Connection(
        account.server,
        account.user,
        store.path.parent,
        store.cipher,
        password=account.password,
        token=account.token,
        bridges=account.bridges,
    )
    return Matrix(guide, delivery, connection, language, account.allow, account.bridges, staff_room)


async def problems(account: MatrixAccount, store: "Store", staff_room: str = "") -> tuple[list[str], list[str]]:
    """What stands in the way of serving, and what is well, in lines for the operator. Logs in if the bot never did.
    `staff_room` is the id or the alias of the staff's, "" for none."""
    http = HttpClient(account.server)
    try:
        await http.request("GET", path_of("versions", base="/_matrix/client"))
        folder = AccountFolder(store.path.parent, store.cipher)
        login = await ensure_login(http, folder, account.user, account.password, account.token)
        wrong, well = await _room(http, staff_room) if staff_room else ([], [])
    except MatrixAway as error:
        return [f"matrix: {account.server} cannot be reached ({error})"], []
    except (MatrixRefused, StoreError) as error:
        return [str(error)], []
    except Exception as error:
        return [f"matrix: {account.server} is no homeserver ({error})"], []
    finally:
        await http.close()
    return wrong, [f"matrix: logged in as {login.user}, device {login.device}", *well]


async def _room(http: HttpClient, room: str) -> tuple[list[str], list[str]]:
    """Whether the staff's room is there, the bot is in it, and anybody else is. Raises MatrixAway."""
    named = f"matrix: the staff's room {room}"
    try:
        if room.startswith("#"):
            room = str((await http.request("GET", path_of("directory", "room", room))).get("room_id", ""))
        joined = (await http.request("GET", path_of("joined_rooms"))).get("joined_rooms", [])
        if room not in joined:
            return [f"{named}: the bot is not in it; invite it"], []
        members = (await http.request("GET", path_of("rooms", room, "joined_members"))).get("joined", {})
    except Denied as error:
        return [f"{named} cannot be found ({error}): check its id or alias, and invite the bot"], []
    if len(members) <= 1:
        return [f"{named}: nobody but the bot is in it"], []
    return [], [f"{named}: {len(members)} members"]
