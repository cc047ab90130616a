"""What a shop has learned: how far it can move a topic, and the file that says it."""

from datetime import date
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.strategies import rear_sprockets
from triagebot.topics import LEAST, Learned, floored, floors, learned_text, taught, unnamed, validated_with_marks

TOPIC = rear_sprockets()
IDS = sorted(TOPIC.fastenings)


def shares() -> st.SearchStrategy[dict[str, float]]:
    """Any figures for any of the fastenings, most of them far too high or too low."""
    return st.dictionaries(st.sampled_from(IDS), st.floats(1e-9, 0.999), max_size=len(IDS))


def test_nothing_learned_is_the_topic_itself() -> None:
    assert taught(TOPIC, None) is TOPIC
    assert taught(TOPIC, Learned(topic=TOPIC.id)) is TOPIC
    assert taught(TOPIC, Learned(topic="front-forks", priors={"unlisted": 0.5})) is TOPIC
    assert taught(TOPIC, Learned(topic=TOPIC.id, priors={"gone": 0.5}, slips={"gone": 0.1, "size": 0.1})) is TOPIC


@given(shares())
def test_priors_are_whole_and_never_below_their_floors(wanted: dict[str, float]) -> None:
    found = floored(TOPIC.catalogue, wanted)

    assert sum(found.values()) == pytest.approx(1)
    assert all(found[name] >= floor * (1 - 1e-9) for name, floor in floors(TOPIC.catalogue).items())
    assert found["unlisted"] >= TOPIC.fastenings["unlisted"].prior * (1 - 1e-9)


def test_who_is_not_named_keeps_its_share_and_the_named_divide_the_rest() -> None:
    found = floored(TOPIC.catalogue, {"freewheel-2-notch": 0.3, "freewheel-20-spline": 0.1})
    rest = TOPIC.fastenings["freewheel-2-notch"].prior + TOPIC.fastenings["freewheel-20-spline"].prior

    assert found["freewheel-2-notch"] == pytest.approx(rest * 0.75)
    assert found["freewheel-20-spline"] == pytest.approx(rest * 0.25)
    assert found["cassette-12-spline"] == pytest.approx(TOPIC.fastenings["cassette-12-spline"].prior)


def test_what_asks_for_too_little_is_held_at_its_floor() -> None:
    wanted = {f.id: 1e-6 for f in TOPIC.catalogue.fastenings} | {"cassette-12-spline": 0.9}

    found = floored(TOPIC.catalogue, wanted)

    assert found["freewheel-2-notch"] == pytest.approx(LEAST * TOPIC.fastenings["freewheel-2-notch"].prior)
    for kept in ("unlisted", "locknut-flats"):
        assert found[kept] == pytest.approx(TOPIC.fastenings[kept].prior)
    assert found["cassette-12-spline"] > 0.9


def test_the_model_believes_what_was_learned_and_the_edition_tells() -> None:
    learned = Learned(topic=TOPIC.id, priors={f: 1 / len(IDS) for f in IDS}, slips={"spin": 0.2})
    topic = taught(TOPIC, learned)
    model = topic.model

    held = {"cassette-12-spline": LEAST * TOPIC.fastenings["cassette-12-spline"].prior}  # so common that this is more
    rest = (1 - sum(held.values())) / (len(IDS) - len(held))
    assert np.allclose(model.prior, [held.get(name, rest) for name in model.fastenings])
    spin = model.tables["spin"].rows[model.fastenings.index("cassette-12-spline")]
    assert spin == pytest.approx([0.8, 0.2])
    fitting = model.tables["fitting"].rows, TOPIC.model.tables["fitting"].rows
    assert np.array_equal(*fitting)
    other = taught(TOPIC, Learned(topic=TOPIC.id, priors={f: 1 / len(IDS) for f in IDS}, slips={"spin": 0.21}))
    assert len({TOPIC.digest, topic.digest, other.digest}) == 3
    assert taught(TOPIC, learned).digest == topic.digest
    assert TOPIC.model.prior[0] != model.prior[0]


@given(
    shares(),
    st.dictionaries(st.sampled_from(["spin", "fitting"]), st.floats(1e-6, 0.4999)),
    st.dates() | st.none(),
    st.integers(0, 10**6),
)
def test_the_file_says_what_was_learned(
    tmp_path_factory: pytest.TempPathFactory,
    priors: dict[str, float],
    slips: dict[str, float],
    on: date | None,
    cases: int,
) -> None:
    learned = Learned(topic=TOPIC.id, priors=priors, slips=slips, day=on, cases=cases)
    path: Path = tmp_path_factory.mktemp("shop") / "learned.yaml"
    path.write_text(learned_text(learned), encoding="utf-8")

    assert validated_with_marks(Learned, path)[0] == learned


READY = sorted((TOPIC.folder / "priors").glob("*.yaml"))


@pytest.mark.parametrize("file", READY, ids=[file.stem for file in READY])
def test_ready_priors_are_what_a_shop_may_start_from(file: Path) -> None:
    mix, _ = validated_with_marks(Learned, file)

    assert mix.topic == TOPIC.id
    tooled = {f.id for f in TOPIC.catalogue.fastenings if f.remover}
    assert mix.priors.keys() == tooled | {"freewheel-12-spline-small"}
    assert sum(mix.priors.values()) == pytest.approx(1, abs=0.02)
    assert unnamed(taught(TOPIC, mix)) == []


def test_there_are_ready_priors_of_old_wheels_and_of_sport() -> None:
    old, sport = (taught(TOPIC, validated_with_marks(Learned, file)[0]) for file in READY)

    assert [file.stem for file in READY] == ["old-wheels", "sport"]
    assert old.fastenings["freewheel-2-notch"].prior > 10 * sport.fastenings["freewheel-2-notch"].prior
    assert sport.fastenings["cassette-12-spline"].prior > 2 * old.fastenings["cassette-12-spline"].prior


def test_every_prior_has_its_range_and_who_judged_it() -> None:
    for fastening in TOPIC.catalogue.fastenings:
        assert fastening.prior_range is not None
        assert fastening.prior_range[0] <= fastening.prior <= fastening.prior_range[1]
        assert fastening.sources.get("prior", fastening.sources["default"]) in TOPIC.sources
