"""Lines that are no command as they stand: what is certain is done, what is not is offered, and a word takes it."""

from collections.abc import Iterator

import pytest

from tests.counter.lines import Bench, bench
from tests.counter.shop import Shop
from triagebot.messages import Edited, Pressed
from triagebot.store.loans import Loans

ADA, BOB = "ada", "bob"


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Bench]:
    with pytest.MonkeyPatch.context() as patched, bench() as opened:
        patched.setenv("XDG_CONFIG_HOME", str(tmp_path_factory.mktemp("config")))
        yield opened


def out(shop: Shop) -> list[tuple[str, str]]:
    with shop.reading() as view:
        return [(loan.tool, loan.to) for loan in Loans(view).out()]


@pytest.mark.parametrize(
    ("text", "said", "changed"),
    [
        ("gus has the 20 till mon", "is out with Gus, until", "+remover-20-spline out Gus"),
        ("lend hook spanner ruth 30 min", "is out with Ruth, until", "+hook-spanner out Ruth"),
        ("sara wants the 2 notch till half 4", "until 16:30", "+remover-2-notch out Sara"),
        ("couple of whips for eva this arvo", "2 of “the whip” are out with Eva", "+chain-whip out Eva"),
        ("move jonas 20 to friday", "until Fri 13 Mar", "+remover-20-spline out Jonas 2026-03-13"),
        ("lendwhiptopete", "is out with Pete", "+chain-whip out Pete"),
        ("tomas he is bring back the spanner", "is back from Tomas", "-hook-spanner out Tomas"),
        ("one of petes whips is back, other one still out", "is back from Pete", "-chain-whip out Pete"),
        ("found the 4 notch behind the compressor", "“the small four” goes here", "-remover-4-notch-24 lost"),
        ("chain broke on the small whip", "Broken: “the whip”", "+chain-whip broken"),
    ],
)
def test_what_is_certain_is_done(made: Bench, text: str, said: str, changed: str) -> None:
    came = made.comes(text)
    assert said in came.said
    assert changed in came.changed


@pytest.mark.parametrize(
    ("text", "offered"),
    [
        ("20 turned up, was in the shed", ["found the twenty"]),
        ("whip back from ruth, bit bent but ok", ["returned the whip from ruth", "broken the whip"]),
        ("nina 2 whips back 1 lost", ["returned 2 whip from nina", "lost 2 whip"]),
        ("no wait it was sara not lena who took it", ["returned the whip from Lena; lend the whip to sara"]),
        ("gave ivo 12 and 20 over the weekend", ["everyday twelve", "fat twelve"]),
        ("4n lost", ["the small four", "the middle four", "the big four"]),
        ("hook spanner brokn", ["broken the crab claw"]),
        ("whip bente", ["broken the whip"]),
        ("yellow tape one to lena she bring back tomorrow", ["lend the odd twelve (yellow tape) to Lena until"]),
        ("give lena the everyday one if its in", ["lend the everyday twelve to Lena"]),
        ("Pete returned the whip yesterday, I forgot to enter it", ["returned the whip from Pete"]),
        ("tell him 3 is too early say half four", ["3 is too early say half four”"]),
        ("whip jonas", ["lend the whip to Jonas", "returned the whip from Jonas"]),
    ],
)
def test_what_is_not_is_offered_and_nothing_is_done(made: Bench, text: str, offered: list[str]) -> None:
    came = made.comes(text)
    assert came.changed == ""
    assert all(each in came.said for each in offered)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("twenty spline tool where", "“the twenty”: wall A, peg 5."),
        ("wheresthewhip", "“the whip”: wall A, peg 11."),
        ("wheres 4n", "“the big four”: wall A, peg 9."),
        ("anything on peg 7", "“the small four”: wall A, peg 7."),
        ("whats jonas got", "“the twenty”: Jonas"),
        ("what does ruth still have of ours", "ruth has nothing of ours"),
        ("is lena back with the whip yet", "Lent out: Lena"),
        ("who had the 20 before gus", "Lent out: Jonas"),
        ("anyone late with tools", "Nothing is late"),
        ("when does jonas bring the 20 back", "“the twenty”: Jonas"),
        ("has Tomas still something from us", "“the crab claw”: Tomas"),
        ("how many ive got open", "One case."),
        ("Which of the fours fits 24 mm?", "“the small four”, wall A, peg 7."),
        ("two prong keeps slipping how do i hold it", "notes"),
        ("nm for pedals", "I’ve nothing on “pedals”"),
        ("wich way turn bb right side to open", "I’ve nothing on “bb”"),
        ("list all tools", "“the crab claw”: wall A, peg 3."),
        ("freewhel torqe pls", "Back on: by hand"),
        ("torqe cassete lockrng", "Back on: 40 N·m"),
        ("how strong must i tight the cassette ring", "Back on: 40 N·m"),
        ("freewheel what thread", "turn anticlockwise"),
        ("grease or no grease on freewheel thread", "thin coat of grease"),
        ("any warnings on the two notch", "In our notes"),
        ("can the 12 cass tool do 12 freewheel too or no", "is for:\n– cassette"),
        ("what time we opening tmrw", "opens on Tuesday 10 March at 15:00"),
        ("open on the holiday?", "Winter break"),
        ("hours sunday", "we’re shut on Sundays"),
        ("got 2 of the 16s or 1", "We have no tool called “16”"),
        ("16 back", "We have no tool called “16”"),
        ("two new 20s came in", "tools.yaml"),
        ("new whip bought put on peg 9", "tools.yaml"),
        ("who works tonight", "On duty: Ada."),
        ("hlep", "“queue”"),
        ("anything waiting for me", "One case."),
    ],
)
def test_what_is_asked_is_answered_and_nothing_is_done(made: Bench, text: str, said: str) -> None:
    came = made.comes(text)
    assert said in came.said
    assert came.changed == ""


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("CODE mine", "CODE is yours."),
        ("CODE done, cassette", "“cassette” could be each"),
        ("CODE was nothing just dirt, close", "CODE is closed: nobody knows what it was."),
        ("open CODE again", "CODE isn’t closed."),
        ("park CODE till customer answers", "CODE is snoozed until they write."),
        ("what did CODE say last", "CODE, opened "),
        ("hand CODE to ruth", "Nobody here is called “ruth”."),
        ("CODE wheel is ready on friday", "say CODE wheel is ready on friday"),
        ("gimme next", "CODE is yours."),
        ("claimnext", "CODE is yours."),
        ("snooze CODE until monday morning please", "CODE is snoozed until Mon 9 Mar 09:00"),
        ("I am closing CODE, it was 4n 40", "CODE is closed"),
    ],
)
def test_a_code_may_stand_anywhere(made: Bench, text: str, said: str) -> None:
    code = made.codes[1]
    assert said.replace("CODE", code) in made.comes(text.replace("CODE", code)).said


