"""A visit that was agreed on, as a file for a calendar: /visit/<secret>.ics, for anybody who has its address.

A secret that is wrong or over, and a visit that is off, get the same answer; nobody may try many, and nothing of it is
kept on the way.
"""

from typing import TYPE_CHECKING

from starlette.requests import Request
from starlette.responses import Response

from triagebot.pages.guard import admit
from triagebot.pages.site import NEVER, Part, Site, answer, threaded
from triagebot.rates import Buckets, Rate

if TYPE_CHECKING:
    from triagebot.store import Store

#: So many tries one address has at once, and how fast it gets new ones.
TRIES = Rate(20, 1)
ADDRESSES = 10_000
_HEADERS = {"referrer-policy": "no-referrer", "x-robots-tag": "noindex, nofollow"}


def part(site: Site) -> Part:
    """Without a store there are no visits."""
    return Part(()) if site.store is None else Part((threaded("/visit/{secret}.ics", Visits(site, site.store).show),))


class Visits:
    """The requests for visits, each in a thread of its own."""

    def __init__(self, site: Site, store: "Store") -> None:
        self._site = site
        self._store = store
        self._tries = Buckets(TRIES, ADDRESSES)

    def show(self, request: Request) -> Response:
        from triagebot.cases.calendar import calendar_file, case_behind
        from triagebot.cases.loaded import unfolded

        admit(self._tries, request.scope)
        with self._store.read() as view:
            number = case_behind(view, request.path_params["secret"], self._site.clock())
            stored = view.case(number) if number is not None else None
        reader = self._site.reader(request)
        case = unfolded(stored).case if stored is not None else None
        file = calendar_file(self._site.guide, reader.texts, case, self._site.clock()) if case is not None else None
        if file is None:
            body = self._site.render(reader, "card-gone.html")
            return answer(request, body, status=404, keep=NEVER, headers=_HEADERS)
        headers = {**_HEADERS, "content-disposition": 'attachment; filename="visit.ics"'}
        return answer(request, file, "text/calendar; charset=utf-8", keep=NEVER, headers=headers)
