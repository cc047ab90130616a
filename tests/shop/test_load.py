"""The example shop loads whole, and a spoilt copy does not load and says why."""

from collections.abc import Callable
from datetime import UTC, date, datetime
from decimal import Decimal
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from triagebot.errors import DataError
from triagebot.shop import built_in_shop, check_shop, fold, load_shop
from triagebot.topics import Topic

Edit = Callable[[str, str, str], int]
FILES_WITH_MONEY = ("tools.yaml", "services.yaml", "parts.yaml")


def test_the_example_has_a_tool_for_every_remover_and_accessory(topic: Topic) -> None:
    shop = load_shop(built_in_shop(), topic)
    for tool in (*topic.removers, *topic.accessories):
        held = shop.tool_for(tool)
        assert held is not None, tool
        assert held.name
        assert held.hangs
    assert shop.tool_for("no-such-tool") is None


def test_a_tool_says_where_it_hangs_and_on_what_terms(topic: Topic) -> None:
    tool = load_shop(built_in_shop(), topic).tools["remover-12-spline"]
    assert (tool.name, tool.hangs, tool.count) == ("the fat twelve", "wall A, peg 4", 3)
    assert (tool.offers, tool.deposit, tool.price) == (("lends", "sells"), Decimal("10.00"), Decimal("8.00"))


def test_services_cover_a_fastening_through_its_system(topic: Topic) -> None:
    shop = load_shop(built_in_shop(), topic)
    for fastening in topic.fastenings:
        assert shop.services_for(fastening), fastening
    by_fastening = [s.id for s in shop.services_for("freewheel-2-notch")]
    assert by_fastening == [s.id for s in shop.services_for("freewheel")]
    assert [s.id for s in shop.services_for("freewheel-2-notch", damaged=True)] == ["stubborn", "look-at-it"]
    assert [s.id for s in shop.services_for("unlisted")] == ["look-at-it"]
    assert shop.services_for("teapot") == ()


def test_without_a_topic_services_are_found_by_system_only() -> None:
    shop = load_shop(built_in_shop(), None)
    assert shop.services_for("freewheel")
    assert shop.services_for("freewheel-2-notch") == ()


def test_makers_words_give_a_choice_of_the_marking_question(topic: Topic) -> None:
    shop = load_shop(built_in_shop(), topic)
    assert set(shop.makers.values()) == set(topic.questions["marking"].choices) == set(shop.choice_labels)
    assert shop.makers[fold("BRÜNNHALTER")] == "common-ring"
    assert shop.makers[fold("Ostra-Fell")] == "deep-ring"
    assert shop.maker_labels["odd-freewheel"] == ("Plimbrook",)


def test_the_digest_changes_with_a_note(folder: Path, topic: Topic, edit: Edit) -> None:
    before = load_shop(folder, topic)
    assert load_shop(folder, topic).digest == before.digest
    edit("notes/electric-hub.md", "Read this first", "Read this before")
    assert load_shop(folder, topic).digest != before.digest


