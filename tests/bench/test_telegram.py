"""On Telegram: turns a second and how long they take, beside the library's own conversations, as more people are kept.

The same conversations, one platform's double, each bot in a process of its own, people who answer at once, `SEATS` of
them at a time, each with a wheel and slips of their own; the platform's limits are off. A turn of ours is durable:
message, answer and what goes out are on the disk before it goes out. Three bots:

- in memory: the library's ConversationHandler, which forgets everything when it ends;
- on file: the same, with its file persistence flushed after each update;
- ours: `triagebot serve`.

Compared are only bots that were measured in the same run. `BENCH_TELEGRAM=long` takes its time, and more people.
"""

import os
from dataclasses import dataclass
from pathlib import Path
from tempfile import mkdtemp

import pytest

from tests.bench import telegram_baseline, telegram_kept, telegram_ours
from tests.bench.conftest import Figures
from tests.bench.telegram_runs import Figures as Run
from tests.bench.telegram_runs import bot, platform
from tests.bench.telegram_script import DIFFERENT, Step, scripts, write
from triagebot.conversation import Guide

# It takes some minutes, and needs the machine for itself: so it is run by itself, with -m campaign.
pytestmark = pytest.mark.campaign

LONG = os.environ.get("BENCH_TELEGRAM") == "long"
#: How many people have saved state when the measuring begins, and how many talk at the same time.
FEW, MANY = 100, 10_000
PEOPLE = (FEW, 1000, MANY) if LONG else (FEW, MANY)
SEATS = 100
#: Seconds before counting begins (pictures are drawn and uploaded then), and of counting.
WARM, SECONDS = 10.0, 30.0 if LONG else 4.0
#: Answers that those with saved state have given.
ANSWERED = 3
#: At the platform's pace: seconds before counting (until every picture is there) and of counting, turns a second at
#: least, and the median of a turn at most, s.
PACED_WARM, PACED_SECONDS, LEAST_PACED, MOST_PACED = 40.0, 30.0, 22, 4.0
#: Seconds to a platform far away, and what an answer takes then; seconds that one person rests before each answer, and
#: those before counting and of counting; how many times the library's own in memory an answer to one person takes.
AWAY, MOST_AWAY = 0.075, 0.18
REST, ALONE_WARM, ALONE_SECONDS, MOST_ALONE = 0.3, 20.0, 25.0, 1.5
#: An outage, s, how many people wait then, and how long after it all are answered, s.
OUTAGE, SEVERAL, MOST_RECOVERING = 19.0, 5, 3.0
#: How many times the turns of the bot on file ours takes, by the number of people.
LEAST = {FEW: 1.0, 1000: 1.0, MANY: 10.0}
#: Wanted in all (turns a second, printed only, since it takes two free cores); the bound in MB, with so many cases.
WANTED, MOST_MEMORY, CASES = 300, 150, 100_000


@dataclass(frozen=True)
class Stage:
    """Where bots are measured: the script that people go by, and a folder."""

    guide: Guide
    scripts: list[list[Step]]
    folder: Path

    @property
    def script(self) -> Path:
        return self.folder / "script.json"

    def run(
        self, kind: str, people: int, *, seats: int = SEATS, seconds: float = SECONDS, paced: bool = False,
        away: float = 0.0, rest: float = 0.0, warm: float = WARM, away_for: float = 0.0,
    ) -> Run:  # fmt: skip
        """One bot with so many people who have saved state."""
        place = Path(mkdtemp(prefix=kind.replace(" ", "-"), dir=self.folder))
        with platform(self.script, people) as there:
            arguments = [there.server, there.token, str(self.script)]
            if kind == "ours":
                telegram_kept.fill(place, self.guide, self.scripts, people, ANSWERED)
                started = bot(
                    "tests.bench.telegram_ours",
                    ["paced"] if paced else [],
                    telegram_ours.environment(place, there.server, there.token),
                )
            else:
                if kind == "on file":
                    telegram_baseline.fill(place / "kept", self.scripts, people, ANSWERED)
                    arguments.append(str(place / "kept"))
                started = bot("tests.bench.telegram_baseline", arguments)
            with started as process:
                return there.talk(process, seats, warm, seconds, limits=paced, away=away, rest=rest, away_for=away_for)


def made(guide: Guide, folder: Path, different: int = DIFFERENT) -> Stage:
    stage = Stage(guide, scripts(guide, different), folder)
    write(stage.scripts, stage.script)
    return stage


