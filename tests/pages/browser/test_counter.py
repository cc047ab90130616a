"""The counter page in a browser: on a small phone, without scripts, and for everybody."""

import os
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from tests.pages.browser.axe import SCHEMES, Axe, faults_everywhere
from tests.pages.browser.conftest import OpenPage
from tests.pages.browser.served import Served
from tests.pages.chat.test_photos import photographed, send
from tests.pages.counter.conftest import Counter
from triagebot.store.staff import Staff

pytestmark = pytest.mark.slow

SMALL = (360, 640)
#: Where pictures of the pages go, if anybody wants to look at them.
SHOTS = os.environ.get("SCREENSHOTS")


@pytest.fixture
def counter(served: Served) -> Iterator[Counter]:
    with served.store.begin() as tx:
        Staff(tx).admit(tx.lookup_hash("telegram:Ada"), "staff", "Ada", served.delivery._clock())
    made = Counter(served)
    yield made
    for each in made.opened:
        each.close()


def fits(page: Page, name: str) -> None:
    """Nothing is wider than the screen, and what is pressed is as tall as a thumb."""
    for scheme in SCHEMES if SHOTS else ():
        page.emulate_media(color_scheme=scheme)
        page.screenshot(path=str(Path(str(SHOTS)) / f"{name}-{scheme}.png"), full_page=True)
    assert page.evaluate("document.documentElement.scrollWidth") <= SMALL[0]
    small = page.evaluate(
        "[...document.querySelectorAll('main button, main .button, main select, main textarea')]"
        ".filter(each => each.offsetParent && each.getBoundingClientRect().height < 44).map(each => each.textContent)"
    )
    assert small == []


def test_the_counter_works_on_a_small_phone_without_scripts(open_page: OpenPage, counter: Counter) -> None:
    person, code = counter.customer()
    person.told(text="can you call me on 555 a really-quite-long-word-that-goes-on-and-on-and-on-for-ever?")
    send(person, photographed())
    counter.customer("it turns, 12 splines", "person")
    page = open_page(counter.link("Ada"), size=SMALL, java_script_enabled=False)
    page.get_by_role("button", name="Log in").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("2 cases in the queue")
    page.get_by_role("button", name=f"Claim {code}").click()
    expect(page.locator("#told")).to_contain_text(f"{code} is yours")
    page.get_by_label("Your answer").fill("Come in at five")
    page.get_by_role("button", name="Send").click()
    expect(page.locator("#told")).to_contain_text("Sent")
    page.get_by_label("It fitted").check()
    page.get_by_role("button", name="Close this case").click()
    expect(page.locator("#told")).to_contain_text("is closed")
    page.get_by_role("link", name="Queue").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("One case in the queue")


def test_everybody_can_read_and_press_it(open_page: OpenPage, counter: Counter, axe: Axe) -> None:
    person, code = counter.customer()
    person.told(text="can you call me on 555 a really-quite-long-word-that-goes-on-and-on-and-on-for-ever?")
    send(person, photographed())
    counter.customer("it turns, 12 splines", "person")
    page = open_page(counter.link("Ada"), size=SMALL, bypass_csp=True)
    fits(page, "enter")
    assert faults_everywhere(page, axe, [SMALL]) == {}
    page.get_by_role("button", name="Log in").click()
    fits(page, "queue")
    assert faults_everywhere(page, axe, [SMALL]) == {}
    page.get_by_role("link", name=code).click()
    page.get_by_label("Your answer").fill("Come in at five")
    page.get_by_role("button", name="Send").click()
    page.get_by_text("Ready replies").click()
    page.get_by_text("What we know").click()
    fits(page, "case")
    assert faults_everywhere(page, axe, [SMALL]) == {}
    page.get_by_role("link", name="Their card").click()
    assert page.evaluate("document.documentElement.scrollWidth") <= SMALL[0]
