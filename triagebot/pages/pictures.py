"""Every picture that pages show, drawn when it is first asked for: /pictures/fastening/<id>.svg and so on.

Decided here and nowhere else: which address a picture has (`address`), and how many are kept.
"""

from functools import lru_cache
from urllib.parse import quote

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from triagebot.pages.headers import ALONE
from triagebot.pages.site import AN_HOUR, Part, Reader, Site, answer
from triagebot.pictures import picture
from triagebot.topics import Texts

KEPT = 128
#: No more fastenings than this stand side by side in one picture.
MOST_TOGETHER = 4


def address(reader: Reader, picture_id: str) -> str:
    """Where the picture of that name is: its labels are in the reader's language."""
    kind, _, name = picture_id.rpartition(":")
    place = f"{quote(kind)}/{quote(name, safe='+')}" if kind else quote(name)
    return f"{reader.root}/pictures/{place}.svg?lang={quote(reader.language)}"


def part(site: Site) -> Part:
    topic = site.guide.topic

    @lru_cache(maxsize=KEPT)
    def drawn(picture_id: str, texts: Texts) -> bytes:
        return picture(topic, picture_id, texts).svg.encode()

    def show(request: Request) -> Response:
        kind, name = request.path_params.get("kind"), request.path_params["name"]
        if name.count("+") >= MOST_TOGETHER:
            raise HTTPException(404)
        try:
            svg = drawn(f"{kind}:{name}" if kind else name, site.reader(request).texts)
        except KeyError:
            raise HTTPException(404) from None
        headers = {"content-security-policy": ALONE}
        return answer(request, svg, "image/svg+xml", keep=AN_HOUR, vary=True, headers=headers)

    return Part((Route("/pictures/{name}.svg", show), Route("/pictures/{kind}/{name}.svg", show)))
