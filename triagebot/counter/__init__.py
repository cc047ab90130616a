"""What the people of a shop do at the bench: invitations, lines of what they see, tools looked up, cases closed.

All of it is worked out from what is given; the delivery says who may do it and writes down what comes of it.
"""

from triagebot.counter.bench_line import Line, Seen, read_line, settled
from triagebot.counter.closing import Outcome, outcome_said
from triagebot.counter.invitations import dismiss, invite, redeem
from triagebot.counter.times import until
from triagebot.counter.today import Digest, digest, digest_of, digest_text
from triagebot.counter.words import Order, StaffWords, staff_words

__all__ = [
    "Digest",
    "Line",
    "Order",
    "Outcome",
    "Seen",
    "StaffWords",
    "digest",
    "digest_of",
    "digest_text",
    "dismiss",
    "invite",
    "outcome_said",
    "read_line",
    "redeem",
    "settled",
    "staff_words",
    "until",
]
