"""Becoming staff, and all the ways in which somebody else might try."""

from dataclasses import replace
from datetime import timedelta
from functools import partial
from math import log2
from pathlib import Path
from threading import Barrier, Thread

import pytest

from tests.counter.shop import Shop
from triagebot.counter import dismiss, invite, redeem
from triagebot.errors import UsageError
from triagebot.messages import Arrived, Chose, Edited, Pressed, Reacted, Sent
from triagebot.messages.codes import CONSONANTS, STAFF_CODE, fresh_secret, grouped, read_secret
from triagebot.messages.message import Content, from_json, to_json
from triagebot.store import open_store
from triagebot.store.grants import Grants
from triagebot.store.staff import Staff
from triagebot.testing import START

#: A text of the same form that was never given out.
NEVER = "BCDF-GHJK-MNPQ-RSTV-WXYZ"


def test_a_code_has_eighty_bits_and_more_and_is_no_word() -> None:
    assert STAFF_CODE * log2(len(CONSONANTS)) >= 80
    assert len({fresh_secret(STAFF_CODE) for _ in range(200)}) == 200
    assert not set(CONSONANTS) & set("AEIOULY0123456789") - {"Y"}


@pytest.mark.parametrize(
    "write",
    [
        str,
        str.lower,
        lambda code: code.replace("-", ""),
        lambda code: code.replace("-", " "),
        lambda code: code.replace("-", "–"),
        lambda code: f"  {code} \n",
        lambda code: f"“{code}”".replace("“", "").replace("”", "."),
    ],
)
def test_a_code_is_read_however_it_is_grouped(write: object) -> None:
    code = fresh_secret(STAFF_CODE)
    assert read_secret(write(grouped(code)), STAFF_CODE) == code  # type: ignore[operator]


@pytest.mark.parametrize(
    "text", ["", "hello", NEVER + "B", NEVER[:-1], NEVER.replace("B", "A"), f"use {NEVER}", "x" * 999]
)
def test_any_other_text_is_none(text: str) -> None:
    assert read_secret(text, STAFF_CODE) is None


def test_a_person_who_sends_the_code_is_staff_from_then_on(shop: Shop) -> None:
    before = shop.says("ada", "4n 40")
    text = shop.says("ada", shop.invitation(name="Ada"))
    assert text.startswith("Hello Ada. You’re staff at The Lantern & Ratchet now.")
    member = shop.member("ada")
    assert member is not None
    assert (member.name, member.role) == ("Ada", "staff")
    assert shop.says("ada", "4n 40") != before
    assert shop.member("bob") is None


def test_the_link_that_begins_a_conversation_may_bring_it(shop: Shop) -> None:
    shop.says("ada", Arrived(secret=shop.invitation()))
    assert shop.member("ada") is not None


def test_an_owner_is_told_so(shop: Shop) -> None:
    assert "an owner at" in shop.says("ada", shop.invitation("owner"))


def test_who_has_no_name_gets_one_and_nobody_has_another_s(shop: Shop) -> None:
    for who in ("ada", "bob"):
        shop.says(who, shop.invitation(name=""))
    shop.says("cyd", shop.invitation("owner", ""))
    with shop.reading() as view:
        assert [member.name for member in Staff(view).members()] == ["Staff", "Staff 2", "Owner"]


def test_a_name_that_is_taken_is_refused_at_once_and_numbered_later(shop: Shop) -> None:
    first, second = shop.invitation(name="Ada"), shop.invitation(name="ADÁ")
    shop.says("one", first)
    shop.says("two", second)
    two = shop.member("two")
    assert two is not None
    assert two.name == "ADÁ 2"
    with pytest.raises(UsageError, match="Ada is one of the staff already"):
        shop.invitation(name="ada")


# --- what gets exactly what any text gets -----------------------------------------------------------------------------


def unknown(folder: Path, *, content: Content | str, **particulars: object) -> str:
    """What somebody reads who says the same in a shop that gave out no code."""
    other = Shop(folder / "other")
    try:
        return other.says("eve", content, **particulars)
    finally:
        other.end()


def test_a_code_counts_once(shop: Shop, tmp_path: Path) -> None:
    code = shop.invitation()
    shop.says("ada", code)
    assert shop.says("eve", code) == unknown(tmp_path, content=code)
    assert shop.member("eve") is None


