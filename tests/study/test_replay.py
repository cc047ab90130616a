"""Which edit changes whose answer: each cause by itself, several at once, and only together."""

import shutil
from collections.abc import Iterable, Mapping
from dataclasses import replace
from datetime import timedelta
from functools import cache
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.conversation.guides import shipped_guide, without_question
from tests.conversation.sayings import messages as sayings
from tests.study.shelf import FOUR_NOTCH, TWELVE, closed, said
from triagebot.conversation import Case, Message, load_guide
from triagebot.shop import built_in_shop, load_shop
from triagebot.study.edits import Edit, Edition, edition_from, edits_between, mixed
from triagebot.study.replay import Replayed, answer, bare, replay
from triagebot.study.replay_table import replay_rows, replay_table
from triagebot.testing import START, ScriptedPerson
from triagebot.topics import built_in_topic, load_topic

NOW = START + timedelta(days=2)
#: How the row of this freewheel names its remover.
ROW = "    remover: remover-4-notch-24"


def edition(topic_folder: Path, shop_folder: Path) -> Edition:
    topic = load_topic(topic_folder)
    return edition_from(topic, load_guide(topic, load_shop(shop_folder, topic), ("en",)))


@cache
def live() -> Edition:
    return edition(built_in_topic(), built_in_shop())


@cache
def stored() -> tuple[Case, ...]:
    return (
        said(*FOUR_NOTCH, code="AAA-001"),
        closed(said(*FOUR_NOTCH, code="AAA-002"), "freewheel-4-notch-24"),
        said(*TWELVE, code="AAA-003", days=-60),
        said("12 splines", "about 23 mm", code="AAA-004"),
        said("12 splines", "stop", code="AAA-005"),
    )


def edited(folder: Path, changes: Mapping[str, Iterable[tuple[str, str]]]) -> Edition:
    """The live edition after somebody has replaced texts in files of the topic or the shop."""
    places = {"topic": folder / "topic", "shop": folder / "shop"}
    shutil.copytree(built_in_topic(), places["topic"])
    shutil.copytree(built_in_shop(), places["shop"])
    for name, replacements in changes.items():
        kind, _, file = name.partition("/")
        path = places[kind] / file
        text = path.read_text(encoding="utf-8") if path.exists() else ""
        for old, new in replacements:
            assert old in text
            text = text.replace(old, new, 1) if old else text + new
        path.write_text(text, encoding="utf-8")
    return edition(places["topic"], places["shop"])


def replayed(other: Edition) -> Replayed:
    return replay(stored(), live(), other, NOW)


def test_a_copy_changes_nothing_wherever_it_lies(tmp_path: Path) -> None:
    found = replayed(edited(tmp_path, {}))

    assert (found.cases, found.edits, found.changes) == (4, (), ())
    assert "no answer changes" in replay_table(found)


def test_everything_mixed_is_the_edited_edition_and_nothing_mixed_the_live_one(tmp_path: Path) -> None:
    other = edited(
        tmp_path,
        {
            "topic/catalogue.yaml": [("prior: 0.535", "prior: 0.525"), ("prior: 0.025", "prior: 0.035")],
            "topic/flow.yaml": [("wrong: 120", "wrong: 60")],
            "topic/text/en.ftl": [("caution-teeth-cut = ", "caution-teeth-cut = Mind: ")],
            "shop/tools.yaml": [("name: the two-prong", "name: the fork")],
            "shop/learned.yaml": [("", "topic: rear-sprockets\nslips: {spin: 0.09}\n")],
        },
    )
    edits = edits_between(live(), other)
    whole, nothing = mixed(live(), other, edits), mixed(live(), other, ())

    assert [str(edit) for edit in edits] == [
        "catalogue.yaml: fastenings[cassette-12-spline]",
        "catalogue.yaml: fastenings[cassette-12-spline-deep]",
        "flow.yaml: losses",
        "learned.yaml: slips",
        "text/en.ftl: caution-teeth-cut",
        "tools.yaml: tools[remover-2-notch]",
    ]
    assert whole.topic.catalogue == other.guide.topic.catalogue
    assert whole.topic.flow == other.guide.topic.flow
    assert whole.shop.tools_file == other.guide.shop.tools_file
    assert nothing.topic.catalogue == live().guide.topic.catalogue
    assert nothing.topic.flow == live().guide.topic.flow
    assert nothing.shop.notes == live().guide.shop.notes
    assert whole.language("en").texts("caution-teeth-cut").startswith("Mind: ")
    assert not nothing.language("en").texts("caution-teeth-cut").startswith("Mind: ")


