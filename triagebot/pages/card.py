"""The case card: what was found, why, and what to bring, for anybody who has its address.

Rules of this file:
- the addresses: /card/<secret>, its square code /card/<secret>/qr.svg, the label of a bike that was left at the shop
  (/card/<secret>/label.svg), and /card/<secret>/end, where it is taken back;
- a secret that is wrong, over or taken back gets the same answer, after the same look-up; and nobody may try many
  (`TRIES`, for right and wrong ones alike);
- nothing of a card is kept on the way, no search engine lists it, and no link from it says where one came from. (The
  page that takes it back says so to ourselves, or its form would be refused.)
"""

import io
from dataclasses import dataclass, replace
from datetime import datetime
from typing import TYPE_CHECKING, Any

from babel.dates import format_time
from starlette.requests import Request
from starlette.responses import Response

from triagebot.conversation.wording import habits
from triagebot.pages.glance import glance
from triagebot.pages.guard import admit
from triagebot.pages.headers import ALONE
from triagebot.pages.links import contacts, pieces_of
from triagebot.pages.site import NEVER, Part, Reader, Site, answer, threaded
from triagebot.rates import Buckets, Rate
from triagebot.shop import NoteLink

if TYPE_CHECKING:
    from collections.abc import Sequence

    from triagebot.cases.cards import Statement
    from triagebot.conversation import Case
    from triagebot.store import Store

#: So many looks at cards one address has at once, and how fast it gets new ones: each card takes two.
TRIES = Rate(40, 1)
ADDRESSES = 10_000

_UNLISTED = {"x-robots-tag": "noindex, nofollow"}
_SECRET = {"referrer-policy": "no-referrer", **_UNLISTED}
#: How many modules a picture's pixel is, and how many modules stay white round the code (ISO/IEC 18004 asks for 4).
_SCALE, _QUIET = 6, 4


@dataclass(frozen=True, slots=True)
class _Shown:
    """The case behind a secret, how many photos it has, and until when its card counts."""

    case: "Case"
    photos: int
    until: datetime


def part(site: Site) -> Part:
    """Without a store there are no cards."""
    if site.store is None:
        return Part(())
    cards = Cards(site, site.store)
    routes = (
        threaded("/card/{secret}", cards.show),
        threaded("/card/{secret}/qr.svg", cards.code),
        threaded("/card/{secret}/label.svg", cards.label),
        threaded("/card/{secret}/end", cards.ask),
        threaded("/card/{secret}/end", cards.end, "POST"),
    )
    return Part(routes)


