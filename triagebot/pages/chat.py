"""The chat page: the same conversation for people who come to the shop's web site, at / and, for a frame, /chat/frame.

It is one more channel on the delivery and decides nothing about what is said. This file decides the
addresses, and how a page learns what was said.

- A message is posted to /chat/say, as a form or as JSON. It is answered once it is on the disk: with the messages that
  came since (JSON), or by way of the page itself (a form). 202 if its turn is still to come.
- /chat/messages?after=<number> gives what was said since that message; with `wait` it waits for it so many seconds.
- A photo is posted to /chat/photo. A picture is made of it before it is received, and what is none is refused.
- /chat/photo/<number>/<place> is a photo that goes with a message, for the person to whom that goes. For everybody
  else, and for a message without one, there is nothing there. Without a place, as older pages ask, it is the first.
- What was said is always read from the outbox, so a page that was closed, or a server that was, loses nothing, and
  messages are told apart by their numbers.
- /join/<code> is the page with a code to join a case with in its line, ready to be sent: to look at it does nothing.
- Nothing is kept of those who only look; nothing here may be kept on the way.
"""

import asyncio
import secrets
from typing import TYPE_CHECKING, Any

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import JSONResponse, RedirectResponse, Response
from starlette.routing import Route

from triagebot.delivery import Received
from triagebot.delivery.image_cleaning import MOST_BYTES, Unfit
from triagebot.delivery.photos import cleaned, handed
from triagebot.errors import StoreError
from triagebot.messages import Outgoing, Sent
from triagebot.messages.codes import JOIN_CODE, read_secret
from triagebot.messages.message import Content
from triagebot.pages.chat_channel import LONGEST, NAME, Page
from triagebot.pages.chat_own_words import own_words
from triagebot.pages.chat_said import REFUSED, Sentence, Unread, incoming, sentence
from triagebot.pages.chat_sheet import Sheet, last_answers, last_asking, sheet
from triagebot.pages.chat_visitor import Visitor, forget, framed, fresh, remember, visitor_of, with_secret
from triagebot.pages.headers import policy
from triagebot.pages.site import NEVER, NavEntry, Part, Reader, Site, answer

if TYPE_CHECKING:
    from triagebot.delivery import Delivery
    from triagebot.store import Store

#: So many messages of a conversation are shown, and given at once.
SHOWN = 60
#: What a page may be told by its address, each with its text (`chat-<word>`).
TOLD = ("waiting", *REFUSED.values())
#: What the menu offers, in its order.
COMMANDS = ("help", "person", "privacy", "export", "forget")
#: Bytes of a photo with its form, and how many photos are made pictures of or wait for it; more are to come later.
MOST_PHOTO, MOST_AT_ONCE = MOST_BYTES + 16 * 1024, 4
#: Seconds after which a browser may try again what could not be kept now.
AGAIN = "5"


def part(site: Site) -> Part:
    """Without a delivery there is no chat."""
    if site.delivery is None or site.store is None:
        return Part(())
    chat = Chat(site, site.delivery, site.store)
    site.chat = chat.page
    routes = (
        Route("/", chat.home),
        Route("/chat/frame", chat.frame),
        Route("/join/{code}", chat.join),
        Route("/chat/say", chat.say, methods=["POST"]),
        Route("/chat/photo", chat.photo, methods=["POST"]),
        Route("/chat/photo/{number:int}", chat.shown_photo),
        Route("/chat/photo/{number:int}/{place:int}", chat.shown_photo),
        Route("/chat/messages", chat.messages),
    )
    return Part(routes, (NavEntry("chat-nav", "/"),), {"/chat/photo": MOST_PHOTO})


