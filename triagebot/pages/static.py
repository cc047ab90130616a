"""The style sheet and what else lies in `static/`: read once, so that no request leads to the disk."""

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from triagebot.pages.site import CHECKED, FOR_EVER, Part, Site, answer

KINDS = {"css": "text/css", "js": "text/javascript", "svg": "image/svg+xml", "png": "image/png"}


def part(site: Site) -> Part:
    async def file(request: Request) -> Response:
        name = request.path_params["name"]
        content = site.static.get(name)
        if content is None:
            raise HTTPException(404)
        known = site.file(name).endswith(f"?{request.url.query}")
        kind = KINDS[name.rpartition(".")[2]]
        return answer(request, content, kind, keep=FOR_EVER if known else CHECKED)

    return Part((Route("/static/{name}", file),))
