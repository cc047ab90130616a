"""The commands that look back and ahead: simulated people, what closed cases teach, what an edit would change."""

import json
import sys
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import asdict
from datetime import UTC, date, datetime, time
from math import isnan
from pathlib import Path
from time import monotonic
from typing import TYPE_CHECKING, Annotated

from cyclopts import Parameter

from triagebot.errors import UsageError
from triagebot.loading import (
    BranchName,
    DataFolder,
    Folder,
    branches_of,
    guide_of,
    guides_of,
    settings_for,
    settings_of,
    store_of,
    topic_folder,
)

if TYPE_CHECKING:
    from zoneinfo import ZoneInfo

    from triagebot.conversation import Guide
    from triagebot.settings import Branch, Settings
    from triagebot.store import View
    from triagebot.study import Report
    from triagebot.study.review import Review
    from triagebot.study.spoken import Talk
    from triagebot.study.wheels import Wheels
    from triagebot.topics import Topic

#: How many messages that were misread are listed.
_MOST_SHOWN = 40

Json = Annotated[bool, Parameter(name="--json", negative="", help="Print JSON.")]


def simulate(
    *,
    people: Annotated[int, Parameter(help="How many people.")] = 1000,
    seed: int = 1,
    profile: Annotated[str, Parameter(help="How people err: household, newcomer, careless …")] = "household",
    mix: Annotated[str, Parameter(help="What they own: city, old-wheels … or unlisted=2.")] = "",
    year: Annotated[int, Parameter(help="Also learn from so many closed cases first, and meet the same people.")] = 0,
    spoken: Annotated[bool, Parameter(negative="", help="Let the same people also say it in words.")] = False,
    delivered: Annotated[bool, Parameter(negative="", help="With --spoken: through the delivery and a store.")] = False,
    bars: Annotated[bool, Parameter(negative="", help="Say which bars are met, by people of every kind.")] = False,
    show: Annotated[bool, Parameter(negative="", help="With --spoken: list messages that were misread.")] = False,
    json_: Json = False,
    topic: Folder = None,
    shop: Folder = None,
    branch: BranchName = None,
) -> None:
    """Let simulated people meet the planner and the fixed chart, and count how it ends."""
    from triagebot.study import simulate as run
    from triagebot.study.wheels import load_wheels, mix_of
    from triagebot.study.year import year as live_through
    from triagebot.topics import load_topic

    if people < 1 or year < 0:
        raise UsageError("--people takes a number from 1, --year one from 0")
    if (delivered or show) and not spoken:
        raise UsageError("--delivered and --show go with --spoken")
    settings = settings_for(branch, topic=topic, shop=shop) if spoken else settings_of(topic=topic, shop=shop)
    guide = guide_of(settings) if spoken else None
    loaded = guide.topic if guide is not None else load_topic(topic_folder(settings))
    wheels = load_wheels(loaded)
    if bars:
        _print_bars(loaded, wheels, people, seed, json_=json_)
        return
    shares = mix_of(loaded, wheels, mix)
    reports: dict[str, Report] = {**run(loaded, people, seed, profile, shares, wheels)}
    talks: list[Talk] = []
    if guide is not None:
        talks = _speak(guide, settings, people, seed, profile, shares, wheels, delivered=delivered)
        from triagebot.study.spoken import spoken_report

        reports["spoken"] = spoken_report(talks)
    if year:
        reports["taught"] = live_through(loaded, year, people, seed, profile, shares, wheels).taught
    shown = [asdict(each) for talk in talks for each in talk.misread][:_MOST_SHOWN] if show else []
    if json_:
        rows: dict[str, object] = {name: _without_nan(asdict(report)) for name, report in reports.items()}
        print(json.dumps({**rows, "shown": shown} if show else rows, ensure_ascii=False, indent=2))
        return
    print(_report_table(reports))
    for row in shown:
        print(f"\nasked {row['open'] or 'nothing'}: {row['text']!r}\n  meant {row['meant'] or 'nothing'}", end="")
        print(f"\n  taken {row['taken']}")


