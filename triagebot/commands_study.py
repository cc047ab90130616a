"""The commands that look back and ahead: simulated people, what closed cases teach, what an edit would change."""

import json
from dataclasses import asdict
from math import isnan
from typing import TYPE_CHECKING, Annotated

from cyclopts import Parameter

from triagebot.errors import UsageError
from triagebot.loading import Folder, settings_of, topic_folder

if TYPE_CHECKING:
    from triagebot.study import Report

Json = Annotated[bool, Parameter(name="--json", negative="", help="Print JSON.")]


def simulate(
    *,
    people: Annotated[int, Parameter(help="How many people.")] = 1000,
    seed: int = 1,
    profile: Annotated[str, Parameter(help="How the people err: household, careful or careless.")] = "household",
    mix: Annotated[str, Parameter(help="What is more common than usual: unlisted=2,freewheel-2-notch=6.")] = "",
    year: Annotated[int, Parameter(help="Also learn from so many closed cases first, and meet the same people.")] = 0,
    json_: Json = False,
    topic: Folder = None,
) -> None:
    """Let simulated people meet the planner and the fixed chart, and count how it ends."""
    from triagebot.study import simulate as run
    from triagebot.study.year import mix_named
    from triagebot.study.year import year as live_through
    from triagebot.topics import load_topic

    if people < 1 or year < 0:
        raise UsageError("--people takes a number from 1, --year one from 0")
    loaded = load_topic(topic_folder(settings_of(topic=topic)))
    shares = mix_named(loaded, mix) if mix else None
    reports = run(loaded, people, seed, profile, shares)
    if year:
        reports["taught"] = live_through(loaded, year, people, seed, profile, shares).taught
    if json_:
        rows = {name: asdict(report) for name, report in reports.items()}
        print(json.dumps({name: _without_nan(row) for name, row in rows.items()}, indent=2))
    else:
        print(_report_table(reports))


def _without_nan(row: dict[str, float]) -> dict[str, float | None]:
    """JSON has no word for a share of nobody."""
    return {name: None if isnan(value) else value for name, value in row.items()}


def _report_table(reports: "dict[str, Report]") -> str:
    rows = {name: asdict(report) for name, report in reports.items()}
    lines = [f"{'':<20}" + "".join(f"{name:>12}" for name in rows)]
    for measure in next(iter(rows.values())):
        lines.append(f"{measure:<20}" + "".join(f"{row[measure]:>12.4f}" for row in rows.values()))
    return "\n".join(lines)
