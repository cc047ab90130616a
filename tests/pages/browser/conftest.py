"""A real Chromium, the app on a real port, and the accessibility checker; for the tests of all pages.

Fixtures: `browser` (one for all files of this folder), `open_page` (contexts of their own, closed afterwards), `served`
(the app with an empty store), `axe`. Where there is no Chromium the tests are skipped, and fail in CI.

Where there is Chromium's headless shell, pages are opened in that: the same engine without the windows, menus and
services around it, for half the processor time. What the whole browser decides (what a frame of another site may
store) is asked of the whole browser: `test_frame.py`.
"""

import os
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, ConsoleMessage, Page, Playwright, expect, sync_playwright

from tests.pages.browser.axe import Axe, axe_or_skip
from tests.pages.browser.served import Served
from triagebot.conversation import Guide

CHROMIUM = Path(os.environ.get("CHROMIUM", "/usr/bin/chromium"))
SHELL = Path(os.environ.get("CHROMIUM_HEADLESS_SHELL", "/usr/bin/chromium-headless-shell"))
QUIET = ["--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking"]
QUIET += ["--disable-component-update", "--disable-sync"]
PHONE, DESKTOP = (390, 844), (1280, 800)
SIZES = (PHONE, DESKTOP)

#: Opens a page in a context of its own: `open_page("/", size=PHONE, **context)`.
OpenPage = Callable[..., Page]


#: ms. However busy the machine: who waits that long has met a page that never comes to it.
PATIENCE = 300_000
expect.set_options(timeout=PATIENCE)


def started(playwright: Playwright, program: Path) -> Iterator[Browser]:
    if not program.exists():
        if os.environ.get("CI"):
            pytest.fail(f"there is no {program}: CI installs it")
        pytest.skip(f"NOTHING CHECKED IN A BROWSER: there is no {program}")
    launched = playwright.chromium.launch(executable_path=str(program), args=QUIET, timeout=PATIENCE)
    yield launched
    launched.close()


@pytest.fixture(scope="package")
def playwright() -> Iterator[Playwright]:
    """For this folder only (`__init__.py` makes it a package): no test can run an event loop of its own meanwhile."""
    with sync_playwright() as begun:
        yield begun


@pytest.fixture(scope="package")
def browser(playwright: Playwright) -> Iterator[Browser]:
    yield from started(playwright, SHELL if SHELL.exists() else CHROMIUM)


@pytest.fixture(scope="session")
def axe() -> Axe:
    return axe_or_skip()


@pytest.fixture
def served(guide: Guide, tmp_path: Path) -> Iterator[Served]:
    pages = Served(guide, tmp_path / "data").start()
    yield pages
    pages.stop()


@pytest.fixture
def open_page(browser: Browser, served: Served) -> Iterator[OpenPage]:
    """Every script error and every complaint of the browser fails the test, but for those about a lost connection."""
    contexts, complaints = [], []

    def open_one(path: str = "/", *, size: tuple[int, int] = PHONE, beside: Page | None = None, **given: Any) -> Page:
        if beside is None:
            viewport = {"width": size[0], "height": size[1]}
            context = browser.new_context(**{"viewport": viewport, "color_scheme": "light", **given})
            context.set_default_timeout(PATIENCE)
            contexts.append(context)
        else:
            context = beside.context
        page = context.new_page()
        page.on("pageerror", lambda error: complaints.append(str(error)))
        page.on("console", lambda said: complaints.append(said.text) if unexpected(said) else None)
        page.goto(served.address + path)
        return page

    yield open_one
    for context in contexts:
        context.close()
    assert complaints == []


def unexpected(said: ConsoleMessage) -> bool:
    """An error, but for those of lost connections, of pages that are meant not to be there and of refused photos."""
    meant = said.location["url"].endswith(("/no-such-page", "/chat/photo"))
    return said.type == "error" and "net::ERR_" not in said.text and not meant