class Cards:
    """The requests of the card pages, each in a thread of its own."""

    def __init__(self, site: Site, store: "Store") -> None:
        self._site = site
        self._store = store
        self._tries = Buckets(TRIES, ADDRESSES)

    def show(self, request: Request) -> Response:
        shown = self._behind(request)
        if shown is None:
            return self._gone(request)
        reader, zone = self._site.reader(request), self._site.guide.shop.zone
        given = card_values(self._site, reader, shown.case, shown.photos)
        until = reader.day(shown.until.astimezone(zone).date())
        body = self._site.render(reader, "card.html", **given, secret=request.path_params["secret"], until=until)
        return answer(request, body, keep=NEVER, headers=_SECRET)

    def code(self, request: Request) -> Response:
        """The card's address as a square code."""
        if self._behind(request) is None:
            return self._gone(request)
        import segno

        drawn = io.BytesIO()
        square = segno.make_qr(self._address(request), error="m")
        square.save(drawn, kind="svg", scale=_SCALE, border=_QUIET, light="#ffffff", xmldecl=False, nl=False)
        headers = {**_SECRET, "content-security-policy": ALONE}
        return answer(request, drawn.getvalue(), "image/svg+xml", keep=NEVER, headers=headers)

    def label(self, request: Request) -> Response:
        """The label of the bike that the card's case is about."""
        if self._behind(request) is None:
            return self._gone(request)
        from triagebot.cases.cards import card_behind
        from triagebot.cases.labels import drawn, label_of

        texts = self._site.reader(request).texts
        with self._store.read() as view:
            found = card_behind(view, request.path_params["secret"], self._site.clock())
            made = found and label_of(view, self._site.guide, texts, found[0], self._address(request))
        if not made:
            return self._gone(request)
        headers = {**_SECRET, "content-security-policy": ALONE}
        return answer(request, drawn(made).svg.encode(), "image/svg+xml", keep=NEVER, headers=headers)

    def ask(self, request: Request) -> Response:
        if self._behind(request) is None:
            return self._gone(request)
        return self._page(request, "card-end.html", ended=False, secret=request.path_params["secret"])

    def end(self, request: Request) -> Response:
        from triagebot.cases.cards import take_back

        admit(self._tries, request.scope)
        with self._store.begin() as tx:
            ended = take_back(tx, request.path_params["secret"], self._site.clock())
        return self._page(request, "card-end.html", ended=True) if ended else self._gone(request)

    # --- inside ---------------------------------------------------------------------------------------------------

    def _address(self, request: Request) -> str:
        """The address of the card itself, as people reach it."""
        from triagebot.cases.cards import card_address

        root = str(request.scope.get("root_path", ""))
        pages = self._site.guide.address or f"{str(request.base_url).rstrip('/').removesuffix(root)}{root}"
        return card_address(pages, request.path_params["secret"])

    def _behind(self, request: Request) -> _Shown | None:
        from triagebot.cases.cards import card_behind, photos_of
        from triagebot.cases.loaded import unfolded

        admit(self._tries, request.scope)
        with self._store.read() as view:
            found = card_behind(view, request.path_params["secret"], self._site.clock())
            stored = view.case(found[0]) if found is not None else None
            if found is None or stored is None:
                return None
            return _Shown(unfolded(stored).case, photos_of(view, stored.id), found[1])

    def _gone(self, request: Request) -> Response:
        return self._page(request, "card-gone.html", 404)

    def _page(self, request: Request, template: str, status: int = 200, **values: object) -> Response:
        reader = self._site.reader(request)
        body = self._site.render(reader, template, **values)
        return answer(request, body, status=status, keep=NEVER, headers=_UNLISTED)


def card_values(site: Site, reader: Reader, case: "Case", photos: int) -> dict[str, Any]:
    """What a card's template is given, but for its secret."""
    from triagebot.cases.cards import card_of

    # Where the shop has not said where its notes are read, they are read here.
    guide = replace(site.guide, shop=site.guide.shop.read_at("/notes"))
    card = card_of(guide, reader.texts, case, photos, site.clock())
    return {
        "card": card,
        "reach": pieces_of(card.reach, contacts(site.guide)),
        "glances": [glance(guide, reader, fastening) for fastening in card.fastenings],
        "notes": [NoteLink(n.title, reader.to(n.url) if n.url.startswith("/") else n.url) for n in card.notes],
        "told": _told(site, reader, card.told),
        "when": lambda moment: _when(site, reader, moment),
    }


def _told(site: Site, reader: Reader, told: "Sequence[Statement]") -> "dict[str, list[Statement]]":
    """What was told, oldest first, under who told it and when; the same twice in a minute, once."""
    found: dict[str, list[Statement]] = {}
    for row in sorted(told, key=lambda row: row.at):
        source = reader.texts("card-told-by", by=row.by, at=_when(site, reader, row.at))
        rows = found.setdefault(source, [])
        if row.clause not in [other.clause for other in rows]:
            rows.append(row)
    return found


def _when(site: Site, reader: Reader, moment: datetime) -> str:
    """A moment in the shop's time."""
    here = moment.astimezone(site.guide.shop.zone)
    time = str(format_time(here, "HH:mm", locale=habits(reader.texts)))
    return reader.texts("card-when", day=reader.day(here.date()), time=time)
