"""Lines by authors who knew nothing of the program: how many readings are exact, and that tools are no wheels."""

import json
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.counter.lines import Bench, bench, graded

HERE = Path(__file__).parent


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Bench]:
    with pytest.MonkeyPatch.context() as patched, bench() as opened:
        patched.setenv("XDG_CONFIG_HOME", str(tmp_path_factory.mktemp("config")))
        yield opened


@pytest.mark.parametrize(
    ("file", "exact", "wrong"),
    [
        ("lines_1.jsonl", 55, 0),
        ("lines_2.jsonl", 55, 0),
        ("lines_3.jsonl", 54, 1),
        ("lines_4.jsonl", 54, 0),
        ("lines_5.jsonl", 55, 0),
        ("lines_6.jsonl", 54, 0),
        ("lines_7.jsonl", 51, 0),
        ("lines_8.jsonl", 47, 0),
        ("lines_9.jsonl", 47, 1),
        ("lines_10.jsonl", 49, 0),
        ("lines_11.jsonl", 49, 0),
        ("lines_12.jsonl", 48, 0),
        ("lines_13.jsonl", 50, 0),
        ("lines_14.jsonl", 50, 0),
        ("lines_15.jsonl", 50, 0),
        ("lines_16.jsonl", 48, 1),
        ("lines_17.jsonl", 49, 0),
        ("lines_18.jsonl", 49, 0),
        ("lines_19.jsonl", 50, 0),
        ("lines_20.jsonl", 50, 0),
        ("lines_21.jsonl", 46, 2),
    ],
)
def test_as_many_readings_are_exact_as_were_counted(made: Bench, file: str, exact: int, wrong: int) -> None:
    rows = [json.loads(line) for line in (HERE / file).read_text(encoding="utf-8").splitlines()]
    found = Counter(graded(made, row["text"], row["means"])[0] for row in rows if row["kind"] == "reading")
    assert sum(found.values()) in (50, 55)
    assert found["exact"] >= exact
    assert found["wrong"] <= wrong


@pytest.mark.parametrize(
    ("text", "said", "changed"),
    [
        ("ana took the hook spanner", "is out with Ana", "+hook-spanner out Ana"),
        ("whip to lena", "is out with Lena", "+chain-whip out Lena"),
        ("twelve spl 23 mm revolves with", "cassette, common 12-spline lockring", ""),
        ("2 chainwhips out to nico 2 days", "2 of “the whip” are out with Nico", "+chain-whip out Nico"),
        ("new 20 spl arrived, 1", "tools.yaml", ""),
        ("which peg 4 notch", "“the small four”: wall A, peg 7", ""),
        ("marta brought 20 back", "They don’t have that one.", ""),
        ("in: 16spl", "We have no tool called “16", ""),
        ("torqe lockring?", "Back on: 40 N·m", ""),
        ("hook spanner back yet?", "Lent out: Tomas", ""),
        ("2n to bo", "is out with Bo", "+remover-2-notch out Bo"),
        ("2 whips out to pete back tmrw", "2 of “the whip” are out with Pete", "+chain-whip out Pete"),
        ("jonas brought 20 back", "is back from Jonas", "-remover-20-spline out Jonas"),
        ("lena retuned whip", "is back from Lena", "-chain-whip out Lena"),
        ("everything tomas had is back", "Tomas is back with it", "-hook-spanner out Tomas"),
        ("4n lost", "Which one is “4 notch”?", ""),
        ("found the small four behind the compressor", "goes here", "-remover-4-notch-24 lost"),
        ("peg for 2 notch", "wall A, peg 6", ""),
        ("do we open sat", "on Saturday", ""),
        ("howmany waiting", "3 cases", ""),
        ("16 is broke", "We have no tool called “16”", ""),
        ("20 to dina, quarter past 2 latest", "until 14:15", "+remover-20-spline out Dina"),
        ("tell me where it is", "no answer to", ""),
        ("write off the old hook spanner", "Broken: “the crab claw”", "+hook-spanner broken"),
    ],
)
def test_what_is_said_of_tools_is_no_wheel(made: Bench, text: str, said: str, changed: str) -> None:
    came = made.comes(text)
    assert said in came.said
    assert changed in came.changed if changed else not came.changed


def test_a_mistyped_command_is_mended_where_a_case_follows(made: Bench) -> None:
    code = made.codes[1]
    assert "says otherwise" in made.comes(f"clsoe {code} two notch 25 thing").said
    assert f"{code} isn’t closed" in made.comes(f"reopn {code} customer came back").said
    assert "told: From Ada" in made.comes(f"tell {code} we need a photo").changed


