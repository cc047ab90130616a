"""Which edition of a topic answered a case, short enough to read aloud.

An edition covers the topic's files and what the shop has learned, so the same edition gives the same answers to the
same readings.
"""

from triagebot.conversation.case import Case
from triagebot.conversation.events import Adopted, Concluded, Opened, Restarted

_GROUP = 4


def edition(digest: str) -> str:
    """A digest as people read it: two groups of four, like "3f2a-91bc"."""
    return f"{digest[:_GROUP]}-{digest[_GROUP : 2 * _GROUP]}"


def edition_of(case: Case) -> str:
    """The edition that gave a case its last outcome; before there is one, the edition that it goes by."""
    digest, answered = "", None
    for event in case.events:
        if isinstance(event, Opened | Adopted):
            digest = event.digest
        elif isinstance(event, Concluded):
            answered = digest
        elif isinstance(event, Restarted):
            answered = None
    return edition(answered or digest or case.digest)
