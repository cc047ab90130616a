"""The store, and the transactions in which cases and their events are read and written.

Events are append-only. Each append says which number it begins with, so that two processes which both read a case
and both answered it cannot write over each other: the later one gets a `StoreConflict`. What it meant to write no
longer fits what is there, so it leaves the transaction and begins anew.

One transaction writes at a time, or several that hold different conversations (see `beside`), so looking before writing
is enough; the constraints are there in case two pass that look side by side. (No savepoints: SQLite gives them up when
the disk is full, and that would hide the reason.)

A `person` here is the lookup hash of somebody's name on their channel, but where it is said to be that name.
"""

from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import AbstractContextManager, contextmanager
from dataclasses import dataclass
from datetime import datetime
from functools import cache
from pathlib import Path
from types import TracebackType
from typing import Any, Self

from sqlalchemy import (
    Connection,
    Select,
    Text,
    and_,
    bindparam,
    delete,
    func,
    insert,
    or_,
    select,
)
from sqlalchemy.exc import IntegrityError

from triagebot.store import errors
from triagebot.store.database import NUMBER, READING, Characters, Prepared, faults_told
from triagebot.store.encryption import Cipher, DecryptionError, KeyedCipher
from triagebot.store.engines import Database, insert_into
from triagebot.store.errors import DAMAGED, StoreConflict, fault
from triagebot.store.forgotten_file import note_forgotten
from triagebot.store.key_file import read_keys, read_or_make_keys
from triagebot.store.migrations import ENCRYPTED_SINCE, NEWEST, migrate, revision_of
from triagebot.store.person_keys import ROWS, made, throw_away
from triagebot.store.tables import cases, events, lookup_key, parties, summaries

#: How many events a case has. They are numbered without gaps, so the last number tells: a look-up, however many there
#: are, where counting reads them all.
_length = func.coalesce(func.max(events.c.seq) + 1, 0)
#: The same of the case in which somebody takes part.
CURRENT_LENGTH = select(_length).where(events.c.case_id == parties.c.case_id).scalar_subquery()
_CURRENT = Prepared(
    select(parties.c.case_id, CURRENT_LENGTH)
    .where(parties.c.person == bindparam("who"))
    .order_by(parties.c.chosen.desc())
    .limit(1)
)
_BY_CODE = Prepared(select(cases).where(cases.c.code == bindparam("code")))
_CASE = Prepared(select(cases).where(cases.c.id == bindparam("number")), of=("number",))
_EVENTS = Prepared(
    select(events.c.seq, events.c.body).where(events.c.case_id == bindparam("number")).order_by(events.c.seq),
    of=("number",),
)
_APPEND = Prepared(insert(events), ("case_id", "seq", "body"), of=("case_id",))
#: None for a case that is not there.
_LENGTH = select(select(_length).where(events.c.case_id == cases.c.id).scalar_subquery()).where(
    cases.c.id == bindparam("number")
)
_CHOICE = select(
    bindparam("number", type_=NUMBER),
    bindparam("who", type_=Characters),
    bindparam("as", type_=Characters),
    func.coalesce(func.max(parties.c.chosen), 0) + 1,
    bindparam("about", type_=Text),
).where(parties.c.person == bindparam("who", type_=Characters))


@cache
def _opening(dialect: str) -> Prepared:
    """The number of a new case; nothing when its code is in use."""
    new = insert_into(cases, dialect).on_conflict_do_nothing(index_elements=["code"]).returning(cases.c.id)
    return Prepared(new, ("person", "code", "topic", "opened_at"), of=("person",))


@cache
def _changing(dialect: str) -> Prepared:
    """What is counted of a case is to be worked out anew."""
    new = insert_into(summaries, dialect)
    new = new.on_conflict_do_update(index_elements=["case_id"], set_={"changed_at": new.excluded.changed_at})
    return Prepared(new, ("case_id", "changed_at"), of=("case_id",))


@cache
def _joining(dialect: str) -> Prepared:
    """Takes part now, or chooses again."""
    new = insert_into(parties, dialect).from_select(["case_id", "person", "role", "chosen", "body"], _CHOICE)
    chosen = {"chosen": new.excluded.chosen}
    return Prepared(new.on_conflict_do_update(index_elements=["case_id", "person"], set_=chosen), of=("number", "who"))


