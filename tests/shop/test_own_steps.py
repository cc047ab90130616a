"""Steps of the work in a note's head: in the shop's own words, at steps that the topic has."""

from collections.abc import Callable
from pathlib import Path

import pytest

from triagebot.errors import DataError
from triagebot.shop import load_shop, steps_of_notes
from triagebot.topics import Topic

Edit = Callable[[str, str, str], None]
NOTE, HEAD = "notes/freewheel-20-spline.md", "removers: [remover-20-spline]"
OWN = (
    f"{HEAD}\nsteps:\n"
    "  - {instead-of: make-room, text: Wheel out, cautions: [teeth-cut]}\n"
    "  - {after: fit-tool, id: show-us, text: Show us before you pull.}"
)


def test_a_note_s_steps_are_steps_of_the_topic(folder: Path, topic: Topic, edit: Edit) -> None:
    edit(NOTE, HEAD, OWN)
    shop = load_shop(folder, topic)
    first, second = steps_of_notes(shop, "freewheel-20-spline", "en")
    assert (first.instead_of, first.cautions) == ("make-room", ("teeth-cut",))
    assert (second.after, second.text) == ("fit-tool", "Show us before you pull.")
    assert steps_of_notes(shop, "freewheel-20-spline", "de") == ()
    assert steps_of_notes(shop, "snap-ring-sprocket", "en") == ()


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        ("make-room", "make-rum", "'make-rum' is no step of this topic; did you mean 'make-room'?"),
        ("teeth-cut", "teeth-bite", "'teeth-bite' is no caution of this topic"),
        ("after: fit-tool, ", "", "say either instead-of or after"),
    ],
)
def test_what_is_wrong_with_them_stops_the_shop(
    folder: Path, topic: Topic, edit: Edit, old: str, new: str, told: str
) -> None:
    edit(NOTE, HEAD, OWN.replace(old, new))
    with pytest.raises(DataError) as error:
        load_shop(folder, topic)
    assert any(told in problem.message for problem in error.value.problems), error.value.problems
