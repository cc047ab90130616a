"""Every id that one part of a topic uses and another defines, and every number that another part bounds.

A topic without these faults can be compiled, planned and talked about without a missing key; `loose_ends.py` says what
else it lacks.
"""

from collections.abc import Collection, Mapping, Sequence
from difflib import get_close_matches
from typing import Any

from triagebot.errors import Problem
from triagebot.topics.flowchart import ALWAYS, GROUPS, OWN_STATES, TRIGGERS
from triagebot.topics.marks import Files
from triagebot.topics.schema import Fastening, Question, TrueSize
from triagebot.topics.topic import Topic

#: How far a distribution's sum, and the sum of the priors, may be from 1.
MIX_TOLERANCE = 0.001
PRIOR_TOLERANCE = 0.005

Path = tuple[Any, ...]


def broken_references(topic: Topic, files: Files) -> list[Problem]:
    """Every id that points nowhere or stands twice, and every number out of its bounds."""
    ledger = _Ledger(topic, files)
    _catalogue(ledger)
    _flow(ledger)
    _gauges(ledger)
    return ledger.problems


class _Ledger:
    """The ids that exist, and the problems found so far."""

    def __init__(self, topic: Topic, files: Files) -> None:
        self.topic = topic
        self.files = files
        self.problems: list[Problem] = []
        flow = topic.flow
        self.ids: Mapping[str, Collection[str]] = {
            "source": topic.sources,
            "question": topic.questions,
            "fastening": topic.fastenings,
            "remover": topic.removers,
            "accessory": topic.accessories,
            "caution": topic.cautions,
            "step": topic.catalogue.steps,
            "guard": flow.guards,
            "state": [state.id for state in flow.states],
            "trait": [trait for remover in topic.catalogue.removers for trait in remover.traits],
        }

    def fault(self, file: str, path: Path, message: str, *, key: bool = False) -> None:
        self.problems.append(self.files.problem(file, path, message, key=key))

    def points(self, kind: str, name: str, file: str, path: Path, *, key: bool = False) -> bool:
        """Whether there is such a thing; complain where not."""
        if name in self.ids[kind]:
            return True
        self.fault(file, path, f"there is no {kind} {name!r}{_nearest(name, self.ids[kind])}", key=key)
        return False

    def choice(self, question: str, choice: str, file: str, path: Path, *, key: bool = False) -> None:
        known = self.topic.questions.get(question)
        if known is not None and choice not in known.choices:
            message = f"question {question!r} has no choice {choice!r}{_nearest(choice, known.choices)}"
            self.fault(file, path, message, key=key)

    def once(self, names: Sequence[str], file: str, path: Path, *, field: str | None = "id") -> None:
        seen: set[str] = set()
        for place, name in enumerate(names):
            if name in seen:
                where = (*path, place) if field is None else (*path, place, field)
                self.fault(file, where, f"{name!r} stands twice in this list")
            seen.add(name)


def _nearest(name: str, known: Collection[str]) -> str:
    near = get_close_matches(name, list(known), 1)
    return f"; did you mean {near[0]!r}?" if near else ""


# --- catalogue.yaml -----------------------------------------------------------------------------------------------


def _catalogue(ledger: _Ledger) -> None:
    file, catalogue = "catalogue.yaml", ledger.topic.catalogue
    ledger.once(catalogue.steps, file, ("steps",), field=None)
    for top in ("fastenings", "removers", "accessories", "cautions"):
        ledger.once([row.id for row in getattr(catalogue, top)], file, (top,))
    for place, fastening in enumerate(catalogue.fastenings):
        _fastening(ledger, fastening, ("fastenings", place))
    _whole(ledger, file)
    for top in ("removers", "accessories", "cautions"):
        for place, row in enumerate(getattr(catalogue, top)):
            ledger.points("source", row.source, file, (top, place, "source"))
    for place, caution in enumerate(catalogue.cautions):
        ledger.points("step", caution.step, file, ("cautions", place, "step"))
    for place, pair in enumerate(catalogue.look_alikes):
        path = ("look-alikes", place)
        for side, name in enumerate(pair.fastenings):
            ledger.points("fastening", name, file, (*path, "fastenings", side))
        ledger.points("question", pair.check, file, (*path, "check"))
        if pair.by_hand is not None:
            ledger.points("question", pair.by_hand, file, (*path, "by-hand"))
        if pair.harmless and pair.by_hand is None:
            ledger.fault(file, (*path, "harmless"), "name the try by hand that does no harm (by-hand)", key=True)