def test_a_code_that_is_over_is_any_text(shop: Shop, tmp_path: Path) -> None:
    code = shop.invitation()
    shop.clock.wait(hours=48)
    assert shop.says("eve", code) == unknown(tmp_path, content=code)
    assert shop.member("eve") is None


def test_a_code_in_a_group_is_any_text_and_counts_still(shop: Shop, tmp_path: Path) -> None:
    code = shop.invitation()
    assert shop.says("eve", code, private=False) == unknown(tmp_path, content=code, private=False)
    assert shop.says("eve", Arrived(secret=code), private=False)
    assert shop.member("eve") is None
    shop.says("ada", code)
    assert shop.member("ada") is not None


def test_a_forwarded_code_is_any_text(shop: Shop, tmp_path: Path) -> None:
    code = shop.invitation()
    assert shop.says("eve", code, forwarded=True) == unknown(tmp_path, content=code, forwarded=True)
    assert shop.member("eve") is None


def test_a_message_that_becomes_a_code_by_correction_is_any_text(shop: Shop, tmp_path: Path) -> None:
    code = shop.invitation()
    first = shop.says("eve", "hello there", key="first")
    other = Shop(tmp_path / "other")
    assert other.says("eve", "hello there", key="first") == first
    assert shop.says("eve", Edited(code, of="first")) == other.says("eve", Edited(code, of="first"))
    other.end()
    assert shop.member("eve") is None


@pytest.mark.parametrize(
    "wrap",
    [
        lambda code: Sent("photo", note=code),
        Chose,
        lambda code: Pressed("", 1, code),
        lambda code: Arrived(code=code),
        lambda code: f"here it is: {code}",
        lambda code: f"{code} {code}",
    ],
    ids=["caption", "language", "press", "case", "sentence", "twice"],
)
def test_a_code_in_any_other_thing_does_nothing(shop: Shop, wrap: object) -> None:
    code = shop.invitation()
    shop.brings("eve", wrap(code))  # type: ignore[operator]
    assert shop.member("eve") is None
    shop.says("ada", code)
    assert shop.member("ada") is not None


def test_a_reaction_does_nothing(shop: Shop) -> None:
    shop.staff("ada")
    assert shop.brings("eve", Reacted(1, "nothing")).outcome == "ignored"
    assert shop.member("eve") is None


def test_another_grant_s_secret_is_no_invitation(shop: Shop) -> None:
    fresh = partial(fresh_secret, STAFF_CODE)
    with shop.writing() as tx:
        for kind in ("invite", "join", "hand-over", "card"):
            Grants(tx).issue(kind, None, {"role": "owner", "name": "Eve"}, START, START + timedelta(days=9), fresh)  # type: ignore[arg-type]
        code = Grants(tx).issue(
            "invite", None, {"role": "owner", "name": "Eve"}, START, START + timedelta(days=9), fresh
        )
    shop.says("eve", grouped(code))
    assert shop.member("eve") is None


def test_the_same_message_twice_makes_nobody_staff_twice(shop: Shop) -> None:
    incoming = replace(shop.incoming("ada", Arrived(secret=shop.invitation())))
    assert shop.again(incoming).outcome == "applied"
    assert shop.again(incoming).outcome == "duplicate"
    assert shop.rows("deeds", "what") == [("joined",)]


@pytest.mark.parametrize(
    "text",
    [
        "queue",
        "canned",
        "try",
        "done",
        "help",
        "4n 40",
        "tools for 4n 24",
        "12 spl 23.4 stays",
        "the small four",
    ],
)
def test_an_outsider_s_words_of_the_staff_are_any_words(shop: Shop, tmp_path: Path, text: str) -> None:
    """The same as in a shop that has no staff at all."""
    shop.staff("ada")
    assert shop.says("eve", text) == unknown(tmp_path, content=text)


@pytest.mark.parametrize("verb", ["case", "claim", "release", "snooze", "close", "history", "say"])
def test_an_outsider_does_nothing_with_another_s_case(shop: Shop, verb: str) -> None:
    shop.staff("ada")
    code = shop.needs_a_person("bob")
    before = shop.ticket(code)
    answer = shop.says("eve", f"{verb} {code} 2h fitted bring-it")
    assert shop.ticket(code) == before
    assert shop.rows("deeds", "what") == [("joined",)]
    assert "notches" not in answer
    assert "40" not in answer


