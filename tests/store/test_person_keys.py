"""Each case and each person has a key, which takes along what was encrypted with it when it is thrown away."""

import shutil
from contextlib import suppress
from pathlib import Path

import pytest
from sqlalchemy import select

from tests.keeping.place import CODE, ME, NOW, SAID, Place, as_before_keys, filled, say_more
from tests.store.opened import bytes_in, opened
from tests.store.reading import current_case
from triagebot.store import Store, Transaction
from triagebot.store.encryption import DecryptionError
from triagebot.store.forgetting import drop, forget_messages
from triagebot.store.forgotten_file import BESIDE_BACKUPS, add_forgotten, forgotten_file, forgotten_ids
from triagebot.store.key_rotation import renew, retire
from triagebot.store.person_keys import OF_A_CASE, OF_A_PERSON, without_keys
from triagebot.store.post import Post
from triagebot.store.retention import unkeyed
from triagebot.store.tables import conversations, events, forgotten_keys, keys, outbox

SOMEBODY_ELSE = "terminal:somebody"


@pytest.fixture
def place(tmp_path: Path) -> Place:
    return filled(tmp_path)


def forget(tx: Transaction, name: str = ME) -> None:
    """As a turn does it, to the last words."""
    person = tx.lookup_hash(name)
    tx.forget(name)
    forget_messages(tx, person, 1000)
    drop(tx, person, 1000)


def ids(store: Store) -> set[str]:
    with store.read() as view:
        return set(view.connection.scalars(select(keys.c.id)))


def all_encrypted(place: Place) -> list[str]:
    """Every text that belongs to a case or a person, as it lies there."""
    with place.open() as store, store.read() as view:
        return [
            text
            for table, name, _ in (*OF_A_CASE, *OF_A_PERSON)
            for text in view.connection.scalars(select(table.c[name]).where(table.c[name].is_not(None)))
        ]


def test_a_case_and_its_person_have_a_key_each(place: Place) -> None:
    texts = all_encrypted(place)
    with place.open() as store:
        assert len(ids(store)) == 2
        assert {text.partition(":")[0] for text in texts} == ids(store)
        with store.read() as view:
            for text in texts:
                view.cipher.decrypt(text)
                with pytest.raises(DecryptionError):
                    store.cipher.decrypt(text)


def test_two_people_have_nothing_in_common(place: Place) -> None:
    with place.open() as store:
        before = ids(store)
        with store.begin() as tx:
            tx.open_case(SOMEBODY_ELSE, "AAAAAA", "rear-sprockets", NOW)
            Post(tx).set_address(tx.lookup_hash(SOMEBODY_ELSE), "paper", {"to": "them"})
        with store.begin() as tx:
            forget(tx)
        assert ids(store).isdisjoint(before)
        with store.read() as view:
            assert view.cipher.decrypt_json(view.connection.scalars(select(conversations.c.address)).one()) == {
                "to": "them"
            }


def test_a_copy_from_before_cannot_be_read_without_its_key(place: Place) -> None:
    with place.open() as store:
        with store.read() as view:
            copies = view.connection.scalars(select(events.c.body)).all()
        with store.begin() as tx:
            forget(tx)
        assert ids(store) == set()
        with store.read() as view:
            for text in copies:
                with pytest.raises(DecryptionError, match="thrown away"):
                    view.cipher.decrypt(text)


def test_what_they_wrote_since_and_the_last_words_take_another_key(place: Place) -> None:
    with place.open() as store:
        before = ids(store)
        with store.begin() as tx:
            person = tx.lookup_hash(ME)
            tx.forget(ME)
            forget_messages(tx, person, 0)
            to = Post(tx).found(person).who
            assert to is not None
            last = Post(tx).put_out(to, person, "send", {"text": "the last words", "last": True}, NOW)
        assert len(ids(store)) == 1
        assert ids(store).isdisjoint(before)
        with store.begin() as tx:
            claimed = Post(tx).claim(person, NOW)
            assert claimed is not None
            assert (claimed.body["text"], claimed.address) == ("the last words", {"to": "me"})
            Post(tx).sent(last, person, tx.cipher.encrypt_json({}))
            drop(tx, person, last)
        assert ids(store) == set()


def test_what_is_undone_leaves_the_key(place: Place) -> None:
    with place.open() as store:
        before = ids(store)
        with suppress(ZeroDivisionError), store.begin() as tx:
            forget(tx)
            raise ZeroDivisionError
        assert ids(store) == before
        say_more(store, 1)
        with store.read() as view:
            assert current_case(view, ME) is not None


# --- the list beside the key file -------------------------------------------------------------------------------------


def test_thrown_away_keys_are_written_down_beside_the_key_file(place: Place) -> None:
    with place.open() as store:
        before = ids(store)
        with store.begin() as tx:
            forget(tx)
        assert forgotten_ids(forgotten_file(place.key)) >= before
        assert forgotten_file(place.key).stat().st_mode & 0o777 == 0o600
        with store.read() as view:
            assert view.connection.scalars(select(forgotten_keys.c.id)).all() == []


