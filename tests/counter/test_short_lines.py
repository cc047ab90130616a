"""Short lines beside the work: thanks, what an owner does at the machine, "it", names in place of codes."""

import pytest

from tests.counter.shop import Shop
from tests.counter.waiting import ADA, BOB, CYD, EVE
from triagebot.store.loans import Loan, Loans


@pytest.fixture(autouse=True)
def _ada(shop: Shop) -> None:
    shop.staff(ADA)


def out(shop: Shop) -> list[tuple[str, str]]:
    with shop.reading() as view:
        loans: tuple[Loan, ...] = Loans(view).out()
    return [(loan.tool, loan.to) for loan in loans]


@pytest.mark.parametrize(
    ("said", "told"),
    [
        ("ta", "Any time."),
        ("ok thx", "Any time."),
        ("thanks a lot, bye", "Any time."),
        ("cheers mate!", "Any time."),
        ("great, thank you", "Any time."),
        ("morning", "Hello, Ada. Nobody is waiting."),
        ("Good morning all", "Hello, Ada. Nobody is waiting."),
        ("hey there", "Hello, Ada. Nobody is waiting."),
        ("ok", "Good."),
        ("yes", "Good."),
        ("got it", "Good."),
        ("nah", "OK, nothing’s changed."),
        ("see you tomorrow", "Bye, Ada. “off duty” if nobody should write to you."),
    ],
)
def test_small_talk_is_answered_in_a_word(shop: Shop, said: str, told: str) -> None:
    assert shop.says(ADA, said) == told


@pytest.mark.parametrize("said", ["4n 40 thanks", "morning, where is the twenty", "thanks, ben brought the twenty"])
def test_work_with_thanks_in_it_is_work(shop: Shop, said: str) -> None:
    assert "Any time." not in shop.says(ADA, said)
    assert "Hello, Ada" not in shop.says(ADA, said)


@pytest.mark.parametrize("no", ["no", "nope", "no thanks", "none of them", "neither"])
def test_no_to_what_is_offered_does_nothing(shop: Shop, no: str) -> None:
    assert "Do you mean" in shop.says(ADA, "can ben have the twenty")
    assert shop.says(ADA, no) == "OK, I’ve done nothing."
    shop.says(ADA, "1")
    assert not out(shop)


@pytest.mark.parametrize(
    ("said", "command"),
    [
        ("report", "triagebot report"),
        ("weekly report please", "triagebot report"),
        ("stats", "triagebot report"),
        ("invite Ruth", "triagebot staff invite --name Ruth"),
        ("how do I invite ruth", "triagebot staff invite --name Ruth"),
        ("add Ruth to the team", "triagebot staff invite --name Ruth"),
        ("add a new mechanic", "triagebot staff invite --name NAME"),
        ("list staff", "triagebot staff list"),
        ("who are the owners", "triagebot staff list"),
        ("make ada owner", "triagebot staff invite --name Ada --role owner"),
        ("remove ada from staff", "triagebot staff remove Ada"),
        ("make a backup", "triagebot backup"),
        ("change the opening hours", "triagebot check"),
    ],
)
def test_what_an_owner_does_at_the_machine_is_answered_with_the_command(shop: Shop, said: str, command: str) -> None:
    assert f"“{command}”" in shop.says(ADA, said)


@pytest.mark.parametrize("said", ["remove the fat twelve", "ben left", "add note"])
def test_what_only_looks_like_it_is_not(shop: Shop, said: str) -> None:
    assert "triagebot" not in shop.says(ADA, said)


def test_how_much_deposit_money_is_out(shop: Shop) -> None:
    assert shop.says(ADA, "how much deposit money is out") == "No deposits are out."
    shop.says(ADA, "lend big four to Ben")
    shop.says(ADA, "lend whip to Kim")
    assert "£22.00 in deposits, for 2 tools." in shop.says(ADA, "what deposits do we hold")


def test_it_is_the_tool_that_was_told_of_last(shop: Shop) -> None:
    shop.says(ADA, "lend big four to Ben")
    for asked in ("where is it", "who has it", "when is it due", "is it back?"):
        assert shop.says(ADA, asked).startswith("“the big four”: wall A, peg 9."), asked
    shop.says(ADA, "4n 24")
    assert "“lend the small four to kim until " in shop.says(ADA, "kim has it til closing")
    assert (("remover-4-notch-24", "Kim")) not in out(shop), "it is asked first"
    shop.says(ADA, "yes")
    assert ("remover-4-notch-24", "Kim") in out(shop)


def test_it_is_nothing_where_no_tool_was_told_of_or_that_is_long_ago(shop: Shop) -> None:
    assert shop.says(ADA, "zoe took it") == "Which tool? Please name it."
    shop.says(ADA, "where is the whip")
    shop.clock.wait(minutes=11)
    assert shop.says(ADA, "zoe took it") == "Which tool? Please name it."
    assert not out(shop)


