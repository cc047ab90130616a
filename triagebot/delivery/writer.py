"""The one thread that writes: jobs are posted to it, and answered once what they wrote is on the disk.

Rules of this file: jobs are done in the order in which they were posted (urgent ones first), as many in a transaction
as a slice of time allows, since a commit costs the same for one as for many. If one of them raises, the transaction is
undone and each is done again in one of its own: so it harms no other. A job must therefore stand being done twice.
What is to be done instead of a job that cannot be done is done in its place, before any job behind it.
"""

import threading
import time
from collections import deque
from collections.abc import Callable
from concurrent.futures import Future
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, TypeVar

from triagebot.errors import StoreError

if TYPE_CHECKING:
    from triagebot.store import Store, Transaction

T = TypeVar("T")

#: Seconds for which jobs are taken into a transaction: how long the first of them waits for the others at most.
SLICE = 0.02


@dataclass(eq=False, slots=True)
class _Job:
    work: Callable[["Transaction"], Any]
    instead: Callable[[Exception], Callable[["Transaction"], Any]] | None
    future: "Future[Any]" = field(default_factory=Future)


class Writer:
    """Begins to write at once, and ends with `close`."""

    def __init__(self, store: "Store", slice_: float = SLICE) -> None:
        self.commits = 0
        self._store = store
        self._slice = slice_
        self._urgent: deque[_Job] = deque()
        self._posted: deque[_Job] = deque()
        self._change = threading.Condition()
        self._closing = False
        self._thread = threading.Thread(target=self._run, name="writer", daemon=True)
        self._thread.start()

    def post(
        self,
        work: "Callable[[Transaction], T]",
        *,
        instead: "Callable[[Exception], Callable[[Transaction], T]] | None" = None,
        urgent: bool = False,
    ) -> "Future[T]":
        """Has `work` done in a transaction. The future gives what it gives, once that is committed, or what it raises.

        When it raises, and `instead` is given, that is asked with the error for another job in its place.
        Raises StoreError when the writer was closed.
        """
        job = _Job(work, instead)
        with self._change:
            if self._closing:
                raise StoreError("the delivery is closed; nothing more is taken in")
            (self._urgent if urgent else self._posted).append(job)
            self._change.notify()
        return job.future

    def close(self) -> None:
        """Finishes what was posted, then ends."""
        with self._change:
            self._closing = True
            self._change.notify()
        self._thread.join()

    def _next(self) -> _Job | None:
        """A job that nobody has called off meanwhile."""
        while True:
            try:
                job = (self._urgent or self._posted).popleft()
            except IndexError:
                return None
            if job.future.set_running_or_notify_cancel():
                return job

    def _run(self) -> None:
        while True:
            with self._change:
                self._change.wait_for(lambda: self._urgent or self._posted or self._closing)
                if self._closing and not (self._urgent or self._posted):
                    return
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
            with self._store.begin() as tx:
                while job is not None:
                    jobs.append(job)
                    results.append(job.work(tx))
                    job = self._next() if time.monotonic() < end else None
        except Exception as error:
            if len(jobs) > 1:
                for each in jobs:
                    self._alone(each)
            else:
                self._instead(first, error)
            return
        self.commits += 1
        for each, result in zip(jobs, results, strict=True):
            each.future.set_result(result)

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
