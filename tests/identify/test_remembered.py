"""What is remembered is the same as what is worked out, cannot be written to, and can be forgotten."""

import numpy as np
import pytest

from triagebot.identify import ChoiceReading, belief
from triagebot.identify.remembered import forget, remembered
from triagebot.topics import built_in_topic, load_topic


def test_worked_out_once_until_forgotten() -> None:
    calls = []

    @remembered
    def work(model: object, values: tuple[int, ...]) -> int:
        calls.append(values)
        return sum(values)

    model = object()
    assert [work(model, [1, 2]), work(model, (1, 2)), work(model, [3])] == [3, 3, 3]
    assert calls == [(1, 2), (3,)]
    forget()
    assert work(model, [1, 2]) == 3
    assert len(calls) == 3


def test_a_shared_belief_cannot_be_written_to() -> None:
    model = load_topic(built_in_topic()).model
    said = [ChoiceReading("spin", "stays")]
    first = belief(model, said)
    with pytest.raises(ValueError, match="read-only"):
        first[0] = 1.0
    forget()
    assert np.array_equal(belief(model, said), first)
