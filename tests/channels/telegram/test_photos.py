"""Photos from the phone into the case, by the real client over the platform's own way: its path, then its bytes."""

import asyncio
import logging
import tracemalloc
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from pathlib import Path

import pytest
import pytest_asyncio
from PIL import Image
from starlette.applications import Starlette
from starlette.requests import Request
from starlette.responses import JSONResponse, Response, StreamingResponse
from starlette.routing import Route

from tests.channels.telegram.campaign import Bot
from tests.channels.telegram.stage import Rider, Stage, fresh_token, hooked, polling, said_back, until
from tests.delivery.snapshots import MAKER, OF_THE_PIXELS, encoded, quarters, segments, snapshot
from tests.doubles.telegram import Faults, Person, Telegram
from tests.store.kept_photos import KeptPhoto, photos_of
from tests.store.reading import current_case
from triagebot.channels.telegram import client
from triagebot.delivery import TooLarge, outbox
from triagebot.messages import Gone, Refused, RetryAfter, Transient
from triagebot.store import Store, open_store

pytestmark = pytest.mark.asyncio


@pytest.fixture(autouse=True)
def _short_pauses(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(outbox, "pause", lambda attempt: 0.05)


def of(store: Store, person: Person) -> list[KeptPhoto]:
    with store.read() as view:
        case = current_case(view, f"telegram:{person.id}")
        return [] if case is None else list(photos_of(view, case.id))


async def test_a_photo_with_all_that_a_phone_tells_is_kept_without_it(stage: Stage) -> None:
    ada = stage.person("Ada")
    await Rider(ada).start()
    ada.send("photo", data=snapshot(orientation=8, size=(3000, 2000)))
    await ada.watch(lambda screen: "I’ll keep it for the person" in screen.last.text)
    await stage.quiet()
    (photo,) = of(stage.store, ada)
    assert photo.picture is not None
    assert set(segments(photo.picture)) <= OF_THE_PIXELS
    assert quarters(photo.picture) == [1, 3, 0, 2]
    assert MAKER.encode() not in photo.picture
    assert stage.delivery.counts.photos_kept == 1
    assert [call[0] for call in stage.calls("getFile")] == ["getfile"]


async def test_a_photo_sent_as_a_file_is_a_photo(stage: Stage) -> None:
    ada = stage.person("Ada")
    await Rider(ada).start()
    ada.send("document", data=snapshot(), facts={"mime_type": "image/jpeg"})
    await ada.watch(lambda screen: "I’ll keep it for the person" in screen.last.text)
    await stage.quiet()
    (photo,) = of(stage.store, ada)
    assert photo.picture is not None
    assert MAKER.encode() not in photo.picture


async def test_only_photos_are_kept(stage: Stage) -> None:
    ada = stage.person("Ada")
    await Rider(ada).start()
    for kind in ("voice", "sticker", "document", "location"):
        ada.send(kind)
    await stage.quiet()
    assert of(stage.store, ada) == []
    assert stage.calls("getFile") == []


@pytest.mark.parametrize("way", [polling, hooked])
async def test_every_photo_of_an_album_is_kept_and_answered_once(
    platform: Telegram, tmp_path: Path, way: "type[polling]"
) -> None:
    async with way(platform, tmp_path) as stage:
        ada = stage.person("Ada")
        await Rider(ada).start()
        ada.send_album(4, caption="it has 6 sprockets")
        await ada.watch(lambda screen: said_back(screen, "6 sprockets"))
        await stage.quiet()
        photos = of(stage.store, ada)
        assert [photo.state for photo in photos] == ["kept"] * 4
        assert len(ada.screen().from_bots) == 2


async def test_an_album_whose_parts_meet_faults(platform: Telegram, tmp_path: Path) -> None:
    """Parts come twice, late and in another order, and every second request fails."""
    async with polling(platform, tmp_path) as stage:
        ada = stage.person("Ada")
        await Rider(ada).start()
        methods = ("getfile", "download")
        platform.set_faults(
            Faults(seed=4, duplicate=0.5, delay=0.5, delay_seconds=0.1, server_error=0.15, bad_gateway=0.1, lost=0.1,
                    cut=0.15, methods=methods)
        )  # fmt: skip
        ada.send_album(6)
        await ada.watch(lambda screen: len(screen.from_bots) == 2)
        await until(lambda: stage.delivery.counts.photos_kept == 6)
        await stage.quiet()
        assert [photo.state for photo in of(stage.store, ada)] == ["kept"] * 6
        assert len(ada.screen().from_bots) == 2
        assert stage.delivery.counts.photos_lost == 0


# --- what goes wrong --------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("fault", ["500", "502", "429", "lost", "cut"])
@pytest.mark.parametrize("method", ["getFile", "download"])
async def test_a_fault_of_the_platform_is_waited_out(stage: Stage, method: str, fault: str) -> None:
    ada = stage.person("Ada")
    await Rider(ada).start()
    stage.platform.inject(method, fault, 2)  # type: ignore[arg-type]
    sent = encoded(Image.effect_noise((600, 400), 60).convert("RGB"))
    ada.send("photo", data=sent)
    await stage.quiet()
    assert [photo.state for photo in of(stage.store, ada)] == ["kept"]
    assert len(stage.calls("getFile")) in (2, 3), "a connection that ends without an answer is tried anew by itself"


async def test_the_platform_goes_while_a_photo_is_fetched(stage: Stage, caplog: pytest.LogCaptureFixture) -> None:
    ada = stage.person("Ada")
    await Rider(ada).start()
    stage.platform.set_faults(Faults(slow_seconds=3600))
    stage.platform.inject("download", "slow")
    with caplog.at_level(logging.INFO, "triagebot"):
        ada.send("photo", data=snapshot())
        await ada.watch(lambda screen: "I’ll keep it for the person" in screen.last.text)
        await until(lambda: bool(stage.calls("download")))
        stage.platform.outage(7200)
        stage.platform.skip(3600)  # what was slow is answered now, and the answer is cut off
        await until(lambda: "photos cannot be fetched now" in caplog.text)
        assert [photo.state for photo in of(stage.store, ada)] == ["waiting"]
        stage.platform.outage(0)
        await stage.quiet()
    assert [photo.state for photo in of(stage.store, ada)] == ["kept"]
    lines = [each.getMessage() for each in caplog.records if each.name == "triagebot.delivery.photos"]
    assert lines[0].startswith("telegram: photos cannot be fetched now (")
    assert lines[1] == "telegram: photos can be fetched again"
    assert len(lines) == 3
    assert stage.token not in caplog.text


async def test_more_than_the_platform_gives_is_lost(stage: Stage, caplog: pytest.LogCaptureFixture) -> None:
    ada = stage.person("Ada")
    await Rider(ada).start()
    with caplog.at_level(logging.INFO, "triagebot"):
        ada.send("photo", data=snapshot() + bytes(30_000_000))
        screen = await ada.watch(lambda screen: "couldn’t keep your photo" in screen.last.text)
        await stage.quiet()
    assert [(photo.state, photo.reason) for photo in of(stage.store, ada)] == [("lost", "too-large")]
    *_, kept, lost = screen.from_bots
    assert "I’ll keep it for the person" in kept.text, "they were answered before that was known"
    assert kept.buttons
    assert "it’s too large for me" in lost.text
    assert "telegram: photo 1 is lost (too-large: " in caplog.text


async def test_what_only_looks_like_a_photo_is_lost(stage: Stage) -> None:
    ada = stage.person("Ada")
    await Rider(ada).start()
    whole = encoded(Image.effect_noise((600, 400), 60).convert("RGB"))
    ada.send("photo", data=whole[: len(whole) // 2])
    await stage.quiet()
    assert [(photo.state, photo.reason) for photo in of(stage.store, ada)] == [("lost", "broken")]


async def test_who_is_forgotten_while_a_photo_is_fetched(stage: Stage) -> None:
    ada = stage.person("Ada")
    await Rider(ada).start()
    stage.platform.set_faults(Faults(slow_seconds=3600))
    stage.platform.inject("download", "slow")
    ada.send("photo", data=snapshot())
    await until(lambda: bool(stage.calls("download")))
    ada.write("/forget")
    ada.write("yes")
    await ada.watch(lambda screen: "I’ve deleted everything" in screen.last.text)
    stage.platform.skip(3600)
    await stage.quiet()
    with stage.store.read() as view:
        assert view.connection.exec_driver_sql("SELECT count(*) FROM photos").scalar() == 0
    assert (stage.delivery.counts.photos_kept, stage.delivery.counts.photos_lost) == (0, 0)


@pytest.mark.parametrize("webhook", [False, True])
async def test_killed_between_receiving_and_fetching(platform: Telegram, tmp_path: Path, webhook: bool) -> None:
    platform.tune(webhook_pace=0.02)
    bot = Bot(platform, tmp_path, webhook)
    ada = platform.add_person("Ada", language="en", bot=bot.token)
    bot.start()
    try:
        ada.start()
        await ada.watch(lambda screen: bool(screen.from_bots))
        platform.set_faults(Faults(slow_seconds=3600))
        platform.inject("download", "slow")
        platform.inject("getFile", "slow")
        ada.send_album(2, caption="it has 6 sprockets")
        await ada.watch(lambda screen: said_back(screen, "6 sprockets"))
        await asyncio.sleep(0.5)  # the answer is noted as sent, and both photos are under way
        bot.kill()
        bot.start()
        await until(lambda: bot.said().count(b"is kept") == 2)
    finally:
        bot.kill()
    with open_store(tmp_path / "data", key_file=tmp_path / "triagebot.key") as store:
        assert [photo.state for photo in of(store, ada)] == ["kept", "kept"]
    assert len(ada.screen().from_bots) == 2
    log = (tmp_path / "log").read_text()
    assert bot.token not in log
    assert "AgAC" not in log


# --- the two requests themselves --------------------------------------------------------------------------------------


class Odd:
    """A platform that answers what it is told to; `given` counts the bytes of files that it handed out."""

    def __init__(self) -> None:
        self.found: dict[str, object] = {"file_id": "f", "file_unique_id": "u", "file_path": "photos/a b#1.jpg"}
        self.answer: Response | None = None
        self.refusal = ""
        self.status = 200
        self.given = 0
        self.asked: list[str] = []

    async def get_file(self, _request: Request) -> Response:
        if self.refusal:
            body = {"ok": False, "error_code": self.status, "description": self.refusal}
            return JSONResponse(body, status_code=self.status)
        return JSONResponse({"ok": True, "result": self.found})

    async def file(self, request: Request) -> Response:
        self.asked.append(request.path_params["path"])
        if self.answer is not None:
            return self.answer

        async def a_gigabyte() -> AsyncIterator[bytes]:
            while self.given < 1_000_000_000 and not await request.is_disconnected():
                self.given += 100_000
                yield bytes(100_000)

        return StreamingResponse(a_gigabyte())


@asynccontextmanager
async def served_by(odd: Odd) -> AsyncIterator[str]:
    import socket

    import uvicorn

    routes = [
        Route("/bot{token}/getfile", odd.get_file, methods=["POST"]),
        Route("/file/bot{token}/{path:path}", odd.file),
    ]
    config = uvicorn.Config(Starlette(routes=routes), log_config=None, ws="none", lifespan="off")
    with socket.create_server(("127.0.0.1", 0)) as door:
        listener = uvicorn.Server(config)
        listening = asyncio.create_task(listener._serve([door]))
        try:
            yield f"http://127.0.0.1:{door.getsockname()[1]}"
        finally:
            listener.should_exit = True
            listener.force_exit = True
            await listening


@pytest_asyncio.fixture
async def odd() -> AsyncIterator[Odd]:
    yield Odd()


async def fetched(odd: Odd, most: int = 1_000_000) -> bytes:
    async with served_by(odd) as server:
        bot = client(fresh_token(), server)
        try:
            return await bot.photo("f", most)
        finally:
            await bot.hang_up()


async def test_a_path_is_asked_for_as_it_stands(odd: Odd) -> None:
    odd.answer = Response(b"bytes")
    assert await fetched(odd, most=5) == b"bytes"
    assert odd.asked == ["photos/a b#1.jpg"]


async def test_no_more_is_read_than_is_taken(odd: Odd) -> None:
    """Whether the platform says beforehand how much there is or not."""
    tracemalloc.start()
    with pytest.raises(TooLarge):
        await fetched(odd)
    _, most = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert odd.given < 10_000_000
    assert most < 12_000_000
    odd.answer = Response(bytes(2_000_000))
    with pytest.raises(TooLarge):
        await fetched(odd)
    odd.found["file_size"] = 2_000_000
    odd.asked.clear()
    with pytest.raises(TooLarge):
        await fetched(odd)
    assert odd.asked == []


@pytest.mark.parametrize(
    ("status", "refusal", "meant"),
    [
        (400, "Bad Request: file is too big", TooLarge),
        (400, "Bad Request: invalid file_id", Refused),
        (400, "Bad Request: wrong file_id or the file is temporarily unavailable", Transient),
        (403, "Forbidden: bot was blocked by the user", Gone),
        (401, "Unauthorized", Transient),
        (500, "Internal Server Error", Transient),
    ],
)
async def test_what_a_refusal_means(odd: Odd, status: int, refusal: str, meant: type[Exception]) -> None:
    odd.status, odd.refusal = status, refusal
    with pytest.raises(meant) as told:
        await fetched(odd)
    assert type(told.value) is meant


@pytest.mark.parametrize("status", [401, 404, 500, 502])
async def test_a_file_that_is_not_there_just_now(odd: Odd, status: int) -> None:
    odd.answer = Response(b"no", status_code=status)
    with pytest.raises(Transient, match=f"^the platform answers {status}$"):
        await fetched(odd)


@pytest.mark.parametrize(("body", "seconds"), [(b'{"parameters": {"retry_after": 7}}', 7), (b"later", 5), (b"[]", 5)])
async def test_the_platform_wants_a_pause(odd: Odd, body: bytes, seconds: float) -> None:
    odd.answer = Response(body, status_code=429)
    with pytest.raises(RetryAfter) as told:
        await fetched(odd)
    assert told.value.seconds == seconds


async def test_no_path_and_no_platform(odd: Odd) -> None:
    odd.found.pop("file_path")
    with pytest.raises(Transient):
        await fetched(odd)
    token = fresh_token()
    bot = client(token, "http://127.0.0.1:1")
    with pytest.raises(Transient) as told:
        await bot.photo("f", 10)
    await bot.hang_up()
    error: BaseException | None = told.value
    while error is not None:
        assert token not in repr(error)
        error = error.__cause__
