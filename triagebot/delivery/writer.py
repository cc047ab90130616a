"""What is put on the disk: the one thread that writes there, and the journal of the receipts that it has yet to write.

The writer: jobs are posted to it, and answered once what they wrote is on the disk. Urgent ones are done first, and as
many in a transaction as a slice of time allows, since a commit costs the same for one as for many. If one of them
raises, the transaction is undone and each is done again in one of its own: so it harms no other. A job must therefore
stand being done twice. What is to be done instead of a job that cannot be done is done in its place, before any job
behind it.

Where several processes may write at once (`Database.side_by_side`), a job that says which conversation it is about is
done beside those of other processes, with that conversation locked (see `store.beside`). If it turns out to touch
more, the transaction is undone, and the job is done alone in its place.

Whose turn it is: within a conversation, jobs are done in the order in which they were posted. Between conversations,
each has one job done before any has its next. A conversation with more than `MANY` jobs waiting is crowded until none
is left, and crowded ones take turns with the rest: after a round of everybody else's comes a round with one job of each
crowded one. A round is a transaction, so somebody who writes one message waits for one job of each flood at most.

The journal holds the receipts of messages that went out and whose receipt is not in the outbox yet. Writing "sent" into
the database takes a commit, some milliseconds in which a crash would leave it unknown whether a message went out. So
its number and receipt are appended to a file at once, which takes microseconds: what is appended outlives the process
that did it (a power cut it may not; then the outbox has the last word, and the message counts as unknown). The file is
emptied whenever everything in it is in the outbox as well. A line is the number and the receipt, encrypted as it will
be in the outbox: one that a crash cut short cannot be decrypted. The file keeps the name that it has had from the first
version on, so that an upgrade reads what was left.
"""

import os
import threading
import time
from collections import OrderedDict, deque
from collections.abc import Callable, Mapping
from concurrent.futures import Future
from contextlib import AbstractContextManager, suppress
from contextvars import copy_context
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any, Generic, TypeVar

from triagebot.errors import StoreError
from triagebot.store.beside import Beside, NeedsAlone, begin_beside
from triagebot.store.encryption import Cipher, DecryptionError
from triagebot.store.whole_file import write_whole

if TYPE_CHECKING:
    from triagebot.store import Store, Transaction

T = TypeVar("T")

#: So many jobs of one conversation wait at most before it is crowded: a person who types and presses, an album.
MANY = 3
#: Seconds for which jobs are taken into a transaction: how long the first of them waits for the others at most.
SLICE = 0.02


class FairQueue(Generic[T]):
    """Jobs by conversation; those of "" belong to none, and are never crowded. For one thread at a time."""

    def __init__(self, many: int = MANY) -> None:
        self._many = many
        self._few: OrderedDict[str, deque[T]] = OrderedDict()
        self._crowded: OrderedDict[str, deque[T]] = OrderedDict()
        self._crowd, self._left = False, 0

    def __bool__(self) -> bool:
        return bool(self._few or self._crowded)

    def __len__(self) -> int:
        return len(self._few) + len(self._crowded)

    def put(self, job: T, conversation: str = "") -> None:
        """Adds a job behind all others of its conversation."""
        if (line := self._crowded.get(conversation)) is not None:
            line.append(job)
            return
        line = self._few.setdefault(conversation, deque())
        line.append(job)
        if conversation and len(line) > self._many:
            self._crowded[conversation] = self._few.pop(conversation)

    def begin_round(self) -> None:
        """Chooses whose round is next; `take` gives the jobs of that round."""
        self._crowd = bool(self._crowded) and not (self._few and self._crowd)
        self._left = len(self._crowded) if self._crowd else 0

    def take(self) -> T | None:
        """The next job of this round; None at its end."""
        if not self._crowd:
            return self._pop(self._few)
        if not self._left:
            return None
        self._left -= 1
        return self._pop(self._crowded)

    @staticmethod
    def _pop(lines: OrderedDict[str, deque[T]]) -> T | None:
        """A job of the conversation whose turn it is; its next one comes after everybody else's."""
        if not lines:
            return None
        conversation, line = lines.popitem(last=False)
        job = line.popleft()
        if line:
            lines[conversation] = line
        return job


