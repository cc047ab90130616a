"""A conversation that is written out for people to read: to a file that is named, else to the screen."""

import sys
from collections.abc import Callable
from pathlib import Path
from tempfile import TemporaryDirectory


def quoted(text: str) -> list[str]:
    """What somebody reads, as a quotation in Markdown."""
    return [f"> {line}  " if line else ">" for line in text.split("\n")]


def write_out(written: Callable[[Path], str]) -> None:
    """Has it written, in a folder that it may use, and puts it where the first argument says."""
    with TemporaryDirectory() as folder:
        text = written(Path(folder))
    if len(sys.argv) > 1:
        Path(sys.argv[1]).write_text(text, encoding="utf-8")
    else:
        print(text, end="")
