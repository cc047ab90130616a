"""From the settings to a channel, or what stands in its way."""

from contextlib import suppress
from typing import TYPE_CHECKING

from triagebot.channels.matrix.channel import Matrix
from triagebot.channels.matrix.connection import Connection
from triagebot.channels.matrix.http import Denied, HttpClient, MatrixAway, MatrixRefused, path_of
from triagebot.channels.matrix.invites import server_of
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
        store.folder,
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
        folder = AccountFolder(store.folder, store.cipher)
        try:
            login = await ensure_login(http, folder, account.user, account.password, account.token)
        except MatrixRefused as error:
            elsewhere = await _elsewhere(http, account)
            return [elsewhere or str(error)], []
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


async def _elsewhere(http: HttpClient, account: MatrixAccount) -> str:
    """What is wrong where the account is none of this homeserver's; "" where it may be, or that cannot be told.

    A homeserver does not say whose it is to everybody. So the password is tried with the account's first part alone:
    the answer names the whole account, and what was made by it is taken back."""
    name, _, server = account.user.removeprefix("@").partition(":")
    there = ""
    with suppress(MatrixAway, Denied):
        there = str((await http.request("GET", path_of("server", base="/_matrix/key/v2"))).get("server_name", ""))
    if not there and account.password:
        wanted = {
            "type": "m.login.password",
            "identifier": {"type": "m.id.user", "user": name},
            "password": account.password,
        }
        with suppress(MatrixAway, Denied):
            http.token = ""
            given = await http.request("POST", path_of("login"), wanted)
            there, http.token = server_of(str(given.get("user_id", ""))), str(given.get("access_token", ""))
            await http.request("POST", path_of("logout"), {})
    if not there or there == server:
        return ""
    return (
        f"matrix: {account.server} is the homeserver of {there}, and {account.user} is of {server}: "
        f"the account may be @{name}:{there}"
    )


async def _room(http: HttpClient, room: str) -> tuple[list[str], list[str]]:
    """Whether the staff's room is there, the bot is in it, and anybody else is."""
    named, server = f"matrix: the staff's room {room}", server_of(room)
    try:
        if room.startswith("#"):
            room = str((await http.request("GET", path_of("directory", "room", room))).get("room_id", ""))
        joined = (await http.request("GET", path_of("joined_rooms"))).get("joined_rooms", [])
        if room not in joined:
            return [f"{named}: the bot is in no such room; check the id, and invite the bot"], []
        members = (await http.request("GET", path_of("rooms", room, "joined_members"))).get("joined", {})
    except Denied as error:
        return [f"{named}: no room has this alias ({error}); check it"], []
    except MatrixAway as error:
        return [f"{named} cannot be looked up now ({error}); is {server or 'it'} its server?"], []
    if len(members) <= 1:
        return [f"{named}: nobody but the bot is in it"], []
    return [], [f"{named}: {len(members)} members"]
