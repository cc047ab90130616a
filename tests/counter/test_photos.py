"""The photos of a case, as staff ask for them."""

from pathlib import Path

from tests.doubles.telegram.content import plain_png
from tests.handover.workshop import workshop
from tests.words import words_of
from triagebot.messages import Sent


def test_the_photos_of_a_case_come_one_by_one(tmp_path: Path) -> None:
    with workshop(tmp_path) as shop:
        shop.roomy.files = {"one": plain_png(64, 48), "two": plain_png(48, 64)}
        code = shop.needs_a_person("bob")
        assert shop.says("ada", f"photos {code}") == f"{code} has no photos yet."
        shop.brings("bob", Sent("photo", ({"file": "one"}, {"file": "two"})))
        before = len(shop.roomy.screens["ada"])
        shop.says("ada", f"photos {code}")
        head, *shown = shop.roomy.screens["ada"][before:]
        assert (words_of(head.reply), head.photo) == (f"The 2 photos of {code}:", None)
        assert [(each.photo, words_of(each.reply)) for each in shown] == [
            (1, f"{code}, 1 of 2."),
            (2, f"{code}, 2 of 2."),
        ]


def test_nobody_else_is_shown_them(tmp_path: Path) -> None:
    with workshop(tmp_path) as shop:
        shop.roomy.files = {"one": plain_png(64, 48)}
        code = shop.needs_a_person("bob")
        shop.brings("bob", Sent("photo", ({"file": "one"},)))
        before = len(shop.roomy.screens["eve"])
        assert "1 photo" not in shop.says("eve", f"photos {code}")
        assert [each.photo for each in shop.roomy.screens["eve"][before:]] == [None]
