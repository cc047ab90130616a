"""What went out just before a crash counts as sent, by the journal of receipts."""

from collections.abc import Callable, Collection, Mapping
from typing import TYPE_CHECKING, Any

from triagebot.delivery.counts import Counts
from triagebot.messages.message import Channel
from triagebot.store.forgetting import drop
from triagebot.store.post import Post
from triagebot.store.staff import settle

if TYPE_CHECKING:
    from triagebot.store import Transaction


def keep_receipts(
    tx: "Transaction",
    receipts: Mapping[int, Mapping[str, Any]],
    made_anew: "Callable[[Transaction, Mapping[str, Any]], None]" = lambda tx, body: None,
    not_of: Collection[str] = (),
) -> None:
    """Marks these as sent, where they were being sent; `made_anew` is told the body of each whose thread was lost and
    made anew. What is `not_of` our channels any more is left to those who serve these."""
    post = Post(tx)
    for number, receipt in receipts.items():
        body = post.went_out(number, receipt, not_of)
        if body is not None:
            settle(tx, body["channel"], body["conversation"], body, receipt)
            if receipt.get("anew"):
                made_anew(tx, body)
        if body is not None and body.get("last"):
            drop(tx, body["conversation"], number)


def recover(channel: Channel, counts: Counts, tx: "Transaction") -> tuple[int, tuple[str, ...]]:
    """Puts back what a crash left half sent, or gives it up; gives the number, and the conversations that wait."""
    post = Post(tx)
    unknown = post.unknown(channel.name)
    harmless = 0
    for number, kind in unknown:
        if channel.harmless_to_repeat(kind):  # type: ignore[arg-type]
            post.put_back(number, None, "unknown")
            harmless += 1
        else:
            post.failed(number, "unknown")

    def count() -> None:
        counts.unknown += len(unknown)
        counts.repeated += harmless

    tx.after_commit.append(count)
    return len(unknown), post.unsent(channel.name)
