"""A copy of the topic that ships, with texts made from the ids that it needs, for tests to spoil."""

import shutil
from collections.abc import Callable
from functools import cache
from pathlib import Path

import pytest

from triagebot.errors import Problem
from triagebot.topics import built_in_topic, check_topic
from triagebot.topics.load import read_topic
from triagebot.topics.wording import wanted_texts

FILES = ("catalogue.yaml", "flow.yaml", "sources.yaml", "gauges.yaml", "procedures.yaml")

#: Stands in an edit's new text where the problem is to be reported, and is not written to the file.
MARK = "§"


@cache
def made_up_texts() -> str:
    """A Fluent file that holds exactly the texts that the topic that ships needs."""
    topic, _ = read_topic(built_in_topic())
    entries: dict[str, list[str]] = {}
    for name, need in wanted_texts(topic).items():
        message, _, attribute = name.partition(".")
        words = " ".join(["some words", *(f"{{ ${variable} }}" for variable in sorted(need.given))])
        line = f"    .{attribute} = {words}" if attribute else f"{message} = {words}"
        entries.setdefault(message, []).insert(0 if not attribute else len(entries[message]), line)
    for message, lines in entries.items():
        if lines[0].startswith(" "):  # only its attributes are asked for
            lines.insert(0, f"{message} =")
    return "\n".join(line for lines in entries.values() for line in lines) + "\n"


class Bench:
    """A topic folder and a program folder to spoil, and what the check then says."""

    def __init__(self, folder: Path) -> None:
        self.topic = folder / "topic"
        self.program = folder / "program"
        (self.topic / "text").mkdir(parents=True)
        (self.program / "text").mkdir(parents=True)
        for name in FILES:
            shutil.copy(built_in_topic() / name, self.topic / name)
        (self.topic / "text" / "en.ftl").write_text(made_up_texts(), encoding="utf-8")
        (self.program / "text" / "en.ftl").write_text(
            "help = Help\nagain = { help } again { $times }\n", encoding="utf-8"
        )

    def edit(self, *edits: tuple[str, str, str]) -> tuple[str, int, int]:
        """Replace the first `old` by `new` in each named file; returns file, line and column of the one mark."""
        for name, old, new in edits:
            path = self.topic / name
            text = path.read_text(encoding="utf-8")
            assert old in text, f"{name} no longer holds {old!r}"
            path.write_text(text.replace(old, new, 1), encoding="utf-8")
        place = ("", 0, 0)
        for path in [*(self.topic / name for name in FILES), *(self.topic / "text").glob("*.ftl")]:
            text = path.read_text(encoding="utf-8")
            at = text.find(MARK)
            if at >= 0:
                place = (str(path), text.count("\n", 0, at) + 1, at - text.rfind("\n", 0, at))
                path.write_text(text.replace(MARK, ""), encoding="utf-8")
        return place

    def problems(self) -> tuple[Problem, ...]:
        return check_topic(self.topic, self.program)

    def texts(self, language: str, folder: Callable[["Bench"], Path] = lambda bench: bench.topic) -> Path:
        return folder(self) / "text" / f"{language}.ftl"


@pytest.fixture
def bench(tmp_path: Path) -> Bench:
    return Bench(tmp_path)


@pytest.fixture(scope="module")
def spoilable(tmp_path_factory: pytest.TempPathFactory) -> Bench:
    return Bench(tmp_path_factory.mktemp("spoilable"))