def goes_with(person: str) -> Select[int]:
    """The numbers of the cases that go with somebody: their own, and those that they opened for somebody else who takes
    no part themselves."""
    other = parties.alias()
    theirs = select(other.c.case_id).where(other.c.case_id == parties.c.case_id, other.c.role == "person")
    alone = and_(parties.c.role == "mentor", ~theirs.exists())
    return select(parties.c.case_id).where(parties.c.person == person, or_(parties.c.role == "person", alone))


def person_hash(cipher: Cipher, name: str) -> str:
    """What a person is stored and looked up by. Raises ValueError unless the name has its channel before it
    (`terminal:me`): the same name on two channels is two people."""
    channel, colon, _ = name.partition(":")
    if not (channel and colon):
        raise ValueError(f"a person is named with the channel, as in 'terminal:me', not {name!r}")
    return cipher.lookup_hash("person", name)


@dataclass(frozen=True, slots=True)
class StoredCase:
    """One case as it was written: `events` are the JSON objects given to `append`, oldest first.

    The next event's number is `len(events)`. `opened_at` is in UTC.
    """

    id: int
    person: str
    code: str
    topic: str
    opened_at: datetime
    events: tuple[Mapping[str, Any], ...]


class View:
    """What can be read, all of it as it stood at one moment. `connection` is for other tables than the cases'.

    `forgot` once something was deleted for good, so that older copies of it must go, too.
    """

    forgot = False

    def __init__(self, connection: Connection, place: Path | str, cipher: Cipher) -> None:
        self.connection = connection
        self.cipher = KeyedCipher(cipher, connection, ROWS)
        self._place = place

    def lookup_hash(self, name: str) -> str:
        """What a person is looked up by (see `person_hash`)."""
        return person_hash(self.cipher, name)

    def current_version(self, person: str) -> tuple[int, int] | None:
        """The number of a person's current case, and how many events it has.

        Events are only ever added, and numbers never used again: as long as both are the same, so is the case.
        """
        row = _CURRENT.first(self.connection, {"who": person})
        return None if row is None else (row[0], row[1])

    def case_by_code(self, code: str) -> StoredCase | None:
        """The case with exactly this code."""
        row = _BY_CODE.first(self.connection, {"code": code})
        return None if row is None else self._case(row)

    def codes_beginning(self, letters: str) -> list[str]:
        """The codes of all cases that begin with these letters, which are letters and figures alone."""
        return list(self.connection.scalars(select(cases.c.code).where(cases.c.code.like(f"{letters}%"))))

    def parties(self, case_id: int) -> dict[str, str]:
        """Who takes part in a case, and as what."""
        found = select(parties.c.person, parties.c.role).where(parties.c.case_id == case_id)
        return {row.person: row.role for row in self.connection.execute(found)}

    def case(self, number: int) -> StoredCase | None:
        """The case with this number."""
        row = _CASE.first(self.connection, {"number": number})
        return None if row is None else self._case(row)

    def code_of(self, number: int) -> str:
        """The code of a case, without reading it; "" for one that is not there."""
        return self.connection.scalar(select(cases.c.code).where(cases.c.id == number)) or ""

    def of_topic(self, topic: str, since: datetime | None = None) -> Iterator[StoredCase]:
        """Every case of a topic, oldest first, one at a time: there may be more than memory should hold. With `since`,
        only those that were begun then or later."""
        numbers = select(cases.c.id).where(cases.c.topic == topic).order_by(cases.c.id)
        numbers = numbers if since is None else numbers.where(cases.c.opened_at >= since)
        yield from self._each(numbers)

    def _each(self, numbers: Select[int]) -> Iterator[StoredCase]:
        """One at a time; a case that was forgotten since it was counted is none of them."""
        yield from filter(None, map(self.case, self.connection.scalars(numbers).all()))

    def _case(self, row: Any) -> StoredCase:
        read = []
        for count, (seq, body) in enumerate(_EVENTS.all(self.connection, {"number": row.id})):
            try:
                event = self.cipher.decrypt_json(body)
            except ValueError as error:
                why = f"event {seq} of case {row.code} cannot be read ({error}): {DAMAGED}"
                raise fault(self._place, why) from error
            if seq != count:
                raise fault(self._place, f"event {count} of case {row.code} is missing: {DAMAGED}")
            read.append(event)
        return StoredCase(row.id, row.person, row.code, row.topic, row.opened_at, tuple(read))


