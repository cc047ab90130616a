"""A bare client of nio, as the library gives it: what the tests of the library's own ways are about."""

from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from pathlib import Path
from typing import Any

import nio

from tests.channels.matrix.person import Person

TEXT = {"msgtype": "m.text", "body": "x"}


def bare(url: str, user_id: str, folder: Path, device_id: str = "", token: str = "", **config: Any) -> nio.AsyncClient:
    """A client on the store in `folder`: a new one before its login, or one that goes on, given device and token."""
    folder.mkdir(parents=True, exist_ok=True)
    settings = {"max_timeouts": 0, "max_limit_exceeded": 0, "request_timeout": 10} | config
    client = nio.AsyncClient(
        url, user_id, device_id=device_id, store_path=str(folder), config=nio.AsyncClientConfig(**settings)
    )
    if token:
        client.restore_login(user_id, device_id, token)
    return client


def again(client: nio.AsyncClient) -> nio.AsyncClient:
    """What a new process would make of the same login and store; the sync position is the caller's to give."""
    return bare(client.homeserver, client.user_id, Path(client.store_path), client.device_id, client.access_token)


async def shut(client: nio.AsyncClient) -> None:
    await client.close()
    if client.store is not None:
        client.store.database.close()


@asynccontextmanager
async def going_on(client: nio.AsyncClient, since: str = "") -> AsyncIterator[nio.AsyncClient]:
    """A second process on the same store, ended with the block."""
    other = again(client)
    other.next_batch = since
    try:
        yield other
    finally:
        await shut(other)


async def keep_house(client: nio.AsyncClient) -> None:
    """What `sync_forever` does beside syncing."""
    await client.send_to_device_messages()
    if client.should_upload_keys:
        await client.keys_upload()
    if client.should_query_keys:
        await client.keys_query()
    if client.should_claim_keys:
        await client.keys_claim(client.get_users_for_key_claiming())


async def meet(person: Person, client: nio.AsyncClient, encrypted: bool, group: bool = False) -> str:
    """A room that the person made and the client joined; each knows the other's devices."""
    if group:
        room = await person.create_group_room(client.user_id, encrypted=encrypted)
    else:
        room = await person.create_direct_room(client.user_id, encrypted)
    await client.sync(0)
    await client.join(room)
    await client.sync(0)
    await keep_house(client)
    await person.sees_join(room, client.user_id)
    return room


async def timeline(client: nio.AsyncClient, room: str, wanted: Callable[[Any], bool] = lambda _: True) -> list[Any]:
    """What a sync brings for a room; nothing if the room is not in it."""
    response = await client.sync(0)
    info = response.rooms.join.get(room)
    return [event for event in info.timeline.events if wanted(event)] if info else []
