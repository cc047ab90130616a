"""What the commands work with: settings, and the topic, shop and guide that these name.

Everything is imported when it is asked for, so that each command loads only what it needs.
"""

import gc
import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

from cyclopts import Parameter

from triagebot.errors import DataError, Problem, UsageError

if TYPE_CHECKING:
    from triagebot.conversation import Guide
    from triagebot.settings import Settings
    from triagebot.store import Store

Folder = Annotated[Path | None, Parameter(help="A folder in place of the one in the settings.")]
DataFolder = Annotated[Path | None, Parameter(help="Data folder in place of the one in the settings.")]


def settings_of(**overrides: Any) -> "Settings":
    """The settings, with what a command was told. Raises SettingsError."""
    from triagebot.settings import load_settings

    return load_settings(os.environ, {name: value for name, value in overrides.items() if value is not None})


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


@_without_collection()
def guide_of(settings: "Settings", language: str | None = None) -> "Guide":
    """Everything that a conversation needs. Raises DataError with every problem of the topic and of the shop.

    A topic of one's own is proved whole before anybody talks to it; the built-in one was, before it was given out.
    """
    from triagebot.conversation import load_guide
    from triagebot.shop import load_shop
    from triagebot.topics import load_topic

    folder, topic, shop = topic_folder(settings), None, None
    problems: list[Problem] = []
    if settings.topic is not None:
        from triagebot.topics import check_topic

        problems += check_topic(folder)
    try:
        topic = load_topic(folder)
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
    return load_guide(topic, shop, (language,) if language else ())
