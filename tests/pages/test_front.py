"""The page that lists the branches of a chain, and what it answers where there is no page."""

from dataclasses import replace

import pytest

from tests.pages.conftest import NOW, Visitor
from tests.pages.markup import Markup
from triagebot.conversation import Guide
from triagebot.pages import app, front

NAMES = {"harbour": "The <Marlinspike>", "north": "The Zirconium"}


@pytest.fixture
def chain(guide: Guide) -> Visitor:
    """Two branches behind one front."""

    def named(name: str) -> Guide:
        return replace(guide, shop=replace(guide.shop, about=guide.shop.about.model_copy(update={"name": name})))

    return Visitor(
        front({name: app(named(shop), clock=lambda: NOW) for name, shop in NAMES.items()}, clock=lambda: NOW)
    )


@pytest.mark.parametrize("path", ["/", "/nothing", "/b/west/"])
def test_it_is_whole_and_loads_nothing_from_elsewhere(chain: Visitor, path: str) -> None:
    got = chain(path)
    page = Markup(got.text)
    assert got.status_code == (200 if path == "/" else 404)
    assert page.crossed == page.unclosed == []
    assert ("html", {"lang": "en"}) in page.elements
    assert sum(tag == "h1" for tag, _ in page.elements) == 1
    assert got.headers["x-frame-options"] == "DENY"
    for tag, given in page.elements:
        if tag in ("link", "img", "script"):
            assert chain(given.get("href") or given["src"]).status_code == 200


def test_each_branch_is_named_as_its_shop_is_and_leads_to_its_pages(chain: Visitor) -> None:
    page = Markup(chain("/?lang=en").text)
    for name, shop in NAMES.items():
        assert shop in page.main
        assert ("a", {"href": f"/b/{name}/?lang=en"}) in page.elements
        assert chain(f"/b/{name}/notes/").status_code == 200
        assert chain(f"/b/{name}?lang=en").headers["location"] == f"/b/{name}/?lang=en"


def test_the_edition_changes_with_any_branch(chain: Visitor, guide: Guide) -> None:
    other = replace(guide, shop=replace(guide.shop, digest="0" * 64))
    changed = Visitor(front({"harbour": app(guide, clock=lambda: NOW), "north": app(other, clock=lambda: NOW)}))
    assert chain("/health").json()["edition"] != changed("/health").json()["edition"]
