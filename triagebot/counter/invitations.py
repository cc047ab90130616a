"""Becoming one of the staff, and ceasing to be.

Decided here and nowhere else:
- how a code is written: `LETTERS` of `ALPHABET`, drawn by the system at random, in groups that can be read aloud;
  consonants only, so that a code is no word and no number, whatever becomes of it;
- a code counts once and for a while; whatever else is brought is told by nothing from any other text;
- whoever leaves gives back all that they have, and what they were in the middle of is forgotten.
"""

import secrets
import unicodedata
from datetime import datetime, timedelta
from typing import TYPE_CHECKING

from triagebot.errors import UsageError
from triagebot.store.grants import Grants
from triagebot.store.staff import Member, Role, Staff, Tickets

if TYPE_CHECKING:
    from triagebot.store import Transaction

#: Twenty letters of twenty kinds are 86 bits.
ALPHABET = "BCDFGHJKMNPQRSTVWXYZ"
LETTERS, GROUP = 20, 4
#: How long a code counts unless something else is said, and at most.
LASTS, LONGEST = timedelta(hours=48), timedelta(days=30)
#: Whoever is invited without a name is called so, by role.
_CALLED: dict[Role, str] = {"staff": "Staff", "owner": "Owner"}
#: No longer text is a code.
_MOST = 80


def fresh_code() -> str:
    """A new code, without what stands between its groups."""
    return "".join(secrets.choice(ALPHABET) for _ in range(LETTERS))


def grouped(code: str) -> str:
    """A code as it is given out: BCDF-GHJK-MNPQ-RSTV-WXYZ."""
    return "-".join(code[start : start + GROUP] for start in range(0, len(code), GROUP))


def read_invite(text: str) -> str | None:
    """The code that a text is and nothing else, however it is grouped; None for any other text."""
    if len(text) > _MOST:
        return None
    plain = unicodedata.normalize("NFKC", text).upper()
    letters = "".join(c for c in plain if not (c.isspace() or unicodedata.category(c) in ("Pd", "Po", "Pc", "Cf")))
    return letters if len(letters) == LETTERS and set(letters) <= set(ALPHABET) else None


def invite(tx: "Transaction", role: Role, name: str, now: datetime, lasts: timedelta = LASTS) -> str:
    """A code by which somebody becomes one of the staff. Raises UsageError for a name that somebody has."""
    if name and (taken := Staff(tx).named(name)) is not None:
        raise UsageError(
            f"{taken.name} is one of the staff already; take another name, or: staff remove {taken.name!r}"
        )
    if not timedelta(0) < lasts <= LONGEST:
        raise UsageError(f"an invitation counts for {LONGEST.days} days at most")
    body = {"role": role, "name": name}
    return grouped(Grants(tx).issue("staff", None, body, now, now + lasts, fresh_code))


def redeem(tx: "Transaction", mark: str, code: str, now: datetime) -> Member | None:
    """Whoever brings a code is one of the staff from now on; None for a code that does not count."""
    grant = Grants(tx).take("staff", code, now)
    if grant is None:
        return None
    staff = Staff(tx)
    before, role = staff.member(mark), grant.body["role"]
    name = grant.body["name"] or (before.name if before is not None else _CALLED[role])
    member = staff.admit(mark, role, name, now)
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
    return len(given_back)
