"""The topic that ships, its English texts, and the sheet on both papers, as PDF and as pictures for the web."""

from functools import cache

import pytest

from tests.gauge.print_out import PrintOut, from_pdf, from_pictures
from tests.strategies import rear_sprockets
from triagebot.gauge import Paper, Sheet, coins_of, gauge_pdf, gauge_sheet
from triagebot.topics import Texts, Topic, load_texts


@pytest.fixture(scope="session")
def topic() -> Topic:
    return rear_sprockets()


@pytest.fixture(scope="session")
def texts(topic: Topic) -> Texts:
    return load_texts(topic.folder, "en")


@cache
def sheet_on(paper: Paper) -> Sheet:
    topic = rear_sprockets()
    return gauge_sheet(topic, load_texts(topic.folder, "en"), paper, coins_of(topic, "de"))


@cache
def printed(paper: Paper, medium: str) -> tuple[PrintOut, ...]:
    sheet = sheet_on(paper)
    return from_pdf(gauge_pdf(sheet)) if medium == "pdf" else from_pictures(sheet)


@pytest.fixture(params=["A4", "letter"])
def paper(request: pytest.FixtureRequest) -> Paper:
    return request.param


@pytest.fixture(params=["pdf", "svg"])
def pages(request: pytest.FixtureRequest, paper: Paper) -> tuple[PrintOut, ...]:
    """The pages as they come out at 300 dots an inch."""
    return printed(paper, request.param)


@pytest.fixture
def pdf(paper: Paper) -> bytes:
    return gauge_pdf(sheet_on(paper))
