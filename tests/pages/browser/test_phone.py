"""The chat page on a small phone: nothing to press is covered, counting by thumb, an invitation, and the reasons why
something was refused."""

import json
import re
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect

from tests.pages.browser.conftest import OpenPage
from tests.pages.browser.served import Served
from tests.pages.browser.states import say
from triagebot.conversation import Guide

pytestmark = pytest.mark.slow

SMALL, TALLER = (360, 640), (360, 780)

#: What can be pressed that is not wholly on the screen or lies under the line to write in, and whether the question is.
COVERED = """() => {
  const line = document.getElementById("composer").getBoundingClientRect();
  const pressed = [...document.querySelectorAll("#answers button, #answers input:not([type=hidden])")];
  const covered = pressed.filter((each) => {
    const box = each.getBoundingClientRect();
    const seen = document.elementFromPoint(box.x + box.width / 2, box.bottom - 4);
    return box.top < 0 || box.bottom > line.top + 0.5 || !(each === seen || each.contains(seen));
  });
  const question = [...document.querySelectorAll(".question")].pop()?.getBoundingClientRect();
  const dock = document.getElementById("dock").getBoundingClientRect();
  const under = question && question.bottom > dock.top ? ["the question"] : [];
  return [...covered.map((each) => each.textContent), ...under];
}"""


@pytest.fixture
def served(guide: Guide, tmp_path: Path) -> Iterator[Served]:
    """With an address, so that somebody can be invited."""
    started = Served(replace(guide, address="https://wheels.example"), tmp_path / "data").start()
    yield started
    started.stop()


def settled(page: Page) -> None:
    page.wait_for_function("() => [...document.images].every(image => image.complete)")
    page.wait_for_function("() => !document.querySelector('[aria-busy=true]')")


@pytest.mark.parametrize("size", [SMALL, TALLER], ids=["640", "780"])
def test_no_answer_lies_under_the_line_to_write_in(open_page: OpenPage, size: tuple[int, int]) -> None:
    page = open_page(size=size)
    assert page.evaluate(COVERED) == []
    say(page, "hello")
    say(page, "it has 9 sprockets")
    asked = 0
    for _ in range(9):
        settled(page)
        unsure = page.locator("#answers .aside .choice").first
        if not unsure.count() or page.locator("#answers .behind").count():
            break
        assert page.evaluate(COVERED) == [], page.locator(".question").last.inner_text()
        asked += 1
        before = page.locator("#log [data-number]").count()
        unsure.click()
        expect(page.locator("#log [data-number]")).to_have_count(before + 1)
    assert asked >= 3


@pytest.mark.parametrize("size", [SMALL, TALLER], ids=["640", "780"])
def test_an_outcome_has_the_whole_screen(open_page: OpenPage, size: tuple[int, int]) -> None:
    """It begins at the top, and what can be pressed comes behind it and before the line to write in."""
    page = open_page(size=size)
    say(page, "it stays still, the wheel is out, 4 notches, 24 mm by calliper")
    settled(page)
    expect(page.locator("#answers .behind")).to_have_count(1)
    top = page.locator("#log .theirs").last.bounding_box()
    assert top is not None
    assert top["y"] < size[1] / 3
    assert page.evaluate("getComputedStyle(document.getElementById('composer')).position") == "static"
    order = ["#log", "#answers", "#composer"]
    tops = [page.evaluate(f"document.querySelector('{each}').getBoundingClientRect().top") for each in order]
    assert tops == sorted(tops)


def test_the_answer_is_read_without_scrolling_and_so_is_a_step(open_page: OpenPage) -> None:
    page = open_page(size=SMALL)
    say(page, "6 sprockets, the middle stays still")
    say(page, "20")
    settled(page)
    answer = page.locator("#log .theirs").last
    for words in ("I’m sure", "The tool can slip", "Remover:", "wall A, peg 5", "Loosens anticlockwise."):
        expect(answer.get_by_text(words)).to_be_in_viewport(ratio=1)
    page.get_by_role("button", name="Take me through it").click()
    expect(page.locator("#log .theirs").last.get_by_text("Step 1 of 6.")).to_be_in_viewport(ratio=1)
    expect(page.get_by_role("button", name="Done")).to_be_in_viewport(ratio=1)


def test_wherever_the_page_is_scrolled_to_the_answers_keep_their_place(open_page: OpenPage) -> None:
    page = open_page(size=SMALL)
    for words in ("it has 9 sprockets", "the wheel is out"):
        say(page, words)
    settled(page)
    for place in (0, 200, 10_000):
        page.evaluate("place => scrollTo(0, place)", place)
        under = "document.getElementById('composer').getBoundingClientRect().top"
        lowest = (
            "Math.max(...[...document.querySelectorAll('#answers button')].map(e => e.getBoundingClientRect().bottom))"
        )
        assert page.evaluate(f"{lowest} <= {under}")


def test_a_count_is_made_by_thumb(open_page: OpenPage) -> None:
    page = open_page(size=SMALL)
    say(page, "it stays still, the wheel is out, splines")
    stepper = page.locator(".stepper")
    for _ in range(13):
        stepper.get_by_role("button", name="One more").click()
    stepper.get_by_role("button", name="One less").click()
    expect(stepper.get_by_label("How many you counted")).to_have_value("12")
    stepper.get_by_role("button", name="That many").click()
    expect(page.locator("#log .mine").last).to_have_text("You: 12")
    expect(page.locator("#log .theirs").last).to_contain_text("12")


