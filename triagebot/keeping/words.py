"""What the person who runs the bot reads of backups, of the doctor and of letters: `text/en.ftl` in this room."""

from functools import cache
from pathlib import Path
from typing import Any

from fluent.runtime import FluentBundle, FluentResource

TEXTS = Path(__file__).resolve().parent / "text" / "en.ftl"


def say(name: str, **given: Any) -> str:
    """A text with its variables filled. Raises KeyError for one that is not there."""
    bundle = _bundle()
    message = bundle.get_message(name)
    if message.value is None:
        raise KeyError(name)
    plain = {key: value if isinstance(value, int | float) else str(value) for key, value in given.items()}
    text, faults = bundle.format_pattern(message.value, plain)
    if faults:
        raise faults[0]
    return str(text).replace("\n", " ")  # lines end in the file where it is wide enough, not on the screen


@cache
def _bundle() -> FluentBundle:
    bundle = FluentBundle(["en-GB"], use_isolating=False)
    bundle.add_resource(FluentResource(TEXTS.read_text(encoding="utf-8")))
    return bundle
