"""The states in which pages are looked at, by people (`python -m tests.pages.screens`) and by the checks alike."""

from collections.abc import Callable, Mapping
from urllib.parse import urlsplit

from playwright.sync_api import Page, expect


def in_state(page: Page, name: str) -> None:
    """Brings a page, opened anywhere in the app, into one of the `STATES`."""
    page.context.set_offline(False)
    STATES[name](page)
    page.wait_for_load_state()


def home(page: Page) -> str:
    parts = urlsplit(page.url)
    return f"{parts.scheme}://{parts.netloc}"


def _at(path: str) -> Callable[[Page], None]:
    def go(page: Page) -> None:
        page.goto(home(page) + path, wait_until="networkidle" if path.startswith("/notes") else "load")

    return go


def _afresh(page: Page) -> None:
    page.context.clear_cookies()
    page.goto(home(page) + "/")
    page.evaluate("localStorage.clear(); sessionStorage.clear()")
    page.goto(home(page) + "/")


def say(page: Page, words: str) -> None:
    before = page.locator("#log [data-number]").count()
    page.get_by_label("Your answer or question").fill(words)
    page.get_by_role("button", name="Send", exact=True).click()
    expect(page.locator("#log [data-number]")).to_have_count(before + 1)


def _asked(page: Page) -> None:
    _afresh(page)
    page.get_by_role("button", name="Ask me").click()
    expect(page.locator(".question")).to_have_count(1)


def _choices(page: Page) -> None:
    _asked(page)
    say(page, "wheel is out, 9 sprockets")
    expect(page.locator("#answers .choice").first).to_be_visible()
    _pictures(page)


def _picture(page: Page) -> None:
    _asked(page)
    say(page, "it stays still, the wheel is out")
    _pictures(page)


def _answer(page: Page) -> None:
    _picture(page)
    say(page, "4 notches, 24 mm by calliper")
    _pictures(page)


def _look_alike(page: Page) -> None:
    _asked(page)
    say(page, "it stays still, 4 notches, wheel out, one sprocket")
    for _ in range(2):
        say(page, "I don’t know")
    expect(page.locator("#log .theirs").last).to_contain_text("Two kinds fit")
    _pictures(page)


def _person(page: Page) -> None:
    _asked(page)
    say(page, "person")


def _menu(page: Page) -> None:
    _asked(page)
    page.locator("summary").click()


def _forget(page: Page) -> None:
    _asked(page)
    say(page, "forget me")


def _not_understood(page: Page) -> None:
    _asked(page)
    say(page, "my aunt had a bicycle once; <b>it was green</b>")


def _offline(page: Page) -> None:
    _asked(page)
    page.context.set_offline(True)
    page.get_by_label("Your answer or question").fill("9 sprockets")
    page.keyboard.press("Enter")
    expect(page.locator("#notice")).not_to_be_empty()


def _pictures(page: Page) -> None:
    page.wait_for_function("() => [...document.images].every(image => image.complete)")


STATES: Mapping[str, Callable[[Page], None]] = {
    "chat, the beginning": _afresh,
    "chat, a question": _asked,
    "chat, choices": _choices,
    "chat, a picture": _picture,
    "chat, an answer": _answer,
    "chat, look-alikes": _look_alike,
    "chat, a person": _person,
    "chat, the menu": _menu,
    "chat, to be forgotten": _forget,
    "chat, not understood": _not_understood,
    "chat, no connection": _offline,
    "notes": _at("/notes/"),
    "notes, found": _at("/notes/?q=how+tight"),
    "a note": _at("/notes/freewheel-4-notch-24"),
    "a note for the shop": _at("/notes/to-the-shop"),
    "no such page": _at("/no-such-page"),
}
