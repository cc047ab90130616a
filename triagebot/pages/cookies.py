"""What cookies are called."""

from starlette.requests import Request


def cookie_name(request: Request, name: str) -> str:
    """With the prefix, a browser takes it from this very host alone, so that no neighbour can plant one. Such a cookie
    is sent to every page of the host, so the pages of a branch (below /b/) have cookies of their own, by its name."""
    branch = str(request.scope.get("root_path", "")).rpartition("/")[2]
    own = f"{name}-of-{branch}" if branch else name
    return f"__Host-{own}" if request.url.scheme == "https" else own
