"""Several photos sent as one stay one between customers and staff, and a photo is one message with its words."""

from pathlib import Path

import pytest
from PIL import Image

from tests.channels.telegram.stage import until
from tests.channels.telegram.test_staff_room import Workshop, shop, workshop
from tests.delivery.snapshots import encoded
from tests.doubles.telegram import Faults, Shown, Telegram

__all__ = ["shop"]
pytestmark = pytest.mark.asyncio


def shape(messages: list[Shown]) -> list[tuple[str, str]]:
    return [(message.kind, message.text) for message in messages]


async def test_a_customers_album_is_one_in_the_topic(shop: Workshop) -> None:
    code = await shop.asks()
    before = len(shop.laid_out)
    shop.bob.send_album(3, caption="from behind")
    await shop.stage.quiet()
    photos = shop.laid_out[before:]
    assert shape(photos) == [("photo", f"{code}, the customer writes:\nfrom behind"), ("photo", ""), ("photo", "")]
    assert len({photo.album for photo in photos}) == 1
    assert photos[0].album
    assert {photo.thread for photo in photos} == {shop.laid_out[0].thread}
    assert len(shop.stage.calls("sendMediaGroup")) == 1
    await shop.answers("Got all three.", photos[2])
    assert shop.bob.screen().last.text.endswith("Got all three.")


async def test_an_album_of_the_staffs_is_one_with_its_words(shop: Workshop) -> None:
    await shop.asks()
    card, before = shop.laid_out[0], len(shop.bob.screen().messages)
    shop.ada.send_album(2, caption="Like these?", chat=shop.room, thread=card.thread, reply_to=card.id)
    await shop.stage.quiet()
    first, second = shop.bob.screen().messages[before:]
    assert first.kind == second.kind == "photo"
    assert first.album == second.album != ""
    assert first.text.startswith("From Ada at ")
    assert first.text.endswith("Like these?")
    assert second.text == ""


async def test_a_photo_with_words_is_one_message_both_ways(shop: Workshop) -> None:
    code = await shop.asks()
    before = len(shop.laid_out)
    shop.bob.send("photo", caption="from behind")
    await shop.stage.quiet()
    assert shape(shop.laid_out[before:]) == [("photo", f"{code}, the customer writes:\nfrom behind")]
    last, seen = shop.laid_out[-1], len(shop.bob.screen().messages)
    shop.ada.send("photo", caption="Like this?", chat=shop.room, thread=last.thread, reply_to=last.id)
    await shop.stage.quiet()
    (photo,) = shop.bob.screen().messages[seen:]
    assert photo.kind == "photo"
    assert photo.text.endswith("Like this?")


async def test_a_member_in_private_sends_an_album(shop: Workshop) -> None:
    code = await shop.asks()
    seen = len(shop.bob.screen().messages)
    await shop.says(shop.ada, f"claim {code}")
    shop.ada.send("photo", caption=f"say {code} Like this?")
    await shop.stage.quiet()
    assert shape(list(shop.bob.screen().messages[seen:])) == [
        ("photo", shop.bob.screen().last.text),
    ]
    assert shop.bob.screen().last.text.endswith("Like this?")


async def test_without_topics_each_photo_names_its_case(platform: Telegram, tmp_path: Path) -> None:
    """There an answer finds its case by the code in the message that it answers, whichever photo that is."""
    async with workshop(platform, tmp_path, topics=False) as shop:
        code = await shop.asks()
        before = len(shop.laid_out)
        shop.bob.send_album(3, caption="from behind")
        await shop.stage.quiet()
        words, *photos = shop.laid_out[before:]
        assert words.text == f"{code}, the customer writes:\nfrom behind"
        assert shape(photos) == [("photo", code)] * 3
        assert len({photo.album for photo in photos}) == 1
        await shop.answers("Got it.", photos[2])
        assert shop.bob.screen().last.text.endswith("Got it.")


async def test_words_do_not_wait_for_a_photo_that_cannot_be_had_yet(shop: Workshop) -> None:
    code = await shop.asks()
    before = len(shop.laid_out)
    shop.stage.platform.set_faults(Faults(server_error=1.0, methods=("getfile",)))
    shop.bob.send("photo", caption="from behind")
    await until(lambda: len(shop.laid_out) > before)
    assert shape(shop.laid_out[before:]) == [("text", f"{code}, the customer writes:\nfrom behind")]
    shop.stage.platform.set_faults(Faults())
    await shop.stage.quiet()
    assert shape(shop.laid_out[before:])[1:] == [("photo", f"{code}: a photo from the customer.")]


async def test_an_album_of_which_one_is_lost_goes_on_without_it(shop: Workshop) -> None:
    code = await shop.asks()
    before = len(shop.laid_out)
    group = {"group": "77"}
    whole = encoded(Image.effect_noise((600, 400), 60).convert("RGB"))
    shop.bob.send("photo", caption="from behind", **group)
    shop.bob.send("photo", data=whole[: len(whole) // 2], **group)
    shop.bob.send("photo", **group)
    await shop.stage.quiet()
    kinds = [message.kind for message in shop.laid_out[before:]]
    assert sorted(kinds) == ["photo", "photo", "text"]
    photos = [message for message in shop.laid_out[before:] if message.kind == "photo"]
    assert photos[0].text == f"{code}, the customer writes:\nfrom behind"
    assert photos[0].album == photos[1].album != ""