def test_a_note_that_came_is_an_edit_and_a_text_that_came_is_none(tmp_path: Path) -> None:
    note = "---\ntitle: Once more\nlanguage: en\nfastenings: [cassette-12-spline]\n---\n\nRead it whole.\n"
    other = edited(
        tmp_path,
        {"shop/notes/once-more.md": [("", note)], "topic/text/en.ftl": [("", "\nnobody-names-it = Nothing\n")]},
    )
    (edit,) = edits_between(live(), other)
    whole, nothing = mixed(live(), other, [edit]), mixed(live(), other, ())

    assert (edit.file, edit.section) == ("notes/once-more.md", "note")
    assert [note.slug for note in whole.shop.notes] == [note.slug for note in other.guide.shop.notes]
    assert [note.slug for note in nothing.shop.notes] == [note.slug for note in live().guide.shop.notes]
    assert all(mixture.language("en").texts.has("nobody-names-it") for mixture in (whole, nothing))


def test_another_remover_names_the_row_and_the_open_case_first(tmp_path: Path) -> None:
    found = replayed(
        edited(
            tmp_path,
            {
                "topic/catalogue.yaml": [(ROW, ROW.replace("4-notch-24", "2-notch"))],
            },
        )
    )

    change = next(change for change in found.changes if not change.wording)
    assert (change.open, change.others) == (("AAA-001",), ("AAA-002",))
    assert "(remover-4-notch-24, anticlockwise)" in change.before
    assert "(remover-2-notch, anticlockwise)" in change.after
    assert change.edits == (Edit("catalogue.yaml", "fastenings", "freewheel-4-notch-24"),)
    assert not change.together
    table = replay_table(found)
    assert (
        table.index("open cases") < table.index("AAA-001") < table.index("cases that are over") < table.index("AAA-002")
    )


def test_the_shops_own_name_of_a_tool_changes_every_line_that_tells_it_and_no_other(tmp_path: Path) -> None:
    found = replayed(edited(tmp_path, {"shop/tools.yaml": [("name: the small four", "name: little Otto")]}))

    assert [change.before.partition("the small four")[0] for change in found.changes] == [
        "Remover: the 4-notch freewheel remover, 24 mm. Ours: “",  # with the answer
        "“",  # the tool, when it is asked for
        "“",  # and its price
    ]
    for change in found.changes:
        assert change.wording
        assert (change.open, change.others) == (("AAA-001",), ("AAA-002",))
        assert change.after == change.before.replace("the small four", "little Otto")
        assert [str(edit) for edit in change.edits] == ["tools.yaml: tools[remover-4-notch-24]"]


def test_a_line_that_is_told_twice_is_one_change_of_each_case(tmp_path: Path) -> None:
    """A caution stands among the cautions and at its step."""
    found = replayed(edited(tmp_path, {"topic/text/en.ftl": [("caution-teeth-cut = ", "caution-teeth-cut = Mind: ")]}))

    codes = [(*change.open, *change.others) for change in found.changes]
    assert codes
    assert all(len(set(each)) == len(each) for each in codes)


def test_two_edits_at_once_are_told_apart(tmp_path: Path) -> None:
    found = replayed(
        edited(
            tmp_path,
            {
                "shop/tools.yaml": [("name: the small four", "name: little Otto")],
                "topic/text/en.ftl": [("caution-teeth-cut = ", "caution-teeth-cut = Mind: ")],
            },
        )
    )

    causes = {str(edit) for change in found.changes if "AAA-001" in change.open for edit in change.edits}
    assert causes == {"tools.yaml: tools[remover-4-notch-24]", "text/en.ftl: caution-teeth-cut"}
    assert not any(change.together for change in found.changes)