#: file, text, what it becomes, and a part of what is said about it. One edit, one problem.
SPOILT = [
    ("shop.yaml", "name: The Lantern & Ratchet", "nam: x", "nam: is no key that is known here"),
    ("shop.yaml", "Europe/London", "Europe/Lundon", "time-zone: there is no time zone 'Europe/Lundon'"),
    ("shop.yaml", "Europe/London", "../../etc/passwd", "time-zone: there is no time zone"),
    ("shop.yaml", "currency: GBP", "currency: pounds", "a currency's three letters"),
    ("shop.yaml", "15:00-20:00", "3 till 8", "hours.tuesday: write hours like 09:00-12:30"),
    ("shop.yaml", "15:00-20:00", "15:00-20:75", "hours.tuesday: '15:00-20:75' holds a time that no clock shows"),
    (
        "shop.yaml",
        "10:00-13:00, 14:00",
        "10:00-14:30, 14:00",
        "hours.wednesday: the openings 10:00-14:30 and 14:00-18:00",
    ),
    (
        "shop.yaml",
        "13:15-17:00",
        "13:15-03:00\n  sunday: 02:00-05:00",
        "hours.sunday: 02:00-05:00 begins before 13:15-03:00",
    ),
    ("shop.yaml", "from: 2026-12-24, to: 2027-01-02", "from: 2027-01-02, to: 2026-12-24", "to lies before from"),
    ("shop.yaml", "on: 2027-06-12", "on: 2027-06-12, to: 2027-06-13", "give either on (one date) or from and to"),
    ("shop.yaml", "on: 2027-06-12", "on: 12.6.2027", "closed[3].on"),
    ("shop.yaml", "+44 1632 960 274", "ask for Bo", "contact.phone: write a number like"),
    ("shop.yaml", "bench@", "bench at ", "contact.e-mail: write an address like"),
    ("shop.yaml", "# notes-address: https://", "notes-address: www.", "notes-address: write an address like"),
    ("shop.yaml", "language: en", "language: English, please", "language: write a language like"),
    ("shop.yaml", "review-months: 24", "review-months: two", "review-months: should be a whole number"),
    ("tools.yaml", "tool: remover-20-spline", "tool: remover-21-spline", "did you mean 'remover-20-spline'?"),
    ("tools.yaml", "tool: remover-2-notch", "tool: remover-20-spline", "'remover-20-spline' stands twice"),
    ("tools.yaml", "not-held: []", "not-held: [gloves]", "'gloves' stands twice"),
    ("tools.yaml", "offers: shop-use-only", "offers: [shop-use-only, lends]", "shop-use-only stands alone"),
    ("tools.yaml", "price: 9.50", "price: 9.505", "price"),
    ("tools.yaml", "price: 9.50", "price: -1", "price"),
    (
        "tools.yaml",
        "offers: shop-use-only",
        "offers: shop-use-only\n    deposit: 5",
        "a deposit is for a tool that the shop lends",
    ),
    (
        "tools.yaml",
        "offers: shop-use-only",
        "offers: shop-use-only\n    price: 5",
        "a price is for a tool that the shop sells",
    ),
    ("tools.yaml", "count: 4", "count: several", "count: should be a whole number"),
    (
        "services.yaml",
        "systems: [cassette, ",
        "systems: [casette, ",
        "'casette' is no system of this topic; did you mean",
    ),
    ("services.yaml", "minutes: 15", "minutes: 15\n    days: 2", "give either minutes or days"),
    (
        "services.yaml",
        "systems: [cassette, freewheel, fixed, coaster]",
        "fastenings: []",
        "say which fastenings or systems",
    ),
    ("services.yaml", "id: stubborn", "id: sprockets-off", "'sprockets-off' stands twice"),
    (
        "services.yaml",
        "systems: [cassette, ",
        "fastenings: [nobodys-wheel]\n    systems: [cassette, ",
        "no fastening",
    ),
    ("makers.yaml", "choice: deep-ring", "choice: deepring", "'deepring' is no choice of a question about markings"),
    ("makers.yaml", "choice: deep-ring", "choice: common-ring", "'common-ring' stands twice"),
    ("makers.yaml", "name: Ostrafell", "name: TÂRVOLDÉN", "reads the same as 'Tarvolden' of common-ring"),
    (
        "makers.yaml",
        "[tar volden,",
        "[Tar-Volden, tar volden,",
        "reads the same as 'Tar-Volden' of common-ring",
    ),
    ("makers.yaml", "name: Ostrafell", 'name: "***"', "'***' holds no letter and no digit"),
    ("notes/to-the-shop.md", "language: en", "language: en\nslug: electric-hub", "'electric-hub' stands twice"),
    ("notes/to-the-shop.md", "unlisted]", "unknown]", "'unknown' is no fastening of this topic"),
    (
        "notes/to-the-shop.md",
        "condition: [worn]",
        "condition: [wrong]",
        "'wrong' is no choice of condition",
    ),
    ("notes/to-the-shop.md", "condition: [worn]", "state: [worn]", "'state' is no question of this topic"),
    ("notes/to-the-shop.md", "2026-10-27", "27.10.2026", "reviewed-on"),
    (
        "notes/to-the-shop.md",
        "reviewed-by: workshop lead\n",
        "",
        "reviewed-on (a date) and reviewed-by (a role) go together",
    ),
    ("notes/to-the-shop.md", "language: en\n", "", "language: is missing"),
    ("notes/to-the-shop.md", "language: en", "language: en\nlanguage: en", "the key 'language' stands twice"),
    ("notes/to-the-shop.md", "language: en", "tongue: en\nlanguage: en", "tongue: is no key that is known here"),
    ("notes/to-the-shop.md", "language: en", "language: en\n? [a]\n: b", "a key must be a word"),
    ("notes/to-the-shop.md", "---\n", "", "a note starts with its head"),
    ("notes/to-the-shop.md", 'title: "When to', 'title: To the shop: "when to', 'needs quotes round it: "one: two"'),
    ("notes/freewheel-2-notch.md", "removers: [", "removers: [pliers, ", "'pliers' is no remover of this topic"),
]


@pytest.mark.parametrize(("name", "old", "new", "said"), SPOILT)
def test_one_fault_gives_one_problem_with_its_line(
    folder: Path, topic: Topic, edit: Edit, name: str, old: str, new: str, said: str
) -> None:
    line = edit(name, old, new)
    with pytest.raises(DataError) as caught:
        load_shop(folder, topic)
    about = [p for p in caught.value.problems if said in p.message]
    assert len(about) == 1, str(caught.value)
    assert about[0].file == str(folder / name)
    # a rule about a whole entry (or a note's head) points at its first line, some lines above the word that breaks it
    assert line - 8 <= about[0].line <= line + new.count("\n")


