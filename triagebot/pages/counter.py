"""The counter page: the queue, a case with its words and photos, and what a member does with it, for a phone; it works
without scripts.

Rules of this file:
- the addresses: /counter (the queue), /counter/case/<code> with /card, /photo/<number> and what is done there,
  /counter/enter/<secret> to log in, /counter/leave to log out;
- what is done is posted as a form and done by the counter's own functions, as the same words in a chat are; the page
  that comes next says what was answered;
- a link that is wrong, over or used up gets the same answer, after the same look-up; and nobody may try many;
- who is not logged in sees nothing of it, whatever the address; nothing here may be kept on the way, or listed.
"""

import asyncio
import json
import re
import secrets
from collections.abc import Awaitable, Callable, Mapping
from dataclasses import dataclass
from hashlib import sha256
from typing import TYPE_CHECKING, Any, TypeVar

from starlette.datastructures import UploadFile
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import Route

from triagebot.conversation import plain
from triagebot.delivery.image_cleaning import MOST_BYTES, Unfit
from triagebot.delivery.photos import cleaned, handed
from triagebot.errors import StoreError
from triagebot.messages.codes import read_code
from triagebot.pages import counter_session as session
from triagebot.pages.card import card_values
from triagebot.pages.chat_said import REFUSED
from triagebot.pages.guard import admit
from triagebot.pages.site import NEVER, Part, Site, answer
from triagebot.rates import Buckets, Rate

if TYPE_CHECKING:
    from triagebot.counter.work import Attended, Work
    from triagebot.delivery import Delivery
    from triagebot.store import Store, StoredCase

    Deed = Callable[[Work, StoredCase, Mapping[str, str], "Photos"], Attended]

T = TypeVar("T")
#: Photos that a member sends, each with the picture that is kept of it.
Photos = tuple[Mapping[str, Any], ...]

#: So many links one address may try, and how fast it gets new tries.
TRIES, ADDRESSES = Rate(20, 0.2), 10_000
#: No longer text goes to a customer at once.
LONGEST = 4000
#: Nor a longer reason why not.
LONGEST_WHY = 200
#: Seconds after which a browser may try again what could not be kept now.
AGAIN = "5"

_HEADERS = {"x-robots-tag": "noindex, nofollow"}
#: What a form says to a visit or a tool that is asked for.
_AGREED = {"yes": True, "no": False}
#: What a form says of the remover, and what that means.
_FITTED = {"yes": True, "no": False, "untried": None}


def part(site: Site) -> Part:
    """Without a delivery there is nothing to do at the counter."""
    if site.delivery is None or site.store is None:
        return Part(())
    counter = CounterPages(site, site.delivery, site.store)
    routes = (
        Route("/counter", counter.queue),
        Route("/counter/enter/{secret}", counter.ask),
        Route("/counter/enter/{secret}", counter.enter, methods=["POST"]),
        Route("/counter/leave", counter.leave, methods=["POST"]),
        Route("/counter/case/{code}", counter.case),
        Route("/counter/case/{code}/card", counter.card),
        Route("/counter/case/{code}/photo/{number:int}", counter.photo),
        Route("/counter/case/{code}/{deed}", counter.act, methods=["POST"]),
    )
    return Part(routes, bodies={"/counter/case/": MOST_BYTES + 16 * 1024})


@dataclass(frozen=True, slots=True)
class _Seen:
    """Something of a member's, with the name of who looks."""

    name: str
    what: Any


