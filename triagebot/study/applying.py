"""Puts what was learned into force: shows it beside what it replaces, and writes it into the shop's own folder.

The file is replaced whole or not at all; the old one stays beside it under a hidden name, which is no part of the
shop's edition.
"""

from datetime import datetime
from pathlib import Path

from triagebot.errors import UsageError
from triagebot.shop import LEARNED
from triagebot.store.whole_file import write_whole
from triagebot.topics import Learned, Topic, learned_text, taught, unnamed

#: A difference smaller than this is not worth a line.
_SHOWN = 0.0005
#: Read by all who may read the shop's other files, as the user's mask has it.
_MODE = 0o666


def difference(shipped: Topic, used: Topic, learned: Learned) -> list[str]:
    """What would change in the topic in use, a line a figure; empty when nothing to speak of."""
    after = taught(shipped, learned)
    rows = [(f"prior of {f.id}", used.fastenings[f.id].prior, f.prior) for f in after.catalogue.fastenings]
    rows += [(f"slips at {q.id}", used.questions[q.id].slip or 0.0, q.slip or 0.0) for q in after.flow.questions]
    width = max(len(name) for name, _, _ in rows)
    return [f"{name:<{width}}  {old:7.2%} -> {new:7.2%}" for name, old, new in rows if abs(new - old) >= _SHOWN]


def write_learned(folder: Path, shipped: Topic, learned: Learned, now: datetime) -> Path | None:
    """Put the file in place; gives where the old one is kept, None if there was none.

    Raises UsageError when with these figures no truthful answers would lead to some remover: then nothing is written.
    """
    lost = [shipped.catalogue.fastenings[place].id for place in unnamed(taught(shipped, learned))]
    if lost:
        raise UsageError(
            f"nothing was written: with these figures no truthful answers lead to the remover of {', '.join(lost)}; "
            "look at the closed cases behind them"
        )
    path = folder / LEARNED
    backup = None
    if path.exists():
        backup = _free(folder / f".{LEARNED}.{now:%Y-%m-%dT%H-%M-%S}")
        write_whole(backup, path.read_bytes(), _MODE)
    write_whole(path, learned_text(learned).encode(), _MODE)
    return backup


def _free(path: Path) -> Path:
    """The path, or one with a number where something has that name already."""
    number, free = 1, path
    while free.exists():
        number += 1
        free = path.with_name(f"{path.name}.{number}")
    return free