@pytest.fixture(scope="module")
def stage(guide: Guide, tmp_path_factory: pytest.TempPathFactory) -> Stage:
    """People who differ."""
    return made(guide, tmp_path_factory.mktemp("telegram"))


@pytest.fixture(scope="module")
def alike(guide: Guide, tmp_path_factory: pytest.TempPathFactory) -> Stage:
    """People who all say the same."""
    return made(guide, tmp_path_factory.mktemp("telegram-alike"), 1)


@pytest.mark.slow
@pytest.mark.parametrize("people", PEOPLE)
def test_turns_a_second(stage: Stage, people: int, figures: Figures) -> None:
    runs = {kind: stage.run(kind, people) for kind in ("in memory", "on file", "ours")}
    times = runs["ours"].rate / runs["on file"].rate
    for kind, run in runs.items():
        bound = f"{times:.1f} times on file, >= {LEAST[people]:g}; wanted {WANTED} turns/s" if kind == "ours" else ""
        figures(f"Telegram, {kind}, {people:,} people kept", str(run), bound)
    assert times >= LEAST[people]


@pytest.mark.slow
def test_turns_a_second_where_all_say_the_same(alike: Stage, figures: Figures) -> None:
    for kind in ("on file", "ours"):
        figures(f"Telegram, {kind}, {FEW} people kept, all alike", str(alike.run(kind, FEW)))


@pytest.mark.slow
def test_memory_with_many_cases(stage: Stage, figures: Figures) -> None:
    run = stage.run("ours", CASES)
    figures(f"Telegram, ours, {CASES:,} people kept", str(run), f"< {MOST_MEMORY} MB; wanted {WANTED} turns/s")
    assert run.memory < MOST_MEMORY


@pytest.mark.slow
def test_at_the_pace_of_the_platform(stage: Stage, figures: Figures) -> None:
    """With the platform's limits on, which refuses the bot that is faster: 30 messages a second, one in a chat."""
    run = stage.run("ours", FEW, seconds=PACED_SECONDS, paced=True, warm=PACED_WARM)
    figures(
        f"Telegram, ours, {SEATS} at once at the platform's pace",
        str(run),
        f">= {LEAST_PACED} turns/s, median < {MOST_PACED:g} s, none refused",
    )
    assert run.rate >= LEAST_PACED
    assert run.median <= MOST_PACED
    assert run.refused == 0


@pytest.mark.slow
@pytest.mark.parametrize("rest", [0.0, REST])
def test_a_platform_far_away(alike: Stage, figures: Figures, rest: float) -> None:
    """An answer is one round trip, even though the message that it answers is changed as well, and the next
    answer does not wait for that change."""
    run = alike.run("ours", FEW, seats=1, seconds=ALONE_SECONDS, away=AWAY, rest=rest, warm=ALONE_WARM)
    figures(
        f"Telegram, ours, one person, the platform {2 * AWAY * 1e3:.0f} ms away, {rest:g} s rest",
        str(run),
        f"median < {MOST_AWAY * 1e3:.0f} ms",
    )
    assert run.median < MOST_AWAY
    assert run.changed > run.turns / 2


@pytest.mark.slow
def test_an_outage(alike: Stage, figures: Figures) -> None:
    run = alike.run("ours", FEW, seats=SEVERAL, rest=REST, paced=True, away_for=OUTAGE)
    figures(
        f"Telegram, ours, {SEVERAL} people, the platform is away for {OUTAGE:g} s",
        f"{run.recovered:.1f} s after that all are answered who waited",
        f"< {MOST_RECOVERING:g} s",
    )
    assert run.recovered < MOST_RECOVERING


@pytest.mark.slow
def test_one_person_on_an_idle_bot(alike: Stage, figures: Figures) -> None:
    runs = {
        kind: alike.run(kind, FEW, seats=1, seconds=ALONE_SECONDS, rest=REST, warm=ALONE_WARM)
        for kind in ("in memory", "on file", "ours")
    }
    times = runs["ours"].median / runs["in memory"].median
    for kind, run in runs.items():
        bound = f"{times:.2f} times in memory, <= {MOST_ALONE:g}" if kind == "ours" else ""
        figures(f"Telegram, {kind}, one person who rests {REST:g} s", str(run), bound)
    assert times <= MOST_ALONE
