"""What somebody is given of what is kept of them: all of it, and nothing of others."""

import io
import json
import zipfile
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest

from tests.conversation.guides import shipped_guide
from tests.delivery.office import Office
from tests.delivery.recorded import RecordedChannel
from tests.helping.riding import BLUE, MO, RIA, joined
from tests.pages.conftest import Visitor
from tests.words import words_of
from triagebot.cases import own_data
from triagebot.cases.own_data import LASTS, NAME
from triagebot.conversation import Guide
from triagebot.conversation.blocks import Attachment, CardLink
from triagebot.counter.invitations import invite
from triagebot.delivery.photos import handed
from triagebot.messages import Commanded, Sent, new_code
from triagebot.pages import app

A, C, ROBIN = "rider", "somebody-else", "bench"
ADDRESS = "https://wheels.example"


@pytest.fixture
def guide() -> Guide:
    """With pages that can be reached."""
    return replace(shipped_guide(), address=ADDRESS)


@pytest.fixture
def codes() -> Callable[[], str]:
    """As they are given out."""
    return new_code


@pytest.fixture(autouse=True)
def _takes_files(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(own_data, "_WITH_FILES", frozenset({"recorded"}))


def data_of(channel: RecordedChannel, person: str) -> dict[str, Any]:
    """What came with the last message."""
    (file,) = channel.last(person).reply.of(Attachment)
    assert file.name == NAME
    data: dict[str, Any] = json.loads(file.content)
    return data


def link_of(channel: RecordedChannel, person: str) -> str:
    (link,) = channel.last(person).reply.of(CardLink)
    return link.url.removeprefix(ADDRESS)


def visitor(office: Office, guide: Guide) -> Visitor:
    return Visitor(app(guide, store=office.store.store, clock=office.clock), "203.0.113.7", "")


def test_their_answers_words_and_photos_and_nothing_of_others(
    office: Office, channel: RecordedChannel, guide: Guide
) -> None:
    with office.store.begin() as tx:
        secret = invite(tx, "owner", "Robinson", office.clock())
    office.bring(ROBIN, secret)
    office.bring(C, "a zebra has 9 sprockets")
    office.bring(A, "my okapi has 9 sprockets")
    office.bring(A, Sent("photo", (handed(b"picture-of-a-wheel"),)))
    office.bring(A, Commanded("person"))
    held = office.held(A)
    assert held is not None
    code = held.case.code
    office.bring(ROBIN, f"claim {code}")
    office.bring(ROBIN, f"say {code} come by on Tuesday")
    office.bring(ROBIN, f"lend chain whip to {code}")
    office.bring(ROBIN, "lend cone spanner to zebra")
    office.bring(A, "a word with the shop")
    assert office.bring(A, Commanded("export")).outcome == "applied"
    data = data_of(channel, A)
    (case,) = data["cases"]
    assert case["code"] == code
    assert "my okapi has 9 sprockets" in json.dumps(case["happened"])
    written = {(words["from"], words["text"]) for words in case["written"]}
    assert written == {("the shop", "come by on Tuesday"), ("you", "a word with the shop")}
    assert [photo["file"] for photo in case["photos"]] == ["photo-1.jpg"]
    assert [loan["tool"] for loan in case["lent to you"]] == ["chain-whip"]
    for other in ("zebra", "Robinson"):
        assert other not in json.dumps(data)
    page = visitor(office, guide)(link_of(channel, A))
    assert page.headers["content-type"] == "application/zip"
    with zipfile.ZipFile(io.BytesIO(page.content)) as archive:
        assert archive.read("photo-1.jpg") == b"picture-of-a-wheel"
        assert json.loads(archive.read(NAME))["cases"][0]["code"] == code


def test_the_address_counts_for_a_day_and_ends_with_being_forgotten(
    office: Office, channel: RecordedChannel, guide: Guide
) -> None:
    office.bring(A, "9 sprockets")
    office.bring(A, Commanded("export"))
    link = link_of(channel, A)
    assert visitor(office, guide)(link).status_code == 200
    assert visitor(office, guide)("/export/wrong.zip").status_code == 404
    office.clock.wait(seconds=LASTS.total_seconds())
    assert visitor(office, guide)(link).status_code == 404
    office.bring(A, Commanded("export"))
    link = link_of(channel, A)
    office.bring(A, Commanded("forget"))
    office.bring(A, "yes")
    assert visitor(office, guide)(link).status_code == 404


def test_neither_mentor_nor_rider_is_sent_or_told_what_is_the_others(office: Office, channel: RecordedChannel) -> None:
    joined(office, channel)
    rider = RIA
    office.bring(MO, "my quagga says 9 sprockets")
    before = len(channel.screens[MO])
    office.bring(rider, "the okapi stays still")
    office.bring(rider, Commanded("export"))
    assert "quagga" not in json.dumps(data_of(channel, rider))
    assert not any(message.reply.of(Attachment) for message in channel.screens[MO][before:])
    office.bring(MO, Commanded("export"))
    mine = data_of(channel, MO)
    assert "okapi" not in json.dumps(mine)
    assert [each["called"] for each in mine["helping"]] == [BLUE]
    assert sum(bool(message.reply.of(Attachment)) for message in channel.screens[rider]) == 1


def test_being_forgotten_says_first_what_it_covers_and_what_it_cannot_reach(
    office: Office, channel: RecordedChannel
) -> None:
    office.bring(A, "9 sprockets")
    office.bring(A, Commanded("forget"))
    said = words_of(channel.last(A).reply)
    for words in (
        "your photos",
        "I can’t reach what already stands in a chat",
        "Old backups",
        "Shall I delete it all?",
    ):
        assert words in said
    assert office.held(A) is not None
