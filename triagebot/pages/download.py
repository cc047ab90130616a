"""Files behind a secret address, for anybody who has that: somebody's own data, a visit for a calendar.

A secret that is wrong or over, and what is there no more, get the same answer; nobody may try many, and nothing of it
is kept on the way.
"""

from collections.abc import Callable
from dataclasses import dataclass

from starlette.requests import Request
from starlette.responses import Response

from triagebot.pages.guard import admit
from triagebot.pages.site import NEVER, Part, Site, answer, threaded
from triagebot.rates import Buckets, Rate

#: So many tries one address has at once, and how fast it gets new ones.
TRIES = Rate(20, 1)
ADDRESSES = 10_000
_HEADERS = {"referrer-policy": "no-referrer", "x-robots-tag": "noindex, nofollow"}


@dataclass(frozen=True, slots=True)
class Kind:
    """A kind of file: its `path` with a secret in it, what it is called when it is saved, and its media type."""

    path: str
    name: str
    media_type: str


def download(site: Site, kind: Kind, file_of: Callable[[Request], bytes | None]) -> Part:
    """The requests for files of a kind, each in a thread of its own; `file_of` gives the file of a request, or None."""
    tries = Buckets(TRIES, ADDRESSES)

    def show(request: Request) -> Response:
        admit(tries, request.scope)
        file = file_of(request)
        if file is None:
            body = site.render(site.reader(request), "card-gone.html")
            return answer(request, body, status=404, keep=NEVER, headers=_HEADERS)
        headers = {**_HEADERS, "content-disposition": f'attachment; filename="{kind.name}"'}
        return answer(request, file, kind.media_type, keep=NEVER, headers=headers)

    return Part((threaded(kind.path, show),))