def _print_bars(topic: "Topic", wheels: "Wheels", people: int, seed: int, *, json_: bool) -> None:
    from triagebot.study.bars import bars_table, measured

    found = measured(topic, wheels, people, seed)
    if not json_:
        print(bars_table(found))
        return
    rows = [
        {
            "profile": row.bar.profile,
            "mix": row.bar.mix,
            "measure": row.bar.figure,
            "figure": None if isnan(row.figure) else row.figure,
            "met": row.met,
            "ideal": row.ideal,
        }
        for row in found
    ]
    print(json.dumps(rows, indent=2))


def _speak(
    guide: "Guide",
    settings: "Settings",
    people: int,
    seed: int,
    profile: str,
    shares: Mapping[str, float] | None,
    wheels: "Wheels",
    *,
    delivered: bool,
) -> "list[Talk]":
    """The same people in words, in the language of the settings."""
    from triagebot.loading import spoken
    from triagebot.study.spoken import speak
    from triagebot.topics import load_speech

    language = spoken(settings, None)
    speech = load_speech(guide.topic, language)
    return speak(guide, speech, language, people, seed, profile, shares, wheels, delivered=delivered)


def report(
    *,
    since: Annotated[str | None, Parameter(help="Only what was closed or said from this day on: 2026-01-31.")] = None,
    html: Annotated[Path | None, Parameter(help="Also write a page with plots into this file.")] = None,
    apply: Annotated[bool, Parameter(negative="", help="Write what was learned into the shop's folder.")] = False,
    yes: Annotated[bool, Parameter(negative="", help="Do not ask before that.")] = False,
    json_: Json = False,
    topic: Folder = None,
    shop: Folder = None,
    branch: BranchName = None,
    all_branches: Annotated[bool, Parameter(negative="", help="All branches side by side, and their sum.")] = False,
    data: DataFolder = None,
) -> None:
    """How often answers were right, which questions people fail, and what closed cases teach about your customers."""
    from triagebot.study.review import summed_up
    from triagebot.study.review_page import review_page
    from triagebot.study.review_table import review_table
    from triagebot.study.totals import Judging, counted
    from triagebot.topics import load_topic

    if all_branches:
        if apply or html is not None or branch is not None:
            raise UsageError("--all-branches goes with --since and --json; name one with --branch for the rest")
        _report_all(branches_of(topic=topic, shop=shop, data_folder=data), since, json_=json_)
        return
    settings = settings_for(branch, topic=topic, shop=shop, data_folder=data)
    if apply and settings.shop is None:
        raise UsageError("--apply writes into your shop's own folder: name it in the settings or with --shop")
    guide, shipped, now = guide_of(settings), load_topic(topic_folder(settings)), datetime.now(UTC)
    begin = None if since is None else _day(since, guide.shop.zone)
    judging = Judging(shipped, guide.topic)
    with store_of(_kept_in(settings)) as store:
        found = summed_up(counted(store, judging, now, begin, Progress("cases counted")), judging)
    if html is not None:
        html.write_text(review_page(found, f"{now.astimezone(guide.shop.zone):%Y-%m-%d %H:%M}"), encoding="utf-8")
    print(json.dumps(asdict(found), ensure_ascii=False, indent=2) if json_ else review_table(found), end="")
    if json_:
        print()
    if apply:
        _apply(shipped, guide, found, now, asked=not yes)


