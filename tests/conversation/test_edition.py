"""Which edition answered: the one at the last outcome, whatever the topic has become since."""

from datetime import UTC, datetime, timedelta

from triagebot.conversation import edition, edition_of, fold_events
from triagebot.conversation.events import Adopted, Answered, Closed, Concluded, Event, Opened, Restarted

AT = datetime(2026, 3, 2, 10, tzinfo=UTC)
OLD, NEW = "0123456789abcdef", "fedcba9876543210"


def edition_after(*events: Event) -> str:
    return edition_of(fold_events([Opened(AT, "AAA-001", "rear-sprockets", OLD, "en", "begin"), *events]))


def test_it_can_be_read_aloud() -> None:
    assert edition("3f2a91bc77aa") == "3f2a-91bc"


def test_a_case_without_an_outcome_goes_by_the_newest_that_it_knows() -> None:
    assert edition_after() == "0123-4567"
    assert edition_after(Answered(AT, ()), Adopted(AT, NEW, (), None, "begin")) == "fedc-ba98"


def test_the_edition_that_answered_stays_when_the_topic_changes_afterwards() -> None:
    answered = Concluded(AT, "answer", "answered")
    adopted = Adopted(AT + timedelta(days=9), NEW, (), None, "begin")

    assert edition_after(answered, adopted) == "0123-4567"
    assert edition_after(answered, adopted, Closed(AT, "unlisted", None, "Ada")) == "0123-4567"
    assert edition_after(answered, adopted, answered) == "fedc-ba98"
    assert edition_after(answered, adopted, Restarted(AT, "begin")) == "fedc-ba98"
