"""The fixed chart: it believes every answer, keeps what is nearest, tries once more on nonsense, then hands over."""

from collections.abc import Callable, Iterable, Mapping

import pytest

from tests.strategies import rear_sprockets
from triagebot.identify import ChoiceReading, CountReading, Reading, SizeReading, UnsureReading
from triagebot.study.chart import follow_chart
from triagebot.topics import Question, TrueSize

TOPIC = rear_sprockets()

STAYS, TURNS = ChoiceReading("spin", "stays"), ChoiceReading("spin", "turns")
SPLINES, NOTCHES = ChoiceReading("fitting", "splines"), ChoiceReading("fitting", "notches")
OUTER, UNKNOWN = ChoiceReading("fitting", "outer-notches"), ChoiceReading("fitting", "never-listed")


def count(n: int) -> CountReading:
    return CountReading("count", n, n)


def mm(size: float) -> SizeReading:
    return SizeReading("size", size)


def says(answers: Iterable[Reading]) -> Callable[[Question], Reading]:
    """Answers in order, each of which must be of the question that the chart asks."""
    waiting = iter(answers)

    def ask(question: Question) -> Reading:
        answer = next(waiting)
        assert answer.question == question.id
        return answer

    return ask


def by_heart(truth: Mapping[str, Reading]) -> Callable[[Question], Reading]:
    return lambda question: truth[question.id]


def test_the_chart_asks_in_its_own_order() -> None:
    assert TOPIC.flow.chart.order == ("spin", "fitting", "count", "size")
    assert TOPIC.flow.chart.retries == 1


@pytest.mark.parametrize(
    ("answers", "named"),
    [
        pytest.param([STAYS, SPLINES, count(20)], "freewheel-20-spline", id="twenty splines need no measuring"),
        pytest.param([STAYS, NOTCHES, count(2), mm(25.0)], "freewheel-2-notch", id="two notches as wide as a body"),
        pytest.param([STAYS, NOTCHES, count(4), mm(31.2)], "freewheel-4-notch-32", id="nearest of three sizes"),
        pytest.param([STAYS, NOTCHES, count(4), mm(27.0)], "freewheel-4-notch-24", id="three millimetres away"),
        pytest.param([STAYS, SPLINES, count(19)], "freewheel-20-spline", id="one spline missed"),
        pytest.param([TURNS, SPLINES, count(12), mm(22.9)], "cassette-12-spline-deep", id="believes tenths"),
        pytest.param([STAYS, SPLINES, count(99), count(20)], "freewheel-20-spline", id="one retry"),
        pytest.param(
            [UnsureReading("spin"), STAYS, SPLINES, count(20)], "freewheel-20-spline", id="not known, then known"
        ),
    ],
)
def test_what_the_chart_names(answers: list[Reading], named: str) -> None:
    end = follow_chart(TOPIC, says(answers))

    assert end.fastening is not None
    assert end.fastening.id == named
    assert end.questions == len(answers)


@pytest.mark.parametrize(
    "answers",
    [
        pytest.param([UnsureReading("spin"), UnsureReading("spin")], id="not known twice"),
        pytest.param([STAYS, UNKNOWN, UNKNOWN], id="nothing has such a fitting, twice"),
        pytest.param([STAYS, OUTER], id="outer notches on what stays take no remover"),
        pytest.param([STAYS, NOTCHES, count(2), mm(17.0)], id="two flats as narrow as a locknut"),
        pytest.param([STAYS, NOTCHES, count(14), count(15)], id="no such count, twice"),
        pytest.param([STAYS, NOTCHES, count(3)], id="no remover is known for it"),
        pytest.param([STAYS, NOTCHES, count(4), mm(50.0), mm(60.0)], id="no such size, twice"),
        pytest.param([STAYS, SPLINES, count(12), mm(20.1)], id="no remover is sold for it"),
    ],
)
def test_when_the_chart_hands_over(answers: list[Reading]) -> None:
    end = follow_chart(TOPIC, says(answers))

    assert end.fastening is None
    assert end.questions == len(answers)


def test_truthful_answers_lead_the_chart_to_most_freewheels() -> None:
    """It is a fair yardstick: with nobody erring, every freewheel that has a remover comes out right."""
    for name in (f.id for f in TOPIC.catalogue.fastenings if f.system == "freewheel" and f.remover):
        fastening = TOPIC.fastenings[name]
        size = fastening.answers["size"]
        assert isinstance(size, TrueSize)
        truth: dict[str, Reading] = {
            "spin": STAYS,
            "fitting": ChoiceReading("fitting", str(fastening.answers["fitting"])),
            "count": count(int(str(fastening.answers["count"]))),
            "size": mm(float(size.mm or 0)),
        }
        end = follow_chart(TOPIC, by_heart(truth))

        assert end.fastening == fastening
