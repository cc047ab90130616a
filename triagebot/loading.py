"""What the commands work with: settings, and the topic, shop and guide that these name.

Everything is imported when it is asked for, so that each command loads only what it needs.
"""

import gc
import os
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager, nullcontext
from dataclasses import replace
from datetime import datetime
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

from cyclopts import Parameter

from triagebot.errors import DataError, Problem, SettingsError, UsageError

if TYPE_CHECKING:
    from triagebot.conversation import Guide
    from triagebot.conversation.guide import Language
    from triagebot.settings import Branch, Settings
    from triagebot.store import Store
    from triagebot.topics import Topic

Folder = Annotated[Path | None, Parameter(help="A folder in place of the one in the settings.")]
DataFolder = Annotated[Path | None, Parameter(help="Data folder in place of the one in the settings.")]
BranchName = Annotated[str | None, Parameter(help="Which branch, where there are several.")]
Shops = Annotated[Path | None, Parameter(help="Folder with the branches, in place of the one in the settings.")]


def settings_of(**overrides: Any) -> "Settings":
    """The settings, with what a command was told. Raises SettingsError."""
    from triagebot.settings import load_settings

    return load_settings(os.environ, {name: value for name, value in overrides.items() if value is not None})


def branches_of(**overrides: Any) -> "tuple[Branch, ...]":
    """The branches, by name; one without a name where there is one shop. Raises SettingsError."""
    from triagebot.settings import load_branches

    branches = load_branches(os.environ, {name: value for name, value in overrides.items() if value is not None})
    if not branches[0].name:
        return branches
    from triagebot.store import holds_cases
    from triagebot.store.data_folder import ELSEWHERE
    from triagebot.store.engines import in_schema

    data = branches[0].settings.data_folder.parent.parent
    if holds_cases(data, None) or (data / ELSEWHERE).is_file():
        raise SettingsError(
            f"{data}: holds the cases of one shop, from before there were branches; move them to the branch that the "
            "shop is now, as deploy/branches.md says"
        )
    return tuple(
        replace(each, settings=each.settings.model_copy(update={"database": in_schema(url, schema_of(each.name))}))
        if (url := each.settings.database) is not None
        else each
        for each in branches
    )


def schema_of(branch: str) -> str:
    """The schema of a branch, in a PostgreSQL database."""
    return f"branch_{branch.replace('-', '_')}"


def settings_for(branch: str | None, **overrides: Any) -> "Settings":
    """The settings of one branch, or of the one shop. Raises UsageError where it has to be said which."""
    known = {each.name: each.settings for each in branches_of(**overrides)}
    if "" in known and branch is not None:
        raise UsageError("there are no branches here: leave --branch out, or set TRIAGEBOT_SHOPS")
    if branch is None and len(known) == 1:
        (only,) = known.values()
        return only
    if branch not in known:
        said = "say which branch, with --branch" if branch is None else f"there is no branch {branch!r}"
        raise UsageError(f"{said}; there is: {', '.join(known)}")
    return known[branch]


def store_of(settings: "Settings") -> "Store":
    """The store, made or brought up to date as needed. Raises StoreError."""
    from triagebot.store import open_store

    return open_store(settings.data_folder, key_file=settings.key_file, database=settings.database)


def topic_folder(settings: "Settings") -> Path:
    """The topic's folder, whether it is of one's own or the one that comes with the program."""
    from triagebot.topics import built_in_topic

    return settings.topic or built_in_topic()


def shop_folder(settings: "Settings") -> Path:
    """The shop's folder, whether it is of one's own or the example."""
    from triagebot.shop import built_in_shop

    return settings.shop or built_in_shop()


def spoken(settings: "Settings", told: str | None) -> str:
    """The language to speak: what was told must be there; what comes from the system falls back on English."""
    from triagebot.topics import languages

    known = languages(topic_folder(settings))
    if told is not None and told not in known:
        raise UsageError(f"I do not speak {told!r} here; there is: {', '.join(known)}")
    return settings.language if settings.language in known or not known else "en" if "en" in known else known[0]


