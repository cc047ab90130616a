"""What was set aside is listed without a word of what people said, and is taken once more or deleted."""

import pytest

from tests.commands import run
from tests.keeping.place import ME, NOW, SAID, Place
from triagebot.errors import UsageError
from triagebot.keeping.letters import again, drop_letters, letters
from triagebot.store.post import Post


@pytest.fixture
def aside(place: Place) -> Place:
    """One message that came in, and one that was to go out."""
    with place.open() as store, store.begin() as tx:
        post, who = Post(tx), tx.lookup_hash(ME)
        number = post.receive("paper", "k", who, NOW, "waiting", {"text": SAID})
        assert number == 1
        post.tried(number, 3, "ValueError at turns/plan.py:88", aside=True)
        post.failed(2, "refused")
        post.gone(who, NOW, "gone")
    return place


def test_they_are_listed_by_where_when_and_why_and_without_words(aside: Place) -> None:
    listed = run("letters", data=aside.data, TRIAGEBOT_KEY_FILE=str(aside.key)).stdout
    assert [line.split()[0] for line in listed.splitlines()] == ["in-1", "out-2"]
    assert "ValueError at turns/plan.py:88" in listed
    assert "refused" in listed
    assert "paper" in listed
    assert "2026-03-01 12:00" in listed
    assert SAID not in listed


def test_once_more(aside: Place) -> None:
    said = run("letters", "again", "in-1", "out-2", data=aside.data, TRIAGEBOT_KEY_FILE=str(aside.key))
    assert said.returncode == 0, said.stderr
    with aside.open() as store, store.begin() as tx:
        assert letters(tx) == ()
        post, who = Post(tx), tx.lookup_hash(ME)
        waiting = post.oldest(who)
        assert waiting is not None
        assert (waiting.body, waiting.attempts) == ({"text": SAID}, 0)
        assert post.unsent("paper") == (who,)
        assert post.found(who).reached is not None


def test_deleted_and_its_key_does_not_count_again(aside: Place) -> None:
    run("letters", "drop", "in-1", "out-2", data=aside.data, TRIAGEBOT_KEY_FILE=str(aside.key))
    with aside.open() as store, store.begin() as tx:
        assert letters(tx) == ()
        post, who = Post(tx), tx.lookup_hash(ME)
        assert (post.oldest(who), post.unsent("paper")) == (None, ())
        assert post.receive("paper", "k", who, NOW, "done", None) is None


def test_an_id_that_is_none_changes_nothing(aside: Place) -> None:
    for change in (again, drop_letters):
        with aside.open() as store:
            with pytest.raises(UsageError, match="out-9"), store.begin() as tx:
                change(tx, ["in-1", "out-9"])
            with store.read() as view:
                assert len(letters(view)) == 2
    refused = run("letters", "drop", "in-9", data=aside.data, TRIAGEBOT_KEY_FILE=str(aside.key))
    assert refused.returncode == 2
