"""One person's own data as a file: /export/<secret>.zip, open for a day to anybody who has the address.

A secret that is wrong or over gets the same answer as one of somebody who is forgotten; nobody may try many, and
nothing of it is kept on the way.
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
    """Without a store nothing is kept."""
    return Part(()) if site.store is None else Part((threaded("/export/{secret}.zip", Export(site, site.store).show),))


class Export:
    """The requests for such files, each in a thread of its own."""

    def __init__(self, site: Site, store: "Store") -> None:
        self._site = site
        self._store = store
        self._tries = Buckets(TRIES, ADDRESSES)

    def show(self, request: Request) -> Response:
        from triagebot.cases.own_data import as_zip, whose

        admit(self._tries, request.scope)
        now = self._site.clock()
        with self._store.read() as view:
            person = whose(view, request.path_params["secret"], now)
            file = as_zip(view, person, now) if person is not None else None
        if file is None:
            body = self._site.render(self._site.reader(request), "card-gone.html")
            return answer(request, body, status=404, keep=NEVER, headers=_HEADERS)
        headers = {**_HEADERS, "content-disposition": 'attachment; filename="my-data.zip"'}
        return answer(request, file, "application/zip", keep=NEVER, headers=headers)