def test_a_member_s_words_in_a_group_are_any_words(shop: Shop, tmp_path: Path) -> None:
    """Even if a channel took somebody's private conversation and a group for the same one."""
    shop.staff("ada")
    code = shop.needs_a_person("bob")
    shop.says("ada", f"claim {code}", private=False)
    assert shop.state(code) == "waiting"


# --- leaving ----------------------------------------------------------------------------------------------------------


def remove(shop: Shop, who: str) -> int:
    member = shop.member(who)
    assert member is not None
    with shop.writing() as tx:
        return dismiss(tx, member, shop.clock())


def test_who_was_removed_is_anybody_from_the_next_message_on(shop: Shop, tmp_path: Path) -> None:
    shop.staff("eve")
    remove(shop, "eve")
    assert shop.member("eve") is None
    assert shop.says("eve", "queue") == unknown(tmp_path, content="queue")


def test_who_was_removed_and_what_they_had_is_in_the_history(shop: Shop) -> None:
    shop.staff("ada")
    shop.staff("eve")
    code = shop.needs_a_person("bob")
    shop.says("ada", f"claim {code}")
    remove(shop, "ada")
    remove(shop, "eve")
    with shop.reading() as view:
        case = view.case_by_code(code)
        assert case is not None
        deeds = Staff(view).deeds(case.id)
        ada, eve = (view.lookup_hash(f"{shop.recorded.name}:{who}") for who in ("ada", "eve"))
    assert [(deed.name, deed.what) for deed in deeds] == [("Ada", "claimed"), ("Ada", "left")]
    written = [(row[0], row[1]) for row in shop.rows("deeds", "person, what") if row[1] in ("joined", "removed")]
    assert written == [(ada, "joined"), (eve, "joined"), (ada, "removed"), (eve, "removed")]


def test_removed_in_the_middle_everything_that_they_had_waits_again(shop: Shop) -> None:
    shop.staff("ada")
    code, other = shop.needs_a_person("bob"), shop.needs_a_person("cyd")
    shop.says("ada", f"claim {code}")
    shop.says("ada", f"snooze {other} 2h")
    shop.says("ada", "12 spl")
    assert remove(shop, "ada") == 2
    assert (shop.state(code), shop.state(other)) == ("waiting", "waiting")
    shop.says("ada", "stays")
    assert shop.ticket(code).holder is None  # type: ignore[union-attr]
    assert shop.says("ada", f"close {code} fitted")
    assert shop.state(code) == "waiting"
    shop.clock.wait(hours=3)
    shop.run(shop.delivery.wake_due())
    assert shop.state(other) == "waiting"


def test_a_person_who_comes_back_begins_anew(shop: Shop) -> None:
    shop.staff("ada", "owner")
    shop.says("ada", "try")
    remove(shop, "ada")
    shop.staff("ada")
    member = shop.member("ada")
    assert member is not None
    assert (member.role, member.standing) == ("staff", {})


def test_an_owner_who_is_invited_as_staff_stays_owner(shop: Shop) -> None:
    shop.staff("ada", "owner")
    shop.says("ada", shop.invitation("staff", ""))
    member = shop.member("ada")
    assert member is not None
    assert (member.role, member.name) == ("owner", "Ada")


def test_of_many_who_bring_a_code_at_once_one_is_staff(tmp_path: Path) -> None:
    with open_store(tmp_path / "data", key_file=tmp_path / "key") as store:
        with store.begin() as tx:
            code = read_secret(invite(tx, "owner", "Ada", START), STAFF_CODE)
            marks = [tx.lookup_hash(f"page:{n}") for n in range(8)]
        assert code is not None
        barrier, joined = Barrier(len(marks)), list[str]()

        def bring(mark: str) -> None:
            barrier.wait()
            with store.begin() as tx:
                if redeem(tx, mark, code, START, str) is not None:
                    joined.append(mark)

        threads = [Thread(target=bring, args=(mark,)) for mark in marks]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
        with store.read() as view:
            assert [member.person for member in Staff(view).members()] == joined
    assert len(joined) == 1


def test_a_message_that_waits_is_as_private_as_it_was(shop: Shop) -> None:
    for private, forwarded in ((True, False), (False, False), (True, True)):
        incoming = replace(shop.incoming("ada", Arrived(secret=NEVER)), private=private, forwarded=forwarded)
        assert from_json(to_json(incoming)) == incoming
