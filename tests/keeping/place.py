"""A data folder with something in it, and what is read back from one."""

import sqlite3
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path

from sqlalchemy import select, update

from tests.store.fresh import open_fresh
from tests.store.reading import current_case
from triagebot.keeping import Restored, Taken, restore_backup, take_backup
from triagebot.store import Store, open_store
from triagebot.store.message_rows import Correspondent
from triagebot.store.person_keys import OF_A_CASE, OF_A_PERSON
from triagebot.store.post import Post

NOW = datetime(2026, 3, 1, 12, tzinfo=UTC)
ME, CODE, SAID = "terminal:me", "D27MNS", "a word that nobody else may read"


@dataclass(frozen=True)
class Place:
    data: Path
    key: Path
    file: Path

    def open(self) -> Store:
        return open_store(self.data, key_file=self.key)

    def back_up(self, *, force: bool = False) -> Taken:
        return take_backup(self.data, self.key, self.file, NOW, force=force)

    def restore(self, *, only_check: bool = False) -> Restored:
        return restore_backup(self.file, self.data, self.key, only_check=only_check)

    def elsewhere(self, name: str = "elsewhere") -> "Place":
        """The same backup and key, for another data folder."""
        return replace(self, data=self.file.parent / name)

    def events(self) -> int:
        with self.open() as store, store.read() as view:
            case = current_case(view, ME)
        assert case is not None
        assert [event["n"] for event in case.events] == list(range(len(case.events)))
        return len(case.events)


def say_more(store: Store, count: int) -> None:
    for _ in range(count):
        with store.begin() as tx:
            case = current_case(tx, ME)
            assert case is not None
            n = len(case.events)
            tx.append(case.id, n, [{"kind": "said", "at": NOW.isoformat(), "n": n, "text": SAID}])


def filled(folder: Path) -> Place:
    place = Place(folder / "data", folder / "key", folder / "one.backup")
    with open_fresh(place.data, place.key) as store:
        with store.begin() as tx:
            tx.open_case(ME, CODE, "rear-sprockets", NOW)
            post, to = Post(tx), Correspondent("paper", {"to": "me"}, None, gone=False)
            who = tx.lookup_hash(ME)
            post.set_address(who, to.channel, to.address)
            sent = post.put_out(to, who, "send", {"text": SAID}, NOW, sending=True)
            post.sent(sent, who, tx.cipher.encrypt_json({"id": 1}))
            post.put_out(to, who, "send", {"text": SAID}, NOW)
        say_more(store, 5)
    matrix = place.data / "matrix"
    matrix.mkdir(mode=0o700)
    (matrix / "session").write_text("a login")
    with sqlite3.connect(matrix / "store.db") as other:
        other.execute("PRAGMA journal_mode=WAL")
        other.execute("CREATE TABLE names (name TEXT)")
        other.execute("INSERT INTO names VALUES ('ours')")
    other.close()
    return place


def as_before_keys(place: Place) -> None:
    """Makes of it a store from before people had keys: the key file's key encrypts everything."""
    with place.open() as store, store.begin() as tx:
        for table, name, _ in (*OF_A_CASE, *OF_A_PERSON):
            key = tuple(table.primary_key.columns)
            for row in tx.connection.execute(select(*key, table.c[name]).where(table.c[name].is_not(None))).all():
                text = store.cipher.encrypt_bytes(tx.cipher.decrypt_bytes(row[-1]))
                which = [part == at for part, at in zip(key, row, strict=False)]
                tx.connection.execute(update(table).where(*which).values({name: text}))
        for table_name in ("keys", "forgotten_keys", "summaries", "totals"):
            tx.connection.exec_driver_sql(f"DROP TABLE {table_name}")
        for index in ("ix_cases_topic_opened_at", "ix_tickets_room", "ix_grants_kind"):
            tx.connection.exec_driver_sql(f"DROP INDEX {index}")
        tx.connection.exec_driver_sql("DROP TABLE leases")
        tx.connection.exec_driver_sql("DROP INDEX ix_inbox_waiting")
        tx.connection.exec_driver_sql("UPDATE alembic_version SET version_num = '0009'")
