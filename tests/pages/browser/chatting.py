"""What tests of the chat page do in a browser again and again: begin, write, and read what stands in the log."""

import re

from playwright.sync_api import Page, expect

#: What somebody with a freewheel of four notches answers, by words of the question; to all else, "I don't know".
ANSWERS = {
    "How many sprockets": "9",
    "spin the sprockets": "It stays still",
    "Is the rear wheel out": "Yes, it is out",
    "How many splines or notches": "4",
    "What is there for a tool": "Notches: a few",
    "How wide is the fitting": "24 mm by calliper",
}
SURE = re.compile("it’s a 4-notch freewheel, 24 mm")


def question(page: Page) -> str:
    """The open question's words."""
    return page.locator(".question").last.inner_text()


def answer_to(open_now: str) -> str:
    return next((answer for words, answer in ANSWERS.items() if words in open_now), "I don’t know")


def count(page: Page) -> int:
    return page.locator("#log [data-number]").count()


def next_said(page: Page, before: int) -> None:
    expect(page.locator("#log [data-number]")).to_have_count(before + 1)


def begin(page: Page) -> None:
    page.get_by_role("button", name="Ask me").click()
    expect(page.locator("#intro")).to_have_count(0)
    expect(page.locator(".question")).to_have_count(1)


def write(page: Page, words: str) -> None:
    before = count(page)
    page.get_by_label("Your answer or question").fill(words)
    page.get_by_role("button", name="Send", exact=True).click()
    next_said(page, before)


def bubbles(page: Page) -> list[str]:
    """All that stands in the log, one's own words marked, without the hidden names."""
    return page.evaluate(
        """[...document.querySelectorAll('#log .said')].map(e => (e.classList.contains('mine') ? '> ' : '') +
        [...e.childNodes].filter(n => !n.classList?.contains('hidden')).map(n => n.textContent).join(' ')
        .replace(/\\s+/g, ' ').trim())"""
    )


def at_the_side(page: Page) -> bool:
    return bool(page.evaluate("document.documentElement.scrollWidth > window.innerWidth"))
