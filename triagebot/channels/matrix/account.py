"""From the settings to a channel, or what stands in its way."""

from typing import TYPE_CHECKING

from triagebot.channels.matrix.channel import Matrix
from triagebot.channels.matrix.connection import Connection
from triagebot.channels.matrix.http import HttpClient, MatrixAway, MatrixRefused, path_of
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


async def problems(account: MatrixAccount, store: "Store") -> tuple[list[str], list[str]]:
    """What stands in the way of serving, and what is well, in lines for the operator. Logs in if the bot never did."""
    http = HttpClient(account.server)
    try:
        await http.request("GET", path_of("versions", base="/_matrix/client"))
        folder = AccountFolder(store.path.parent, store.cipher)
        login = await ensure_login(http, folder, account.user, account.password, account.token)
    except MatrixAway as error:
        return [f"matrix: {account.server} cannot be reached ({error})"], []
    except (MatrixRefused, StoreError) as error:
        return [str(error)], []
    except Exception as error:
        return [f"matrix: {account.server} is no homeserver ({error})"], []
    finally:
        await http.close()
    return [], [f"matrix: logged in as {login.user}, device {login.device}"]
