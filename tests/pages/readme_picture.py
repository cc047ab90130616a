"""The picture of the chat on a phone that the README shows: `python -m tests.pages.readme_picture` takes it anew."""

import tempfile
from pathlib import Path

from playwright.sync_api import expect, sync_playwright

from tests.pages.browser.conftest import CHROMIUM, QUIET
from tests.pages.browser.served import Served
from tests.pages.browser.states import in_state, say
from triagebot.conversation import load_guide
from triagebot.shop import built_in_shop, load_shop
from triagebot.topics import built_in_topic, load_topic

PICTURE = Path(__file__).resolve().parents[2] / "deploy" / "chat-on-a-phone.png"


def main() -> None:
    topic = load_topic(built_in_topic())
    with tempfile.TemporaryDirectory() as scratch, sync_playwright() as playwright:
        served = Served(load_guide(topic, load_shop(built_in_shop(), topic)), Path(scratch) / "data").start()
        browser = playwright.chromium.launch(executable_path=str(CHROMIUM), args=QUIET)
        try:
            page = browser.new_context(viewport={"width": 390, "height": 780}).new_page()
            page.goto(served.address)
            in_state(page, "chat, a question")
            say(page, "6 sprockets, and the middle bit doesnt turn")
            expect(page.locator("#log figure").last).to_be_visible()
            page.wait_for_function("[...document.images].every((image) => image.complete)")
            page.screenshot(path=PICTURE)
        finally:
            browser.close()
            served.stop()


if __name__ == "__main__":
    main()