class Transaction(View):
    """What can be read and written; what one transaction writes becomes visible together or not at all.

    `after_commit` is called once everything is on the disk, and never when it is not. `drafts` is for what was made of
    what this transaction wrote, by the person's lookup hash: nobody outside may have it before the commit.
    """

    def __init__(self, connection: Connection, place: Path | str, cipher: Cipher) -> None:
        super().__init__(connection, place, cipher)
        self.after_commit: list[Callable[[], object]] = []
        self.drafts: dict[str, Any] = {}
        #: How many events the cases have that were read: nobody else writes there meanwhile, or the constraints object.
        self._lengths: dict[int, int] = {}

    def current_version(self, person: str) -> tuple[int, int] | None:
        found = super().current_version(person)
        if found is not None:
            self._lengths[found[0]] = found[1]
        return found

    def open_case(
        self, name: str, code: str, topic: str, at: datetime, role: str = "person", about: str | None = None
    ) -> int:
        """A new case without events, of which the person of this name is a party (see `join`); gives its number. Raises
        StoreConflict when the code is in use already."""
        person = self.lookup_hash(name)
        row = {"person": person, "code": code, "topic": topic, "opened_at": at}
        number: int | None = _opening(self.connection.dialect.name).value(self.connection, row)
        if number is None:
            raise StoreConflict(f"{self._place}: the case code {code} is in use; choose another one")
        self._lengths[number] = 0
        self.cipher.new_owner(number, made(self.cipher, self.connection, number))
        self.join(number, person, role, about)
        return number

    def join(self, case_id: int, person: str, role: str, about: str | None = None) -> None:
        """A person takes part in a case from now on, and it becomes their current one; somebody who took part already
        keeps their role. `about` is what is kept of their part, encrypted."""
        row = {"number": case_id, "who": person, "as": role, "about": about}
        _joining(self.connection.dialect.name).change(self.connection, row)

    def append(self, case_id: int, first_seq: int, more: Sequence[Mapping[str, Any]]) -> None:
        """Adds events to a case that held `first_seq` of them when the caller read it.

        Raises StoreConflict when it holds another number now, or was forgotten; ValueError for what is no event.
        """
        checked = list(map(_checked, more))
        held = self._lengths.get(case_id)
        if held is None:
            held = self.connection.scalar(_LENGTH, {"number": case_id})
        if held is None:
            raise StoreConflict(f"{self._place}: case number {case_id} was forgotten meanwhile; begin a new one")
        if held != first_seq:
            raise self._overtaken(case_id)
        if not checked:
            return
        seal = self.cipher.of_case(case_id).encrypt_json
        rows = [{"case_id": case_id, "seq": seq, "body": seal(event)} for seq, event in enumerate(checked, first_seq)]
        try:
            _APPEND.change_all(self.connection, rows)
        except (IntegrityError, self.connection.dialect.loaded_dbapi.IntegrityError) as error:
            raise self._overtaken(case_id) from error
        self._lengths[case_id] = first_seq + len(rows)
        changed = {"case_id": case_id, "changed_at": datetime.fromisoformat(more[-1]["at"])}
        _changing(self.connection.dialect.name).change(self.connection, changed)

    def forget(self, name: str) -> int:
        """Deletes every case of a person's own with its events and photos; gives the number of cases. Where they are a
        mentor, they take no part any more."""
        return self.forget_everything(self.lookup_hash(name))

    def forget_everything(self, person: str) -> int:
        """As `forget`, by the person's hash."""
        self.forgot = True
        self._lengths.clear()
        self.drafts.clear()
        own = tuple(self.connection.scalars(goes_with(person)))
        throw_away(self.connection, self.cipher, person=person, numbers=own)
        deleted = self.connection.execute(delete(cases).where(cases.c.id.in_(own))).rowcount
        self.connection.execute(delete(parties).where(parties.c.person == person))
        return deleted

    def _overtaken(self, case_id: int) -> StoreConflict:
        return StoreConflict(
            f"{self._place}: case number {case_id} was continued elsewhere meanwhile; "
            "read it again and take the turn again"
        )


