"""The commands about who is staff: inviting, listing, removing; and labels to print. All may run beside a delivery."""

import re
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

from cyclopts import App, Parameter

from triagebot.errors import DataError, UsageError
from triagebot.loading import BranchName, DataFolder, Folder, guide_of, settings_for, shop_folder, store_of

if TYPE_CHECKING:
    from triagebot.settings import Settings
    from triagebot.store import Transaction
    from triagebot.store.staff import Member

staff = App(name="staff", help="Who helps at the shop: invite, list, remove.")

_SPAN = re.compile(r"(\d{1,4})\s*(m|h|d)", re.IGNORECASE)
_UNITS = {"m": "minutes", "h": "hours", "d": "days"}


@staff.command(name="invite")
def invite_somebody(
    *,
    role: Annotated[Literal["staff", "owner"], Parameter(help="What they become.")] = "staff",
    name: Annotated[str, Parameter(help="What they are called, by colleagues and customers.")] = "",
    for_: Annotated[str, Parameter(name="--for", help="How long the code counts: 90m, 48h, 7d.")] = "48h",
    branch: BranchName = None,
    data: DataFolder = None,
) -> None:
    """Print a code that makes one person staff, once: they send it to the bot, in private."""
    from triagebot.counter import invite
    from triagebot.counter.login import enter_address

    settings, lasts = settings_for(branch, data_folder=data), _span(for_)
    now = datetime.now(UTC)
    with (
        store_of(settings) as store,
        store.begin() as tx,
    ):
        code = invite(tx, role, " ".join(name.split()), now, lasts)
    print(code)
    print(f"Counts once, until {_shop_time(settings, now + lasts)}. Have the new {role} send it to the bot in private.")
    if settings.web_address is not None:
        address = enter_address(settings.web_address, code)
        print(f"Without a messenger they open this, and have the counter page: {address}")


@staff.command(name="link")
def link_somebody(name: str, /, *, branch: BranchName = None, data: DataFolder = None) -> None:
    """Print a link by which a member logs in at the counter page, once."""
    from triagebot.counter.login import LINK_LASTS, login_link

    settings, now = settings_for(branch, data_folder=data), datetime.now(UTC)
    if settings.web_address is None:
        raise UsageError("the pages have no address yet: set TRIAGEBOT_WEB_ADDRESS to where people reach them")
    with (
        store_of(settings) as store,
        store.begin() as tx,
    ):
        url = login_link(tx, _member(tx, name), settings.web_address, now)
    print(url)
    print(f"Counts once, until {_shop_time(settings, now + LINK_LASTS)}.")


@staff.command(name="list")
def list_staff(*, branch: BranchName = None, data: DataFolder = None) -> None:
    """Everybody who is staff now: name, role, since when, by which channel."""
    from triagebot.store.post import Post
    from triagebot.store.staff import Staff

    settings = settings_for(branch, data_folder=data)
    with (
        store_of(settings) as store,
        store.read() as view,
    ):
        members = Staff(view).members()
        reached = [Post(view).found(member.person).who for member in members]
    if not members:
        print("nobody is staff yet: triagebot staff invite")
    wide = max((len(member.name) for member in members), default=0)
    for member, who in zip(members, reached, strict=True):
        channel = "-" if who is None else who.channel
        print(f"{member.name:<{wide}}  {member.role:<5}  since {member.since:%Y-%m-%d}  {channel}")


@staff.command(name="remove")
def remove_member(name: str, /, *, branch: BranchName = None, data: DataFolder = None) -> None:
    """Somebody is staff no more from now on; what they had waits again."""
    from triagebot.counter import dismiss

    settings = settings_for(branch, data_folder=data)
    with (
        store_of(settings) as store,
        store.begin() as tx,
    ):
        member = _member(tx, name)
        cases = dismiss(tx, member, datetime.now(UTC))
    waiting = f"; cases that wait again: {cases}" if cases else ""
    print(f"{member.name} is staff no more{waiting}")


@staff.command(name="label")
def print_label(
    code: str,
    /,
    *,
    out: Annotated[Path | None, Parameter(help="Where to write it; without, CODE.svg.")] = None,
    topic: Folder = None,
    shop: Folder = None,
    branch: BranchName = None,
    data: DataFolder = None,
) -> None:
    """Write the label of a bike that was left at the shop, as SVG at true size."""
    from triagebot.cases.labels import drawn, label_of
    from triagebot.messages.codes import read_code

    settings = settings_for(branch, topic=topic, shop=shop, data_folder=data)
    guide = guide_of(settings)
    texts = guide.language(guide.shop.language).texts
    with (
        store_of(settings) as store,
        store.read() as view,
    ):
        stored = view.case_by_code(read_code(code) or code)
        label = label_of(view, guide, texts, stored.id, "") if stored is not None else None
    if label is None:
        raise UsageError(f"{code!r} is the case of no bike that was left here")
    path = out or Path(f"{label.code}.svg")
    path.write_text(drawn(label).svg, encoding="utf-8")
    print(path)


def _span(text: str) -> timedelta:
    match = _SPAN.fullmatch(text.strip())
    if match is None:
        raise UsageError(f"--for takes a time such as 90m, 48h or 7d, not {text!r}")
    return timedelta(**{_UNITS[match[2].lower()]: int(match[1])})


def _member(tx: "Transaction", name: str) -> "Member":
    """Raises UsageError for a name that no member has."""
    from triagebot.store.staff import Staff

    member = Staff(tx).named(name)
    if member is None:
        known = ", ".join(each.name for each in Staff(tx).members()) or "nobody"
        raise UsageError(f"nobody called {name!r} is staff; there is: {known}")
    return member


def _shop_time(settings: "Settings", moment: datetime) -> str:
    """A moment by the shop's clock; by that of the world where the shop's folder does not say."""
    from triagebot.shop import load_shop

    try:
        shop = load_shop(shop_folder(settings), None)
    except DataError:
        return f"{moment:%Y-%m-%d %H:%M} UTC"
    return f"{moment.astimezone(shop.zone):%a %d %b %H:%M} ({shop.zone.key})"