def test_where_it_cannot_be_written_it_is_tried_again(place: Place, caplog: pytest.LogCaptureFixture) -> None:
    with place.open() as store:
        before = ids(store)
        forgotten_file(place.key).mkdir()
        with store.begin() as tx:
            forget(tx)
        assert "cannot be written" in caplog.text
        forgotten_file(place.key).rmdir()
        store.note_forgotten()
        assert forgotten_ids(forgotten_file(place.key)) >= before


def test_a_line_that_was_cut_short_takes_none_of_the_others_along(tmp_path: Path) -> None:
    file = tmp_path / "list"
    add_forgotten(file, ["a" * 16], NOW.date())
    with file.open("a") as out:
        out.write("b" * 9)
    add_forgotten(file, ["a" * 16, "c" * 16], NOW.date())
    assert forgotten_ids(file) == {"a" * 16, "c" * 16}
    assert file.read_text().count("a" * 16) == 1


# --- backups ----------------------------------------------------------------------------------------------------------


def in_it(place: Place, word: str) -> bool:
    """Whether somebody who has the folder and the key file finds a word."""
    with place.open() as store:
        return word.encode() in opened(bytes_in(place.data), store.cipher)


@pytest.mark.parametrize("lost", [False, True], ids=["the list beside the key", "the copy beside the backups"])
def test_an_older_backup_does_not_bring_back_who_was_forgotten(place: Place, *, lost: bool) -> None:
    with place.open() as store, store.begin() as tx:
        other = tx.open_case(SOMEBODY_ELSE, "AAAAAA", "rear-sprockets", NOW)
        tx.append(other, 0, [{"kind": "said", "at": NOW.isoformat(), "n": 0, "text": "quite another word"}])
        told = Post(tx)
        told.set_address(tx.lookup_hash(SOMEBODY_ELSE), "paper", {"to": "them"})
        who = told.found(tx.lookup_hash(SOMEBODY_ELSE)).who
        assert who is not None
        told.put_out(who, tx.lookup_hash(SOMEBODY_ELSE), "send", {"text": f"{CODE} rattles"}, NOW)
        tx.join(1, tx.lookup_hash(SOMEBODY_ELSE), "mentor")
    place.back_up()
    assert in_it(place, SAID)
    with place.open() as store, store.begin() as tx:
        forget(tx)
    if lost:
        later = place.file.with_name("later.backup")
        Place(place.data, place.key, later).back_up()
        forgotten_file(place.key).unlink()
        assert (place.file.parent / BESIDE_BACKUPS).exists()
    there = place.elsewhere()
    assert there.restore().forgotten >= 2
    for word in (SAID, "rattles"):
        assert not in_it(there, word)
    assert in_it(there, "quite another word")
    with there.open() as store, store.read() as view:
        assert current_case(view, ME) is None
        assert current_case(view, SOMEBODY_ELSE) is not None
        assert len(view.connection.scalars(select(outbox.c.id)).all()) == 0


def test_who_comes_back_after_being_forgotten_is_in_a_later_backup(place: Place) -> None:
    with place.open() as store, store.begin() as tx:
        forget(tx)
    with place.open() as store, store.begin() as tx:
        tx.open_case(ME, CODE, "rear-sprockets", NOW)
    with place.open() as store:
        say_more(store, 3)
    place.back_up()
    there = place.elsewhere()
    assert there.restore().forgotten == 0
    assert there.events() == 3


# --- a store from before, and another key file ------------------------------------------------------------------------


def test_a_store_from_before_goes_over_some_at_a_time_and_as_it_is_used(place: Place) -> None:
    as_before_keys(place)
    assert {text[:5] for text in all_encrypted(place)} == {"gAAAA"}
    with place.open() as store:
        say_more(store, 1)
        with store.read() as view:
            bodies = view.connection.scalars(select(events.c.body)).all()
            assert len({body.partition(":")[0] for body in bodies}) == 1
            assert without_keys(view.connection, 9) == ((), (view.lookup_hash(ME),))
        for make_keys in unkeyed(store):
            with store.begin() as tx:
                make_keys(tx)
        assert {text.partition(":")[0] for text in all_encrypted(place)} == ids(store)
    assert place.events() == 6
    assert list(unkeyed(place.open())) == []


def test_another_key_file_encrypts_the_keys_anew_and_nothing_else_of_people(place: Place) -> None:
    before = all_encrypted(place)
    (old,) = place.key.read_text().split()
    renew(place.data, place.key)
    assert retire(place.data, place.key) == 1
    assert old not in place.key.read_text()
    assert all_encrypted(place) == before
    assert place.events() == 5
    shutil.rmtree(place.data / "matrix")
