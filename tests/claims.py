"""What a page says, sentence by sentence, and how each is proved: by saying those words to the bot or running the
command, by a test elsewhere that is named, or not at all, since it is advice or an opinion."""

import ast
import re
from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping
from pathlib import Path

from tests.documents import PARTS

ROOT = Path(__file__).resolve().parents[1]

#: Sentences that a test proves by itself, by page.
PROVED: defaultdict[str, set[str]] = defaultdict(set)


def proves(file: str, *given: str) -> Callable[[Callable[..., None]], Callable[..., None]]:
    PROVED[file] |= set(given)
    return lambda test: test


def sentences(file: str) -> set[str]:
    """The sentences of a page's running text: no headings, code, tables, pictures or made parts."""
    text = (ROOT / file).read_text(encoding="utf-8")
    for name in PARTS.get(file, {}):
        text = re.sub(rf"<!-- {name} -->.*?<!-- end of {name} -->", "", text, flags=re.DOTALL)
    text = text.partition("\n## Licences")[0]
    left_out = re.compile(r"#|\||!\[| {4,}\S")
    kept = (block for block in re.split(r"\n\s*\n", text) if not left_out.match(block.lstrip("\n")))
    found: set[str] = set()
    for block in kept:
        for item in re.split(r"\n(?=- |\d+\. )", block):
            joined = " ".join(re.sub(r"\A(- |\d+\. )", "", item.strip()).split())
            found |= set(re.split(r"(?<=[.?!*])\s+(?=[A-Z`“\"*\[]|triagebot )", joined))
    return {sentence for sentence in found if sentence}


def assert_nothing_is_left(file: str, elsewhere: Mapping[str, object], advice: Iterable[str]) -> None:
    """Every sentence of a page is proved or is advice, and none of those that are is gone from the page."""
    assert sentences(file) == PROVED[file] | set(elsewhere) | set(advice)


def assert_exists(proof: str) -> None:
    """Whether there is the test that is named, `file::test`."""
    file, _, name = proof.partition("::")
    tree = ast.parse((ROOT / file).read_text(encoding="utf-8"))
    tests = {node.name for node in ast.walk(tree) if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef)}
    assert name in tests if name else any(test.startswith("test_") for test in tests)