@pytest.mark.parametrize("said", ["it turns", "it stays still", "its 40", "it has 4 notches"])
def test_it_is_a_wheel_where_a_wheel_is_told_of(shop: Shop, said: str) -> None:
    shop.says(ADA, "where is the whip")
    assert "You see:" in shop.says(ADA, said)


def test_all_that_one_message_lent_is_undone_together(shop: Shop) -> None:
    shop.says(ADA, "lend whip to Zoe")
    shop.says(ADA, "lend small four and big four to Kim")
    assert shop.says(ADA, "undo") == "Taken back, not lent: the small four; the big four."
    assert out(shop) == [("chain-whip", "Zoe")]


@pytest.mark.parametrize(
    "when", ["until friday week", "til fri week", "a week on friday", "until a week on fri", "until week on friday"]
)
def test_a_week_on_a_day(shop: Shop, when: str) -> None:
    assert "until Fri 13 Mar 18:00" in shop.says(ADA, f"lend twenty to Ben {when}"), "a Monday, 2 March"


@pytest.mark.parametrize(
    ("said", "named"),
    [
        ("I take the second one of the queue", 1),
        ("ill have the 2nd case pls", 1),
        ("grab the first", 0),
        ("take the second in the queue", 1),
    ],
)
def test_a_case_is_claimed_by_its_place_in_words(shop: Shop, said: str, named: int) -> None:
    codes = [shop.needs_a_person(who) for who in (BOB, CYD)]
    assert f"{codes[named]} is yours." in shop.says(ADA, said)


@pytest.mark.parametrize(
    ("said", "names"),
    [
        ("where is big four and midle four place", ("the big four", "the middle four")),
        ("are the twenty and the fat twelve in", ("the twenty", "the fat twelve")),
        ("who has the twenty and the crab claw", ("the twenty", "the crab claw")),
    ],
)
def test_each_tool_that_is_asked_for_is_told(shop: Shop, said: str, names: tuple[str, str]) -> None:
    told = shop.says(ADA, said).splitlines()
    assert [line.split("”")[0].strip("“") for line in told] == list(names)


@pytest.mark.parametrize("said", ["axle nuts torque", "how tight are wheel nuts", "how tight is the quick release"])
def test_what_is_asked_of_other_parts_of_the_wheel_is_none_of_ours(shop: Shop, said: str) -> None:
    assert "I only know what holds rear sprockets." in shop.says(ADA, said)


@pytest.mark.parametrize(
    ("said", "until"),
    [
        ("crab claw gone out w jonas back wed dinner time 12", "Wed 4 Mar 12:00"),
        ("lend whip to kim til fri afternoon 3", "Fri 6 Mar 15:00"),
        ("lend whip to kim until tues morn 1030", "Tue 3 Mar 10:30"),
    ],
)
def test_a_part_of_the_day_before_a_time_says_no_more(shop: Shop, said: str, until: str) -> None:
    shop.says(ADA, said)
    assert until in shop.says(ADA, "out")


def test_what_is_kept_is_listed(shop: Shop) -> None:
    assert shop.says(ADA, "anything kept?") == "No tool is kept for anybody."
    shop.says(ADA, "keep the twenty for Ana tuesday")
    for asked in ("anything kept?", "what's reserved", "what are we keeping"):
        assert "– “the twenty” for Ana, until Tue" in shop.says(ADA, asked)
    assert "kept for Ana, until" in shop.says(ADA, "out")


def test_help_with_one_thing(shop: Shop) -> None:
    told = shop.says(ADA, "help kit")
    assert "“kit five-speed, stays still”" in told
    assert len(told.splitlines()) == 1
    assert "lend" in shop.says(ADA, "help lending")


@pytest.mark.parametrize(
    "said", ["brake disc lockring", "disc brake lockring tool", "bottom bracket tool", "crank bolts", "rotor"]
)
def test_another_part_of_the_bike_is_none_of_ours(shop: Shop, said: str) -> None:
    assert "I only know what holds rear sprockets." in shop.says(ADA, said)


@pytest.mark.parametrize(
    "said", ["which way does the lockring come off", "lockring which way?", "fixie lockring which way"]
)
def test_any_ring_may_be_the_left_hand_one(shop: Shop, said: str) -> None:
    told = shop.says(ADA, said)
    assert "fixed sprocket, left-hand notched ring: The ring unscrews clockwise" in told
    assert "not the fitting" not in told


@pytest.mark.parametrize(("said", "torque"), [("12 cass 40?", True), ("12 cass 40 nm?", True), ("4n 40?", False)])
def test_a_number_in_question_is_the_torque_where_it_is_that(shop: Shop, said: str, torque: bool) -> None:
    told = shop.says(ADA, said)
    assert ("Back on: 40 N·m" in told and "40 mm" not in told) == torque


@pytest.mark.parametrize("said", ["8sp cass, lockring 12spl, whch tool", "7sp cass lockring 12 spl tool pls"])
def test_enough_of_a_wheel_is_of_a_wheel(shop: Shop, said: str) -> None:
    assert "cassette, common 12-spline lockring" in shop.says(ADA, said)