def _whole(ledger: _Ledger, file: str) -> None:
    rows = ledger.topic.catalogue.fastenings
    total = sum(row.prior for row in rows)
    if abs(total - 1) > PRIOR_TOLERANCE:
        ledger.fault(file, ("fastenings",), f"the priors sum to {total:.4g}, not 1", key=True)
    broad = [place for place, row in enumerate(rows) if row.broad]
    if not broad:
        ledger.fault(
            file, ("fastenings",), "one fastening must be broad: it stands for all that is not listed", key=True
        )
    for place in broad[1:]:
        ledger.fault(file, ("fastenings", place, "broad"), "only one fastening may be broad")
    for place in broad:
        if rows[place].remover is not None:
            ledger.fault(file, ("fastenings", place, "remover"), "the broad fastening cannot have a remover: use null")
        if rows[place].answers:
            ledger.fault(file, ("fastenings", place, "answers"), "the broad fastening lists no answers", key=True)


def _fastening(ledger: _Ledger, row: Fastening, path: Path) -> None:
    file = "catalogue.yaml"
    if row.prior_range is not None and not row.prior_range[0] <= row.prior <= row.prior_range[1]:
        ledger.fault(file, (*path, "prior-range"), "the prior lies outside this range", key=True)
    if row.remover is not None:
        ledger.points("remover", row.remover, file, (*path, "remover"))
    for kind, field in (("accessory", "accessories"), ("caution", "cautions")):
        names = getattr(row, field)
        ledger.once(names, file, (*path, field), field=None)
        for place, name in enumerate(names):
            ledger.points(kind, name, file, (*path, field, place))
    ledger.once(row.advice, file, (*path, "advice"), field=None)
    if row.refitting is not None:
        ledger.points("source", row.refitting.source, file, (*path, "refitting", "source"))
    for name, source in row.sources.items():
        ledger.points("source", source, file, (*path, "sources", name))
    for name, truth in row.answers.items():
        where = (*path, "answers", name)
        if ledger.points("question", name, file, where, key=True):
            _truth(ledger, ledger.topic.questions[name], truth, where)


def _truth(ledger: _Ledger, question: Question, truth: Any, path: Path) -> None:
    file = "catalogue.yaml"
    if question.purpose != "identify":
        ledger.fault(file, path, f"question {question.id!r} is not there to identify: say nothing about it", key=True)
    elif isinstance(truth, TrueSize) != (question.kind == "size"):
        wanted = (
            "a size: mm, or low and high" if question.kind == "size" else f"an answer to a {question.kind} question"
        )
        ledger.fault(file, path, f"should be {wanted}")
    elif isinstance(truth, TrueSize):
        for field in ("mm", "low", "high"):
            value = getattr(truth, field)
            if value is not None and not question.least <= value <= question.most:
                message = f"should lie within {question.least} and {question.most} mm, as the question does"
                ledger.fault(file, (*path, field), message)
    elif isinstance(truth, str):
        _label(ledger, question, truth, path, key=False)
    else:
        for label in truth:
            _label(ledger, question, label, (*path, label), key=True)
        _mix(ledger, truth, file, path)


def _mix(ledger: _Ledger, shares: Mapping[str, float], file: str, path: Path) -> None:
    total = sum(shares.values())
    if abs(total - 1) > MIX_TOLERANCE:
        ledger.fault(file, path, f"the shares sum to {total:.4g}, not 1")


def _label(ledger: _Ledger, question: Question, label: str, path: Path, *, key: bool) -> None:
    if question.kind == "choice":
        ledger.choice(question.id, label, "catalogue.yaml", path, key=key)
    elif label not in map(str, range(question.least, question.most + 1)):
        message = f"{label!r} should be a whole number within {question.least} and {question.most}"
        ledger.fault("catalogue.yaml", path, message, key=key)


# --- flow.yaml ----------------------------------------------------------------------------------------------------


def _flow(ledger: _Ledger) -> None:
    file, flow = "flow.yaml", ledger.topic.flow
    for top in ("questions", "states"):
        ledger.once([row.id for row in getattr(flow, top)], file, (top,))
    for place, question in enumerate(flow.questions):
        _question(ledger, question, ("questions", place))
    _guards(ledger)
    _machine(ledger)
    _noise(ledger)
    for top in ("referrals", "shop_referrals", "extra_cautions"):
        for place, row in enumerate(getattr(flow, top)):
            path = (top.replace("_", "-"), place)
            if ledger.points("question", row.question, file, (*path, "question")):
                ledger.choice(row.question, row.choice, file, (*path, "choice"))
            ledger.points("caution", row.caution, file, (*path, "caution"))
            for item, name in enumerate(getattr(row, "accessories", ())):
                ledger.points("accessory", name, file, (*path, "accessories", item))
            for item, name in enumerate(getattr(row, "traits", ())):
                ledger.points("trait", name, file, (*path, "traits", item))
    for place, name in enumerate(flow.chart.order):
        ledger.points("question", name, file, ("chart", "order", place))
    outcomes = flow.outcomes
    for place, sight in enumerate(outcomes.sights):
        ledger.points("question", sight, file, ("outcomes", "sights", place))
    for name, choice in outcomes.seen_by.items():
        if ledger.points("question", name, file, ("outcomes", "seen-by", name), key=True):
            ledger.choice(name, choice, file, ("outcomes", "seen-by", name))
    if outcomes.direction is not None:
        ledger.points("question", outcomes.direction, file, ("outcomes", "direction"))
    if outcomes.motion is not None:
        ledger.points("question", outcomes.motion.question, file, ("outcomes", "motion", "question"))
    bands = flow.outcomes.bands
    if bands.fairly_sure > bands.sure:
        ledger.fault(file, ("outcomes", "bands", "fairly-sure"), "should not be above the limit for sure")


