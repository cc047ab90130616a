"""What a review is made from: numbers by name, so that those of many cases are the sum of those of each.

Rules of this file:
- what is counted has a name of words with a slash between them ("asked/count"); `review` reads these names;
- a block of cases is counted once, and again when a case in it has changed, or the topic (`store.totals`);
- only a block is kept in which nobody was heard of for `QUIET`: until then somebody may still go on, and later not;
- whatever is told is the same as if each case had been counted by itself.
"""

import logging
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from itertools import takewhile
from typing import TYPE_CHECKING, Any

from triagebot.cases.runs import Run
from triagebot.cases.summaries import kept_runs
from triagebot.conversation import edition
from triagebot.errors import StoreError
from triagebot.identify import UnsureReading
from triagebot.store.staff import Staff
from triagebot.store.summaries import Summaries
from triagebot.store.totals import Block, Totals, keep
from triagebot.study.findings import Finding, contradicted, finding_of, first_answers
from triagebot.study.learning import scored_slips, seen_in, taught_by
from triagebot.topics import Topic

if TYPE_CHECKING:
    from triagebot.store import Store, View

log = logging.getLogger(__name__)

QUIET = timedelta(hours=24)
#: Lower edges of the bins of the reliability diagram; fine where answers are given.
EDGES = (0.0, 0.2, 0.4, 0.6, 0.8, 0.9, 0.95, 0.985)
#: To be raised when something is counted otherwise: then nothing that was kept before is good any more.
COUNTED_AS = 1
#: Blocks that are put down in one transaction.
_AT_ONCE = 16

#: Numbers by name: most count something, a few are sums of shares.
Numbers = Counter[str]


@dataclass(frozen=True, slots=True)
class Judging:
    """By what closed cases are judged: `shipped` is the topic with its own figures, `used` the one with what was
    learned so far."""

    shipped: Topic
    used: Topic

    @property
    def name(self) -> str:
        return f"{COUNTED_AS} {self.shipped.digest} {self.used.digest}"


def band_name(low: float, high: float) -> str:
    return f"{low:g}–{min(high, 1):g}"


def bins() -> Iterator[tuple[str, float, float]]:
    for low, high in zip(EDGES, (*EDGES[1:], 2.0), strict=True):
        yield band_name(low, high), low, high


def bands(topic: Topic) -> Iterator[tuple[str, float, float]]:
    """The words in which people heard how certain an answer was, and from which share on."""
    found = topic.flow.outcomes.bands
    edges = (0.0, found.fairly_sure, found.sure, 2.0)
    yield from zip(("likely", "fairly-sure", "sure"), edges, edges[1:], strict=False)


def numbers(runs: Iterable[Run], judging: Judging, now: datetime) -> Numbers:
    """What is counted of these runs."""
    found: Numbers = Counter()
    for run in runs:
        found["runs"] += 1
        found.update(f"asked/{question}" for question in run.asked)
        found.update(f"answered/{reading.question}" for reading in run.said)
        found.update(f"unsure/{reading.question}" for reading in run.said if isinstance(reading, UnsureReading))
        found.update(f"taken-back/{question}" for question in run.taken_back)
        if run.closed is not None:
            _closed(found, run, judging)
        elif run.outcome == "stopped":
            found[f"stopped/{run.open or ''}"] += 1
        elif run.outcome is None and now - run.touched >= QUIET:
            found[f"left/{run.open or ''}"] += 1
    return found


def _closed(found: Numbers, run: Run, judging: Judging) -> None:
    finding, lesson = finding_of(run, judging.used), finding_of(run, judging.shipped)
    assert finding is not None
    assert lesson is not None, "it is closed"
    found["closed"] += 1
    found["elsewhere"] += run.edition != edition(judging.used.digest)
    found["misfits"] += finding.misfit
    found[f"verdict//{finding.verdict}"] += 1
    if finding.fastening is not None:
        found[f"verdict/{finding.fastening}/{finding.verdict}"] += 1
    if run.outcome == "answer":
        _stated(found, "band", finding, bands(judging.used))
    _stated(found, "bin", finding, bins())
    for question, reading in first_answers(run).items():
        verdict = contradicted(judging.used, reading, finding.truth)
        if verdict is not None:
            found[f"judged/{question}"] += 1
            found[f"against/{question}"] += verdict
    # judged by what was learned before, a remover that fitted would teach the same lesson again each time
    _add(found, "seen", seen_in((lesson,)))
    _add(found, "taught", taught_by((lesson,)))
    for question, (wrong, of) in scored_slips(judging.shipped, (lesson,)).items():
        _add(found, "slips", {f"{question}/wrong": wrong, f"{question}/of": of})


