"""How well the planner does: simulated people, the fixed chart to beat, and how probabilities match the truth."""

from triagebot.study.chart import ChartEnd, follow_chart
from triagebot.study.people import PROFILES, Person, Profile, draw_person, profile_named
from triagebot.study.scores import brier, expected_calibration_error, largest_calibration_error
from triagebot.study.simulate import End, Report, meet_chart, meet_planner, report, simulate

__all__ = [
    "PROFILES",
    "ChartEnd",
    "End",
    "Person",
    "Profile",
    "Report",
    "brier",
    "draw_person",
    "expected_calibration_error",
    "follow_chart",
    "largest_calibration_error",
    "meet_chart",
    "meet_planner",
    "profile_named",
    "report",
    "simulate",
]
