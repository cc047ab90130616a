"""What all pages share: the guide, the templates, the words of the reader's language, and how an answer is sent.

This file decides which language a reader gets (the one in `?lang=`, else the first of the browser's that
is spoken here, else the shop's own; nothing is remembered, so addresses carry the language on), what a page is made
with, and how long an answer may be kept: what can change is asked for again each time, by its digest.
"""

import asyncio
import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from functools import lru_cache, wraps
from gzip import compress
from hashlib import sha256
from pathlib import Path
from typing import TYPE_CHECKING, Any, Protocol
from urllib.parse import quote

from babel import Locale
from babel.dates import format_date
from jinja2 import Environment, FileSystemLoader, StrictUndefined
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import BaseRoute, Route

from triagebot.conversation import Guide
from triagebot.conversation.wording import habits
from triagebot.pages.opening import Day, closed_soon, week
from triagebot.topics import Texts

if TYPE_CHECKING:
    from prometheus_client import CollectorRegistry, Histogram

    from triagebot.delivery import Delivery
    from triagebot.pages.chat_channel import Page
    from triagebot.store import Store

HERE = Path(__file__).parent

#: How long an answer may be kept: not without asking again, an hour, as long as one likes, not at all.
CHECKED, AN_HOUR, FOR_EVER, NEVER = (
    "no-cache",
    "public, max-age=3600",
    "public, max-age=31536000, immutable",
    "no-store",
)
#: What is compressed, from so many bytes on.
ZIPPED, ZIPPED_FROM = ("text/", "image/svg+xml"), 1000
#: So much of what a browser says about languages is read.
_MOST_LANGUAGES = 20


@dataclass(frozen=True, slots=True)
class NavEntry:
    """A place in the navigation: the text that names it and the address that it leads to."""

    text: str
    address: str


@dataclass(frozen=True, slots=True)
class Part:
    """What one module adds to the app. `bodies`: how many bytes may be sent to addresses that begin like this, where
    that is more than the app's limit."""

    routes: tuple[BaseRoute, ...]
    nav: tuple[NavEntry, ...] = ()
    bodies: Mapping[str, int] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Reader:
    """Who reads: in which language, whether they chose it themselves, and where the app stands (`root`)."""

    texts: Texts
    chosen: bool
    root: str

    @property
    def language(self) -> str:
        return self.texts.language

    def to(self, address: str) -> str:
        """An address of the app, with the language that was chosen carried on."""
        place, hash_sign, anchor = address.partition("#")
        if self.chosen:
            place += f"{'&' if '?' in place else '?'}lang={quote(self.language)}"
        return f"{self.root}{place}{hash_sign}{anchor}"

    def day(self, when: date) -> str:
        """A date, written out."""
        return str(format_date(when, "long", locale=habits(self.texts)))


class Seen(Protocol):
    """Something that was looked at, whether it is well, and what is so."""

    @property
    def what(self) -> str: ...
    @property
    def well(self) -> bool: ...
    @property
    def said(self) -> str: ...


class Watch(Protocol):
    """Knows whether the process is well, and whether it can take messages in and send (see `keeping.watch`)."""

    def healthy(self) -> Sequence[Seen]: ...
    async def ready(self) -> Sequence[Seen]: ...


class Site:
    """What every part is given. `nav` is filled in once all parts are known; `chat` is the chat page's channel, if
    there is one; `frames` are the sites (https://shop.example.org) that may show the chat in a frame. `branches` are
    those of the branches, by name, for the page that lists them; none for a shop's own."""

    def __init__(
        self,
        guide: Guide,
        delivery: "Delivery | None",
        store: "Store | None",
        registry: "CollectorRegistry | None",
        clock: Callable[[], datetime],
        frames: Sequence[str] = (),
        watch: Watch | None = None,
    ) -> None:
        self.watch = watch
        self.guide = guide
        self.delivery = delivery
        self.store = store
        self.registry = registry
        self.clock = clock
        self.frames = tuple(frames)
        self.nav: tuple[NavEntry, ...] = ()
        self.branches: Mapping[str, Site] = {}
        self.chat: Page | None = None
        self.static = {path.name: path.read_bytes() for path in sorted((HERE / "static").iterdir()) if path.is_file()}
        self._marks = {name: digest(content)[:12] for name, content in self.static.items()}
        self._templates = Environment(
            loader=FileSystemLoader(HERE / "templates"),
            autoescape=True,
            undefined=StrictUndefined,
            trim_blocks=True,
            lstrip_blocks=True,
            auto_reload=False,
        )

    @property
    def edition(self) -> str:
        """What topic and shop this is, SHA-256 (hex): changes with any byte of either, and of any branch's."""
        if self.branches:
            return digest(" ".join(each.edition for each in self.branches.values()).encode())
        return digest(f"{self.guide.topic.digest} {self.guide.shop.digest}".encode())

    @property
    def today(self) -> date:
        """The date in the shop."""
        return self.clock().astimezone(self.guide.shop.zone).date()

    def reader(self, request: Request) -> Reader:
        spoken = self.guide.spoken
        wanted = request.query_params.get("lang", "")
        root = str(request.scope.get("root_path", ""))
        if wanted in spoken:
            return Reader(spoken[wanted].texts, True, root)
        code = next(
            (code for code in languages_of(request.headers.get("accept-language", "")) if code in spoken),
            self.guide.shop.language,
        )
        return Reader(self.guide.language(code).texts, False, root)

    def week(self, reader: Reader) -> tuple[Day, ...]:
        """When the shop is open."""
        return week(self.guide.shop, reader.texts)

    def closed_soon(self, reader: Reader) -> tuple[str, ...]:
        """On which dates it is not, before long."""
        return closed_soon(self.guide.shop, reader.texts, self.today)

    def language_name(self, code: str) -> str:
        """A language as those who speak it call it."""
        return Locale.parse(code, sep="-").get_display_name() or code

    def page_seconds(self) -> "Histogram | None":
        """Where the time that pages take is counted, by route and status; None where nothing is counted, as on the page
        that lists the branches, whose registry only shows theirs."""
        if self.registry is None or self.branches:
            return None
        from prometheus_client import Histogram

        labels = ("route", "status")
        return Histogram("triagebot_page_seconds", "Time that a page took.", labels, registry=self.registry)

    def file(self, name: str) -> str:
        """The address of a static file, which changes with its content. Raises KeyError."""
        return f"/static/{name}?v={self._marks[name]}"

    def render(self, reader: Reader, template: str, **values: Any) -> bytes:
        """A page from its template. Besides `values` it is given `t` (texts), `to`, `file`, `day`, `site`, `reader`."""
        page = self._templates.get_template(template)
        given = {"t": reader.texts, "to": reader.to, "day": reader.day, "reader": reader, "site": self}
        given["file"] = lambda name: reader.root + self.file(name)
        return page.render(given | values).encode()

    def page(self, request: Request, template: str, *, status: int = 200, **values: Any) -> Response:
        """A page from its template, as an answer. What does not go well is not to be kept."""
        reader = self.reader(request)
        keep = CHECKED if status == 200 else NEVER
        return answer(request, self.render(reader, template, **values), status=status, keep=keep, vary=True)