def _stated(found: Numbers, kind: str, finding: Finding, edges: Iterable[tuple[str, float, float]]) -> None:
    for name, low, high in edges:
        if finding.stated is not None and low <= finding.stated < high:
            _add(found, f"{kind}/{name}", {"cases": 1, "stated": finding.stated, "true": bool(finding.correct)})


def _add(found: Numbers, kind: str, more: Mapping[str, float]) -> None:
    for name, number in more.items():
        found[f"{kind}/{name}"] += number  # type: ignore[assignment] # a sum of shares


# --- of every case that is kept ---------------------------------------------------------------------------------------


@dataclass(slots=True)
class _Spanned:
    """Runs that are gone through, with the span of time in which something happened last in each."""

    runs: Iterable[Run]
    first: datetime | None = None
    last: datetime | None = None
    touched: datetime | None = None

    def __iter__(self) -> Iterator[Run]:
        for run in self.runs:
            last = run.last
            self.first = last if self.first is None else min(self.first, last)
            self.last = last if self.last is None else max(self.last, last)
            self.touched = run.touched if self.touched is None else max(self.touched, run.touched)
            yield run


def counted(
    store: "Store",
    judging: Judging,
    now: datetime,
    since: datetime | None = None,
    told: Callable[[int, int], None] = lambda done, of: None,
    go_on: Callable[[], bool] = lambda: True,
) -> Numbers:
    """What is counted of every stored case of a topic in which anything happened, or that was closed, `since` then.
    What had to be counted anew is put down for the next time. `told` hears how far it is; it ends where it does not
    `go_on`."""
    counting, whole, done = _Counting(judging, now, since), Numbers(), 0
    with store.read() as view:
        number = Summaries(view).number_of(counting.topic)
        staff = [member.person for member in Staff(view).members()]
        kept = Totals(view, counting.topic, staff, judging.name)
        for block in takewhile(lambda _: go_on(), kept.blocks()):
            told(done, number)
            done += len(block.cases)
            whole.update(counting.of(view, kept, block))
            if len(counting.new) >= _AT_ONCE:
                counting.put_down(store)
        emptied = kept.emptied()
    counting.put_down(store, emptied)
    return whole


@dataclass(slots=True)
class _Counting:
    """Goes through the blocks; `new` are those to be put down."""

    judging: Judging
    now: datetime
    since: datetime | None
    new: list[tuple[Block, Mapping[str, Any]]] = field(default_factory=list)

    @property
    def topic(self) -> str:
        return self.judging.shipped.id

    def of(self, view: "View", kept: Totals, block: Block) -> Numbers:
        held = kept.kept(block)
        if held is not None and self._quiet(held):
            if self.since is None or _reaches(held["first"], self.since):
                return Counter(held["numbers"])
            if not _reaches(held["last"], self.since):
                return Counter()
        runs = _Spanned(kept_runs(view, self.topic, self.since, (block.cases[0], block.cases[-1])))
        found = numbers(runs, self.judging, self.now)
        moments = {name: getattr(runs, name) for name in ("first", "last", "touched")}
        new = {"numbers": found, **{name: at and at.isoformat() for name, at in moments.items()}}
        if self.since is None and block.whole and self._quiet(new):
            self.new.append((block, new))
        return found

    def put_down(self, store: "Store", emptied: tuple[int, ...] = ()) -> None:
        """What cannot be put down is counted again the next time."""
        try:
            if self.new or emptied:
                with store.begin() as tx:
                    keep(tx, self.topic, self.new, emptied)
        except StoreError as error:
            log.warning("what was counted cannot be kept: %s", error)
        self.new.clear()

    def _quiet(self, held: Mapping[str, Any]) -> bool:
        """Whether nobody was heard of for so long that nothing depends on the time any more."""
        return not _reaches(held["touched"], self.now - QUIET, after=True)


def _reaches(moment: str | None, since: datetime, *, after: bool = False) -> bool:
    """Whether a moment, if there is one, is `since` then (or `after` it)."""
    if moment is None:
        return False
    at = datetime.fromisoformat(moment)
    return at > since if after else at >= since
