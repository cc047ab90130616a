"""What everybody needs of a page: nothing that axe finds serious, nothing off the side, everything large enough to
press; in both sizes, light and dark. An ordinary run looks at each state light on a phone and dark on a desktop, and a
long one also the other way round."""

import threading
from collections.abc import Iterator
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer

import pytest
from playwright.sync_api import Browser, FrameLocator, Page, expect

from tests.effort import effort
from tests.pages.browser.axe import Axe
from tests.pages.browser.conftest import DESKTOP, PHONE, SIZES, OpenPage
from tests.pages.browser.served import Served
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


FRAME = """<!doctype html><html lang="en"><title>The shop's own site</title><main><h1>Our shop</h1>
<iframe src="{address}/chat/frame" title="Ask the bot" style="width:100%;height:600px"></iframe></main>"""


@pytest.fixture
def site(served: Served) -> Iterator[int]:
    """Another site that shows the chat in a frame; gives its port. It is called what the person who asks calls it."""

    class Handler(BaseHTTPRequestHandler):
        def do_GET(self) -> None:
            self.send_response(200)
            self.send_header("content-type", "text/html")
            self.end_headers()
            self.wfile.write(FRAME.format(address=served.address).encode())

        def log_message(self, *given: object) -> None:
            """Nobody reads it."""

    with ThreadingHTTPServer(("127.0.0.1", 0), Handler) as server:
        thread = threading.Thread(target=server.serve_forever)
        thread.start()
        yield server.server_port
        server.shutdown()
        thread.join()


def framed_at(page: Page, site: str, served: Served, *frames: str) -> FrameLocator:
    served.stop()
    served.given["frames"] = frames
    served.start()
    page.goto(f"{site}/")
    return page.frame_locator("iframe")


@pytest.mark.parametrize(("host", "cookies"), [("shop.localhost", True), ("127.0.0.1", False)])
def test_in_a_frame_of_another_site_a_conversation_goes_on_after_a_reload(
    open_page: OpenPage, served: Served, axe: Axe, site: int, host: str, cookies: bool
) -> None:
    """Once by a cookie of the frame's own, where this browser gives frames of others nothing else; once by what the tab
    keeps, where no cookie is taken."""
    page = open_page("/notes/", size=DESKTOP, bypass_csp=True)
    served.cookies = cookies
    frame = framed_at(page, f"http://{host}:{site}", served, f"http://{host}:{site}")
    frame.get_by_role("button", name="Ask me").click()
    expect(frame.locator(".question")).to_have_count(1)
    frame.get_by_label("Your answer or question").fill("9 sprockets")
    frame.get_by_role("button", name="Send", exact=True).click()
    expect(frame.locator("#log .said")).to_have_count(4)
    assert [cookie["name"] for cookie in page.context.cookies()] == (["chat-framed"] if cookies else [])
    assert axe(page) == []
    page.reload()
    expect(frame.locator("#log [data-number]")).to_have_count(2)
    expect(frame.locator("#log .mine")).to_have_count(2)
    expect(frame.locator("#keep")).to_be_hidden()
    frame.get_by_label("Your answer or question").fill("it stays still")
    frame.get_by_role("button", name="Send", exact=True).click()
    expect(frame.locator("#log [data-number]")).to_have_count(3)
    assert served.delivery.counts.received == 1 + 2
    page.goto(f"{served.address}/")
    expect(page.locator("#intro")).to_be_visible()


def test_a_frame_that_may_keep_nothing_says_so_and_its_link_keeps_the_talk(
    open_page: OpenPage, served: Served, axe: Axe, site: int
) -> None:
    """This browser gives frames of other sites no storage; here it takes no cookie, either."""
    page = open_page("/notes/", size=DESKTOP, bypass_csp=True)
    served.cookies = False
    frame = framed_at(page, f"http://shop.localhost:{site}", served, f"http://shop.localhost:{site}")
    expect(frame.locator("#keep")).to_be_hidden()
    frame.get_by_role("button", name="Ask me").click()
    expect(frame.locator(".question")).to_have_count(1)
    frame.get_by_label("Your answer or question").fill("9 sprockets")
    frame.get_by_role("button", name="Send", exact=True).click()
    expect(frame.locator("#log .said")).to_have_count(4)
    expect(frame.locator("#keep")).to_contain_text("lost here when you leave")
    assert axe(page) == []
    with page.expect_popup() as opened:
        frame.get_by_role("link", name="Keep it").click()
    tab = opened.value
    said = ["Ask me one question at a time", "9 sprockets"]
    for _ in range(2):
        expect(tab.locator("#log .theirs")).to_have_count(2)
        expect(tab.locator("#log .mine")).to_have_text([f"You: {words}" for words in said])
        tab.reload()
    tab.get_by_label("Your answer or question").fill("it stays still")
    tab.get_by_role("button", name="Send", exact=True).click()
    expect(tab.locator("#log .theirs")).to_have_count(3)
    tab.reload()
    expect(tab.locator("#log .theirs")).to_have_count(3)
    expect(tab.locator("#log .mine")).to_have_count(3)
    page.goto(f"{served.address}/")
    expect(page.locator("#intro")).to_be_visible()


def test_a_site_that_was_not_named_shows_no_frame(browser: Browser, served: Served, site: int) -> None:
    with browser.new_context() as context:
        page = context.new_page()
        with page.expect_console_message(lambda said: "frame-ancestors" in said.text):
            frame = framed_at(page, f"http://shop.localhost:{site}", served, "https://another.example.org")
        assert frame.locator("#chat").count() == 0
