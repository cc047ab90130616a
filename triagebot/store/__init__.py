"""Keeps cases and their events on disk, so that nothing said is lost and a conversation goes on where it stood.

    with open_store(settings.data_folder) as store:
        with store.begin() as tx:
            case = tx.current_case("terminal:me")
            tx.append(case.id, len(case.events), events)

Importing this room is cheap; the database library is loaded by the first `open_store`.
"""

from typing import TYPE_CHECKING, Any

from triagebot.store.data_folder import DATABASE, open_store
from triagebot.store.errors import StoreConflict
from triagebot.store.stored import StoredCase

if TYPE_CHECKING:
    from triagebot.store.cases import Transaction, View
    from triagebot.store.database import Store

__all__ = ["DATABASE", "Store", "StoreConflict", "StoredCase", "Transaction", "View", "open_store"]


def __getattr__(name: str) -> Any:
    """The names that need the database library, loaded when somebody asks for them."""
    if name == "Store":
        from triagebot.store.database import Store

        return Store
    if name in ("Transaction", "View"):
        from triagebot.store import cases

        return getattr(cases, name)
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
