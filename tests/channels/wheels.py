"""What people answer about the wheel that they have."""

from collections.abc import Mapping

#: What somebody with a freewheel with 4 notches, 24 mm wide, answers: by a part of the question.
FOUR_NOTCHES: Mapping[str, str] = {
    "How many sprockets": "6",
    "Is the rear wheel out": "Yes, it is out",
    "pick it up and carry it": "Yes, it is out",
    "Can the bike roll along": "Yes, it coasts",
    "stay still?": "It stays still",
    "What is there for a tool": "Notches: a few wide slots in its face",
    "How many splines or notches": "4",
    "How wide is the fitting": "24.0 mm with a calliper",
    "What shape is the hub": "I don’t know",
    "Which maker": "I don’t know",
    "torque stamped": "No, there is no torque on it",
    "What is inside the rear hub": "Nothing special, a plain hub",
    "thin wire ring": "No, there is no wire ring",
    "What holds the rear wheel": "Axle nuts",
}
