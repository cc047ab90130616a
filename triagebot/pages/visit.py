"""A visit that was agreed on, as a file for a calendar: /visit/<secret>.ics, for anybody who has its address."""

from typing import TYPE_CHECKING

from starlette.requests import Request

from triagebot.pages.download import Kind, download
from triagebot.pages.site import Part, Site

if TYPE_CHECKING:
    from triagebot.store import Store

_KIND = Kind("/visit/{secret}.ics", "visit.ics", "text/calendar; charset=utf-8")


def part(site: Site) -> Part:
    """Without a store there are no visits."""
    store = site.store
    return Part(()) if store is None else download(site, _KIND, lambda request: _file(site, store, request))


def _file(site: Site, store: "Store", request: Request) -> bytes | None:
    from triagebot.cases.calendar import calendar_file, case_behind
    from triagebot.cases.loaded import unfolded

    now = site.clock()
    with store.read() as view:
        number = case_behind(view, request.path_params["secret"], now)
        stored = view.case(number) if number is not None else None
    if stored is None:
        return None
    return calendar_file(site.guide, site.reader(request).texts, unfolded(stored).case, now)