class CounterPages:
    """The requests of the counter page."""

    def __init__(self, site: Site, delivery: "Delivery", store: "Store") -> None:
        self._site = site
        self._page = delivery.counter_page
        self._store = store
        self._tries = Buckets(TRIES, ADDRESSES)
        self._one_photo = asyncio.Lock()

    # --- coming and going -----------------------------------------------------------------------------------------

    async def ask(self, request: Request) -> Response:
        """To look at a link changes nothing; the button on this page logs in."""
        from triagebot.counter.login import lets_in

        def name() -> str | None:
            with self._store.read() as view:
                return lets_in(view, request.path_params["secret"], self._site.clock())

        admit(self._tries, request.scope)
        found = await asyncio.to_thread(name)
        if found is None:
            return self._door(request, "gone")
        return self._shown(request, "counter-door.html", why="enter", name=found)

    async def enter(self, request: Request) -> Response:
        admit(self._tries, request.scope)
        reader = self._site.reader(request)
        begun = await self._kept(self._page.log_in(request.path_params["secret"], reader.texts))
        if begun is None:
            return self._door(request, "gone")
        response = RedirectResponse(reader.to("/counter"), 303)
        session.begin(response, request, begun)
        return response

    async def leave(self, request: Request) -> Response:
        await self._kept(self._page.log_out(session.session_of(request)))
        response = RedirectResponse(self._site.reader(request).to("/counter"), 303)
        session.end(response, request)
        return response

    # --- looking --------------------------------------------------------------------------------------------------

    async def queue(self, request: Request) -> Response:
        from triagebot.counter.queue import listed

        seen = await self._look(request, listed)
        if seen is None:
            return self._door(request, "out")
        return self._shown(request, "counter.html", name=seen.name, rows=seen.what)

    async def case(self, request: Request) -> Response:
        from triagebot.counter.case_view import case_view

        seen = await self._look(request, lambda work: case_view(work, _case(work, request)))
        if seen is None:
            return self._door(request, "out")
        chosen = {name: request.query_params.get(name, "") for name in ("kind", "fit")}
        return self._shown(request, "counter-case.html", name=seen.name, case=seen.what, chosen=chosen)

    async def card(self, request: Request) -> Response:
        """The card as its customer may have it, without an address of its own."""
        from triagebot.cases.cards import photos_of
        from triagebot.cases.loaded import unfolded

        def read(work: "Work") -> tuple[Any, int]:
            stored = _case(work, request)
            return unfolded(stored).case, photos_of(work.tx, stored.id)

        seen = await self._look(request, read)
        if seen is None:
            return self._door(request, "out")
        values = card_values(self._site, self._site.reader(request), *seen.what)
        return self._shown(request, "card.html", secret="", back=_address(request), **values)

    async def photo(self, request: Request) -> Response:
        from triagebot.store.photos import Photos

        def read(work: "Work") -> bytes | None:
            photos, number = Photos(work.tx), request.path_params["number"]
            return photos.picture(number) if number in photos.kept_of(_case(work, request).id) else None

        seen = await self._look(request, read)
        if seen is None or seen.what is None:
            raise HTTPException(404)
        return Response(seen.what, media_type="image/jpeg", headers={"cache-control": NEVER, **_HEADERS})

    # --- doing ----------------------------------------------------------------------------------------------------

    async def act(self, request: Request) -> Response:
        deed = _deeds().get(request.path_params["deed"])
        if deed is None:
            raise HTTPException(404)
        reader = self._site.reader(request)
        async with request.form(max_files=1, max_fields=10) as form:
            sent, given = form.get("photo"), {name: str(value) for name, value in form.items() if name != "photo"}
            data = await sent.read() if isinstance(sent, UploadFile) else b""
        try:
            photos = await self._photos(request, data) if data else ()
        except Unfit as unfit:
            return self._back(request, given, reader.texts(f"chat-{REFUSED[unfit.why]}"))
        made = await self._kept(
            self._page.act(
                session.session_of(request),
                reader.texts,
                _key(request.url.path, given, data),
                lambda work: deed(work, _case(work, request), given, photos),
            )
        )
        if made is None:
            return self._door(request, "out")
        return self._back(request, given, plain(made.reply) if made.reply is not None else "")

    async def _photos(self, request: Request, data: bytes) -> Photos:
        """The picture that is kept of a photo which a member sends; nothing for who is not logged in. Raises Unfit."""
        if await self._look(request, lambda work: True) is None:
            return ()
        try:
            async with self._one_photo:
                return (handed(await cleaned(data)),)
        except (OSError, TimeoutError):
            raise HTTPException(503, headers={"retry-after": AGAIN}) from None

    def _back(self, request: Request, given: Mapping[str, str], told: str) -> Response:
        """To the page that comes next, with what was answered."""
        chosen = "&".join(f"{name}={given[name]}" for name in ("kind", "fit") if _is_word(given.get(name, "")))
        address = f"{_address(request)}{'?' if chosen else ''}{chosen}#told"
        response = RedirectResponse(self._site.reader(request).to(address), 303)
        if told:
            session.carry(response, request, self._store.cipher, told)
        return response

    # --- inside ---------------------------------------------------------------------------------------------------

    async def _look(self, request: Request, at: "Callable[[Work], T]") -> _Seen | None:
        """What a member sees, and their name; None for who is not logged in."""
        texts = self._site.reader(request).texts
        looked = self._page.look(
            session.session_of(request), texts, lambda work: _Seen(work.member.name, at(work))
        )  # fmt: skip
        return await self._kept(looked)

    async def _kept(self, doing: Awaitable[T]) -> T:
        try:
            return await doing
        except StoreError:
            raise HTTPException(503, headers={"retry-after": AGAIN}) from None

    def _door(self, request: Request, why: str) -> Response:
        """For who is not logged in: how to."""
        return self._shown(request, "counter-door.html", status=403, why=why, name="", here=_below_root(request))

    def _shown(self, request: Request, template: str, status: int = 200, **values: Any) -> Response:
        reader = self._site.reader(request)
        given = {"notice": session.carried(request, self._store.cipher), "longest": LONGEST, **values}
        body = self._site.render(reader, template, key=secrets.token_urlsafe(16), **given)
        response = answer(request, body, status=status, keep=NEVER, headers=_HEADERS)
        session.shown(response, request)
        return response