def _question(ledger: _Ledger, question: Question, path: Path) -> None:
    file = "flow.yaml"
    ledger.points("source", question.source, file, (*path, "source"))
    ledger.once(question.choices, file, (*path, "choices"), field=None)
    if "unsure" in question.choices:
        where = (*path, "choices", question.choices.index("unsure"))
        ledger.fault(file, where, "every question can be answered unsure anyway: do not list it")
    if question.least >= question.most:
        ledger.fault(file, (*path, "least"), f"should be below most ({question.most})")
    for label in question.prior:
        if question.kind == "choice":
            ledger.choice(question.id, label, file, (*path, "prior", label), key=True)
    if question.prior:
        _mix(ledger, question.prior, file, (*path, "prior"))
    elif question.purpose != "identify":
        ledger.fault(
            file, (*path, "id"), f"a question of purpose {question.purpose} says how common its answers are (prior)"
        )


def _guards(ledger: _Ledger) -> None:
    file = "flow.yaml"
    for name, guard in ledger.topic.flow.guards.items():
        path = ("guards", name)
        for part, wanted in (("answered", guard.answered), ("not-answered", guard.not_answered)):
            for question, choices in wanted.items():
                if ledger.points("question", question, file, (*path, part, question), key=True):
                    for place, choice in enumerate(choices):
                        ledger.choice(question, choice, file, (*path, part, question, place))
        for place, trait in enumerate(guard.leading):
            ledger.points("trait", trait, file, (*path, "leading", place))
        for place, question in enumerate(guard.mentioned):
            ledger.points("question", question, file, (*path, "mentioned", place))


def _machine(ledger: _Ledger) -> None:
    file, flow = "flow.yaml", ledger.topic.flow
    ledger.points("state", flow.start, file, ("start",))
    for place, state in enumerate(flow.states):
        if state.id in GROUPS:
            ledger.fault(file, ("states", place, "id"), f"{state.id!r} is a word for many states")
        if state.id in OWN_STATES:
            ledger.fault(file, ("states", place, "id"), f"{state.id!r} is a state of every conversation already")
        if state.question is not None:
            ledger.points("question", state.question, file, ("states", place, "question"))
            if state.outcome is not None:
                ledger.fault(file, ("states", place), "a state asks a question or is an outcome, not both")
    for place, transition in enumerate(flow.transitions):
        path = ("transitions", place)
        if transition.trigger not in TRIGGERS:
            ledger.fault(
                file, (*path, "trigger"), f"nothing fires {transition.trigger!r}; known: {', '.join(TRIGGERS)}"
            )
        for item, word in enumerate(transition.source):
            if word not in GROUPS:
                ledger.points("state", word, file, (*path, "source", item))
        ledger.points("state", transition.to, file, (*path, "to"))
        for item, name in enumerate(transition.guards):
            ledger.points("guard", name, file, (*path, "guards", item))
        if transition.trigger in ALWAYS and transition.guards:
            ledger.fault(file, (*path, "guards"), f"{transition.trigger!r} must always work: no guards", key=True)


def _noise(ledger: _Ledger) -> None:
    file, noise = "flow.yaml", ledger.topic.flow.noise
    ledger.points("source", noise.source, file, ("noise", "source"))
    ledger.once([means.id for means in noise.means], file, ("noise", "means"))
    for place, means in enumerate(noise.means):
        ledger.points("source", means.source, file, ("noise", "means", place, "source"))
    if "unknown" not in [means.id for means in noise.means]:
        ledger.fault(file, ("noise", "means"), "one of the means must be 'unknown', for who does not say how", key=True)
    if noise.span[0] >= noise.span[1]:
        ledger.fault(file, ("noise", "span"), "should be two lengths, the smaller one first")


# --- gauges.yaml --------------------------------------------------------------------------------------------------


def _gauges(ledger: _Ledger) -> None:
    rows = ledger.files.marks["gauges.yaml"].data["gauges"]
    ledger.once([row["id"] for row in rows], "gauges.yaml", ("gauges",))
    for place, row in enumerate(rows):
        ledger.points("source", row["source"], "gauges.yaml", ("gauges", place, "source"))
    sources = ledger.files.marks["sources.yaml"].data["sources"]
    ledger.once([row["id"] for row in sources], "sources.yaml", ("sources",))
