"""Members at the counter page, each with a browser of their own and without scripts; customers at the chat page."""

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from urllib.parse import urlsplit

import httpx
import pytest

from tests.delivery.office import HANGS
from tests.pages.browser.served import Served
from tests.pages.chat.conftest import Person
from tests.pages.markup import Markup
from triagebot.conversation import Guide
from triagebot.counter import invite
from triagebot.counter.login import login_link
from triagebot.store.staff import Role, Staff


@pytest.fixture
def served(guide: Guide, tmp_path: Path) -> Iterator[Served]:
    started = Served(replace(guide, address="https://wheels.example"), tmp_path / "data").start()
    yield started
    started.stop()


class Browser:
    """Somebody with a browser that follows where it is sent."""

    def __init__(self, served: Served) -> None:
        self.served = served
        self.http = httpx.Client(base_url=served.address, timeout=2 * HANGS, follow_redirects=True)
        self.page = ""

    def opens(self, address: str) -> httpx.Response:
        got = self.http.get(address)
        self.page = got.text
        return got

    def sends(self, address: str, **fields: str) -> httpx.Response:
        got = self.http.post(address, data=fields)
        self.page = got.text
        return got

    def presses(self, ending: str, **fields: str) -> httpx.Response:
        """The form of the page whose address ends like this, with what stands in it."""
        form = Form.on(self.page, ending)
        return self.sends(form.address, **{**form.hidden, **fields})

    @property
    def words(self) -> str:
        return Markup(self.page).text


class Form:
    """A form of a page: where it goes, and what it hides."""

    def __init__(self, address: str, hidden: dict[str, str]) -> None:
        self.address, self.hidden = address, hidden

    @classmethod
    def on(cls, page: str, ending: str) -> "Form":
        found: Form | None = None
        for tag, given in Markup(page).elements:
            if tag == "form":
                if found is not None:
                    return found
                if urlsplit(given.get("action", "")).path.endswith(ending):
                    found = cls(given["action"], {})
            elif found is not None and tag == "input" and given.get("type") == "hidden":
                found.hidden[given["name"]] = given["value"]
        assert found is not None, f"no form that goes to {ending}"
        return found


class Counter:
    """Ada and Eve are staff, with chats of their own; customers come to the chat page."""

    def __init__(self, served: Served) -> None:
        self.served = served
        self.opened: list[httpx.Client] = []

    def invitation(self, name: str, role: Role = "staff") -> str:
        with self.served.store.begin() as tx:
            return invite(tx, role, name, self.served.delivery._clock())

    def link(self, name: str) -> str:
        """The path of a link for a member."""
        with self.served.store.begin() as tx:
            member = Staff(tx).named(name)
            assert member is not None
            return login_link(tx, member, "", self.served.delivery._clock())

    def browser(self) -> Browser:
        made = Browser(self.served)
        self.opened.append(made.http)
        return made

    def member(self, name: str) -> Browser:
        """A member who is logged in, at the queue."""
        with self.served.store.begin() as tx:
            if Staff(tx).named(name) is None:
                Staff(tx).admit(tx.lookup_hash(f"telegram:{name}"), "staff", name, self.served.delivery._clock())
        made = self.browser()
        got = made.sends(self.link(name))
        assert got.status_code == 200, made.words
        return made

    def customer(self, *said: str) -> tuple[Person, str]:
        """Somebody at the chat page who asked for a person, and their case's code."""
        person = Person(self.served)
        self.opened.append(person.http)
        for text in said or ("it stays still, 4 notches, about 40 mm", "person"):
            told = person.told(text=text)
        case: str = told["messages"][-1]["case"]
        return person, case


@pytest.fixture
def counter(served: Served) -> Iterator[Counter]:
    made = Counter(served)
    with served.store.begin() as tx:  # without staff, no case is handed over
        Staff(tx).admit(tx.lookup_hash("telegram:Ada"), "staff", "Ada", served.delivery._clock())
    yield made
    for each in made.opened:
        each.close()
