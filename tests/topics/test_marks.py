"""YAML with places: what may stand in a data file, and where each fault is reported."""

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from triagebot.errors import DataError
from triagebot.topics.marks import BYTES, DEPTH, field_name, read_yaml


def _file(folder: Path, content: bytes) -> Path:
    path = folder / "some.yaml"
    path.write_bytes(content)
    return path


def test_scalars_stay_words_and_only_a_bare_null_is_nothing(tmp_path: Path) -> None:
    source = b'a: yes\nb: no\nc: 012\nd: null\ne: "null"\nf:\ng: ~\nh: 1e3\ni: ""\n'
    data, _ = read_yaml(_file(tmp_path, source))
    assert data == {
        "a": "yes",
        "b": "no",
        "c": "012",
        "d": None,
        "e": "null",
        "f": None,
        "g": None,
        "h": "1e3",
        "i": "",
    }


def test_every_key_and_value_has_its_place(tmp_path: Path) -> None:
    data, marks = read_yaml(_file(tmp_path, "é: {x: 1,  y: [2, zwölf, 3]}\nb:\n  - id: k\n    v: 4\n".encode()))
    assert marks.key(("é",)) == (1, 1)
    assert marks.value(("é", "x")) == (1, 8)
    assert marks.key(("é", "y")) == (1, 12)
    assert marks.value(("é", "y", 2)) == (1, 26)
    assert marks.value(("b", 0, "v")) == (4, 8)
    assert marks.value(("b", 0, "nowhere", "v")) == (4, 8), "parts that are not in the file are passed over"
    assert marks.value(("b", 7)) == (3, 3)
    assert marks.value(()) == (1, 1)
    assert field_name(data, ("b", 0, "v")) == "b[k].v"
    assert field_name(data, ("é", "y", 1)) == "é.y[2]"


@pytest.mark.parametrize(
    ("content", "line", "column", "message"),
    [
        (b"", 1, 1, "must hold keys"),
        (b"# only a comment\n", 1, 1, "must hold keys"),
        (b"- a\n- b\n", 1, 1, "must hold keys"),
        (b"just words\n", 1, 1, "must hold keys"),
        (b"a: 1\nb: 2\na: 3\n", 3, 1, "stands twice"),
        (b"x: {k: 1, k: 2}\n", 1, 11, "stands twice"),
        (b"a: &here 1\n", 1, 4, "anchors"),
        (b"a: &here {b: *here}\n", 1, 4, "anchors"),
        (b"a: 1\nb: *a\n", 2, 4, "anchors"),
        (b"a: !!python/object:os.system 1\n", 1, 4, "tags"),
        (b"a: !x {}\n", 1, 4, "tags"),
        (b"a: 1\n---\nb: 2\n", 2, 1, "second document"),
        (b"a: [1, 2\nb: 3\n", 2, 2, "not YAML"),
        (b"a: 'open\n", 2, 1, "not YAML"),
        (b"a: 1\n\tb: 2\n", 2, 1, "there is a tab here"),
        (b"{a: 1}: 2\n", 1, 1, "a key must be a word"),
        (b"~: 2\n", 1, 1, "a key must be a word"),
        (b"a: 1\nb: caf\xe9\n", 2, 7, "not UTF-8"),
        (b"a: 1\nbc: x\x00y\n", 2, 6, "not YAML"),
        (b"a: 1\nb: \x07\n", 2, 4, "not YAML"),
        (b"x: 1\ny: " + b"[" * (DEPTH + 1) + b"]" * (DEPTH + 1), 2, 4 + DEPTH - 1, "deep"),
        (b"y: " + b"[" * 500, 1, 4 + DEPTH - 1, "deep"),
        (b"y: " + b"{a: " * 50_000, 1, 4 + 4 * (DEPTH - 1), "deep"),
        (b"a: " + b"x" * BYTES, 0, 0, "larger than 2 MB"),
    ],
)
def test_a_fault_is_named_by_line_and_column(
    tmp_path: Path, content: bytes, line: int, column: int, message: str
) -> None:
    path = _file(tmp_path, content)
    with pytest.raises(DataError) as caught:
        read_yaml(path)
    (problem,) = caught.value.problems
    assert (problem.file, problem.line, problem.column) == (str(path), line, column)
    assert message in problem.message


def test_nesting_that_would_exhaust_a_stack_is_a_fault_like_any_other(tmp_path: Path) -> None:
    for opening in (b"[", b"- ", b"? "):
        with pytest.raises(DataError):
            read_yaml(_file(tmp_path, b"y:\n  " + opening * 100_000))


def test_a_file_that_is_not_there(tmp_path: Path) -> None:
    with pytest.raises(DataError, match=r"none\.yaml:0:0: cannot be read: No such file"):
        read_yaml(tmp_path / "none.yaml")
    with pytest.raises(DataError, match="cannot be read"):
        read_yaml(tmp_path)


def test_a_byte_order_mark_is_no_fault(tmp_path: Path) -> None:
    assert read_yaml(_file(tmp_path, b"\xef\xbb\xbfa: 1\r\nb: 2\r\n"))[0] == {"a": "1", "b": "2"}


@given(content=st.binary(max_size=60) | st.text("ab:-[]{}&*!?|>'\"#,\n \t~%@`", max_size=60).map(str.encode))
def test_no_bytes_raise_anything_else(tmp_path_factory: pytest.TempPathFactory, content: bytes) -> None:
    path = _file(tmp_path_factory.getbasetemp(), content)
    try:
        data, marks = read_yaml(path)
    except DataError:
        return
    for key in data:
        line, column = marks.key((key,))
        assert line >= 1
        assert column >= 1
