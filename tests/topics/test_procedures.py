"""How each kind comes off, as data: what is proved about it before anybody is led through it (contract C11)."""

import shutil
from pathlib import Path

import pytest

from triagebot.topics import built_in_topic, check_topic, load_topic

TOPIC = load_topic(built_in_topic())


def test_every_kind_with_a_remover_has_steps_that_hold_its_cautions() -> None:
    for row in TOPIC.catalogue.fastenings:
        procedure = TOPIC.procedure_for(row.id)
        assert (procedure is None) == (row.remover is None), row.id
        if procedure is not None:
            held = {caution for step in procedure.steps for caution in step.cautions}
            assert set(row.cautions) <= held, row.id
            assert procedure.steps[-1].refit


def test_the_clamp_comes_off_before_it_is_unscrewed() -> None:
    """Common practice, no source: the freewheel moves out as it unscrews, and jams against what holds the remover."""
    steps = [step.id for step in (TOPIC.procedure_for("freewheel-20-spline") or TOPIC.procedures[0]).steps]
    assert steps.index("loosen") < steps.index("clamp-off") < steps.index("unscrew")


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        ("cautions: [clamp-off]", "cautions: []", "no step of procedure 'freewheel' holds its caution 'clamp-off'"),
        ("fastenings: [snap-ring-sprocket]", "fastenings: []", "has 0 procedures in procedures.yaml, not one"),
        ("fastenings: [fixed-notched-ring]", "fastenings: [fixed-ring-notched]", "no fastening 'fixed-ring-notched'"),
        ("needs: [eye-protection]", "needs: [goggles]", "there is no accessory 'goggles'"),
        ("slips: [find-the-gap]", "slips: [find-a-gap]", "there is no text 'help-find-a-gap'"),
        ("slips: [find-the-gap]", "slides: [find-the-gap]", "slides"),
        ("{id: protect,", "{id: protection,", "procedure-snap-ring-protection"),
        ("- id: clamp-off", "- id: clamp-off\n        evidence: {slips: {spin: sideways}}", "no answer 'sideways'"),
        ("evidence: {worn: {condition: worn}}", "evidence: {worn: {condition: tired}}", "no answer 'tired'"),
    ],
)
def test_what_is_wrong_with_them_is_told(tmp_path: Path, old: str, new: str, told: str) -> None:
    folder = Path(shutil.copytree(built_in_topic(), tmp_path / "topic"))
    file = folder / "procedures.yaml"
    text = file.read_text(encoding="utf-8")
    assert old in text
    file.write_text(text.replace(old, new), encoding="utf-8")
    problems = check_topic(folder)
    assert any(told in problem.message for problem in problems), problems


def test_a_topic_without_them_still_works(tmp_path: Path) -> None:
    folder = Path(shutil.copytree(built_in_topic(), tmp_path / "topic"))
    (folder / "procedures.yaml").unlink()
    assert load_topic(folder).procedures == ()
