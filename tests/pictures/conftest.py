"""The topic that ships and its English texts, and topics whose fastenings have been given other looks."""

import shutil
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from triagebot.topics import Fastening, Texts, Topic, built_in_topic, load_texts, load_topic

#: The fastening whose answers tests replace; its texts are there already.
SUBJECT = "freewheel-12-spline"

Described = Callable[..., Topic]


@pytest.fixture(scope="session")
def topic() -> Topic:
    return load_topic(built_in_topic())


@pytest.fixture(scope="session")
def texts(topic: Topic) -> Texts:
    return load_texts(topic.folder, "en")


@pytest.fixture(scope="session")
def described(topic: Topic) -> Described:
    """A topic in which `SUBJECT` has these answers and no others."""

    def make(**answers: Any) -> Topic:
        row = topic.fastenings[SUBJECT].model_dump(by_alias=True)
        row |= {"answers": {name.replace("_", "-"): value for name, value in answers.items()}}
        other = Fastening.model_validate(row)
        rows = tuple(other if old.id == SUBJECT else old for old in topic.catalogue.fastenings)
        return replace(topic, catalogue=topic.catalogue.model_copy(update={"fastenings": rows}))

    return make


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A copy of the topic's folder that a test may spoil."""
    return Path(shutil.copytree(built_in_topic(), tmp_path / "topic"))
