"""Somebody helps a rider from the chat page: what is to be sent on is marked, and a page lets the rider in."""

import re
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from tests.pages.browser.served import Served
from tests.pages.chat.conftest import Come
from tests.pages.markup import Markup
from triagebot.conversation import Guide

ADDRESS = "https://wheels.example"


@pytest.fixture
def reachable(guide: Guide, tmp_path: Path) -> Iterator[Served]:
    started = Served(replace(guide, address=ADDRESS), tmp_path / "data").start()
    yield started
    started.stop()


def test_what_is_to_be_sent_on_is_marked_and_the_buttons_stay(reachable: Served, come: Come) -> None:
    texts, mo = reachable.guide.language("en").texts, come(reachable)
    mo.told(text="I’m helping somebody: the blue commuter")
    asked, forward = mo.told(text="it turns, 9 sprockets")["messages"]
    assert texts("mentor-send-on") in forward["html"]
    assert texts("mentor-send-on") not in asked["html"]
    assert asked["choices"]
    assert forward["answers"], "what is pressed stays below the last message"
    assert not forward["choices"]
    page = mo.http.get("/").text
    assert page.count(texts("mentor-send-on")) == 2
    assert 'name="choice"' in page
    choice = asked["choices"][0]["id"]
    told = mo.told(choice=choice, case=asked["case"], turn=asked["turn"])
    assert told["outcome"] == "applied"


def test_a_page_lets_the_rider_in(reachable: Served, come: Come) -> None:
    texts, mo, ria = reachable.guide.language("en").texts, come(reachable), come(reachable)
    mo.told(text="I’m helping somebody: the blue commuter")
    told = mo.told(text="invite")["messages"]
    link = re.search(rf"{re.escape(ADDRESS)}/join/([A-Z-]+)", told[-1]["text"])
    assert link is not None
    looked = ria.http.get(f"/join/{link[1]}", headers={"accept": "text/html"})
    assert looked.status_code == 200
    assert looked.headers["referrer-policy"] == "no-referrer"
    assert looked.headers["cache-control"] == "no-store"
    assert texts("mentor-join-page") in Markup(looked.text).text
    assert f'value="{link[1]}"' in looked.text
    assert ria.told(text=link[1])["messages"][-1]["text"].startswith(
        texts("mentor-consent", shop=reachable.guide.shop.name)
    )
    ria.told(text="yes")
    assert mo.texts()[-1] == texts("mentor-joined", name="the blue commuter")


def test_what_is_no_code_is_no_page(reachable: Served, come: Come) -> None:
    for path in ("/join/", "/join/nothing", "/join/BCDF-GHJK"):
        assert come(reachable).http.get(path).status_code == 404