@pytest.mark.parametrize("scripts", [True, False], ids=["scripts", "none"])
def test_the_one_button_of_an_invitation_joins(open_page: OpenPage, scripts: bool) -> None:
    mentor = open_page()
    for words in ("I’m helping somebody: the blue commuter", "invite"):
        mentor.get_by_label("Your answer or question").fill(words)
        mentor.keyboard.press("Enter")
        expect(mentor.locator("#log > :last-child.theirs")).to_be_visible()
    code = re.compile(r"[A-Z]{4}-[A-Z]{4}-[A-Z]{4}")
    expect(mentor.locator("#log")).to_contain_text(code)
    found = code.search(mentor.locator("#log").inner_text())
    assert found is not None
    rider = open_page(f"/join/{found[0]}", size=SMALL, java_script_enabled=scripts)
    expect(rider.locator("#answers button")).to_have_count(1)
    assert rider.evaluate(COVERED) == []
    rider.locator("#answers button").click()
    expect(rider.locator("#log .theirs").last).to_contain_text("would like me to ask you")
    expect(rider.locator("#answers button")).to_have_text(["Yes, ask me", "No, thank you"])


def test_without_scripts_ones_own_words_stay(open_page: OpenPage) -> None:
    page = open_page(size=SMALL, java_script_enabled=False)
    page.get_by_role("button", name="Ask me").click()
    for words in ("9 sprockets", "the wheel is <b>out</b>"):
        page.get_by_label("Your answer or question").fill(words)
        page.get_by_role("button", name="Send", exact=True).click()
    tops = [page.locator(each).last.bounding_box() for each in (".question", "#dock")]
    assert tops[0] is not None
    assert tops[1] is not None
    assert tops[0]["y"] + tops[0]["height"] <= tops[1]["y"], "nothing lies on the question"
    pressed = page.locator("#answers .choice .label").first.inner_text()
    page.locator("#answers .choice").first.click()
    mine = ["Ask me one question at a time", "9 sprockets", "the wheel is <b>out</b>", pressed]
    expect(page.locator("#log .mine")).to_have_text([f"You: {words}" for words in mine])
    page.reload()
    expect(page.locator("#log .mine")).to_have_count(4)
    order = page.evaluate("[...document.querySelectorAll('#log .said')].map(e => e.classList.contains('mine'))")
    assert order == [True, False] * 4


@pytest.mark.parametrize(
    ("status", "name", "told", "words"),
    [
        (403, "", {}, "came from another site"),
        (400, "", {}, "has grown old"),
        (413, "", {}, "too long for one message"),
        (413, "a.jpg", {}, "more than 20 megabytes"),
        (415, "a.jpg", {"outcome": "wide"}, "more pixels than I can open"),
        (415, "a.jpg", {"outcome": "unfit"}, "no photo that I can open"),
        (415, "a.jpg", {"outcome": "broken"}, "part of that photo is missing"),
        (415, "a.jpg", {"outcome": "heic"}, "HEIC"),
        (415, "a.jpg", {"outcome": "empty"}, "nothing in that file"),
        (429, "", {}, "a lot in a short time"),
        (503, "", {}, "computer is busy"),
        (500, "", {}, "wrong at our end"),
    ],
)
def test_a_refusal_says_its_real_reason(
    browser: Browser, served: Served, tmp_path: Path, status: int, name: str, told: dict[str, str], words: str
) -> None:
    page = browser.new_page(viewport={"width": 360, "height": 640})  # the browser complains, as it is meant to
    page.goto(served.address)
    page.route(
        "**/chat/photo" if name else "**/chat/say", lambda route: route.fulfill(status=status, body=json.dumps(told))
    )
    if name:
        (tmp_path / name).write_bytes(b"anything")
        page.get_by_label("Send a photo").set_input_files(tmp_path / name)
    else:
        page.get_by_label("Your answer or question").fill("9 sprockets")
        page.keyboard.press("Enter")
    expect(page.locator("#notice")).to_contain_text(words)
    page.close()


def test_a_large_photo_goes_out_smaller(open_page: OpenPage, tmp_path: Path, served: Served) -> None:
    from random import Random

    from PIL import Image

    large = tmp_path / "large.jpg"
    Image.frombytes("RGB", (2600, 3200), Random(1).randbytes(2600 * 3200 * 3)).save(large, quality=90)
    assert large.stat().st_size > 5_000_000
    page = open_page(size=SMALL)
    say(page, "9 sprockets")
    page.evaluate(
        """() => { const send = window.fetch; window.fetch = (to, given) => {
        if (given?.body instanceof FormData) window.sent = given.body.get("photo").size;
        return send(to, given); }; }"""
    )
    page.get_by_label("Send a photo").set_input_files(large)
    expect(page.locator(".theirs").last).to_contain_text("keep it for the person")
    assert served.delivery.counts.photos_kept == 1
    assert 0 < page.evaluate("window.sent") < large.stat().st_size * 0.8
