"""One person's own data as a file: /export/<secret>.zip, open for a day to anybody who has the address."""

from typing import TYPE_CHECKING

from starlette.requests import Request

from triagebot.pages.download import Kind, download
from triagebot.pages.site import Part, Site

if TYPE_CHECKING:
    from triagebot.store import Store

_KIND = Kind("/export/{secret}.zip", "my-data.zip", "application/zip")


def part(site: Site) -> Part:
    """Without a store nothing is kept."""
    store = site.store
    return Part(()) if store is None else download(site, _KIND, lambda request: _file(site, store, request))


def _file(site: Site, store: "Store", request: Request) -> bytes | None:
    from triagebot.cases.own_data import as_zip, whose

    now = site.clock()
    with store.read() as view:
        person = whose(view, request.path_params["secret"], now)
        return as_zip(view, person, now) if person is not None else None
