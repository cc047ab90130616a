"""What is out, for tests of lending."""

from tests.counter.shop import Shop
from triagebot.store.loans import Loan, Loans


def out(shop: Shop) -> tuple[Loan, ...]:
    with shop.reading() as view:
        return Loans(view).out()
