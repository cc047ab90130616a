"""The rows of `gauges.yaml`: things whose size everybody knows."""

from triagebot.topics.schema import Id, Millimetres, Row


class Gauge(Row):
    """A thing to compare with: a coin's diameter or a card's side, mm."""

    id: Id
    mm: Millimetres
    source: Id


class Gauges(Row):
    gauges: tuple[Gauge, ...]