@contextmanager
def _without_collection() -> Iterator[None]:
    """While all that is made is kept, looking for garbage among it takes longer than making it; nor is it looked
    through later."""
    enabled = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if enabled:
            gc.freeze()
            gc.enable()


def guides_of(branches: "Sequence[Branch]") -> "tuple[Guide, ...]":
    """The guide of each branch; those with the same topic share it, and all words. Raises DataError with the problems
    of all of them."""
    guides: list[Guide] = []
    problems: list[Problem] = []
    known: dict[Path, tuple[Topic, Mapping[str, Language]]] = {}
    folder = ""
    for branch in branches:
        try:
            guides.append(guide_of(branch.settings, known=known))
        except DataError as error:
            folder = folder or error.folder
            problems += error.problems
    if not problems and branches[0].name:
        problems += sharing_problems(branches)
        folder = problems[0].file if problems else ""
    if problems:
        raise DataError(folder, tuple(dict.fromkeys(problems)))
    return tuple(guides)


def sharing_problems(branches: "Sequence[Branch]") -> list[Problem]:
    """What is wrong with the names of those with whom branches share their tools."""
    from triagebot.shop.neighbours import sharing_problems as of_one

    names = tuple(branch.name for branch in branches)
    return [each for branch in branches for each in of_one(shop_folder(branch.settings), branch.name, names)]


def with_neighbours(
    branches: "Sequence[Branch]", guides: "Sequence[Guide]", stores: "Sequence[Store] | None" = None
) -> "tuple[Guide, ...]":
    """The guides, each with the branches that share their tools with it. Their loans are looked up in these stores, or
    in stores that are opened for each look."""
    from triagebot.shop import Neighbour

    def asked(place: int) -> Callable[[datetime], Mapping[str, int]]:
        return partial(_away, branches[place].settings, stores[place] if stores is not None else None)

    return tuple(
        replace(
            guide,
            neighbours=tuple(
                Neighbour(other.shop, asked(place))
                for place, other in enumerate(guides)
                if branch.name in other.shop.about.share_tools and other is not guide
            ),
        )
        if branch.name
        else guide
        for branch, guide in zip(branches, guides, strict=True)
    )


def _away(settings: "Settings", store: "Store | None", now: datetime) -> "Mapping[str, int]":
    """How many of each tool are not there at a branch. Raises StoreError."""
    from triagebot.store import holds_cases
    from triagebot.store.loans import Loans

    if store is None and not holds_cases(settings.data_folder, settings.database):
        return {}
    with nullcontext(store) if store is not None else store_of(settings) as opened, opened.read() as view:
        return Loans(view).away(now, 0)


@_without_collection()
def guide_of(
    settings: "Settings",
    language: str | None = None,
    known: "dict[Path, tuple[Topic, Mapping[str, Language]]] | None" = None,
) -> "Guide":
    """Everything that a conversation needs. Raises DataError with every problem of the topic and of the shop. `known`
    are topics that were loaded for other shops, and their words; this one is added to them.

    A topic of one's own is proved whole before anybody talks to it; the built-in one was, before it was given out.
    """
    from triagebot.conversation import load_guide
    from triagebot.shop import load_shop
    from triagebot.topics import load_topic

    folder, topic, shop = topic_folder(settings), None, None
    problems: list[Problem] = []
    loaded = known.get(folder) if known is not None else None
    if settings.topic is not None and loaded is None:
        from triagebot.topics import check_topic

        problems += check_topic(folder)
    try:
        topic = loaded[0] if loaded else load_topic(folder)
    except DataError as error:
        problems += error.problems
    try:
        shop = load_shop(shop_folder(settings), topic)
    except DataError as error:
        problems += error.problems
    if problems or topic is None or shop is None:
        raise DataError(
            folder if topic is None or shop is not None else shop_folder(settings), tuple(dict.fromkeys(problems))
        )
    guide = load_guide(topic, shop, (language,) if language else (), loaded[1] if loaded else None)
    if known is not None:
        known[folder] = topic, guide.spoken
    return guide
