"""Screenshots of every page and state, for people to look at: `python -m tests.pages.screens [FOLDER]`.

Each state is taken on a phone (390 x 844) and on a desktop (1280 x 800), in light and dark, as the screen shows it;
with `--whole` also from top to bottom. The folder is `screens` in the system's folder for temporary files unless given.
"""

import sys
import tempfile
from pathlib import Path

from playwright.sync_api import sync_playwright

from tests.pages.browser.conftest import CHROMIUM, QUIET, SIZES
from tests.pages.browser.served import Served
from tests.pages.browser.states import STATES, in_state
from triagebot.conversation import load_guide
from triagebot.shop import built_in_shop, load_shop
from triagebot.topics import built_in_topic, load_topic


def main(arguments: list[str]) -> None:
    whole = "--whole" in arguments
    names = [each for each in arguments if not each.startswith("--")]
    folder = Path(names[0]) if names else Path(tempfile.gettempdir()) / "screens"
    folder.mkdir(parents=True, exist_ok=True)
    topic = load_topic(built_in_topic())
    with tempfile.TemporaryDirectory() as scratch, sync_playwright() as playwright:
        served = Served(load_guide(topic, load_shop(built_in_shop(), topic)), Path(scratch) / "data").start()
        browser = playwright.chromium.launch(executable_path=str(CHROMIUM), args=QUIET)
        try:
            for (width, height), scheme in ((size, scheme) for size in SIZES for scheme in ("light", "dark")):
                context = browser.new_context(viewport={"width": width, "height": height}, color_scheme=scheme)  # type: ignore[arg-type]
                page = context.new_page()
                page.goto(served.address)
                for name in STATES:
                    in_state(page, name)
                    page.wait_for_timeout(150)
                    file = f"{name.replace(', ', '-').replace(' ', '-')}-{width}-{scheme}"
                    page.screenshot(path=folder / f"{file}.png")
                    if whole:
                        page.screenshot(path=folder / f"{file}-whole.png", full_page=True)
                context.close()
        finally:
            browser.close()
            served.stop()
    print(folder)


if __name__ == "__main__":
    main(sys.argv[1:])
