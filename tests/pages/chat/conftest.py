"""People at the chat page: each with a browser's cookies, over real HTTP."""

from collections.abc import Callable, Iterator
from contextlib import suppress
from pathlib import Path
from typing import Any

import httpx
import pytest

from tests.delivery.office import HANGS
from tests.pages.browser.served import Served
from tests.pages.markup import Markup
from triagebot.conversation import Guide

JSON = {"accept": "application/json"}


@pytest.fixture
def served(guide: Guide, tmp_path: Path) -> Iterator[Served]:
    started = Served(guide, tmp_path / "data").start()
    yield started
    with suppress(AssertionError, RuntimeError):
        started.stop()


@pytest.fixture(scope="module")
def standing(guide: Guide, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    """One that many tests share."""
    started = Served(guide, tmp_path_factory.mktemp("standing") / "data").start()
    yield started
    started.stop()


class Person:
    """Somebody with a browser of their own, without scripts unless `json`."""

    def __init__(self, served: Served, **headers: str) -> None:
        self.http = httpx.Client(base_url=served.address, headers={**JSON, **headers}, timeout=2 * HANGS)
        self.last = 0

    def say(self, **given: Any) -> httpx.Response:
        return self.http.post("/chat/say", json={"after": self.last, **given})

    def told(self, **given: Any) -> dict[str, Any]:
        """Says something that is taken; what comes back."""
        answer = self.say(**given)
        assert answer.status_code == 200, answer.text
        told: dict[str, Any] = answer.json()
        self.last = max([self.last, *(message["id"] for message in told["messages"])])
        return told

    def since(self, after: int = 0, wait: int = 0) -> dict[str, Any]:
        answer = self.http.get("/chat/messages", params={"after": after, "wait": wait})
        assert answer.status_code == 200, answer.text
        found: dict[str, Any] = answer.json()
        return found

    def texts(self) -> list[str]:
        return [message["text"] for message in self.since()["messages"]]


#: Somebody comes, to this app, with these headers.
Come = Callable[..., Person]


@pytest.fixture
def come() -> Iterator[Come]:
    there: list[Person] = []

    def one(served: Served, **headers: str) -> Person:
        there.append(Person(served, **headers))
        return there[-1]

    yield one
    for each in there:
        each.http.close()


@pytest.fixture
def person(served: Served, come: Come) -> Person:
    return come(served)


@pytest.fixture
def guest(standing: Served, come: Come) -> Person:
    return come(standing)


def start_of(page: str) -> str:
    return next(given["value"] for given in Markup(page).all("input") if given["name"] == "start")
