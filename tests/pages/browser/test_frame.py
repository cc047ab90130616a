"""The chat in a frame of another site, in the whole browser: it decides what such a frame may keep."""

import threading
from collections.abc import Iterator
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer

import pytest
from playwright.sync_api import Browser, FrameLocator, Page, Playwright, expect

from tests.pages.browser.axe import Axe
from tests.pages.browser.conftest import CHROMIUM, DESKTOP, OpenPage, started
from tests.pages.browser.served import Served

pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def browser(playwright: Playwright) -> Iterator[Browser]:
    yield from started(playwright, CHROMIUM)


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