def test_every_problem_of_every_file_is_told_at_once(folder: Path, topic: Topic, edit: Edit) -> None:
    edit("shop.yaml", "Europe/London", "Nowhere")
    edit("tools.yaml", "count: 4", "count: x")
    edit("services.yaml", "minutes: 15", "")
    edit("makers.yaml", "label: a name", "lable: a name")
    edit("notes/to-the-shop.md", "language: en", "language: 5")
    with pytest.raises(DataError) as caught:
        load_shop(folder, topic)
    assert {Path(p.file).name for p in caught.value.problems} == {
        "shop.yaml",
        "tools.yaml",
        "services.yaml",
        "makers.yaml",
        "to-the-shop.md",
    }


def test_an_amount_needs_a_currency(folder: Path, topic: Topic, edit: Edit) -> None:
    edit("shop.yaml", "currency: GBP\n", "")
    with pytest.raises(DataError) as caught:
        load_shop(folder, topic)
    rows = [p for p in caught.value.problems if "names no currency" in p.message]
    amounts = [line for f in FILES_WITH_MONEY for line in (folder / f).read_text().splitlines()]
    expected = sum(line.strip().startswith(("price:", "deposit:")) for line in amounts)
    assert len(rows) == len(caught.value.problems) == expected


def test_a_folder_that_is_not_there_names_each_missing_file(tmp_path: Path, topic: Topic) -> None:
    with pytest.raises(DataError) as caught:
        load_shop(tmp_path / "nowhere", topic)
    names = [Path(p.file).name for p in caught.value.problems]
    assert names == ["makers.yaml", "shop.yaml", "tools.yaml"], "a shop may be without the others"
    assert all("cannot be read" in p.message for p in caught.value.problems)


def test_the_example_is_found_inside_a_package_first(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    assert built_in_shop() == Path(__file__).resolve().parents[2] / "deploy" / "example-shop"
    monkeypatch.setattr("triagebot.shop.load.__file__", str(tmp_path / "triagebot" / "shop" / "load.py"))
    assert built_in_shop() == tmp_path / "deploy" / "example-shop"
    carried = tmp_path / "triagebot" / "_data" / "example-shop"
    carried.mkdir(parents=True)
    assert built_in_shop() == carried


FILES = ["shop.yaml", "tools.yaml", "services.yaml", "makers.yaml", "notes/electric-hub.md", "notes/to-the-shop.md"]
SCRAPS = [
    *(
        "null",
        "[]",
        "{}",
        ": ",
        "\n",
        "- ",
        '"',
        "#",
        "99999999999",
        "-1",
        "NaN",
        "1e400",
        "\x00",
        "\ufffe",
        "24:00",
        "&a",
        "*a",
    ),
    *(
        "!!x ",
        "9999-12-31",
        "0001-01-01",
        "](..)",
        "](//x)",
        "](http://[)",
        "](%00)",
        f"](a{'b' * 300})",
        "](#)",
        "](.)",
        "](?q)",
    ),
]


@given(
    name=st.sampled_from(FILES),
    cuts=st.lists(
        st.tuples(st.floats(0, 1), st.sampled_from([0, 0, 1, 3, 10, 40]), st.sampled_from(SCRAPS)),
        min_size=1,
        max_size=3,
    ),
)
@settings(suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow])
def test_no_slip_of_the_editor_raises_anything_else(
    folder: Path, topic: Topic, name: str, cuts: list[tuple[float, int, str]]
) -> None:
    text = (built_in_shop() / name).read_text(encoding="utf-8")
    for place, length, scrap in cuts:
        start = int(place * len(text))
        text = text[:start] + scrap + text[start + length :]
    path = folder / name
    path.write_text(text, encoding="utf-8")
    for other in (folder / "notes").iterdir():
        if f"notes/{other.name}" not in FILES:
            other.unlink()
    told = check_shop(folder, topic, date(2026, 11, 25))
    assert all(problem.message for problem in told)
    try:
        hours = load_shop(folder, topic).hours
    except DataError as error:
        hours = None
        assert set(error.problems) <= set(told)  # noqa: PT017 (either way out is right, and each has its own promise)
    if hours is not None:
        now = datetime(2026, 11, 25, 12, 0, tzinfo=UTC)
        assert hours.is_open(now) is (hours.opening_at(now) is not None)
    path.write_bytes((built_in_shop() / name).read_bytes())


def test_a_shop_may_stand_without_notes_and_without_prices(folder: Path, topic: Topic, edit: Edit) -> None:
    for note in (folder / "notes").iterdir():
        note.unlink()
    (folder / "notes").rmdir()
    assert load_shop(folder, topic).notes == ()