def _report_all(branches: "Sequence[Branch]", since: str | None, *, json_: bool) -> None:
    """The reviews of several branches side by side. Each is counted in its own store; only numbers are summed."""
    from triagebot.study.review import summed_up
    from triagebot.study.side_by_side import side_by_side
    from triagebot.study.totals import Judging, counted
    from triagebot.topics import load_topic

    if not branches[0].name:
        raise UsageError("there are no branches here: leave --all-branches out, or set TRIAGEBOT_SHOPS")
    shipped, now = [load_topic(topic_folder(branch.settings)) for branch in branches], datetime.now(UTC)
    if len({topic.digest for topic in shipped}) > 1:
        raise UsageError("the branches have different topics, which have no sum; name one branch with --branch")
    found, reviews = Counter[str](), {}
    for branch, guide in zip(branches, guides_of(branches), strict=True):
        begin = None if since is None else _day(since, guide.shop.zone)
        judging = Judging(shipped[0], guide.topic)
        with store_of(_kept_in(branch.settings)) as store:
            numbers = counted(store, judging, now, begin, Progress(f"cases of {branch.name} counted"))
        found.update(numbers)
        reviews[branch.name] = summed_up(numbers, judging)
    reviews["all"] = summed_up(found, Judging(shipped[0], shipped[0]))
    if json_:
        print(json.dumps({name: asdict(each) for name, each in reviews.items()}, ensure_ascii=False, indent=2))
    else:
        print(side_by_side(reviews), end="")


def recount(*, topic: Folder = None, shop: Folder = None, branch: BranchName = None, data: DataFolder = None) -> None:
    """Work out anew what is counted of every case, for `report` and for the staff's `today`. The bot may go on."""
    from triagebot.cases.summaries import rebuild
    from triagebot.study.totals import Judging, counted
    from triagebot.topics import load_topic

    settings = settings_for(branch, topic=topic, shop=shop, data_folder=data)
    judging = Judging(load_topic(topic_folder(settings)), guide_of(settings).topic)
    with store_of(_kept_in(settings)) as store:
        number = rebuild(store, datetime.now(UTC), Progress("cases worked out"))
        counted(store, judging, datetime.now(UTC), told=Progress("cases counted"))
    print(f"{number} cases worked out")


class Progress:
    """Says on the standard error how far something is that takes long: after some seconds, then every few."""

    FIRST, AGAIN = 2.0, 5.0

    def __init__(self, what: str) -> None:
        self._what, self._due = what, monotonic() + self.FIRST

    def __call__(self, done: int, of: int) -> None:
        if monotonic() >= self._due:
            self._due = monotonic() + self.AGAIN
            print(f"{done:,} of {of:,} {self._what}", file=sys.stderr, flush=True)


def train(*, lang: str = "en", topic: Folder = None) -> None:
    """Teach the reader from the topic's labelled messages (text/<language>.said.jsonl) and its labelled questions
    (text/<language>.asked.jsonl), and from staff's lines. Needs scikit-learn."""
    from triagebot.counter.line_kinds import model_file
    from triagebot.study.train_enquiries import teach_enquiries
    from triagebot.study.train_lines import teach_lines
    from triagebot.study.train_reader import teach

    try:
        guide = guide_of(settings_of(topic=topic))
        made = teach(guide, lang)
        asked = teach_enquiries(guide, lang)
    except ModuleNotFoundError as fault:
        raise UsageError(f"train needs {fault.name}: pip install scikit-learn") from None
    print(f"{made.file}: learned from {made.messages} messages, {made.answers} answers")
    if asked is not None:
        print(f"{asked.file}: learned from {asked.messages} questions, {asked.answers} kinds")
    print(f"{model_file(lang)}: learned from {teach_lines(guide, lang)} lines of staff")


def _apply(shipped: "Topic", guide: "Guide", found: "Review", now: datetime, *, asked: bool) -> None:
    """Show what would change, ask, and write. What is said here goes beside the report, not into its JSON."""
    from triagebot.study.applying import difference, write_learned
    from triagebot.study.learning import learned_from

    folder = guide.shop.folder
    today = now.astimezone(guide.shop.zone).date()
    learned = learned_from(shipped, found.priors, found.slips, found.closed, today)
    lines = difference(shipped, guide.topic, learned)
    if not learned.priors or not lines:
        print("nothing to apply: what was seen changes no figure that is in use", file=sys.stderr)
        return
    print(f"\nwhat would change in {folder}:", *lines, sep="\n  ", file=sys.stderr)
    if asked:
        print("write that? [y/N] ", end="", file=sys.stderr, flush=True)
        if sys.stdin.readline().strip().lower() not in ("y", "yes"):
            print("nothing was written", file=sys.stderr)
            return
    backup = write_learned(folder, shipped, learned, now)
    kept = f"; what it said before is in {backup}" if backup else ""
    print(f"written{kept}. Start triagebot again wherever it runs.", file=sys.stderr)