def answer(
    request: Request,
    body: bytes,
    media: str = "text/html",
    *,
    status: int = 200,
    keep: str = CHECKED,
    mark: str | None = None,
    vary: bool = False,
    headers: Mapping[str, str] | None = None,
) -> Response:
    """An answer with its digest (`mark`, if it is known already): 304 to a reader who has it, and no body for HEAD.
    Text is compressed, unless it is not to be kept: that may hold a secret beside words of somebody else's, and its
    length would tell."""
    given = {"cache-control": keep, **(headers or {})}
    zips = keep != NEVER and len(body) >= ZIPPED_FROM and media.startswith(ZIPPED)
    varies = [*(["accept-language"] if vary else []), *(["accept-encoding"] if zips else [])]
    if varies:
        given["vary"] = ", ".join(varies)
    zips = zips and _takes_gzip(request)
    if status == 200 and keep != NEVER:
        given["etag"] = f'"{mark or digest(body)[:24]}{"-gz" if zips else ""}"'
        if _has(request, given["etag"]):
            return Response(status_code=304, headers=given)
    if zips:
        given["content-encoding"] = "gzip"
        body = _zipped(body)
    if request.method == "HEAD":
        given["content-length"] = str(len(body))
        body = b""
    return Response(body, status, given, media)


@lru_cache(maxsize=32)
def _zipped(body: bytes) -> bytes:
    return compress(body, 6, mtime=0)


def _takes_gzip(request: Request) -> bool:
    """Whether the reader takes gzip: it is named, and not with a quality of 0."""
    for entry in request.headers.get("accept-encoding", "").split(","):
        name, *parts = (part.strip().lower() for part in entry.split(";"))
        if name == "gzip":
            return not any(re.fullmatch(r"q=0(\.0{0,3})?", part) for part in parts)
    return False


def threaded(path: str, work: Callable[[Request], Response], *methods: str) -> Route:
    """A route whose answers are made in threads of asyncio's own: the framework's would load another library for it."""

    @wraps(work)
    async def endpoint(request: Request) -> Response:
        return await asyncio.to_thread(work, request)

    return Route(path, endpoint, methods=list(methods) or None)


def digest(content: bytes) -> str:
    """SHA-256, hex."""
    return sha256(content).hexdigest()


def languages_of(header: str) -> list[str]:
    """The languages of an Accept-Language header, best first, each followed by its plain form: de-AT, de."""
    ranked: list[tuple[float, str]] = []
    for entry in header.split(",")[:_MOST_LANGUAGES]:
        tag, *parts = (part.strip() for part in entry.split(";"))
        if not re.fullmatch(r"[A-Za-z]{2,3}(-[A-Za-z0-9]{1,8})*", tag):
            continue
        quality = 1.0
        for part in parts:
            if written := re.fullmatch(r"q=(\d(?:\.\d{0,3})?)", part):
                quality = float(written[1])
        if quality > 0:
            ranked.append((quality, tag))
    ranked.sort(key=lambda row: -row[0])
    return list(dict.fromkeys(form for _, tag in ranked for form in (tag, tag.split("-")[0].lower())))


def _has(request: Request, etag: str) -> bool:
    known = request.headers.get("if-none-match", "")
    return known.strip() == "*" or etag in (part.strip().removeprefix("W/") for part in known.split(","))
