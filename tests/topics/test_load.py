"""A topic folder as one value: what it holds, what its digest covers, where it lies, and what may escape."""

import shutil
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.effort import effort
from tests.topics.conftest import FILES, Bench
from triagebot.errors import DataError
from triagebot.identify import belief
from triagebot.topics import built_in_topic, load, load_topic
from triagebot.topics.apart import truthful_paths
from triagebot.topics.gauges import Gauges
from triagebot.topics.load import digest, validated_with_marks


def test_the_topic_that_ships_is_all_there() -> None:
    topic = load_topic(built_in_topic())
    assert topic.id == "rear-sprockets"
    assert list(topic.questions)[:2] == ["wheel", "drive"], "questions keep the order of the file"
    assert topic.questions["torque"].choices == ("yes", "no"), "words stay words"
    assert "freewheel-20-spline" in topic.fastenings
    assert sum(row.prior for row in topic.fastenings.values()) == pytest.approx(1)
    assert topic.fastenings["freewheel-12-spline-small"].remover is None
    assert [f.id for f in topic.fastenings.values() if f.broad] == ["unlisted"]
    assert topic.gauges["eur-1"] == pytest.approx(23.25)  # Regulation (EU) 729/2014, Annex I
    assert topic.sources[topic.removers["hook-spanner"].source].kind == "common-practice"
    assert topic.cautions["ring-flies"].step in topic.catalogue.steps
    assert set(topic.accessories) >= {"chain-whip", "gloves"}
    assert topic.model.fastenings[-1] == "unlisted" or "unlisted" in topic.model.fastenings
    assert topic.model is topic.model, "compiled once"


def test_a_topic_cannot_be_changed() -> None:
    topic = load_topic(built_in_topic())
    with pytest.raises(TypeError):
        topic.gauges["eur-1"] = 1.0  # type: ignore[index]
    with pytest.raises(AttributeError):
        topic.id = "other"  # type: ignore[misc]


def test_the_digest_follows_every_byte_and_name(bench: Bench) -> None:
    first = load_topic(bench.topic).digest
    assert len(first) == 64
    assert load_topic(bench.topic).digest == first
    words = bench.topic / "text" / "en.words.yaml"
    words.write_text("a: b\n", encoding="utf-8")
    second = load_topic(bench.topic).digest
    words.rename(bench.topic / "text" / "de.words.yaml")
    third = load_topic(bench.topic).digest
    (bench.topic / ".flow.yaml.swp").write_text("an editor's", encoding="utf-8")
    assert load_topic(bench.topic).digest == third
    assert len({first, second, third}) == 3


def test_bytes_cannot_move_between_files_unseen(tmp_path: Path) -> None:
    for number, contents in enumerate((("ab", "c"), ("a", "bc"))):
        folder = tmp_path / str(number)
        folder.mkdir()
        for name, content in zip("xy", contents, strict=True):
            (folder / name).write_text(content, encoding="utf-8")
    assert digest(tmp_path / "0") != digest(tmp_path / "1")


def test_an_installed_package_brings_its_topic_along(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    module = tmp_path / "site" / "triagebot" / "topics" / "load.py"
    monkeypatch.setattr(load, "__file__", str(module))
    assert built_in_topic() == tmp_path / "site" / "flows" / "rear-sprockets", "beside the package in a checkout"
    carried = tmp_path / "site" / "triagebot" / "_data" / "flows" / "rear-sprockets"
    carried.mkdir(parents=True)
    assert built_in_topic() == carried


def test_any_model_reads_its_file_by_the_same_rules(tmp_path: Path) -> None:
    path = tmp_path / "g.yaml"
    path.write_text("gauges:\n  - {id: cent, mm: 16.25, source: somewhere}\n", encoding="utf-8")
    assert validated_with_marks(Gauges, path)[0].gauges[0].mm == 16.25
    path.write_text("gauges:\n  - {id: cent, mm: 16.25}\n  - {id: cent, mm: x, source: s}\n", encoding="utf-8")
    with pytest.raises(DataError) as caught:
        validated_with_marks(Gauges, path)
    assert [str(problem) for problem in caught.value.problems] == [
        f"{path}:2:5: gauges[cent].source: is missing",
        f"{path}:3:20: gauges[cent].mm: should be a number",
    ]


def _mangled(name: str) -> st.SearchStrategy[bytes]:
    """One of the topic's files with bytes changed, taken out, doubled or swapped for words that mean something."""
    content = (built_in_topic() / name).read_bytes()
    place = st.integers(0, len(content) - 1)
    words = [
        b"0",
        b"-1",
        b"nan",
        b"1e309",
        b"null",
        b"{}",
        b"[]",
        b"&a",
        b"*a",
        b'"',
        b":",
        b"\n",
        b"\xff",
        b"400",
        b"none",
    ]
    change = st.tuples(place, st.integers(0, 30), st.sampled_from(words) | st.binary(max_size=3))

    def apply(changes: list[tuple[int, int, bytes]]) -> bytes:
        spoilt = content
        for at, cut, new in changes:
            spoilt = spoilt[:at] + new + spoilt[at + cut :]
        return spoilt

    number = st.builds(
        lambda at, new: _with_a_number_replaced(content, at, new), st.integers(0, 200), st.sampled_from(words)
    )
    return st.lists(change, min_size=1, max_size=3).map(apply) | number


def _with_a_number_replaced(content: bytes, at: int, new: bytes) -> bytes:
    places = [number for number in range(len(content)) if content[number : number + 1].isdigit()]
    place = places[at % len(places)]
    return content[:place] + new + content[place + 1 :]


@pytest.mark.parametrize("name", FILES)
def test_a_mangled_file_is_a_topic_or_a_list_of_problems(spoilable: Bench, name: str) -> None:
    path = spoilable.topic / name

    @given(content=_mangled(name))
    @settings(suppress_health_check=[HealthCheck.too_slow], max_examples=effort(8, 2000))
    def mangle(content: bytes) -> None:
        path.write_bytes(content)
        told = spoilable.problems()
        try:
            topic = load_topic(spoilable.topic)
        except DataError as error:
            problems = error.problems
        else:
            problems = ()
            assert np.isclose(belief(topic.model, []).sum(), 1)
        assert set(problems) <= set(told)

    try:
        mangle()
    finally:
        shutil.copy(built_in_topic() / name, path)


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("    least: 1\n    most: 48", "    least: 0\n    most: 400"),
        ("span: [10, 55]", "span: [0.001, 1000]"),
        ("{wrong: ", "{wrong: 9999999"),
        ("bias: 0.6", "bias: 0.999"),
        ("bias: 0.6", "bias: 0"),
        ("repeat: 0.3", "repeat: 1"),
        ("sd: 0.2", "sd: 1e-9"),
        ("unit: 0.02", "unit: 1e-300"),
    ],
)
def test_odd_but_allowed_numbers_can_be_worked_with(bench: Bench, old: str, new: str) -> None:
    bench.edit(("flow.yaml", old, new))
    topic = load_topic(bench.topic)
    own = topic.fastenings["freewheel-2-notch"]
    readings = next(truthful_paths(topic, own))
    with np.errstate(divide="raise", over="raise", invalid="raise"):
        shares = belief(topic.model, readings)
    assert np.isclose(shares.sum(), 1)
    assert topic.model.fastenings[shares.argmax()] == own.id
    bench.problems()