def _checked(event: Mapping[str, Any]) -> Mapping[str, Any]:
    """An event that may be stored. Raises ValueError unless it has a `kind` and an `at` with its offset from UTC."""
    kind, at = event.get("kind"), event.get("at")
    if not (isinstance(kind, str) and kind):
        raise ValueError(f"an event needs a kind: {event!r}")
    if not isinstance(at, str) or datetime.fromisoformat(at).tzinfo is None:
        raise ValueError(f"event {kind!r} needs `at`, an ISO 8601 time with offset, not {at!r}")
    return event


class Store:
    """An open data folder. Threads may share it; a process that forks must open its own.

    `log_is_due`: something was deleted that is still somewhere on the disk (see `empty_log`).
    """

    def __init__(self, folder: Path, database: Database, key_file: Path) -> None:
        """Opens a database, migrating it if needed; `open_store` sees to the folder and to being alone in it."""
        self.folder = folder
        self.database = database
        self._key_file = key_file
        self.log_is_due = False
        self._engine = database.connections()
        try:
            with self._faults_told():
                held = revision_of(self._engine, database.place)
                # A new key will do for what was never encrypted; what was needs the key that it has.
                encrypted = held is not None and held >= ENCRYPTED_SINCE
                keys = (read_keys if encrypted else read_or_make_keys)(key_file, folder)
                database.set_up(self._engine)
                if held != NEWEST:
                    migrate(database, keys, held)
                    database.drop_remains(self._engine)
                self.cipher = self._cipher(keys, key_file)
        except BaseException:
            self.close()
            raise

    def _faults_told(self) -> AbstractContextManager[None]:
        return faults_told(self.database.place, self.database.words_for)

    def _cipher(self, keys: tuple[bytes, ...], key_file: Path) -> Cipher:
        with self._engine.connect().execution_options(**{READING: True}) as connection:
            encrypted = connection.scalar(select(lookup_key.c.body).where(lookup_key.c.name == "look-up"))
        if encrypted is None:
            raise fault(self.database.place, f"the key of its lookup hashes is missing: {DAMAGED}")
        try:
            return Cipher(keys, bytes.fromhex(Cipher(keys, b"").decrypt(encrypted)))
        except DecryptionError as error:
            raise fault(self.database.place, errors.WRONG_KEY.format(file=key_file)) from error

    @contextmanager
    def begin(self, how: Callable[..., Transaction] = Transaction) -> Iterator[Transaction]:
        """A transaction that writes: committed at the end of the block, undone when the block raises. Nobody else
        writes meanwhile, unless that is `how` it is begun (see `beside`).

        Raises StoreError when the database cannot be written or stays locked for longer than the patience.
        """
        with self._faults_told():
            with self._engine.connect() as connection:
                tx = how(connection, self.database.place, self.cipher)
                with connection.begin():
                    yield tx
            for tell in tx.after_commit:
                tell()
            if tx.forgot:
                self.note_forgotten()
                self.empty_log()

    @contextmanager
    def read(self) -> Iterator[View]:
        """The database as it stands when the first thing is read; never waits for somebody who writes."""
        with (
            self._faults_told(),
            self._engine.connect().execution_options(**{READING: True}) as connection,
            connection.begin(),
        ):
            yield View(connection, self.database.place, self.cipher)

    def note_forgotten(self) -> None:
        """Writes down beside the key file which keys were thrown away (see `forgotten_file`)."""
        note_forgotten(self._engine, self._key_file)

    def empty_log(self) -> bool:
        """Takes away what is left on the disk of what was deleted. Gives False, with `log_is_due` set, while somebody
        reads what stood there before; nobody waits for them here."""
        self.log_is_due = True
        self.log_is_due = not self.database.drop_remains(self._engine, patience=0.0)
        return not self.log_is_due

    def close(self) -> None:
        """Lets go of the database. Closing twice is fine."""
        self._engine.dispose()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()