def test_edits_that_only_do_it_together_are_named_together(tmp_path: Path) -> None:
    """A remover of a new id needs both its own row and the fastening's; a third edit has nothing to do with it."""
    remover = "  - {id: remover-4-notch-24, traits: [clamped, shallow], source: common-practice}"
    found = replayed(
        edited(
            tmp_path,
            {
                "topic/catalogue.yaml": [
                    (ROW, ROW + "-thin"),
                    (remover, f"{remover}\n{remover.replace('notch-24', 'notch-24-thin')}"),
                ],
                "topic/flow.yaml": [("most-questions: 14", "most-questions: 13")],
                "topic/text/en.ftl": [
                    (
                        "remover-remover-4-notch-24 =",
                        "remover-remover-4-notch-24-thin = thin one\nremover-remover-4-notch-24 =",
                    )
                ],
            },
        )
    )

    change = next(change for change in found.changes if not change.wording and "AAA-001" in change.open)
    assert "remover-4-notch-24-thin" in change.after
    assert change.together
    assert [str(edit) for edit in change.edits] == [
        "catalogue.yaml: fastenings[freewheel-4-notch-24]",
        "catalogue.yaml: removers[remover-4-notch-24-thin]",
    ]
    table = replay_table(found)
    assert "only together: " in table
    assert "flow.yaml: outcomes" in table[table.index("by themselves") :]


def test_an_answer_that_is_given_up_for_another_question(tmp_path: Path) -> None:
    found = replayed(edited(tmp_path, {"topic/flow.yaml": [("plausible: 0.05", "plausible: 0.0001")]}))

    outcomes = [change for change in found.changes if not change.wording]
    assert any(change.after.startswith("asks ") and "AAA-003" in change.others for change in outcomes)
    assert {edit for change in outcomes for edit in change.edits} == {Edit("flow.yaml", "outcomes")}


def test_cases_of_nobody_and_of_other_topics(tmp_path: Path) -> None:
    other = edited(tmp_path, {"topic/flow.yaml": [("plausible: 0.05", "plausible: 0.0001")]})
    strangers = [replace(case, topic="front-forks") for case in stored()]

    assert replay(strangers, live(), other, NOW).cases == 0
    assert replay([], live(), other, NOW).changes == ()


@pytest.mark.parametrize("code", range(4))
def test_the_same_case_gets_the_same_answer_as_it_did(code: int) -> None:
    """Taken up again from its readings, a case of the live edition is told what it was told."""
    case = stored()[code]
    told = answer(live().guide, bare(case, NOW))

    assert (told.what.startswith("asks ")) == (case.now.outcome is None)
    if case.now.outcome is None:
        assert told.what == f"asks {case.now.question}"


@given(st.lists(sayings(), max_size=10))
def test_whatever_was_said_a_case_can_be_asked_in_any_edition(messages: list[Message]) -> None:
    person = ScriptedPerson(shipped_guide())
    for message in messages:
        person.send(message)
    plain = bare(person.case, NOW)

    assert answer(live().guide, plain).what
    for question in ("sprockets", "fitting"):
        assert answer(without_question(shipped_guide(), question), plain).what
    assert replay([person.case], live(), live(), NOW).changes == ()


def test_nothing_personal_is_shown(tmp_path: Path) -> None:
    case = said("I am Quilla, four notches, it stays still, 24 mm by calliper", *FOUR_NOTCH, code="AAA-009")
    other = edited(tmp_path, {"topic/text/en.ftl": [("caution-teeth-cut = ", "caution-teeth-cut = Mind: ")]})

    found = replay([case], live(), other, NOW)
    assert found.changes
    assert "Quilla" not in replay_table(found) + str(replay_rows(found)) + str(found)


def test_as_rows_for_machines(tmp_path: Path) -> None:
    other = edited(tmp_path, {"topic/text/en.ftl": [("caution-teeth-cut = ", "caution-teeth-cut = Mind: ")]})
    rows = replay_rows(replayed(other))

    assert rows["cases"] == 4
    assert rows["edits"] == ["text/en.ftl: caution-teeth-cut"]
    (change,) = rows["changes"]
    assert set(change) == {"open", "other", "wording", "from", "to", "by", "together"}
    assert change["by"] == rows["edits"]
