"""Lines read as a whole: what is seen of a wheel in any spelling, and what is said of the desk in any order."""

from collections.abc import Iterator

import pytest

from tests.counter.lines import Bench, bench, graded


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Bench]:
    with pytest.MonkeyPatch.context() as patched, bench() as opened:
        patched.setenv("XDG_CONFIG_HOME", str(tmp_path_factory.mktemp("config")))
        yield opened


@pytest.mark.parametrize(
    ("text", "means"),
    [
        ("trns 12spl 8", {"fitting": "splines", "count": 12, "spin": "turns", "sprockets": 8}),
        ("8cgs 12 splns stys", {"fitting": "splines", "count": 12, "spin": "stays", "sprockets": 8}),
        ("12/23.5/stays/8", {"count": 12, "size": 23.5, "spin": "stays", "sprockets": 8}),
        ("one cog no splines stays", {"fitting": "none", "sprockets": 1, "spin": "stays"}),
        ("six block, 20 spl, old tourer, stays put", {"count": 20, "sprockets": 6, "spin": "stays"}),
        ("goes round w/ cogs 12 spl 9 spd", {"count": 12, "sprockets": 9, "spin": "turns"}),
        ("12spl ring don’t go round, 8 gears", {"count": 12, "sprockets": 8, "spin": "stays"}),
        ("20 sp 6 cogs dosnt turn", {"count": 20, "sprockets": 6, "spin": "stays"}),
        ("16 notch no sorry splines, stays, 6", {"fitting": "splines", "count": 16, "spin": "stays", "sprockets": 6}),
        (
            "bmx 4 slots, kids 16in, spins, 1 cog 16 teeth",
            {"fitting": "notches", "count": 4, "spin": "turns", "sprockets": 1},
        ),
        ("cassette i think. 12 spl. stays. 8.", {"count": 12, "spin": "stays", "sprockets": 8}),
        (
            "seven on it centre dunt move 12 spl 23",
            {"fitting": "splines", "count": 12, "size": 23, "spin": "stays", "sprockets": 7},
        ),
        (
            "4 slots 24 ish stops put 5 cogs",
            {"fitting": "notches", "count": 4, "size": 24, "spin": "stays", "sprockets": 5},
        ),
        (
            "twenty splines twenty one and a half six speed doesn't go round",
            {"fitting": "splines", "count": 20, "size": 21.5, "sprockets": 6, "spin": "stays"},
        ),
        (
            "7 sproket the midle no move splines 12 wide 23",
            {"fitting": "splines", "count": 12, "size": 23, "spin": "stays", "sprockets": 7},
        ),
        (
            "six notches round the outside, forty two mil single sprocket",
            {"fitting": "outer-notches", "count": 6, "size": 42, "sprockets": 1},
        ),
        (
            "11s turns 12 splins 23,5",
            {"fitting": "splines", "count": 12, "size": 23.5, "spin": "turns", "sprockets": 11},
        ),
        (
            "i count 11 sprocket and 12 spline, all turn together",
            {"fitting": "splines", "count": 12, "spin": "turns", "sprockets": 11},
        ),
        (
            "1 sprocket turns no splines no notches lockring with 3 notches outside",
            {"fitting": "outer-notches", "count": 3, "spin": "turns", "sprockets": 1},
        ),
        (
            "7 on the back, spins w the cogs, 12 sp lines 23.6",
            {"fitting": "splines", "count": 12, "size": 23.6, "spin": "turns", "sprockets": 7},
        ),
        ("1s none smooth", {"fitting": "none", "sprockets": 1}),
        ("4 notches, 23 and a half, stays", {"fitting": "notches", "count": 4, "size": 23.5, "spin": "stays"}),
    ],
)
def test_a_wheel_is_read_in_any_spelling(made: Bench, text: str, means: dict[str, object]) -> None:
    assert graded(made, text, means)[0] == "exact"


def test_what_may_be_put_right_or_said_twice_is_not_read(made: Bench) -> None:
    seen = {"fitting": "splines", "count": 12, "size": 23.5, "sprockets": 9}
    assert graded(made, "12 spl 23.5 stays no turns 9sp", seen)[0] == "exact"


def test_who_is_not_sure_whether_it_turns_says_nothing_of_it(made: Bench) -> None:
    assert graded(made, "not sure turns 12 spl", {"count": 12, "fitting": "splines"})[0] == "exact"


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("show me the que", "3 cases"),
        ("whos next in line", "3 cases"),
        ("any new ones", "3 cases"),
        ("gimme next one", "is yours"),
        ("claim next pls", "is yours"),
        ("put me on", "You’re on"),
        ("on break till 2", "You’re off until 14:00"),
        ("im off lunch back at 1", "You’re off until 13:00"),
        ("off at 5", "You’re off from 17:00"),
        ("on duty til 6", "You’re off from 18:00"),
        ("anyone else on today or just me", "On duty: Ada"),
        ("closed today how many", "2 people are waiting"),
        ("how close a case", "people are waiting"),
        ("snooze all until after lunch", "is snoozed until 14:00"),
        ("im on now, Tilda", "Do you mean “on duty”?"),
        ("off tomorrow am", "off duty from tomorrow am"),
        ("im off home duty off", "You’re off."),
    ],
)
def test_the_desk_is_spoken_of_in_any_order(made: Bench, text: str, said: str) -> None:
    assert said in made.comes(text).said


@pytest.mark.parametrize(
    ("text", "said", "changed"),
    [
        ("lent bea hook spanner n 1 whip", "out with Bea", "+chain-whip out Bea"),
        ("jonas brought the 20, not the whip", "is back from Jonas", "-remover-20-spline out Jonas"),
        ("teeth of whip bent, bin it", "Broken: “the whip”", "+chain-whip broken"),
        ("lena is bringing the whip at 4", "extend the whip to Lena at 4", ""),
        ("omar late, give him til 5", "omar has nothing of ours", ""),
        ("tools home: 20, hook", "is back from Tomas", "-remover-20-spline out Jonas"),
        ("hang 20 on peg 4 now", "tools.yaml", ""),
        ("got spare cass tool?", "the everyday twelve", ""),
        ("CODE to ruth", "Nobody here is called “ruth”", ""),
        ("claim CODE for ruth", "Nobody here is called “ruth”", ""),
        ("what was CODE about", "CODE, opened", ""),
        ("tell cust CODE its done", "Sent to CODE", "told: From Ada"),
    ],
)
def test_what_is_said_of_tools_and_cases(made: Bench, text: str, said: str, changed: str) -> None:
    code = made.codes[2]
    came = made.comes(text.replace("CODE", code))
    assert said.replace("CODE", code) in came.said
    assert changed in came.changed if changed else not came.changed


def test_what_nothing_came_of_is_asked_back_where_a_tool_is_named(made: Bench) -> None:
    came = made.comes("marek whip thingummy")
    assert "lend the whip to" in came.said
    assert not came.changed
