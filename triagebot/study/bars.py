"""What the planner should reach with people whom it does not know, whether it does, and what anybody could reach.

The bars stand here, so that a run says whether they are met. Beside them stands the ideal observer (`ideal.py`), who
asks the same questions: where it misses a bar as well, only another observation would help.
"""

from collections.abc import Iterable
from dataclasses import dataclass

from triagebot.study.ideal import ideal, own_model
from triagebot.study.people import PROFILES, draw_person, profile_named
from triagebot.study.simulate import Report, meet_planner, report
from triagebot.study.wheels import Wheels, mix_of
from triagebot.topics import Topic


@dataclass(frozen=True, slots=True)
class Bar:
    """A figure of a report on the people of a profile who own a mix: from `least` to `most`."""

    profile: str
    mix: str
    figure: str
    least: float = 0.0
    most: float = float("inf")


BARS: tuple[Bar, ...] = (
    Bar("household", "", "right", least=0.955),
    Bar("household", "", "wrong", most=0.007),
    Bar("household", "", "mean_questions", most=4.8),
    Bar("newcomer", "", "right", least=0.80),
    Bar("newcomer", "", "wrong", most=0.03),
    Bar("careless", "", "wrong", most=0.02),
    Bar("household", "only-rare", "wrong", most=0.05),
    Bar("household", "only-rare", "mean_questions", most=7.0),
    Bar("household", "only-odd-freewheel", "wrong", most=0.12),
    *(Bar(profile, "", "surest_right", least=0.985) for profile in PROFILES),
)


@dataclass(frozen=True, slots=True)
class Measured:
    """A bar with the planner's figure; `ideal` is the ideal observer's, where right or wrong is what counts: told the
    right remover while as many are told a wrong one as the bar for wrong allows."""

    bar: Bar
    figure: float
    ideal: float | None = None

    @property
    def met(self) -> bool:
        """Whether the figure is within the bar; one that is not measured of anybody (nan) is not."""
        return self.bar.least <= self.figure <= self.bar.most


def measured(topic: Topic, wheels: Wheels, people: int, seed: int, bars: Iterable[Bar] = BARS) -> tuple[Measured, ...]:
    """Meet so many people for each profile and mix that a bar is about."""
    wanted = tuple(bars)
    groups = dict.fromkeys((bar.profile, bar.mix) for bar in wanted)
    reports = {group: _report(topic, wheels, *group, people, seed) for group in groups}
    found = []
    for bar in wanted:
        figure = float(getattr(reports[bar.profile, bar.mix], bar.figure))
        found.append(Measured(bar, figure, _ideal(topic, wheels, bar, wanted, people, seed)))
    return tuple(found)


def _report(topic: Topic, wheels: Wheels, profile: str, mix: str, people: int, seed: int) -> Report:
    shares = mix_of(topic, wheels, mix)
    kind = profile_named(profile)
    drawn = (draw_person(topic, number, seed, kind, shares, wheels) for number in range(people))
    return report([meet_planner(topic, person) for person in drawn])


def _ideal(topic: Topic, wheels: Wheels, bar: Bar, bars: tuple[Bar, ...], people: int, seed: int) -> float | None:
    """What the ideal observer gets right where the bar is about that. It knows the usual mix and not this one."""
    wrong = next((b.most for b in bars if (b.profile, b.mix, b.figure) == (bar.profile, bar.mix, "wrong")), None)
    if bar.figure != "right" or wrong is None:
        return None
    kind, usual = profile_named(bar.profile), mix_of(topic, wheels, "")
    shares = mix_of(topic, wheels, bar.mix)
    drawn = [draw_person(topic, number, seed, kind, shares, wheels) for number in range(people)]
    return ideal(topic, own_model(topic, wheels, kind, usual), drawn, wrong).right


def bars_table(found: Iterable[Measured]) -> str:
    """A line for each bar: whose it is, the figure, the bar, and whether it is met."""
    lines = [f"{'people':<34}{'figure':<16}{'measured':>10}{'bar':>10}{'met':>6}{'ideal':>8}"]
    for row in found:
        bar = row.bar
        who = bar.profile + (f", {bar.mix}" if bar.mix else "")
        limit = f">= {bar.least:g}" if bar.least else f"<= {bar.most:g}"
        ideal_text = "" if row.ideal is None else f"{row.ideal:.4f}"
        met = "yes" if row.met else "no"
        lines.append(f"{who:<34}{bar.figure:<16}{row.figure:>10.4f}{limit:>10}{met:>6}{ideal_text:>8}".rstrip())
    return "\n".join(lines)
