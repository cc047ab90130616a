"""Numbers only: readings -> belief -> next question -> decision. No I/O, no wording, no imports from other rooms."""

from triagebot.identify.decision import Decision, Prospect, decide, prospect
from triagebot.identify.doubt import odd_one_out, rarity
from triagebot.identify.model import Losses, Model, Remedy, belief
from triagebot.identify.noise import SizeNoise, choice_rows, count_rows
from triagebot.identify.planner import Candidate, Plan, Worth, plan
from triagebot.identify.readings import (
    BoundReading,
    ChoiceReading,
    CountReading,
    Reading,
    SizeReading,
    UnsureReading,
)
from triagebot.identify.tables import ListTable, size_table

__all__ = [
    "BoundReading",
    "Candidate",
    "ChoiceReading",
    "CountReading",
    "Decision",
    "ListTable",
    "Losses",
    "Model",
    "Plan",
    "Prospect",
    "Reading",
    "Remedy",
    "SizeNoise",
    "SizeReading",
    "UnsureReading",
    "Worth",
    "belief",
    "choice_rows",
    "count_rows",
    "decide",
    "odd_one_out",
    "plan",
    "prospect",
    "rarity",
    "size_table",
]
