"""The outline of a fitting at true size, to lay the fitting on.

Nothing is drawn outside the diameter that the catalogue gives: the wall round a splined hole is only there for looks,
and would mislead a person who lays a part on it.
"""

from triagebot.pictures.geometry import circle
from triagebot.pictures.looks import fitting_of, look_of
from triagebot.topics import Fastening


def true_outline(fastening: Fastening) -> str:
    """The closed lines of a fastening's fitting as path data, mm, round its middle. Raises ValueError for a fastening
    whose size the catalogue does not give."""
    look = look_of(fastening)
    if look.sizes is None:
        raise ValueError(f"the catalogue gives no size for {fastening.id}")
    fitting = fitting_of(look)
    if fitting.across < fitting.outer:
        return f"{fitting.body.removeprefix(circle(fitting.outer))} {circle(fitting.across)}"
    return f"{fitting.body} {fitting.recesses}".strip()
