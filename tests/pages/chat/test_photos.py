"""Photos that are sent from the chat page: a picture is kept with the turn, and nothing else that the file said."""

import asyncio
import threading
from datetime import UTC, datetime
from io import BytesIO
from typing import Any

import httpx
import pytest
from PIL import Image

from tests.delivery.office import HANGS
from tests.pages.browser.served import Served
from tests.pages.chat.conftest import Come, Person, start_of
from tests.pages.markup import Markup
from tests.store.kept_photos import KeptPhoto, photos_of
from triagebot.conversation import Reply
from triagebot.conversation.blocks import Remark
from triagebot.counter import invite
from triagebot.delivery import inbox
from triagebot.delivery.image_cleaning import MOST_BYTES
from triagebot.messages.message import body_of
from triagebot.pages import chat
from triagebot.pages.chat_visitor import fresh
from triagebot.store import photos as store_photos
from triagebot.store.post import Post


def photographed(kind: str = "JPEG", side: int = 600, **more: Any) -> bytes:
    """A photo that says where it was taken."""
    picture, file = Image.new("RGB", (side, side // 2), "orange"), BytesIO()
    exif = Image.Exif()
    exif[0x010E] = "taken in the hall at home"
    exif.get_ifd(0x8825)[2] = (51.0, 30.0, 0.0)
    picture.save(file, kind, exif=exif, **more)
    return file.getvalue()


def send(person: Person, data: bytes, **fields: str) -> httpx.Response:
    return person.http.post("/chat/photo", files={"photo": ("mine.jpg", data, "image/jpeg")}, data=fields)


def kept(served: Served) -> list[KeptPhoto]:
    with served.store.read() as view:
        numbers = view.connection.exec_driver_sql("SELECT id FROM cases ORDER BY id").scalars().all()
        return [photo for number in numbers for photo in photos_of(view, number)]


def test_a_photo_is_kept_with_its_turn_as_a_picture_that_says_nothing_else(person: Person, served: Served) -> None:
    person.told(arrive="on")
    told = send(person, photographed(), key="a", after=str(person.last)).json()
    assert told["outcome"] == "applied"
    assert "I’ll keep it for the person" in told["messages"][0]["text"]
    assert send(person, photographed(), key="a").json()["outcome"] == "duplicate"
    (photo,) = kept(served)
    assert photo.picture is not None
    with Image.open(BytesIO(photo.picture)) as picture:
        assert (picture.format, picture.size) == ("JPEG", (600, 300))
        assert not picture.getexif()
    assert b"at home" not in photo.picture
    assert served.delivery.counts.photos_kept == 1
    served.do(served.delivery.idle)


@pytest.mark.parametrize("kind", ["PNG", "WEBP"])
def test_other_kinds_of_picture_are_kept_as_well_and_one_may_begin_a_conversation(
    person: Person, served: Served, kind: str
) -> None:
    start = start_of(person.http.get("/").text)
    told = send(person, photographed(kind), start=start).json()
    assert told["outcome"] == "applied"
    assert len(kept(served)) == 1


@pytest.mark.parametrize(
    ("data", "outcome", "words"),
    [
        (b"no picture", "unfit", "That’s no photo that I can open"),
        (b"GIF89a" + b"\0" * 100, "unfit", "That’s no photo that I can open"),
        (photographed()[:2000], "broken", "A part of that photo is missing"),
        (b"\0\0\0\x18ftypheic" + b"\0" * 100, "heic", "That’s a HEIC photo"),
        (b"", "empty", "There’s nothing in that file"),
    ],
)
def test_what_is_no_picture_is_refused_for_its_reason_and_nothing_is_kept_of_it(
    person: Person, served: Served, data: bytes, outcome: str, words: str
) -> None:
    person.told(arrive="on")
    refused = send(person, data)
    assert (refused.status_code, refused.json()["outcome"]) == (415, outcome)
    assert kept(served) == []
    page = person.http.post(
        "/chat/photo", files={"photo": data}, headers={"accept": "text/html"}, follow_redirects=True
    )
    assert words in Markup(page.text).text
    assert served.delivery.counts.received == 1


def test_a_photo_that_is_too_large_or_none_at_all_is_refused(guest: Person) -> None:
    assert send(guest, b"x" * (MOST_BYTES + 100_000)).status_code == 413
    assert guest.http.post("/chat/photo", data={"text": "4"}).status_code == 400
    assert (
        guest.http.post("/chat/photo", content=b"--x", headers={"content-type": "multipart/form-data"}).status_code
        == 400
    )
    broken = {"content-type": "multipart/form-data; boundary=x"}
    assert guest.http.post("/chat/photo", content=b"--x\r\nnonsense", headers=broken).status_code == 400
    two = [("photo", b"1"), ("photo", b"2")]
    assert guest.http.post("/chat/photo", files=two).status_code == 400


def test_only_so_many_photos_are_looked_at_at_once(
    person: Person, served: Served, monkeypatch: pytest.MonkeyPatch
) -> None:
    person.told(arrive="on")
    go_on, begun = threading.Event(), threading.Semaphore(0)

    async def slow(data: bytes) -> bytes:
        while not go_on.is_set():
            await asyncio.sleep(0.01)
        return photographed()

    async def counted(page: chat.Chat, data: bytes) -> bytes:
        begun.release()
        return await picture(page, data)

    picture = chat.Chat._picture
    monkeypatch.setattr(chat.Chat, "_picture", counted)
    monkeypatch.setattr(chat, "cleaned", slow)
    answers: list[int] = []
    sending = [
        threading.Thread(target=lambda n=n: answers.append(send(person, photographed(side=300 + n)).status_code))  # type: ignore[misc]
        for n in range(chat.MOST_AT_ONCE)
    ]
    for each in sending:
        each.start()
        assert begun.acquire(timeout=HANGS)
    assert send(person, photographed()).status_code == 503
    assert person.told(text="9 sprockets")["outcome"] == "applied", "nobody else waits for that"
    go_on.set()
    for each in sending:
        each.join(HANGS)
    assert answers == [200] * chat.MOST_AT_ONCE
    assert len(kept(served)) == chat.MOST_AT_ONCE


def test_of_one_case_only_so_many_photos_are_kept(
    person: Person, served: Served, monkeypatch: pytest.MonkeyPatch
) -> None:
    for limited in (inbox, store_photos):
        monkeypatch.setattr(limited, "MOST_OF_A_CASE", 1)
    for side, words in ((200, "I’ll keep it"), (300, "can’t keep any more")):
        told = send(person, photographed(side=side), start=fresh() if side == 200 else "").json()
        assert words in told["messages"][-1]["text"]
    assert [(photo.state, photo.reason) for photo in kept(served)] == [("kept", ""), ("lost", "too-many")]
    assert (served.delivery.counts.photos_kept, served.delivery.counts.photos_lost) == (1, 1)


# --- photos that come to the page -------------------------------------------------------------------------------------


def test_a_photo_that_goes_with_a_message_is_seen_by_the_person_who_it_is_to(
    person: Person, served: Served, come: Come
) -> None:
    person.told(text="it stays still, 4 notches")
    send(person, photographed())
    code = next(iter(person.told(text="person")["messages"]))["case"]
    staff, other = come(served), come(served)
    other.told(text="hello")
    with served.store.begin() as tx:
        invitation = invite(tx, "staff", "Ada", datetime.now(UTC))
    staff.told(text=invitation)
    staff.told(text=f"photos {code}")
    *_, head, shown = staff.since()["messages"]
    assert head["text"] == f"The photo of {code}:"
    picture = Markup(shown["html"]).all("img")[0]
    assert picture["alt"]

    seen = staff.http.get(picture["src"])
    assert (seen.status_code, seen.headers["content-type"]) == (200, "image/jpeg")
    assert seen.headers["cache-control"] == "no-store"
    assert seen.content == kept(served)[0].picture
    for who, path in ((other, picture["src"]), (come(served), picture["src"]), (staff, f"/chat/photo/{head['id']}")):
        assert who.http.get(path).status_code == 404
    assert f'src="{picture["src"]}"' in staff.http.get("/").text
    assert staff.http.get(picture["src"].removesuffix("/0")).content == seen.content, "as an open page still asks"
    framed = staff.http.get("/chat/messages?framed=1")
    assert not framed.json()["known"]


def test_an_album_is_one_message_with_all_its_photos(person: Person, served: Served, come: Come) -> None:
    person.told(text="it stays still, 4 notches")
    for side in (200, 300):
        send(person, photographed(side=side))
    theirs, other, reply = kept(served), come(served), Reply((Remark("Like these?"),), "person")
    with served.store.begin() as tx:
        conversation = tx.connection.exec_driver_sql("SELECT conversation FROM inbox ORDER BY id LIMIT 1").scalar_one()
        numbers = tx.connection.exec_driver_sql("SELECT id FROM photos ORDER BY id").scalars().all()
        post = Post(tx)
        reached = post.found(conversation).reached
        assert reached is not None
        body = {**body_of(None, reply, "en"), "photo": numbers[0], "album": numbers[1:]}
        post.put_out(reached, conversation, "send", body, datetime.now(UTC))
    *_, message = person.since()["messages"]
    shown = [picture["src"] for picture in Markup(message["html"]).all("img")]
    assert [person.http.get(each).content for each in shown] == [photo.picture for photo in theirs]
    assert person.http.get(f"/chat/photo/{message['id']}/2").status_code == 404
    assert {other.http.get(each).status_code for each in shown} == {404}
