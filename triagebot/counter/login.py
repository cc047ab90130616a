"""Who is at the counter page: a member who opened a link that counts once, for as long as the session lasts.

Rules of this file:
- a member asks for a link where they write to the bot, and opens it within `LINK_LASTS`; a newer link ends the older;
- an invitation opens the page, too: who opens it is one of the staff from then on, and has no chat;
- to look at a link uses nothing up, since messengers open links by themselves; logging in does;
- a session ends after `SESSION_LASTS`, when its member logs out, and at once when they leave the staff.
"""

import secrets
from collections.abc import Callable
from datetime import datetime, timedelta
from typing import TYPE_CHECKING
from urllib.parse import quote

from triagebot.counter.invitations import redeem
from triagebot.counter.work import Attended, Work, answer
from triagebot.messages.codes import STAFF_CODE, read_secret
from triagebot.store.grants import BYTES, Grants
from triagebot.store.staff import Member, Role, Staff

if TYPE_CHECKING:
    from triagebot.store import Transaction, View

LINK_LASTS = timedelta(minutes=10)
SESSION_LASTS = timedelta(days=7)


def enter_address(pages: str, secret: str) -> str:
    """Where somebody logs in with this secret; `pages` is the address of the pages, without a slash."""
    return f"{pages}/counter/enter/{quote(secret, safe='')}"


def login_link(tx: "Transaction", member: Member, pages: str, now: datetime) -> str:
    """A new link for a member, the only one that counts."""
    grants = Grants(tx)
    grants.end_of("login", "person", member.person)
    return enter_address(pages, grants.issue("login", None, {"person": member.person}, now, now + LINK_LASTS))


def send_link(work: Work) -> Attended:
    """What a member is answered who wants to go to the counter page."""
    if work.guide.address is None:
        return answer(work.texts("staff-link-none"))
    url = login_link(work.tx, work.member, work.guide.address, work.now)
    return answer(work.texts("staff-link", url=url, minutes=int(LINK_LASTS.total_seconds() // 60)))


def lets_in(view: "View", secret: str, now: datetime) -> str | None:
    """The name of whom a link lets in, "" for somebody invited without one; None for a link that does not count."""
    grants = Grants(view)
    if (login := grants.find("login", secret, now)) is not None:
        member = Staff(view).member(login.body["person"])
        return None if member is None else member.name
    code = read_secret(secret, STAFF_CODE)
    invitation = grants.find("staff", code, now) if code is not None else None
    return None if invitation is None else str(invitation.body["name"])


def log_in(tx: "Transaction", secret: str, now: datetime, called: Callable[[Role], str]) -> str | None:
    """The secret of a new session; None for a link that does not count. `called` as for `redeem`."""
    member = _let_in(tx, secret, now, called)
    if member is None:
        return None
    return Grants(tx).issue("session", None, {"person": member.person}, now, now + SESSION_LASTS)


def member_at(view: "View", session: str, now: datetime) -> Member | None:
    """Whose session it is; None for one that does not count."""
    grant = Grants(view).find("session", session, now)
    return None if grant is None else Staff(view).member(grant.body["person"])


def log_out(tx: "Transaction", session: str, now: datetime) -> None:
    Grants(tx).end("session", session, now)


def _let_in(tx: "Transaction", secret: str, now: datetime, called: Callable[[Role], str]) -> Member | None:
    login = Grants(tx).take("login", secret, now)
    if login is not None:
        return Staff(tx).member(login.body["person"])
    code = read_secret(secret, STAFF_CODE)
    new = tx.lookup_hash(f"counter:{secrets.token_urlsafe(BYTES)}")
    return None if code is None else redeem(tx, new, code, now, called)