@pytest.mark.parametrize(
    ("text", "said", "changed"),
    [
        ("tomas still w crab claw til 6", "until 18:00", "-hook-spanner out Tomas"),
        ("pete keeps whip til wed", "until Wed 11 Mar", "-chain-whip out Pete"),
        ("extend jonas 20 to 5", "until 17:00", "-remover-20-spline out Jonas"),
        ("jonas has the 20 till 5", "1. extend the twenty to Jonas", ""),
        ("can lena keep whip till mon", "“extend the whip to Lena till mon”", ""),
        ("lent the small 4 to Bo, found it", "“lend the small four to Bo”?", ""),
        ("bent the two prong a bit still usable", "Do you mean “broken", ""),
        ("lent ben 1 whip 1 big 4", "“the big four” is out with Ben", "+remover-4-notch-40 out Ben"),
        ("lend big four to kim until fri next week", "until Fri 13 Mar", "+remover-4-notch-40 out Kim 2026-03-13"),
        ("everyday to ben for 2 hrs", "is out with Ben, until 14:", "+lockring-tool-12-spline out Ben"),
        ("everyday in?", "wall A, peg 1", ""),
        ("£ for cassette swap", "£12.00", ""),
        ("jonas loans", "“the twenty”: Jonas", ""),
        ("lent everyday twelve to Ana bk by 4", "is out with Ana, until 16:00", "out Ana 2026"),
        ("put aside fat twelve for Lena she come tomorow", "stays here for Lena, ", "kept Lena 2026"),
        ("clam 2", "is yours", "+ticket 3 claimed"),
        ("left ped which way off", "nothing on “ped”", ""),
        ("can i use the odd 12 on a cassette", "No, not for that.", ""),
        ("out to lunch", "You’re off. ", ""),
        ("duty off 2-3", "off from 14:00 until 15:00", ""),
        ("cant find the small four its not on its hook think its lost", "Lost: “the small four”", ""),
        (
            "keep the big four for kim please she's in at three",
            "stays here for kim, 15:00",
            "kept kim 2026-03-07 15:00",
        ),
        ("left pedal which road does it undo", "nothing on “pedal”", ""),
        ("give me next one", "is yours", "ticket"),
        ("what are our hours on saturdays and mondays", "shut on Mondays", ""),
        ("going home take me off", "You’re off", ""),
        ("off 2-3", "off from 14:00 until 15:00", ""),
        ("lunch 12.30 til 1", "off from 12:30 until 13:00", ""),
        ("off from 3", "off from 15:00", ""),
        ("mon hrs", "shut on Mondays", ""),
        ("lend small four to pete overnight", "until Tue 10 Mar 15:00", "+remover-4-notch-24 out Pete"),
        ("which bikes here", "No bikes here", ""),
    ],
)
def test_deeds_that_may_mean_another_are_asked_back(made: Bench, text: str, said: str, changed: str) -> None:
    came = made.comes(text)
    assert said in came.said
    assert changed in came.changed if changed else not came.changed


@pytest.mark.parametrize(
    "line",
    [
        "say to CODE your part comes on monday",
        "say CODE your part comes on monday",
        "msg to CODE your part comes on monday",
        "tel CODE that your part comes on monday",
        "please write to CODE that your part comes on monday",
        "let CODE know your part comes on monday",
    ],
)
def test_words_go_to_the_case_that_is_named(made: Bench, line: str) -> None:
    came = made.comes(line.replace("CODE", made.codes[1]))
    assert came.said.startswith(f"Sent to {made.codes[1]}.")
    assert came.changed.endswith("your part comes on monday")


@pytest.mark.parametrize("line", ["let go of CODE i have to go lunch", "CODE we have the part for this one"])
def test_no_case_is_claimed_where_most_of_a_line_says_something_else(made: Bench, line: str) -> None:
    assert "+ticket" not in made.comes(line.replace("CODE", made.codes[2])).changed


@pytest.mark.parametrize(
    "outcome", ["nothing fitted", "4n 40 not fitted", "4n 40, never came off", "4n 40 no tool fitted"]
)
def test_a_remover_that_is_said_not_to_have_fitted_did_not(made: Bench, outcome: str) -> None:
    assert "The remover didn’t fit." in made.comes(f"close {made.codes[0]} {outcome}").said


@pytest.mark.parametrize(
    ("text", "means"),
    [
        ("s 12 23.5 t 9sp", {"fitting": "splines", "count": 12, "size": 23.5, "spin": "turns", "sprockets": 9}),
        ("21.5 20spl turns not", {"fitting": "splines", "count": 20, "size": 21.5, "spin": "stays"}),
        ("9 cogs center doesnt go", {"spin": "stays", "sprockets": 9}),
        ("s 12 23.5 9sp", {"count": 12, "size": 23.5, "spin": "stays", "sprockets": 9}),
    ],
)
def test_how_it_spins_is_read_in_few_words(made: Bench, text: str, means: dict[str, object]) -> None:
    assert graded(made, text, means)[0] == "exact"
