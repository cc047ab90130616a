"""Notes in a real browser: nothing runs off the side, nothing is fetched from elsewhere, and keys are enough."""

import io
import socket
import threading
import time
from collections.abc import Iterator

import pypdfium2
import pytest
import uvicorn
from playwright.sync_api import Browser, Page

from tests.pages.browser.conftest import SIZES
from tests.pages.conftest import NOW
from triagebot.conversation import Guide
from triagebot.pages import app

PATHS = [
    "/notes/",
    "/notes/cassette-12-spline",
    "/notes/to-the-shop",
    "/notes/?q=how+tight+does+it+go+back",
    "/nothing",
]

pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def address(guide: Guide) -> Iterator[str]:
    door = socket.create_server(("127.0.0.1", 0))
    server = uvicorn.Server(uvicorn.Config(app(guide, clock=lambda: NOW), log_level="error", lifespan="off", ws="none"))
    thread = threading.Thread(target=server.run, kwargs={"sockets": [door]})
    thread.start()
    while not server.started:
        time.sleep(0.01)
    yield f"http://127.0.0.1:{door.getsockname()[1]}"
    server.should_exit = True
    thread.join()


@pytest.fixture(params=SIZES, ids=lambda size: f"{size[0]}x{size[1]}")
def page(browser: Browser, request: pytest.FixtureRequest) -> Iterator[Page]:
    width, height = request.param
    context = browser.new_context(viewport={"width": width, "height": height}, color_scheme="light")
    yield context.new_page()
    context.close()


@pytest.mark.parametrize("path", PATHS)
def test_a_page_is_light_whole_and_by_itself(page: Page, address: str, path: str) -> None:
    asked: list[tuple[str, int]] = []
    complaints: list[str] = []
    page.on("response", lambda answer: asked.append((answer.url, len(answer.body()))))
    page.on("console", lambda message: complaints.append(message.text))
    page.on("pageerror", lambda error: complaints.append(str(error)))
    page.goto(address + path, wait_until="networkidle")
    assert all(url.startswith(address) for url, _ in asked), asked
    assert sum(size for _, size in asked) <= 60_000
    assert [words for words in complaints if "404" not in words or path != "/nothing"] == []
    assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth"), "it runs off the side"
    broken = page.evaluate("[...document.images].filter(i => i.complete && !i.naturalWidth).map(i => i.src)")
    assert broken == []


@pytest.mark.parametrize("path", PATHS[:4])
def test_what_is_touched_is_large_enough(page: Page, address: str, path: str) -> None:
    """Links that stand alone; those within a sentence are as tall as their line (WCAG 2.5.8)."""
    page.goto(address + path)
    small = page.evaluate(
        """[...document.querySelectorAll('a, button, input:not([type=hidden])')]
        .filter(e => !e.closest('article p, article li, .skip') && !e.classList.contains('skip') && e.offsetParent)
        .map(e => [e.textContent.trim() || e.name, e.getBoundingClientRect()])
        .filter(([_, box]) => box.height < 40 || box.width < 24).map(([name, box]) => `${name}: ${box.height}`)"""
    )
    assert small == []


def test_a_reader_with_keys_alone_skips_searches_and_reads(page: Page, address: str) -> None:
    page.goto(f"{address}/notes/")
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.className") == "skip"
    assert page.locator(".skip").bounding_box()["x"] >= 0  # type: ignore[index]
    page.keyboard.press("Enter")
    assert page.evaluate("document.activeElement.id") == "main"
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.id") == "q"
    assert page.evaluate("getComputedStyle(document.activeElement).outlineStyle") == "solid"
    page.keyboard.type("how tight does it go back?")
    page.keyboard.press("Enter")
    page.wait_for_url("**/notes/?q=*")
    first = page.locator(".found a").first
    assert "Put it back" in first.inner_text()
    first.focus()
    page.keyboard.press("Enter")
    page.wait_for_url("**#put-it-back")
    top = page.evaluate("document.querySelector(':target').getBoundingClientRect().top")
    assert -1 <= top < page.viewport_size["height"] / 2  # type: ignore[index]


def test_pages_work_without_scripts_and_in_the_dark(browser: Browser, address: str) -> None:
    context = browser.new_context(java_script_enabled=False, color_scheme="dark")
    page = context.new_page()
    page.goto(f"{address}/notes/?q=clamp")
    page.locator(".found a").first.click()
    page.wait_for_load_state()
    assert page.locator("h1").count() == 1
    context.close()


def test_a_note_on_paper_has_its_cautions_and_no_navigation(browser: Browser, address: str) -> None:
    context = browser.new_context()
    page = context.new_page()
    page.goto(f"{address}/notes/cassette-12-spline")
    page.emulate_media(media="print")
    assert page.locator(".box").first.is_visible()
    assert page.locator("main .print-only").is_visible()
    for hidden in (".trail", ".parts", ".top nav"):
        assert not page.locator(hidden).is_visible()
    context.close()


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_no_sheet_of_paper_holds_the_foot_of_the_page_alone(browser: Browser, address: str, paper: str) -> None:
    page = browser.new_page()
    for path in ("/notes/freewheel-2-notch", "/notes/freewheel-12-spline", "/notes/cassette-12-spline", "/notes/"):
        page.goto(address + path)
        ends = page.locator("main").inner_text().split()[-5:]
        printed = pypdfium2.PdfDocument(io.BytesIO(page.pdf(format=paper)))
        sheets = [each.get_textpage().get_text_range() for each in printed]
        assert "+44 1632 960 274" in sheets[0], "how to reach the shop"
        assert set(ends) <= set(sheets[-1].split()), path
    page.close()
