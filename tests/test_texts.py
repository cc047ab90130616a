"""Every text in the language files is used somewhere: by its id, or by an id that is put together at run time."""

import ast
import re
from pathlib import Path

import pytest
from fluent.syntax import ast as fluent
from fluent.syntax import parse

ROOT = Path(__file__).parents[1]
FILES = (
    ROOT / "triagebot" / "text" / "en.ftl",
    ROOT / "triagebot" / "keeping" / "text" / "en.ftl",
    ROOT / "flows" / "rear-sprockets" / "text" / "en.ftl",
)
#: Ids that are put together from two variables: by whom something was said, for whom it is told.
FROM_TWO = re.compile(r"mentor-(?:forward-)?said-(?:rider|mentor)")
#: What stands for a variable in an id, and how much of an id must be written out to tell it by.
ANYTHING, LEAST = r"[\w+.-]+", 3
#: A text of a page: "card-title", and one whose id is put together: "chat-menu-" ~ command.
IN_A_PAGE, BEGUN_IN_A_PAGE = (
    re.compile(r"""["']([a-z][a-z0-9.-]*)["']"""),
    re.compile(r"""["']([a-z][a-z-]*-)["']\s*~"""),
)


def ids(path: Path) -> list[str]:
    """Every text of a file: `name` for a message's own, `name.attribute` for one of its attributes."""
    found = []
    for entry in parse(path.read_text(encoding="utf-8")).body:
        assert not isinstance(entry, fluent.Junk), entry.content
        if isinstance(entry, fluent.Message):
            found += [entry.id.name] * (entry.value is not None)
            found += [f"{entry.id.name}.{attribute.id.name}" for attribute in entry.attributes]
    return found


def written() -> tuple[set[str], set[str]]:
    """Ids that are written out somewhere, and patterns of those that are put together."""
    whole, patterns = set[str](), set[str]()
    for path in (ROOT / "triagebot").rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_bytes())):
            if isinstance(node, ast.Constant) and isinstance(node.value, str):
                whole.add(node.value)
            elif isinstance(node, ast.JoinedStr):
                parts = [part.value if isinstance(part, ast.Constant) else None for part in node.values]
                if sum(len(str(part)) for part in parts if part is not None) >= LEAST:
                    patterns.add("".join(ANYTHING if part is None else re.escape(str(part)) for part in parts))
    for path in [*(ROOT / "triagebot").rglob("*.html"), *(ROOT / "triagebot").rglob("*.js")]:
        page = path.read_text(encoding="utf-8")
        whole |= set(IN_A_PAGE.findall(page))
        patterns |= {re.escape(begun) + ANYTHING for begun in BEGUN_IN_A_PAGE.findall(page)}
    for path in (ROOT / "flows").rglob("*.yaml"):
        whole |= set(re.findall(r"[\w-]+", path.read_text(encoding="utf-8")))
    for path in FILES:
        whole |= set(re.findall(r"\{\s*([a-z][\w.-]*)\s*[}\-]", path.read_text(encoding="utf-8")))
    return whole, patterns


@pytest.fixture(scope="module")
def used() -> tuple[set[str], re.Pattern[str]]:
    whole, patterns = written()
    return whole, re.compile("|".join([*sorted(patterns), FROM_TWO.pattern]))


@pytest.mark.parametrize("path", FILES, ids=lambda path: str(path.relative_to(ROOT)))
def test_every_text_is_used(path: Path, used: tuple[set[str], re.Pattern[str]]) -> None:
    whole, patterns = used
    assert [name for name in ids(path) if name not in whole and not patterns.fullmatch(name)] == []
