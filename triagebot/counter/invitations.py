"""Becoming one of the staff, and ceasing to be.

Rules of this file:
- a code counts once and for a while; any other code looks like any other text;
- a member who leaves gives back all that they have, what they were in the middle of is forgotten, and the counter page
  shuts them out.
"""

from collections.abc import Callable
from datetime import datetime, timedelta
from functools import partial
from typing import TYPE_CHECKING

from triagebot.errors import UsageError
from triagebot.messages.codes import STAFF_CODE, fresh_secret, grouped
from triagebot.store.grants import Grants
from triagebot.store.staff import Member, Role, Staff, Tickets

if TYPE_CHECKING:
    from triagebot.store import Transaction

#: How long a code counts unless something else is said, and at most.
LASTS, LONGEST = timedelta(hours=48), timedelta(days=30)


def invite(tx: "Transaction", role: Role, name: str, now: datetime, lasts: timedelta = LASTS) -> str:
    """A code by which somebody becomes one of the staff. Raises UsageError for a name that somebody has."""
    if name and (taken := Staff(tx).named(name)) is not None:
        raise UsageError(
            f"{taken.name} is one of the staff already; take another name, or: staff remove {taken.name!r}"
        )
    if not timedelta(0) < lasts <= LONGEST:
        raise UsageError(f"an invitation counts for {LONGEST.days} days at most")
    body = {"role": role, "name": name}
    return grouped(Grants(tx).issue("staff", None, body, now, now + lasts, partial(fresh_secret, STAFF_CODE)))


def redeem(
    tx: "Transaction", lookup_hash: str, code: str, now: datetime, called: Callable[[Role], str]
) -> Member | None:
    """The person who brings a code is one of the staff from now on; None for a code that does not count. `called`: the
    name of a member who was invited without one."""
    grant = Grants(tx).take("staff", code, now)
    if grant is None:
        return None
    staff = Staff(tx)
    before, role = staff.member(lookup_hash), grant.body["role"]
    name = grant.body["name"] or (before.name if before is not None else called(role))
    member = staff.admit(lookup_hash, role, name, now)
    staff.did(member, "joined", now, role=member.role)
    return member


def dismiss(tx: "Transaction", member: Member, now: datetime) -> int:
    """Somebody is none of the staff any more; gives how many cases they had, which wait again."""
    staff = Staff(tx)
    if not staff.remove(member.person, now):
        return 0
    given_back = Tickets(tx).release_all(member.person)
    for case in given_back:
        staff.did(member, "left", now, case)
    staff.did(member, "removed", now)
    Grants(tx).end_of("login", "person", member.person)
    Grants(tx).end_of("session", "person", member.person)
    return len(given_back)
