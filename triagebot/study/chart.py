"""The fixed chart, the yardstick: its questions in order, the nearest listed value, one retry on nonsense.

It is what a printed table does: it believes every answer, keeps what is listed, and hands over when nothing is left.
"""

from collections.abc import Callable
from dataclasses import dataclass
from math import inf

from triagebot.identify import ChoiceReading, CountReading, Reading, SizeReading
from triagebot.topics import Fastening, Question, Topic, TrueSize

#: Further from every listed value than this is nonsense to the chart: items counted, mm measured.
COUNT_REACH, SIZE_REACH = 1, 3.0

Ask = Callable[[Question], Reading]


@dataclass(frozen=True, slots=True)
class ChartEnd:
    """How the chart ended: the fastening it names, or None where it hands over."""

    fastening: Fastening | None
    questions: int


def follow_chart(topic: Topic, ask: Ask) -> ChartEnd:
    """Ask in the chart's order until one remover is left or nothing fits."""
    kept = tuple(f for f in topic.catalogue.fastenings if not f.broad)
    asked = 0
    for question_id in topic.flow.chart.order:
        question = topic.questions[question_id]
        if not any(question_id in f.answers for f in kept):
            continue
        for _ in range(topic.flow.chart.retries + 1):
            asked += 1
            narrowed = _keep(kept, ask(question))
            if narrowed:
                break
        if not narrowed:
            return ChartEnd(None, asked)
        kept = narrowed
        if len({(f.remover, f.direction) for f in kept}) == 1:
            break
    named = kept[0]
    return ChartEnd(named if named.remover else None, asked)


def _keep(fastenings: tuple[Fastening, ...], reading: Reading) -> tuple[Fastening, ...]:
    question = reading.question
    if isinstance(reading, ChoiceReading):
        return tuple(f for f in fastenings if reading.choice in f.listed(question))
    if isinstance(reading, CountReading):
        reach: float = COUNT_REACH
        distances = [min((abs(int(n) - reading.low) for n in f.listed(question)), default=inf) for f in fastenings]
    elif isinstance(reading, SizeReading):
        reach = SIZE_REACH
        distances = [_distance(f.size(question), reading.mm) for f in fastenings]
    else:
        return ()
    nearest = min(distances, default=inf)
    kept = zip(fastenings, distances, strict=True)
    return tuple(f for f, distance in kept if distance == nearest) if nearest <= reach else ()


def _distance(size: TrueSize | None, mm: float) -> float:
    if size is None:
        return inf
    low, high = size.span
    return max(low - mm, mm - high, 0.0)
