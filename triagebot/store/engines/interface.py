"""What a store needs to know of the database that it lies in, beside what the database library does for it."""

from abc import ABC, abstractmethod
from collections.abc import Mapping
from contextlib import AbstractContextManager
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from sqlalchemy import Column, ColumnElement, Connection, Engine


class Database(ABC):
    """One database. `place` names it in errors; `patience` is how long (s) to wait for another process that writes.

    Nothing here is asked for by a message that is answered plainly, so an engine costs it nothing.
    """

    place: Path | str
    patience: float
    #: Whether it is a file of ours: then it is looked through when it is checked, and what is deleted is overwritten.
    ours: bool
    #: Whether transactions may write beside each other (see `store.beside`).
    side_by_side = False

    def told(self) -> AbstractContextManager[None]:
        """Turns what the database raises inside into a StoreError that says what to do."""
        from triagebot.store.database import faults_told

        return faults_told(self.place, self.words_for)

    # --- before it is opened --------------------------------------------------------------------------------------

    @abstractmethod
    def exists(self) -> bool:
        """Whether there is one; else it is to be made. Raises StoreError when it can be neither made nor used."""

    @abstractmethod
    def made(self) -> AbstractContextManager[None]:
        """Within the block there is one. If it was made for that, it goes again when the block raises."""

    # --- while it is open -----------------------------------------------------------------------------------------

    @abstractmethod
    def connections(self, *, migrating: bool = False) -> "Engine":
        """The connections to it. A transaction that begins with the option `READING` sees one moment and waits for
        nobody; everybody else has the right to write when the transaction begins. A commit is on the disk before it is
        confirmed."""

    def hold(self, connection: "Connection", conversation: str, *, wait: bool) -> bool:
        """Locks a conversation until the end of a transaction that writes beside others; gives whether it is held now.
        With `wait`, waits for whoever holds it."""
        raise NotImplementedError(f"nobody writes beside others in {self.place}")

    def now(self, connection: "Connection") -> datetime:
        """The time, by a clock that all who use this database share."""
        return datetime.now(UTC)

    @abstractmethod
    def words_for(self, error: BaseException) -> str | None:
        """What the user is told about an error from the database. None for an error that is not its fault: a
        broken rule of our own making (a constraint, wrong parameters), or another's error."""

    @abstractmethod
    def set_up(self, engine: "Engine") -> None:
        """What must be so before anything is written."""

    @abstractmethod
    def broken_reference(self, connection: "Connection") -> str | None:
        """A table with rows that point nowhere, after migrating; None if there is none."""

    @abstractmethod
    def drop_remains(self, engine: "Engine", patience: float | None = None) -> bool:
        """Takes away what is left on the disk of what was deleted; gives whether all of it is gone. `patience` (s) is
        for this alone."""

    @abstractmethod
    def numbers_given(self, connection: "Connection") -> dict[str, int]:
        """For each table whose numbers are never used again: the highest that was given out, 0 if none was."""

    @abstractmethod
    def count_on(self, connection: "Connection", given: Mapping[str, int]) -> None:
        """The numbers that are given out from now on are higher than these, of all such tables."""

    def skip_numbers(self, connection: "Connection", further: int) -> None:
        """The numbers that are given out from now on are so much higher."""
        given = self.numbers_given(connection)
        self.count_on(connection, {table: number + further for table, number in given.items()})

    # --- while all of it is moved to another ----------------------------------------------------------------------

    @abstractmethod
    def alone(self) -> "AbstractContextManager[Connection]":
        """A transaction, however long, while no other program has it open. Raises StoreError where one has. What
        points from row to row is not looked at meanwhile."""

    @abstractmethod
    def sorted_by(self, column: "Column[Any]") -> "ColumnElement[Any]":
        """The column as rows are sorted by it, in the same order on every database."""

    # --- for those who watch --------------------------------------------------------------------------------------

    @abstractmethod
    def identity(self) -> object:
        """What tells it from another database that was put in its place; None while it is out of reach."""

    @abstractmethod
    def check(self) -> None:
        """Raises StoreError when it is damaged, or out of reach."""

    @abstractmethod
    def size(self) -> int:
        """Bytes on the disk."""


def counted_tables() -> tuple[str, ...]:
    """The tables whose numbers are never used again."""
    from triagebot.store.tables import metadata

    return tuple(table.name for table in metadata.sorted_tables if table.dialect_options["sqlite"]["autoincrement"])
