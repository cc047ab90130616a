"""Other branches that tell this one which tools hang on their walls."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from triagebot.errors import Problem
from triagebot.shop.load import read_shop
from triagebot.shop.shop import Shop


@dataclass(frozen=True, slots=True)
class Neighbour:
    """A branch whose `share-tools` names this one. `away` looks how many of each tool are not there at a moment, which
    is all that is ever told of its store. It raises StoreError."""

    shop: Shop
    away: Callable[[datetime], Mapping[str, int]]


def sharing_problems(folder: Path, branch: str, branches: tuple[str, ...]) -> list[Problem]:
    """What is wrong with the `share-tools` of a branch, whose folder can be read."""
    shop, files, _ = read_shop(folder, None)
    problems = []
    for place, name in enumerate(shop.about.share_tools if shop is not None else ()):
        others = ", ".join(each for each in branches if each != branch) or "none"
        if name == branch:
            said = f"{name!r} is this branch itself; name others, of which there are: {others}"
        elif name not in branches:
            said = f"there is no branch {name!r}; there are: {others}"
        else:
            continue
        problems.append(files.problem("shop.yaml", ("share-tools", place), said))
    return problems