@dataclass(eq=False, slots=True)
class _Job:
    work: Callable[["Transaction"], Any]
    instead: Callable[[Exception], Callable[["Transaction"], Any]] | None
    #: The hash of the conversation that it is about; None for a job that has to be done alone.
    of: str | None = None
    #: It is left where somebody else holds that conversation.
    lazy: bool = False
    future: "Future[Any]" = field(default_factory=Future)


class Held(Exception):  # noqa: N818 - says what happened, and is caught to go on
    """A lazy job was called off: another process holds its conversation."""


class Writer:
    """Begins to write at once, and ends with `close`."""

    def __init__(self, store: "Store", slice_: float = SLICE) -> None:
        self.commits = 0
        self._store = store
        self._slice = slice_
        self._beside = store.database.side_by_side
        #: What was begun and is to be done again, before all else.
        self._again: deque[_Job] = deque()
        self._urgent: deque[_Job] = deque()
        self._posted: FairQueue[_Job] = FairQueue()
        self._change = threading.Condition()
        self._closing = False
        # what it logs is of the branch that it was begun for
        self._thread = threading.Thread(target=copy_context().run, args=(self._run,), name="writer", daemon=True)
        self._thread.start()

    def post(
        self,
        work: "Callable[[Transaction], T]",
        *,
        instead: "Callable[[Exception], Callable[[Transaction], T]] | None" = None,
        urgent: bool = False,
        conversation: str = "",
        of: str | None = None,
        lazy: bool = False,
    ) -> "Future[T]":
        """Has `work` done in a transaction. The future gives what it gives, once that is committed, or what it raises.
        Jobs of one `conversation` keep their order. What is only about one, `of` this hash, may be done beside others;
        if it is `lazy`, and another process holds that conversation, it is called off.

        When it raises, and `instead` is given, that is asked with the error for another job in its place.
        Raises StoreError when the writer was closed.
        """
        job = _Job(work, instead, of if self._beside else None, lazy)
        with self._change:
            if self._closing:
                raise StoreError("the delivery is closed; nothing more is taken in")
            if urgent:
                self._urgent.append(job)
            else:
                self._posted.put(job, conversation)
            self._change.notify()
        return job.future

    @property
    def alive(self) -> bool:
        """Whether what is posted will be done."""
        return self._thread.is_alive() and not self._closing

    def close(self) -> None:
        """Finishes what was posted, then ends."""
        with self._change:
            self._closing = True
            self._change.notify()
        self._thread.join()

    @property
    def waiting(self) -> int:
        """How many jobs wait, more or less. Any thread may ask."""
        return len(self._urgent) + len(self._posted)

    def _next(self) -> _Job | None:
        """A job of this round that nobody has called off meanwhile."""
        if self._again:
            return self._again.popleft()
        while True:
            with self._change:
                job = self._urgent.popleft() if self._urgent else self._posted.take()
            if job is None:
                return None
            if job.future.set_running_or_notify_cancel():
                return job

    def _run(self) -> None:
        while True:
            with self._change:
                self._change.wait_for(lambda: self._again or self._urgent or self._posted or self._closing)
                if self._closing and not (self._again or self._urgent or self._posted):
                    return
                if not self._again:
                    self._posted.begin_round()
            first = self._next()
            if first is not None:
                self._together(first)

    def _together(self, first: _Job) -> None:
        """As many jobs as there is time for, in one transaction."""
        jobs: list[_Job] = []
        results: list[Any] = []
        end = time.monotonic() + self._slice
        job: _Job | None = first
        try:
            with self._begin(first) as tx:
                while job is not None and self._fits(tx, job, first):
                    if job.future.running():
                        jobs.append(job)
                        results.append(job.work(tx))
                    job = self._next() if time.monotonic() < end else None
        except NeedsAlone:
            jobs[-1].of = None
            self._again.extendleft(reversed(jobs))
            return
        except Exception as error:
            if len(jobs) > 1:
                for each in jobs:
                    self._alone(each)
            elif jobs or first.future.running():
                self._instead(jobs[0] if jobs else first, error)
            return
        self.commits += 1
        for each, result in zip(jobs, results, strict=True):
            each.future.set_result(result)

    def _begin(self, job: _Job) -> "AbstractContextManager[Transaction]":
        return self._store.begin() if job.of is None else begin_beside(self._store)

    def _fits(self, tx: "Transaction", job: _Job, first: _Job) -> bool:
        """Whether a job is done in this transaction; else it comes first in the next one."""
        if not isinstance(tx, Beside):
            return True
        if job.of is not None and tx.hold(job.of, wait=job is first and not job.lazy):
            return True
        if job.lazy and job.of is not None:
            job.future.set_exception(Held())
            return True
        self._again.appendleft(job)
        return False

    def _alone(self, job: _Job) -> None:
        try:
            result = self._commit(job.work)
        except Exception as error:
            self._instead(job, error)
        else:
            job.future.set_result(result)

    def _instead(self, job: _Job, error: Exception) -> None:
        if job.instead is None:
            job.future.set_exception(error)
            return
        try:
            result = self._commit(job.instead(error))
        except Exception as worse:
            job.future.set_exception(worse)
        else:
            job.future.set_result(result)

    def _commit(self, work: "Callable[[Transaction], T]") -> T:
        with self._store.begin() as tx:
            result = work(tx)
        self.commits += 1
        return result


