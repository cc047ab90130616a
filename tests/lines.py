"""How many lines of code each room has, without blank ones, comments and docstrings: `python -m tests.lines`."""

import ast
import tokenize
from collections import Counter
from pathlib import Path

import triagebot

PACKAGE = Path(triagebot.__file__).parent
_NO_CODE = {
    tokenize.COMMENT, tokenize.NL, tokenize.NEWLINE, tokenize.INDENT, tokenize.DEDENT, tokenize.ENCODING,
    tokenize.ENDMARKER,
}  # fmt: skip


def lines_of_code(file: Path) -> int:
    with file.open("rb") as source:
        tokens = [token for token in tokenize.tokenize(source.readline) if token.type not in _NO_CODE]
    written = {line for token in tokens for line in range(token.start[0], token.end[0] + 1)}
    for node in ast.walk(ast.parse(file.read_bytes())):
        documented = isinstance(node, ast.Module | ast.ClassDef | ast.FunctionDef | ast.AsyncFunctionDef)
        if documented and ast.get_docstring(node, clean=False) is not None:
            written -= set(range(node.body[0].lineno, (node.body[0].end_lineno or 0) + 1))
    return len(written)


def main() -> None:
    rooms: Counter[str] = Counter()
    for file in PACKAGE.rglob("*.py"):
        rooms[file.relative_to(PACKAGE).parts[0]] += lines_of_code(file)
    for room, lines in rooms.most_common():
        print(f"{lines:6} {room}")
    print(f"{rooms.total():6} in all")


if __name__ == "__main__":
    main()
