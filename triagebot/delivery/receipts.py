"""What went out just before a crash counts as sent, by the journal of receipts."""

from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING, Any

from triagebot.store.forgetting import drop
from triagebot.store.post import Post
from triagebot.store.staff import settle

if TYPE_CHECKING:
    from triagebot.store import Transaction


def keep_receipts(
    tx: "Transaction",
    receipts: Mapping[int, Mapping[str, Any]],
    made_anew: "Callable[[Transaction, Mapping[str, Any]], None]" = lambda tx, body: None,
) -> None:
    """Marks these as sent, where they were being sent; `made_anew` is told the body of each whose thread was lost and
    made anew."""
    post = Post(tx)
    for number, receipt in receipts.items():
        body = post.went_out(number, receipt)
        if body is not None:
            settle(tx, body["channel"], body["conversation"], body, receipt)
            if receipt.get("anew"):
                made_anew(tx, body)
        if body is not None and body.get("last"):
            drop(tx, body["conversation"], number)