@pytest.fixture
def open_shop(shop: Shop) -> Shop:
    shop.staff(ADA)
    return shop


def test_a_yes_takes_what_was_offered_and_anything_else_drops_it(open_shop: Shop) -> None:
    open_shop.says(ADA, "lend the twenty to Ben")
    assert "“yes” does it" in open_shop.says(ADA, "twenty back, in a shed it was")
    assert out(open_shop) == [("remover-20-spline", "Ben")]
    assert open_shop.says(ADA, "yes").startswith("“the twenty” is back from Ben.")
    assert out(open_shop) == []
    open_shop.says(ADA, "20 turned up, was in the van")
    assert "4 notches" in open_shop.says(ADA, "4n 40")
    assert "isn’t lost" not in open_shop.says(ADA, "yes")


def test_a_number_or_its_button_takes_one_of_several(open_shop: Shop) -> None:
    assert "1. the small four" in open_shop.says(ADA, "Ben took a 4 notch")
    assert open_shop.says(ADA, "2").startswith("“the middle four” is out with Ben.")
    open_shop.says(ADA, "Cyd took a 4 notch")
    shown = open_shop.recorded.last(ADA)
    (button,) = [each.id for each in shown.reply.question.choices if each.label == "the big four"]
    assert open_shop.says(ADA, Pressed("", shown.turn, button)).startswith("“the big four” is out with Cyd.")
    assert "belongs to an earlier line" in open_shop.says(ADA, Pressed("", shown.turn, button))
    assert out(open_shop) == [("remover-4-notch-32", "Ben"), ("remover-4-notch-40", "Cyd")]


def test_what_was_offered_long_ago_is_not_taken(open_shop: Shop) -> None:
    open_shop.says(ADA, "4n lost")
    open_shop.clock.wait(minutes=15)
    open_shop.says(ADA, "2")
    assert out(open_shop) == []


@pytest.mark.parametrize("name", ["Ben", "Bente", "Brooke", "Marek", "Lena", "Retta", "Gona"])
def test_a_name_that_looks_like_a_word_is_a_name(open_shop: Shop, name: str) -> None:
    told = open_shop.says(ADA, f"{name} took the twenty")
    assert told.startswith(("“the twenty” is out with", "Do you mean", "Which do you mean"))
    assert all(to == name for _, to in out(open_shop))