def _case(work: "Work", request: Request) -> "StoredCase":
    """Raises HTTPException (404) for a code that no case has."""
    code = read_code(request.path_params["code"])
    stored = work.tx.case_by_code(code) if code is not None else None
    if stored is None:
        raise HTTPException(404)
    return stored


def _below_root(request: Request) -> str:
    """The address that was asked for, as the pages themselves call it."""
    return request.url.path.removeprefix(str(request.scope.get("root_path", "")))


def _address(request: Request) -> str:
    return f"/counter/case/{request.path_params['code']}"


def _key(address: str, given: Mapping[str, str], data: bytes) -> str:
    """Tells a form that comes twice: with other content, or for something else, it is another one, since a page that a
    browser brings back from its memory has its old keys."""
    own = given.get("key", "")[:64] or secrets.token_urlsafe(16)
    content = json.dumps([address, sorted(row for row in given.items() if row[0] != "key"), sha256(data).hexdigest()])
    return f"{own}:{sha256(content.encode()).hexdigest()}"


def _is_word(value: str) -> bool:
    return bool(re.fullmatch(r"[a-z0-9-]{1,60}", value))


def _deeds() -> "dict[str, Deed]":
    """What can be done with a case, by the end of its address."""
    from triagebot.counter.answering import in_own_words, say
    from triagebot.counter.case_commands import claim, close_as, release, reopen
    from triagebot.counter.closing import Outcome
    from triagebot.counter.request_commands import answer_request
    from triagebot.counter.work import answer as told

    def words(work: "Work", stored: "StoredCase", given: Mapping[str, str], photos: Photos) -> "Attended":
        text = given.get("text", "").replace("\r\n", "\n").strip()
        if not (text or photos):
            return told(work.texts("staff-say-what", code=stored.code))
        return told(work.texts("chat-too-large")) if len(text) > LONGEST else in_own_words(work, stored, text, photos)

    def close(work: "Work", stored: "StoredCase", given: Mapping[str, str], photos: Photos) -> "Attended":
        kind, fit = given.get("kind", ""), given.get("fit", "")
        known = kind in work.guide.topic.fastenings
        if fit not in _FITTED:
            raise HTTPException(400)
        return close_as(work, stored, Outcome(kind if known else None, _FITTED[fit], said=True), f"{kind} {fit}")

    def answer_asked(work: "Work", stored: "StoredCase", given: Mapping[str, str], photos: Photos) -> "Attended":
        agreed = given.get("answer", "")
        if agreed not in _AGREED:
            raise HTTPException(400)
        why = " ".join(given.get("why", "").split())[:LONGEST_WHY]
        return answer_request(work, stored, agreed=_AGREED[agreed], why=why.strip(" ,.:"))

    return {
        "answer": answer_asked,
        "claim": lambda work, stored, given, photos: claim(work, stored, ""),
        "release": lambda work, stored, given, photos: release(work, stored, ""),
        "reopen": lambda work, stored, given, photos: reopen(work, stored, ""),
        "say": words,
        "ready": lambda work, stored, given, photos: say(work, stored, given.get("reply", "")),
        "close": close,
    }
