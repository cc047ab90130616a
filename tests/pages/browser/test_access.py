"""What everybody needs of a page: nothing that axe finds serious, nothing off the side, everything large enough to
press; in both sizes, light and dark. An ordinary run looks at each state light on a phone and dark on a desktop, and a
long one also the other way round."""

import pytest
from playwright.sync_api import expect

from tests.effort import effort
from tests.pages.browser.axe import Axe
from tests.pages.browser.conftest import DESKTOP, PHONE, SIZES, OpenPage
from tests.pages.browser.states import STATES, in_state

pytestmark = pytest.mark.slow

SCHEMES = {PHONE: effort(("light",), ("light", "dark")), DESKTOP: effort(("dark",), ("light", "dark"))}


@pytest.mark.parametrize("half", [0, 1])
def test_axe_finds_nothing_serious(open_page: OpenPage, axe: Axe, half: int) -> None:
    page = open_page("/", bypass_csp=True)
    found = {}
    for name in list(STATES)[half::2]:
        page.set_viewport_size({"width": PHONE[0], "height": PHONE[1]})
        in_state(page, name)
        for width, height in SIZES:
            page.set_viewport_size({"width": width, "height": height})
            assert not page.evaluate("document.documentElement.scrollWidth > window.innerWidth"), (name, width)
            for scheme in SCHEMES[width, height]:
                page.emulate_media(color_scheme=scheme)  # type: ignore[arg-type]
                found[name, width, scheme] = axe(page)
    assert {where: rows for where, rows in found.items() if rows} == {}


def test_axe_does_find_what_is_wrong(open_page: OpenPage, axe: Axe) -> None:
    page = open_page("/", bypass_csp=True)
    page.evaluate("document.querySelector('#say label').remove(); document.querySelector('#text').placeholder = ''")
    page.evaluate("document.querySelector('#log').insertAdjacentHTML('beforeend', '<img src=/static/icon.svg>')")
    assert {row.split(":")[0] for row in axe(page)} == {"critical image-alt", "critical label"}


def test_what_is_pressed_on_the_chat_page_is_large_enough(open_page: OpenPage) -> None:
    page = open_page("/", size=PHONE)
    for name in ("chat, a question", "chat, the menu"):
        in_state(page, name)
        small = page.evaluate(
            """[...document.querySelectorAll('#chat button, #chat input:not([type=hidden]), summary')]
            .filter(e => e.offsetParent).map(e => [e.textContent.trim() || e.name, e.getBoundingClientRect()])
            .filter(([_, box]) => box.height < 44 || box.width < 44).map(([name, box]) => `${name}: ${box.height}`)"""
        )
        assert small == []
    in_state(page, "chat, choices")
    width = page.evaluate("document.querySelector('#answers .choice').getBoundingClientRect().width")
    assert width >= 390 - 2 * 17, "choices are as wide as a phone"


def test_a_screen_reader_is_told_what_is_said_and_what_each_button_answers(open_page: OpenPage) -> None:
    page = open_page("/")
    in_state(page, "chat, choices")
    log = page.get_by_role("log", name="Conversation")
    assert log.get_attribute("aria-live") == "polite"
    expect(log).to_contain_text("The bot:")
    asked = page.locator(".question").last.inner_text()
    expect(page.get_by_role("group", name=asked)).to_be_visible()
    expect(page.get_by_role("textbox", name="Your answer or question")).to_be_visible()
    expect(page.get_by_role("status")).to_have_count(1)


def test_focus_is_not_hidden_behind_the_line_to_write_in(open_page: OpenPage) -> None:
    page = open_page("/", size=PHONE)
    in_state(page, "chat, an answer")
    page.locator("#answers button").first.focus()
    for _ in range(page.locator("#answers button").count()):
        box = page.evaluate("document.activeElement.getBoundingClientRect().bottom")
        assert box <= page.evaluate("document.querySelector('.composer').getBoundingClientRect().top") + 1
        page.keyboard.press("Tab")


@pytest.mark.parametrize("size", SIZES, ids=["phone", "desktop"])
def test_a_new_message_is_seen_from_its_beginning(open_page: OpenPage, size: tuple[int, int]) -> None:
    page = open_page("/", size=size)
    in_state(page, "chat, an answer")
    top = page.evaluate("[...document.querySelectorAll('.theirs')].pop().getBoundingClientRect().top")
    assert -1 <= top <= size[1] / 3, "a long answer is read from its first line on"
    in_state(page, "chat, choices")
    bottom = page.evaluate("document.querySelector('#answers').getBoundingClientRect().bottom")
    assert bottom <= page.evaluate("document.querySelector('.composer').getBoundingClientRect().top") + 1