def test_two_tools_in_a_line_go_and_come_together(open_shop: Shop) -> None:
    told = open_shop.says(ADA, "lend the twenty and a whip to Ben until 17:00").splitlines()
    assert [line.split(",")[0] for line in told] == ["“the twenty” is out with Ben", "“the whip” is out with Ben"]
    assert len(open_shop.says(ADA, "Ben brought the whip and the twenty back").splitlines()) == 2
    assert out(open_shop) == []


def test_one_of_two_comes_back(open_shop: Shop) -> None:
    open_shop.says(ADA, "lend 2 whips to Ben")
    assert open_shop.says(ADA, "returned one of the whips").startswith("“the whip” is back from Ben.")
    assert out(open_shop) == [("chain-whip", "Ben")]


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("no, 3 days", "is out with Ben, until Thu 5 Mar"),
        ("no, until fri", "is out with Ben, until Fri 6 Mar"),
        ("make it 2 hours", "is out with Ben, until 12:"),
        ("sorry, to Sara", "is out with Sara"),
    ],
)
def test_a_word_puts_right_what_was_lent_last(open_shop: Shop, text: str, said: str) -> None:
    open_shop.says(ADA, "lend the twenty to Ben for 1h")
    assert said in open_shop.says(ADA, text)
    assert len(out(open_shop)) == 1


def test_what_was_lent_or_came_back_last_is_undone(open_shop: Shop) -> None:
    assert "nothing of tools to undo" in open_shop.says(ADA, "undo")
    open_shop.says(ADA, "lend 2 whips to Ben")
    assert open_shop.says(ADA, "undo that") == "Taken back, not lent: the whip."
    assert out(open_shop) == []
    open_shop.says(ADA, "lend the twenty to Ben until fri")
    open_shop.says(ADA, "returned everything from Ben")
    assert open_shop.says(ADA, "undo") == "Taken back, still out: the twenty."
    assert out(open_shop) == [("remover-20-spline", "Ben")]
    assert ", due Fri" in open_shop.says(ADA, "out")


def test_somebody_keeps_a_tool_for_longer(open_shop: Shop) -> None:
    open_shop.says(ADA, "lend the twenty to Dina until fri")
    assert "is out with Dina, until Sun 8 Mar" in open_shop.says(ADA, "dina needs 2 more days")
    assert "until Thu 5 Mar" in open_shop.says(ADA, "extend the twenty to Dina until thu")
    assert "Cyd has nothing of ours." in open_shop.says(ADA, "extend the twenty to Cyd until tue")


def test_a_case_goes_to_another_member(open_shop: Shop) -> None:
    open_shop.staff("ruth")
    code = open_shop.needs_a_person(BOB)
    assert open_shop.says(ADA, f"hand {code} to Ruth") == f"{code} is with Ruth now."
    ticket = open_shop.ticket(code)
    assert ticket is not None
    assert ticket.holder == open_shop.mark("ruth")
    assert "gave it to Ruth" in open_shop.says(ADA, f"history {code}")


def test_off_duty_from_a_time_on_and_until_one(open_shop: Shop) -> None:
    open_shop.staff("ruth")
    assert open_shop.says("ruth", "off duty from 3").startswith("You’re off from 15:00.")
    assert open_shop.says(ADA, "who is on") == "On duty: Ada; Ruth."
    open_shop.clock.wait(hours=6)
    assert open_shop.says(ADA, "whos on duty") == "On duty: Ada. Off: Ruth."
    assert open_shop.says(ADA, "lunch, off duty 45 min").startswith("You’re off until ")
    open_shop.needs_a_person(BOB)
    assert not any("needs a person" in str(shown.reply) for shown in open_shop.recorded.screens["ruth"])
    open_shop.clock.wait(hours=1)
    assert "Ada" in open_shop.says("ruth", "who is on").partition("Off:")[0]


def test_a_corrected_or_forwarded_line_does_nothing(open_shop: Shop) -> None:
    for text in ("gus has the 20 till mon", "CODE mine"):
        open_shop.says(ADA, text, forwarded=True)
        open_shop.says(ADA, Edited(text, of="1"))
    assert out(open_shop) == []


@pytest.mark.parametrize("text", ["3 outer 40 turns", "20 spl 22 stays 7", "12 spl bent axle", "4n 40", "2n to 3n"])
def test_a_wheel_is_no_tool(made: Bench, text: str) -> None:
    assert "lend " not in made.comes(text).said
