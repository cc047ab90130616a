"""The pages over the built-in topic and the example shop, or over a copy of it that may be edited."""

import asyncio
import shutil
from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import httpx
import pytest
from starlette.applications import Starlette

from triagebot.conversation import Guide, load_guide
from triagebot.pages import app
from triagebot.shop import built_in_shop, load_shop
from triagebot.topics import Topic, built_in_topic, load_topic

#: A day on which every note of the example shop has been reviewed, and none is overdue.
NOW = datetime(2026, 11, 25, 12, tzinfo=UTC)


@dataclass(frozen=True)
class Visitor:
    """Somebody who asks the app for pages, from one address; follows no redirect."""

    app: Starlette
    address: str = "203.0.113.7"
    root: str = ""

    def __call__(self, path: str, method: str = "GET", **given: Any) -> httpx.Response:
        async def ask() -> httpx.Response:
            transport = httpx.ASGITransport(
                app=self.app, client=(self.address, 50_000), root_path=self.root, raise_app_exceptions=True
            )
            async with httpx.AsyncClient(transport=transport, base_url="http://shop.example.org") as client:
                return await client.request(method, path, **given)

        return asyncio.run(ask())

    def at(self, address: str) -> "Visitor":
        return replace(self, address=address)


@pytest.fixture(scope="session")
def topic() -> Topic:
    return load_topic(built_in_topic())


@pytest.fixture(scope="session")
def guide(topic: Topic) -> Guide:
    return load_guide(topic, load_shop(built_in_shop(), topic))


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A copy of the example shop that may be edited."""
    return Path(shutil.copytree(built_in_shop(), tmp_path / "shop"))


@pytest.fixture
def pages(guide: Guide) -> Visitor:
    return Visitor(app(guide, clock=lambda: NOW))


@pytest.fixture
def pages_of(topic: Topic, folder: Path) -> Callable[..., Visitor]:
    """The pages of the edited copy."""

    def make(now: datetime = NOW) -> Visitor:
        return Visitor(app(load_guide(topic, load_shop(folder, topic)), clock=lambda: now))

    return make
