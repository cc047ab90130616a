"""Keeps cases and their events on disk, so that nothing said is lost and a conversation goes on where it stood.

    with open_store(settings.data_folder) as store:
        with store.begin() as tx:
            number = tx.open_case("terminal:me", code, topic, now)
            tx.append(number, 0, events)

Importing this room is cheap; the database library is loaded by the first `open_store`.
"""

from typing import TYPE_CHECKING, Any

from triagebot.store.data_folder import holds_cases, open_store
from triagebot.store.engines import DATABASE
from triagebot.store.errors import StoreConflict

if TYPE_CHECKING:
    from triagebot.store.transactions import Store, StoredCase, Transaction, View

__all__ = ["DATABASE", "Store", "StoreConflict", "StoredCase", "Transaction", "View", "holds_cases", "open_store"]


def __getattr__(name: str) -> Any:
    """The names that need the database library, loaded when somebody asks for them."""
    if name in __all__:
        from triagebot.store import transactions

        return getattr(transactions, name)
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