def replay(
    *,
    topic: Annotated[Path | None, Parameter(help="The edited topic's folder.")] = None,
    shop: Annotated[Path | None, Parameter(help="The edited shop's folder.")] = None,
    json_: Json = False,
    branch: BranchName = None,
    data: DataFolder = None,
) -> None:
    """Before an edit goes live: whose answer it would change, from what to what, and which edit does it.

    The settings say what is live; name the edited copy of its topic or shop folder. Exit status: 0 if no stored case
    would be answered otherwise, 3 if some would; 1 and 2 are errors.
    """
    from triagebot.conversation import fold_events
    from triagebot.conversation.events import from_json
    from triagebot.study.edits import edition_from
    from triagebot.study.replay import replay as run
    from triagebot.study.replay_table import replay_rows, replay_table
    from triagebot.topics import load_topic

    settings, edited_copy = settings_for(branch, data_folder=data), settings_of(topic=topic, shop=shop)
    named = {name: getattr(edited_copy, name) for name, told in (("topic", topic), ("shop", shop)) if told is not None}
    other = settings.model_copy(update=named)
    if topic is None and shop is None:
        raise UsageError("name the edited copy: --topic DIR, --shop DIR or both; the settings say what is live")
    live, edited = (edition_from(load_topic(topic_folder(each)), guide_of(each)) for each in (settings, other))
    if live.topic.id != edited.topic.id:
        raise UsageError(f"{edited.topic.id!r} is another topic than {live.topic.id!r}, which is live")
    with _kept(settings) as view:
        stored = view.of_topic(live.topic.id)
        found = run((fold_events(map(from_json, case.events)) for case in stored), live, edited, datetime.now(UTC))
    print(json.dumps(replay_rows(found), ensure_ascii=False, indent=2) if json_ else replay_table(found))
    if found.changes:
        sys.exit(3)


@contextmanager
def _kept(settings: "Settings") -> Iterator["View"]:
    """A look at what is kept (see `_kept_in`)."""

    where = _kept_in(settings)
    with store_of(where) as store, store.read() as view:
        yield view


def _kept_in(settings: "Settings") -> "Settings":
    """Raises UsageError where nothing is kept: looking back makes no data folder."""
    from triagebot.store import holds_cases

    if not holds_cases(settings.data_folder, settings.database):
        raise UsageError(f"no cases are kept in {settings.data_folder}; name another data folder with --data")
    return settings


def _day(text: str, zone: "ZoneInfo") -> datetime:
    try:
        return datetime.combine(date.fromisoformat(text), time(), zone)
    except ValueError:
        raise UsageError(f"--since takes a day like 2026-01-31, not {text!r}") from None


def _without_nan(row: dict[str, float]) -> dict[str, float | None]:
    """JSON has no word for a share of nobody."""
    return {name: None if isnan(value) else value for name, value in row.items()}


def _report_table(reports: "dict[str, Report]") -> str:
    """Measures line by line; what is not measured of one of them is left out there."""
    rows = {name: asdict(report) for name, report in reports.items()}
    lines = [f"{'':<20}" + "".join(f"{name:>12}" for name in rows)]
    for measure in dict.fromkeys(measure for row in rows.values() for measure in row):
        cells = (f"{row[measure]:>12.4f}" if measure in row else " " * 12 for row in rows.values())
        lines.append((f"{measure:<20}" + "".join(cells)).rstrip())
    return "\n".join(lines)
