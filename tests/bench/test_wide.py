"""How planning and turns grow with the catalogue: 160 fastenings at most 12 times, 1,600 at most 30 times."""

from itertools import islice

import pytest

from tests.bench.clocks import Times
from tests.bench.conftest import Figures
from tests.bench.talks import hold
from tests.bench.wide import wide_guide
from triagebot.conversation import Guide
from triagebot.conversation.machine import askable
from triagebot.identify import Candidate, ChoiceReading, CountReading, Model, Reading, SizeReading, plan

#: Fastenings in all, and how many times the time of the built-in catalogue they may take.
BOUNDS = {160: 12, 1600: 30}
#: What is known at each of the plans that are measured.
READINGS: tuple[tuple[Reading, ...], ...] = (
    (),
    (ChoiceReading("spin", "stays"),),
    (ChoiceReading("spin", "turns"), ChoiceReading("fitting", "splines"), CountReading("count", 12, 12)),
    (SizeReading("size", 24.0, means="rule"), CountReading("count", 4, 4)),
    (
        SizeReading("size", 23.4, 0.5, "calliper"),
        SizeReading("size", 24.1, means="rule"),
        CountReading("count", 11, 12),
    ),
)


def _plans(model: Model, candidates: list[Candidate], rounds: int) -> Times:
    times = Times()
    for _ in range(rounds):
        for readings in READINGS:
            times.run(lambda readings=readings: plan(model, readings, candidates))  # type: ignore[misc]
    return times


@pytest.fixture(scope="module", params=BOUNDS, ids=lambda wide: f"{wide}-fastenings")
def wide(request: pytest.FixtureRequest, guide: Guide, tmp_path_factory: pytest.TempPathFactory) -> tuple[int, Guide]:
    width: int = request.param
    return width, wide_guide(guide.topic, width, tmp_path_factory.mktemp(f"wide-{width}"))


def test_planning(guide: Guide, wide: tuple[int, Guide], figures: Figures) -> None:
    width, wider = wide
    candidates = [Candidate(q.id, q.price) for q, _ in askable(guide.topic) if q.purpose == "identify"]
    assert len(wider.topic.model.fastenings) == width
    for each in (guide, wider):
        _plans(each.topic.model, candidates, 3)
    narrow, broad = _plans(guide.topic.model, candidates, 30), _plans(wider.topic.model, candidates, 10)
    _compare("plan", width, narrow, broad, figures)


def test_whole_turns(guide: Guide, wide: tuple[int, Guide], figures: Figures) -> None:
    width, wider = wide
    narrow, broad = Times(), Times()
    for each in (guide, wider):
        for _ in islice(hold(each, Times()), 2):  # what is compiled once does not count
            pass
    for _ in range(3):
        list(hold(guide, narrow))
    list(hold(wider, broad))
    _compare("turn", width, narrow, broad, figures)


def _compare(what: str, width: int, narrow: Times, broad: Times, figures: Figures) -> None:
    times = broad.median / narrow.median
    bound = BOUNDS[width]
    figures(f"{what}, {width} fastenings", f"{broad}: {times:.1f} times {narrow.median:.2f} ms", f"<= {bound} times")
    assert times <= bound
