"""How many simulated people the planner meets in a second; the least asked for keeps a study of thousands bearable."""

import pytest

from tests.bench.clocks import Times
from tests.bench.conftest import Figures
from triagebot.study.people import draw_person, profile_named
from triagebot.study.simulate import meet_planner
from triagebot.topics import Topic

pytestmark = pytest.mark.campaign

PEOPLE = 200
LEAST = 40


def test_people_a_second(topic: Topic, figures: Figures) -> None:
    people = [draw_person(topic, number, 1, profile_named("household")) for number in range(PEOPLE)]
    for person in people[:5]:
        meet_planner(topic, person)
    times = Times()
    for person in people:
        times.run(lambda person=person: meet_planner(topic, person))  # type: ignore[misc]
    a_second = 1000 * PEOPLE / sum(times.processor)
    figures("simulated people", f"{a_second:.0f} a second; one: {times}", f">= {LEAST} a second")
    assert a_second >= LEAST
