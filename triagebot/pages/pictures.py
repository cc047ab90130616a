"""Every picture that pages show, drawn when it is first asked for: /pictures/fastening/<id>.svg and so on.

This file decides which address a picture has, what a page says of it (`drawing`), and how many are kept.
"""

from dataclasses import dataclass
from functools import lru_cache
from urllib.parse import quote

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response

from triagebot.pages.headers import ALONE
from triagebot.pages.site import AN_HOUR, Part, Reader, Site, answer, threaded
from triagebot.pictures import Picture, picture
from triagebot.topics import Texts, Topic

KEPT = 128
#: No more fastenings than this stand side by side in one picture.
MOST_TOGETHER = 4


def address(reader: Reader, picture_id: str) -> str:
    """Where the picture of that name is: its labels are in the reader's language."""
    kind, _, name = picture_id.rpartition(":")
    place = f"{quote(kind)}/{quote(name, safe='+')}" if kind else quote(name)
    return f"{reader.root}/pictures/{place}.svg?lang={quote(reader.language)}"


@dataclass(frozen=True, slots=True)
class Drawing:
    """A picture in a page: where it is, the same in words, and its size in whole units for the layout."""

    address: str
    words: str
    width: int
    height: int


def drawing(topic: Topic, reader: Reader, picture_id: str) -> Drawing:
    """The picture of that name, with labels in the reader's language. Raises KeyError for a name that is none."""
    drawn = _drawn(topic, picture_id, reader.texts)
    return Drawing(address(reader, picture_id), drawn.alt, round(drawn.width_mm * 10), round(drawn.height_mm * 10))


@lru_cache(maxsize=KEPT)
def _drawn(topic: Topic, picture_id: str, texts: Texts) -> Picture:
    return picture(topic, picture_id, texts)


def part(site: Site) -> Part:
    def show(request: Request) -> Response:
        kind, name = request.path_params.get("kind"), request.path_params["name"]
        if name.count("+") >= MOST_TOGETHER:
            raise HTTPException(404)
        try:
            drawn = _drawn(site.guide.topic, f"{kind}:{name}" if kind else name, site.reader(request).texts)
        except KeyError:
            raise HTTPException(404) from None
        headers = {"content-security-policy": ALONE}
        return answer(request, drawn.svg.encode(), "image/svg+xml", keep=AN_HOUR, vary=True, headers=headers)

    return Part((threaded("/pictures/{name}.svg", show), threaded("/pictures/{kind}/{name}.svg", show)))
