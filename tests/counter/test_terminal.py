"""Staff at a terminal of the shop's, beside a delivery that is at work in another process on the same data."""

import io
import json
from collections.abc import Iterator
from contextlib import contextmanager

from tests.counter.shop import Shop
from triagebot.channels import lines, terminal
from triagebot.conversation import Message, plain
from triagebot.delivery import WaitingClient, delivery
from triagebot.store import open_store

ADA, BOB = "ada", "bob"


@contextmanager
def at_the_terminal(shop: Shop) -> Iterator[WaitingClient]:
    with open_store(shop.folder, key_file=shop.folder.with_name("key")) as store:
        yield WaitingClient(shop.guide, store, shop.clock, shop.codes, bench=True)


def types(shop: Shop, *said: str, who: str = "terminal:me") -> list[str]:
    """What they read after each line, the greeting first."""
    out = io.StringIO()
    with at_the_terminal(shop) as waiting_client:
        terminal.talk(waiting_client, who, "en", io.StringIO("".join(f"{line}\n" for line in said)), out)
    first, *rest = out.getvalue().split("\n> ")
    return [first.strip(), *(each.partition("\n")[2].strip() for each in rest)]


def read_by(shop: Shop, who: str) -> str:
    return plain(shop.recorded.screens[who][-1].reply)


def passed_on(shop: Shop) -> None:
    """Until the delivery has sent what somebody else put out."""

    def sent() -> bool:
        states = [state for (state,) in shop.rows("outbox", "state")]
        return bool(states) and not {"waiting", "sending"}.intersection(states)

    shop.leap(delivery.LOOK_AROUND)
    shop.until(sent)


def test_an_invitation_counts_at_the_terminal_and_the_bench_is_there(shop: Shop) -> None:
    *_, welcome, line, unknown = types(shop, shop.invitation(name="Ada"), "4n 40", "asdf")
    assert welcome.startswith("Hello Ada. You’re staff at ")
    assert line.startswith("Sure: single-speed freewheel, 4 notches, 40 mm.")
    assert unknown.startswith("I didn’t get that.")
    hello, queue = types(shop, "queue")
    assert hello.startswith("Nobody is waiting.")
    assert queue == "Nobody is waiting."


def test_who_types_at_it_is_nobody_else(shop: Shop) -> None:
    types(shop, shop.invitation(name="Ada"))
    unknown, outsider = (types(shop, text, who="terminal:eve")[1] for text in ("asdf jkl", "touched"))
    assert "Nobody is waiting" not in outsider
    assert outsider.partition("\n")[0] == unknown.partition("\n")[0]


def test_what_they_send_to_somebody_is_sent_by_the_delivery(shop: Shop) -> None:
    code = shop.needs_a_person(BOB)
    sent = types(shop, shop.invitation(name="Ada"), f"claim {code}", f"say {code} bring-it")[-1]
    assert sent.startswith(f"Sent to {code}: ")
    passed_on(shop)
    assert "Ada" in read_by(shop, BOB)


def test_a_person_who_has_a_case_hears_from_the_delivery_what_was_said_at_the_terminal(shop: Shop) -> None:
    shop.staff(ADA)
    with at_the_terminal(shop) as waiting_client:
        waiting_client.hear("terminal:me", Message("4 notches, it stays still"), "en")
        heard = waiting_client.hear("terminal:me", Message("person"), "en")
        assert heard.case is not None
        code = heard.case.code
        shop.says(ADA, f"snooze {code} 2h")
        waiting_client.hear("terminal:me", Message("it measures 40 mm"), "en")
    passed_on(shop)
    assert shop.recorded.texts(ADA)[-2] == f"{code} is back: they’ve written."
    assert read_by(shop, ADA).startswith(f"{code}, the customer: “it measures 40 mm”")


def test_they_try_what_customers_see(shop: Shop) -> None:
    *_, tried, asked, done, line = types(shop, shop.invitation(), "try", "it stays still", "done", "4n 40")
    assert tried.startswith("You’re seeing what a customer sees.")
    assert shop.guide.shop.name in tried
    assert "stays still" in asked
    assert done == "Done. Back to staff view."
    assert line.startswith("Sure: ")


def test_lines_are_for_machines_and_make_nobody_staff(shop: Shop) -> None:
    code = shop.invitation()
    with open_store(shop.folder, key_file=shop.folder.with_name("key")) as store:
        row = lines.talk(WaitingClient(shop.guide, store, shop.clock), [f'{{"person": "p1", "text": "{code}"}}'], "en")
        told = json.loads(next(iter(row)))
        assert told["case"]
        assert told["replies"][0].startswith("That’s an invitation for staff.")
        wrong = json.dumps({"person": "p2", "text": "2222-3333-4444-5555-6666"})
        (other,) = lines.talk(WaitingClient(shop.guide, store), [wrong], "en")
        assert "invitation" not in other
    assert types(shop, code)[-1].startswith("Hello Ada.")