class Chat:
    """The requests of the chat page."""

    def __init__(self, site: Site, delivery: "Delivery", store: "Store") -> None:
        self.page = Page(site.guide.address)
        self._site = site
        self._delivery = delivery
        self._store = store
        self._one_photo = asyncio.Lock()
        self._photos = 0

    # --- the page itself ------------------------------------------------------------------------------------------

    async def frame(self, request: Request) -> Response:
        response = await self.home(request)
        response.headers["content-security-policy"] = policy(" ".join(("'self'", *self._site.frames)))
        return response

    async def join(self, request: Request) -> Response:
        code = read_secret(request.path_params["code"], JOIN_CODE)
        if code is None:
            raise HTTPException(404)
        response = await self.home(request)
        response.headers["referrer-policy"] = "no-referrer"
        response.headers["x-robots-tag"] = "noindex, nofollow"
        return response

    async def home(self, request: Request) -> Response:
        reader = self._site.reader(request)
        visitor = visitor_of(request, self._store.cipher)
        sheets: tuple[Sheet, ...] = ()
        if visitor is not None:
            known, sheets = await asyncio.to_thread(self._since, reader, visitor, 0)
            sheets = sheets if known else ()
        response = self._page(request, reader, visitor, sheets)
        if visitor is not None and sheets:
            remember(response, request, visitor)
        return response

    def _page(self, request: Request, reader: Reader, visitor: Visitor | None, sheets: tuple[Sheet, ...]) -> Response:
        start = "" if visitor is not None else fresh()
        body = self._site.render(
            reader,
            "chat.html",
            here="/",
            framed=framed(request),
            sheets=sheets,
            answers=last_answers(sheets),
            last=last_asking(sheets),
            whole=len(sheets) < SHOWN,
            tag=(visitor or with_secret(start, self._store.cipher)).tag,
            start=start,
            key=secrets.token_urlsafe(16),
            join=request.path_params.get("code", ""),
            told=told if (told := request.query_params.get("told", "")) in TOLD else "",
            commands=COMMANDS,
            heaviest=MOST_BYTES // (1024 * 1024),
        )
        return answer(request, body, keep=NEVER)

    # --- what is said ---------------------------------------------------------------------------------------------

    async def say(self, request: Request) -> Response:
        said = await _read(request)
        if said.content is None:
            raise HTTPException(400)
        return await self._receive(request, said, said.content)

    async def photo(self, request: Request) -> Response:
        said = await _read(request)
        if said.photo is None:
            raise HTTPException(400)
        try:
            picture = await self._picture(said.photo)
        except Unfit as unfit:
            told = REFUSED[unfit.why]
            if _wants_json(request):
                return _json({"outcome": told, "messages": []}, 415)
            return RedirectResponse(self._site.reader(request).to(f"/?told={told}#now"), 303)
        except (OSError, TimeoutError):
            raise HTTPException(503, headers={"retry-after": AGAIN}) from None
        return await self._receive(request, said, Sent("photo", (handed(picture),)))

    async def shown_photo(self, request: Request) -> Response:
        visitor = visitor_of(request, self._store.cipher)
        number, place = request.path_params["number"], request.path_params.get("place", 0)
        photo = await asyncio.to_thread(self._photo, visitor, number, place) if visitor is not None else None
        if photo is None:
            raise HTTPException(404)
        return Response(photo, media_type="image/jpeg", headers={"cache-control": NEVER})

    def _photo(self, visitor: Visitor, number: int, place: int) -> bytes | None:
        """The photo at this place of a message to somebody; None where there is none."""
        from triagebot.store.history import said
        from triagebot.store.photos import Photos

        with self._store.read() as view:
            letters = said(view, view.lookup_hash(f"{NAME}:{visitor.conversation}"), number - 1, 1, first=True)
            body = letters[0].body if letters and letters[0].id == number else {}
            photos = (body["photo"], *body.get("album", ())) if "photo" in body else ()
            return Photos(view).picture(photos[place]) if place < len(photos) else None

    async def _picture(self, data: bytes) -> bytes:
        """What is kept of a photo. Raises Unfit, OSError, TimeoutError; HTTPException when too many come at once."""
        if self._photos >= MOST_AT_ONCE:
            raise HTTPException(503, headers={"retry-after": AGAIN})
        self._photos += 1
        try:
            async with self._one_photo:
                return await cleaned(data)
        finally:
            self._photos -= 1

    async def _receive(self, request: Request, said: Sentence, content: Content) -> Response:
        reader = self._site.reader(request)
        visitor = visitor_of(request, self._store.cipher, said.start) or with_secret(fresh(), self._store.cipher)
        try:
            remembers = _wants_json(request) and not said.keep
            words = "" if remembers else await self._own_words(visitor, content, reader)
            message = incoming(visitor, content, said.key, reader.language, self._site.clock(), words)
            received = await self._delivery.receive(message)
        except StoreError:
            raise HTTPException(503, headers={"retry-after": AGAIN}) from None
        return await self._answered(request, reader, visitor, said, received)

    async def _own_words(self, visitor: Visitor, content: Content, reader: Reader) -> str:
        """What is to be kept of what somebody says whose page cannot."""
        return await asyncio.to_thread(own_words, self._store, visitor, content, reader.texts)

    async def _answered(
        self, request: Request, reader: Reader, visitor: Visitor, said: Sentence, received: Received
    ) -> Response:
        waits, as_json = received.outcome == "waiting", _wants_json(request)
        if received.outcome == "forgotten":
            return await self._farewell(request, reader, received, as_json=as_json)
        response: Response
        if as_json:
            _, sheets = await asyncio.to_thread(self._since, reader, visitor, said.after)
            given = {"outcome": received.outcome, "tag": visitor.tag, "messages": self._rows(request, reader, sheets)}
            response = _json(given, 202 if waits else 200)
        else:
            response = RedirectResponse(reader.to("/?told=waiting#now" if waits else "/#now"), 303)
        remember(response, request, visitor)
        return response

    async def _farewell(self, request: Request, reader: Reader, received: Received, *, as_json: bool) -> Response:
        """The last words to somebody who is forgotten, which are kept nowhere, and the secret of a new beginning."""
        assert received.reply is not None
        last = Outgoing(0, "send", {}, received.reply, "", 0, reader.language)
        said = await asyncio.to_thread(sheet, self._site.guide, reader, last)
        response: Response
        if as_json:
            start = fresh()
            tag = with_secret(start, self._store.cipher).tag
            given = {
                "outcome": "forgotten",
                "tag": tag,
                "start": start,
                "messages": self._rows(request, reader, (said,)),
            }
            response = _json(given)
        else:
            response = self._page(request, reader, None, (said,))
        forget(response, request)
        return response

    # --- what was said since --------------------------------------------------------------------------------------

    async def messages(self, request: Request) -> Response:
        """`known` is false when there is no such conversation (any more)."""
        after = _whole(request.query_params.get("after", "0"))
        wait = min(LONGEST, _whole(request.query_params.get("wait", "0")))
        reader = self._site.reader(request)
        visitor = visitor_of(request, self._store.cipher)
        if visitor is None:
            return _json({"known": False, "messages": []})
        loop = asyncio.get_running_loop()
        until = loop.time() + wait
        with self.page.listening(visitor.conversation) as ear:
            while True:
                ear.listen()
                known, sheets = await asyncio.to_thread(self._since, reader, visitor, after)
                left = until - loop.time()
                if sheets or left <= 0 or ear.over or (after and not known):
                    break
                await ear.wait(left)
        return _json({"known": known, "tag": visitor.tag, "messages": self._rows(request, reader, sheets)})

    def _since(self, reader: Reader, visitor: Visitor, after: int) -> tuple[bool, tuple[Sheet, ...]]:
        """Whether there is such a conversation, and what was said in it behind a message; after its last words there is
        none any more."""
        from triagebot.messages.message import outgoing
        from triagebot.store.history import said
        from triagebot.store.post import Post

        with self._store.read() as view:
            post, lookup_hash = Post(view), view.lookup_hash(f"{NAME}:{visitor.conversation}")
            letters = said(view, lookup_hash, after, SHOWN)
            over = bool(letters) and bool(letters[-1].body.get("last"))
            known = not over and (bool(letters) or post.found(lookup_hash).who is not None)
        return known, tuple(sheet(self._site.guide, reader, outgoing(letter)) for letter in letters)

    def _rows(self, request: Request, reader: Reader, sheets: tuple[Sheet, ...]) -> list[dict[str, Any]]:
        return [self._row(reader, sheets[: place + 1], framed(request)) for place in range(len(sheets))]

    def _row(self, reader: Reader, sheets: tuple[Sheet, ...], framed: bool) -> dict[str, Any]:
        """The last of these messages for a script: its parts, and what the page shows of it."""
        said, last, buttons = sheets[-1], last_asking(sheets), last_answers(sheets)
        given = {"key": secrets.token_urlsafe(16), "start": ""}
        shown = self._site.render(reader, "chat-answers.html", answers=buttons, last=last, **given) if buttons else b""
        return {
            "id": said.number,
            "language": said.language,
            "text": said.plain,
            "mine": said.mine,
            "case": said.answers.case,
            "turn": said.answers.turn,
            "choices": [{"id": choice.id, "label": choice.label} for choice in _all_choices(said)],
            "html": self._site.render(reader, "chat-message.html", said=said, framed=framed).decode(),
            "answers": shown.decode(),
        }


def _all_choices(said: Sheet) -> tuple[Any, ...]:
    return (*said.answers.choices, *said.answers.aside)


async def _read(request: Request) -> Sentence:
    """Raises HTTPException for what is no message."""
    try:
        return await sentence(request)
    except Unread:
        raise HTTPException(400) from None


def _wants_json(request: Request) -> bool:
    return "application/json" in request.headers.get("accept", "")


def _json(given: dict[str, Any], status: int = 200) -> Response:
    return JSONResponse(given, status, {"cache-control": NEVER})


def _whole(text: str) -> int:
    """Raises HTTPException for what is no whole number."""
    if not (text.isascii() and text.isdigit() and len(text) <= 18):
        raise HTTPException(400)
    return int(text)