@pytest.mark.parametrize("said", ["spin stays", "spin test: stays", "spin still"])
def test_the_spin_test_alone_is_a_line(shop: Shop, said: str) -> None:
    assert shop.says(ADA, said).startswith("You see: the middle stays still.")


def test_one_more_thing_goes_on_while_something_is_missing(shop: Shop) -> None:
    shop.says(ADA, "12 spl")
    shop.says(ADA, "stays")
    assert "the count is 12 and it measures 23 mm" in shop.says(ADA, "23")


def test_what_goes_in_from_before_is_said_where_a_line_may_be_of_another_wheel(shop: Shop) -> None:
    shop.says(ADA, "Plimbrook")
    told = shop.says(ADA, "4n 40")
    assert told.startswith("You said before: the maker’s name is Plimbrook.")
    shop.says(ADA, "next")
    shop.says(ADA, "4n")
    assert shop.says(ADA, "40").startswith("Sure: "), "what was missing needs no such word"


def test_all_cautions_are_a_word_away(shop: Shop) -> None:
    assert shop.says(ADA, "cautions").startswith("Tell me of the wheel first")
    shop.says(ADA, "4n 40")
    told = shop.says(ADA, "cautions")
    assert [line.split(":")[0] for line in told.splitlines()].count("CAUTION") > 1
    assert "Tool:" not in told


def test_a_number_that_no_case_in_the_queue_has(shop: Shop) -> None:
    code, other = shop.needs_a_person(BOB), shop.needs_a_person(CYD)
    assert shop.says(ADA, "claim 3") == "There’s no 3 in the queue. 2 cases are there: “queue” shows them."
    assert shop.says(ADA, "claim 2").startswith(f"{other} is yours.")
    assert shop.state(code) == "waiting"


def test_a_bike_is_named_by_its_owner(shop: Shop) -> None:
    shop.says(ADA, "new blue tourer, Pete, Thursday")
    shop.says(ADA, "new red mtb, Tess Hall, Friday")
    shop.says(ADA, "away")
    assert "triagebot staff label" in shop.says(ADA, "label pete")
    assert "is closed: single-speed freewheel, 4 notches, 40 mm. The remover fitted." in shop.says(
        ADA, "close tess 4n 40 fitted"
    )
    assert "blue tourer, Pete" in shop.says(ADA, "case Pete’s")
    assert "pays cash" in shop.says(ADA, "note tess hall pays cash")


def test_an_article_before_a_code_says_nothing_and_stays_in_what_a_customer_reads(shop: Shop) -> None:
    code = shop.needs_a_person(BOB)
    assert "hasn’t asked for anything" in shop.says(ADA, f"accept the {code}")
    assert f"{code} is snoozed until 14:00" in shop.says(ADA, f"snooze the {code} until 14")
    shop.says(ADA, f"say {code} bring the {code} ticket")
    assert shop.recorded.texts(BOB)[-1].endswith(f"bring the {code} ticket")


@pytest.mark.parametrize(
    "said",
    [
        "please hold for Kim the middle four to friday",
        "put the middle four by for Kim fri",
        "for kim the middle four, keep until fri",
    ],
)
def test_a_tool_is_kept_in_other_words(shop: Shop, said: str) -> None:
    assert shop.says(ADA, said).startswith("“the middle four” stays here for ")
    assert [(tool, to.lower()) for tool, to in out(shop)] == [("remover-4-notch-32", "kim")]


def test_two_owners_of_one_name_are_asked_about(shop: Shop) -> None:
    shop.staff(EVE)
    shop.says(ADA, "new blue tourer, Tess Hall")
    shop.says(ADA, "new red mtb, Tess Moor")
    asked = shop.says(ADA, "note tess pays cash")
    assert asked.count("pays cash") == 2
    assert "Noted on" not in asked


@pytest.mark.parametrize(
    ("said", "kept"),
    [
        ("new grn hybrid Omar 07700900555 wed photos no", "grn hybrid, Omar, for Wed 4 Mar, 07700900555. photos no."),
        ("new red kids bike ana tues", "red kids bike, ana, for Tue 3 Mar."),
        ("new bmx lou 01632960001", "bmx, lou, 01632960001."),
        ("new silver tandem Ines 020 7946 0123 by friday brakes squeal",
         "silver tandem, Ines, for Fri 6 Mar, 020 7946 0123. brakes squeal."),
        ("new blue bike Ravi ravi@example.org thursday 2pm wants it clean",
         "blue bike, Ravi, for Thu 5 Mar, 14:00, ravi@example.org. wants it clean."),
        ("new black mtb for Tomas he needs it wednesday", "black mtb, Tomas, for Wed 4 Mar."),
    ],
)  # fmt: skip
def test_a_bike_without_commas(shop: Shop, said: str, kept: str) -> None:
    assert shop.says(ADA, said).splitlines()[0].split(": ", 1)[1] == kept


def test_what_is_rarer_than_one_in_a_hundred_is_not_called_none(shop: Shop) -> None:
    told = shop.says(ADA, "kit fixie")
    assert "– For fewer than 1 in 100: “" in told
    assert ": 0 in 100" not in told
