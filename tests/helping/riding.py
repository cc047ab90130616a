"""What tests of helping do again and again: a case for somebody else, an invitation, a rider who joins."""

import re

from tests.delivery.office import Office
from tests.delivery.recorded import RecordedChannel
from tests.words import words_of
from triagebot.conversation.events import Answered
from triagebot.messages import Outgoing
from triagebot.messages.codes import CONSONANTS

MO, RIA, TOM = "mo", "ria", "tom"
BLUE, RED = "the blue commuter", "Red Racer"


def helps(office: Office, who: str = MO, name: str = BLUE) -> str:
    """Somebody opens a case for somebody else; gives its code."""
    office.bring(who, f"I’m helping somebody: {name}")
    return code_of(office, who)


def code_of(office: Office, who: str) -> str:
    held = office.held(who)
    assert held is not None
    return held.case.code


def invited(office: Office, channel: RecordedChannel, who: str = MO) -> str:
    office.bring(who, "invite")
    found = re.search(
        rf"\b[{CONSONANTS}]{{4}}-[{CONSONANTS}]{{4}}-[{CONSONANTS}]{{4}}\b", words_of(channel.last(who).reply)
    )
    assert found is not None
    return found[0]


def joined(office: Office, channel: RecordedChannel, rider: str = RIA) -> str:
    """A case that the rider has joined; gives its code."""
    code = helps(office)
    office.bring(rider, invited(office, channel))
    office.bring(rider, "yes")
    assert code_of(office, rider) == code
    return code


def shown(channel: RecordedChannel, who: str) -> Outgoing:
    """The last message that is no text to send on."""
    return next(message for message in reversed(channel.screens[who]) if not message.forward)


def to_send_on(channel: RecordedChannel, who: str) -> Outgoing:
    last = channel.last(who)
    assert last.forward
    return last


def by(office: Office, who: str) -> list[str]:
    held = office.held(who)
    assert held is not None
    return [event.by for event in held.case.events if isinstance(event, Answered)]
