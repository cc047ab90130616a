"""Cases in the store by the name of a person, for tests to look at."""

from typing import TYPE_CHECKING

if TYPE_CHECKING:  # other processes import this, and look at what is loaded when
    from triagebot.store import StoredCase, View


def current_case(view: "View", name: str) -> "StoredCase | None":
    """The case that somebody is at, ended or not."""
    version = view.current_version(view.lookup_hash(name))
    return None if version is None else view.case(version[0])


def cases_of(view: "View", name: str) -> "tuple[StoredCase, ...]":
    """Every case that somebody takes part in, oldest first."""
    from sqlalchemy import select

    from triagebot.store.tables import parties

    numbers = select(parties.c.case_id).where(parties.c.person == view.lookup_hash(name)).order_by(parties.c.case_id)
    found = (view.case(number) for number in view.connection.scalars(numbers))
    return tuple(case for case in found if case is not None)
