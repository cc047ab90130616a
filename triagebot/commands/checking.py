"""The command that proves a topic and the shops' folders."""

import sys
from collections.abc import Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

from triagebot.errors import DataError, Problem
from triagebot.loading import Folder, Shops, branches_of, sharing_problems, shop_folder, topic_folder

if TYPE_CHECKING:
    from triagebot.topics import Topic


def check(*, topic: Folder = None, shop: Folder = None, shops: Shops = None) -> None:
    """Prove that a topic and a shop folder can be used: every problem as file:line:column, the lesser ones last."""
    branches = branches_of(topic=topic, shop=shop, shops=shops)
    problems: list[Problem] = []
    for topic_of in dict.fromkeys(topic_folder(branch.settings) for branch in branches):
        loaded, found = _check_topic(topic_of)
        of_the_topic = [branch for branch in branches if topic_folder(branch.settings) == topic_of]
        problems += found
        for branch in of_the_topic:
            problems += _check_shop(shop_folder(branch.settings), loaded)
    if branches[0].name:
        problems += sharing_problems(branches)
    problems = list(dict.fromkeys(sorted(problems, key=lambda problem: (problem.ought, problem))))
    for problem in problems:
        print(problem)
    must = sum(not problem.ought for problem in problems)
    if problems:
        print(f"{must} to mend, {len(problems) - must} that only ought to be", file=sys.stderr)
    if must:
        sys.exit(1)
    well = "all is well" if not problems else "can be used as they are"
    topics = dict.fromkeys(topic_folder(branch.settings).name for branch in branches)
    *others, last = (*topics, *(shop_folder(branch.settings).name for branch in branches))
    print(f"{', '.join(others)} and {last}: {well}")


def _check_topic(folder: Path) -> "tuple[Topic | None, list[Problem]]":
    """The topic, if it can be loaded, and what is wrong with it."""
    from triagebot.conversation.enquiries import check_enquiries
    from triagebot.conversation.understanding import check_words, load_words
    from triagebot.gauge import check_gauge
    from triagebot.pictures import check_pictures
    from triagebot.topics import check_topic, languages, load_topic

    problems: list[Problem] = list(check_topic(folder))
    try:
        loaded = load_topic(folder)
    except DataError:
        return None, problems
    for code in languages(loaded.folder):
        try:
            problems += check_words(load_words(code, loaded.folder), loaded.questions, loaded.gauges)
        except DataError as error:
            problems += error.problems
        problems += check_enquiries(code, loaded.folder, loaded.removers)
    return loaded, [*problems, *check_pictures(loaded), *check_gauge(loaded)]


def _check_shop(folder: Path, topic: "Topic | None") -> "Sequence[Problem]":
    from triagebot.shop import check_shop, load_shop

    if topic is not None:
        return check_shop(folder, topic, datetime.now(UTC).date())
    try:
        load_shop(folder, None)
    except DataError as error:
        return error.problems
    return ()
