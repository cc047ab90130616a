"""The topic and the example shop that ship, and somebody who talks to the bot about them."""

import pytest

from tests.conversation.guides import shipped_guide
from triagebot.conversation import Guide
from triagebot.testing import ScriptedPerson


@pytest.fixture(scope="session")
def guide() -> Guide:
    return shipped_guide()


@pytest.fixture
def person(guide: Guide) -> ScriptedPerson:
    return ScriptedPerson(guide)
