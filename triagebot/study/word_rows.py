"""Which rows of the words files stand for words of a message: file, line, and where in the file's tables."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

import yaml

from triagebot.conversation.understanding.compiler import pattern_keys
from triagebot.conversation.understanding.loading import PROGRAM
from triagebot.conversation.understanding.phrases import PatternError, PhraseMeaning, Root, every, parse, plant
from triagebot.conversation.understanding.words import Words

#: The tables of the words files that hold patterns, and are no lists of single words.
TABLES = frozenset({
    "choices", "nouns", "names", "mentions", "withdrawn", "cannot", "cannot-when-open", "motion", "scopes", "openings",
    "others", "ignore", "elsewhere", "gauges", "commands", "hedges", "joints", "shapes", "means", "comparisons",
    "negations", "corrections", "unsure", "unsure-after-all", "unsure-for-now", "insists", "breaks", "counters",
    "hostile", "off-topic", "other-trades", "turning",
})  # fmt: skip


@dataclass(frozen=True, slots=True)
class WordRow:
    """A row that matches the tokens `first` to `last`; `path`: its tables, such as `choices.spin.stays`."""

    first: int
    last: int
    place: str
    path: str
    pattern: str


class WordRows:
    """Every pattern of the words files of one language, to be looked up by the words it matches."""

    def __init__(self, words: Words) -> None:
        self._root = Root()
        self._rows: list[tuple[str, str, str]] = []
        cut = pattern_keys(words)
        files = [PROGRAM / f"{words.language}.yaml", Path(words.topic_file)]
        documents = [yaml.compose(file.read_text(encoding="utf-8"), Loader=yaml.CBaseLoader) for file in files]
        parts = {k.value: v.value for node in documents for k, v in _entries(node, "parts")}
        for file, node in zip(files, documents, strict=True):
            for path, scalar in _patterns(node):
                try:
                    rows = parse(scalar.value, parts, cut)
                except PatternError:
                    continue
                self._rows.append((f"{file.parent.name}/{file.name}:{scalar.start_mark.line + 1}", path, scalar.value))
                plant(self._root, rows, PhraseMeaning("scope", str(len(self._rows) - 1)))

    def matching(self, keys: Sequence[str], numbers: Sequence[bool]) -> Iterator[WordRow]:
        """Every row that matches words of a message, in the order of the words."""
        for start in range(len(keys)):
            for end, meanings in every(self._root, keys, start, numbers):
                for meaning in meanings:
                    yield WordRow(start, end - 1, *self._rows[int(meaning.subject)])


def _entries(node: yaml.Node | None, key: str) -> list[tuple[yaml.Node, yaml.Node]]:
    found = [v for k, v in node.value if k.value == key] if isinstance(node, yaml.MappingNode) else []
    return list(found[0].value) if found else []


def _patterns(node: yaml.Node | None) -> Iterator[tuple[str, yaml.ScalarNode]]:
    """Every pattern below the tables that hold some, with its path."""
    for key, table in node.value if isinstance(node, yaml.MappingNode) else ():
        if key.value in TABLES:
            yield from _below(table, key.value)


def _below(node: yaml.Node, path: str) -> Iterator[tuple[str, yaml.ScalarNode]]:
    if isinstance(node, yaml.MappingNode):
        for key, value in node.value:
            yield from _below(value, f"{path}.{key.value}")
    elif isinstance(node, yaml.SequenceNode):
        yield from ((path, item) for item in node.value if isinstance(item, yaml.ScalarNode))
