"""Small faults to put into the code, each to be noticed by some test: a random sample of them, the same for a seed."""

import random
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from difflib import unified_diff
from functools import cache
from pathlib import Path
from typing import Any

import libcst as cst
from libcst import matchers as m
from libcst.metadata import MetadataWrapper, PositionProvider
from mutmut.mutation.mutators import mutation_operators

#: What no test could notice: types, imports, what is said about the code, and how fast it is.
SKIPPED = (
    m.Annotation()
    | m.Decorator()
    | m.Import()
    | m.ImportFrom()
    | m.SimpleStatementLine(body=[m.Expr(value=m.SimpleString() | m.ConcatenatedString())])
    | m.SimpleStatementLine(body=[m.Assign(targets=[m.AssignTarget(target=m.Name("__all__"))])])
    | m.Assign(targets=[m.AssignTarget(target=m.Name(m.MatchRegex(r"[A-Z][a-z]\w*")))])  # a name for a type
    | m.If(test=m.Name("TYPE_CHECKING"))
    | m.Subscript(value=m.Name("Literal"))
    | m.Call(func=m.Name("TypeVar") | m.Name("cast"))
    | m.Call(func=m.Name("lru_cache"))
)
#: Calls that only raise at once when an argument is missing.
PLAIN_CALLS = m.Call(func=m.Name("len") | m.Name("isinstance"))


def forced(node: cst.If | cst.CompIf) -> Iterator[cst.CSTNode]:
    """A condition that always holds, or never does."""
    test = node.test.with_changes(lpar=[cst.LeftParen()], rpar=[cst.RightParen()])
    for operator, value in ((cst.And(), "False"), (cst.Or(), "True")):
        yield node.with_changes(test=cst.BooleanOperation(left=test, operator=operator, right=cst.Name(value)))


def left_out(node: cst.Expr) -> Iterator[cst.CSTNode]:
    """A call for the sake of what it does, left out."""
    if m.matches(node.value, m.Call() | m.Await()):
        yield node.with_changes(value=cst.Name("None"))


OPERATORS: Sequence[tuple[type, Callable[[Any], Iterable[cst.CSTNode]]]] = (
    *mutation_operators,
    (cst.If, forced),
    (cst.CompIf, forced),
    (cst.Expr, left_out),
)


@dataclass(frozen=True, slots=True)
class Mutant:
    """`source` is all of `file` (relative to the checkout) with one fault in it, at `line`."""

    file: str
    line: int
    source: str
    diff: str


@dataclass(frozen=True, slots=True)
class _Place:
    module: cst.Module
    line: int
    node: cst.CSTNode
    fault: cst.CSTNode


class _Finder(cst.CSTVisitor):
    METADATA_DEPENDENCIES = (PositionProvider,)

    def __init__(self) -> None:
        super().__init__()
        self.found: list[tuple[int, cst.CSTNode, cst.CSTNode]] = []

    def on_visit(self, node: cst.CSTNode) -> bool:
        if m.matches(node, SKIPPED):
            return False
        if not m.matches(node, PLAIN_CALLS):
            for kind, faults in OPERATORS:
                if isinstance(node, kind):
                    line = self.get_metadata(PositionProvider, node).start.line
                    self.found += ((line, node, fault) for fault in faults(node))
        return True


@cache
def places(source: str) -> list[_Place]:
    """Every fault that can be put into this source."""
    wrapper, finder = MetadataWrapper(cst.parse_module(source)), _Finder()
    wrapper.visit(finder)
    return [_Place(wrapper.module, *found) for found in finder.found]


def draw(root: Path, folder: str, sample: int, seed: int) -> list[Mutant]:
    """At most `sample` mutants of the Python files in `folder`, no two on one line; fewer where there are no more."""
    files = {str(path.relative_to(root)): path for path in sorted((root / folder).rglob("*.py"))}
    found = [(name, place) for name, path in files.items() for place in places(path.read_text(encoding="utf-8"))]
    random.Random(seed).shuffle(found)
    drawn: dict[tuple[str, int], Mutant] = {}
    for name, place in found:
        if len(drawn) == sample:
            break
        if (name, place.line) not in drawn:
            before, changed = place.module.code, place.module.deep_replace(place.node, place.fault)
            after = changed.code if isinstance(changed, cst.Module) else before
            if after != before:
                lines = unified_diff(before.splitlines(), after.splitlines(), lineterm="", n=0)
                diff = "\n".join(line for line in list(lines)[2:] if not line.startswith("@@"))
                drawn[name, place.line] = Mutant(name, place.line, after, diff)
    return list(drawn.values())