JOURNAL = "desk.sent"
#: The file is emptied only when it has grown to this (bytes): to do so every time would cost more than it saves.
_LARGE = 65_536


class ReceiptJournal:
    """One file in the data folder, for the one delivery there."""

    def __init__(self, folder: Path, cipher: Cipher) -> None:
        """Raises OSError when the file cannot be opened."""
        self._cipher = cipher
        self._handle = os.open(folder / JOURNAL, os.O_CREAT | os.O_RDWR | os.O_APPEND | os.O_CLOEXEC, 0o600)
        self._noted = 0
        self._size = 0
        self._due = False

    def left_behind(self) -> dict[int, dict[str, Any]]:
        """The receipts that a crash left here, by number of the message; what cannot be read is passed over."""
        os.lseek(self._handle, 0, os.SEEK_SET)
        found: dict[int, dict[str, Any]] = {}
        with os.fdopen(os.dup(self._handle), "rb") as stream:
            for line in stream:
                with suppress(DecryptionError, ValueError):  # the last line, which the crash cut short
                    number, encrypted = line.decode().split()
                    found[int(number)] = self._cipher.decrypt_json(encrypted)
        return found

    def note(self, number: int, receipt: Mapping[str, Any]) -> str:
        """Notes that a message went out; gives its receipt, encrypted, for the outbox, which is written next. So a disk
        that refuses is no reason to stop."""
        encrypted = self._cipher.encrypt_json(receipt)
        self._noted += 1
        with suppress(OSError):
            self._size += os.write(self._handle, f"{number} {encrypted}\n".encode())
        return encrypted

    def done(self, *, forgotten: bool = False) -> None:
        """One of the messages that were noted is in the outbox as sent, or went from there with the person who is
        forgotten: then the file is emptied as soon as may be."""
        self._noted -= 1
        self._due = self._due or forgotten
        if not self._noted and (self._due or self._size > _LARGE):
            self.clear()

    def clear(self) -> None:
        """Everything in the journal is in the outbox."""
        os.ftruncate(self._handle, 0)
        self._size = 0
        self._due = False

    def close(self) -> None:
        os.close(self._handle)


def reencrypt_receipts(folder: Path, cipher: Cipher) -> int:
    """Encrypts what a crash left in the journal with the first key; gives the number of receipts. No delivery may be at
    work on the folder. Raises OSError."""
    path, lines, done = folder / JOURNAL, list[str](), 0
    for line in path.read_text("ascii", "replace").splitlines() if path.exists() else ():
        number, _, encrypted = line.partition(" ")
        try:
            lines.append(f"{number} {cipher.reencrypt(encrypted)}\n")
        except DecryptionError:  # as when the delivery reads it
            continue
        done += 1
    if done:
        write_whole(path, "".join(lines).encode("ascii"))
    return done
