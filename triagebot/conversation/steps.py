"""A procedure step by step: which steps there are for a case, and what one of them says.

Rules of this file:
- the steps are those of the topic; a shop's note may say one in its own words or add some, and takes no caution away;
- the cautions of a step stand before it, in words with signal word; what holds for this wheel and belongs to no step is
  said in the first.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace

from triagebot.conversation import outcome
from triagebot.conversation.blocks import Block, Choice, Hazard, Picture, Step
from triagebot.conversation.case import Case
from triagebot.conversation.events import Concluded, LeftSteps, Restarted, Stepped
from triagebot.conversation.guide import Guide
from triagebot.conversation.policy import next_step
from triagebot.conversation.shop_offers import refitting
from triagebot.shop import steps_of_notes
from triagebot.topics import Exit, Fastening, Procedure, Texts, Trouble
from triagebot.topics import Step as Row

#: What leads to a step and is no trouble.
_GOES_ON = ("", "done", "back")


@dataclass(frozen=True, slots=True)
class Way:
    """The way through a procedure for one fastening: its steps, and the place of the one that it stands at."""

    fastening: Fastening
    procedure: str
    rows: tuple[Row, ...]
    place: int = 0
    written: Procedure | None = None
    """As the topic has it, without the shop's own steps."""

    @property
    def row(self) -> Row:
        return self.rows[self.place]

    def helps(self, trouble: Trouble) -> tuple[int, tuple[str, ...]]:
        """What helps in a trouble, in order of least harm, and the place of the step where that is written: this one's
        own, that of all steps, else that of the nearest (one with a button for it first, then one before this)."""
        if own := _helps(self.row, trouble):
            return self.place, own
        if self.written is not None and trouble in self.written.also:
            return self.place, self.written.also[trouble]
        has_none = [trouble not in row.exits for row in self.rows]
        others = sorted(range(len(self.rows)), key=lambda n: (has_none[n], abs(n - self.place), n > self.place))
        near = next((n for n in others if not self.rows[n].refit and _helps(self.rows[n], trouble)), None)
        return (self.place, ()) if near is None else (near, _helps(self.rows[near], trouble))

    def tells(self, trouble: Trouble, tries: int) -> Mapping[str, str]:
        """The answers that a trouble gives: at once where it gives them at any step, else once the first help was tried
        in vain; dirt is the commonest reason, and cleaned away by then."""
        if trouble in self.row.evidence:
            return self.row.evidence[trouble] if tries == 1 else {}
        return self.written.evidence.get(trouble, {}) if self.written is not None else {}


def _helps(row: Row, trouble: Trouble) -> tuple[str, ...]:
    return row.exits.get(trouble) or row.also.get(trouble, ())


def way(guide: Guide, case: Case) -> Way | None:
    """The way for what the case names, at the step that it stands at; None where nothing is written down for it."""
    now = case.now
    step = next_step(guide.topic, now.readings, now.asks, now.mentioned, guide.barred | now.settled)
    if step.decision.kind != "answer":
        return None
    (fastening,) = outcome.leading(guide, step, step.decision)
    procedure = guide.topic.procedure_for(fastening.id)
    if procedure is None:
        return None
    rows = _rows(guide, case, procedure, fastening)
    guided = now.at("guided")
    ids = [f"{procedure.id}/{row.id}" for row in rows]
    place = ids.index(guided.what) if guided and guided.what in ids else 0
    return Way(fastening, procedure.id, rows, place, procedure)


def _rows(guide: Guide, case: Case, procedure: Procedure, fastening: Fastening) -> tuple[Row, ...]:
    """The topic's steps with the shop's own among them."""
    rows = list(procedure.steps)
    for own in steps_of_notes(guide.shop, fastening.id, case.language):
        place = next((n for n, row in enumerate(rows) if row.id == (own.instead_of or own.after)), None)
        if place is None:
            continue
        if own.instead_of is not None:
            cautions = tuple(dict.fromkeys((*rows[place].cautions, *own.cautions)))
            rows[place] = rows[place].model_copy(update={"text": own.text, "cautions": cautions})
        else:
            rows.insert(place + 1, Row(id=own.id, text=own.text, cautions=own.cautions))
    return tuple(rows)


def written_out(guide: Guide, texts: Texts, case: Case) -> tuple[tuple[str, tuple[Hazard, ...]], ...]:
    """Every step of what the case names, each with its cautions at length; none where nothing is written down."""
    on = way(guide, case)
    if on is None:
        return ()
    found = []
    for place in range(len(on.rows)):
        here = replace(on, place=place)
        text = _text(guide, texts, here, f"procedure-{here.procedure}-{here.row.id}")
        found.append((text, outcome.hazards(guide, texts, cautions(guide, case, here))))
    return tuple(found)


def told(guide: Guide, texts: Texts, case: Case) -> tuple[Block, ...]:
    """The step at which a case stands: its cautions, what to do, its picture, and what would change it."""
    on = way(guide, case)
    if on is None:
        return ()
    name = f"procedure-{on.procedure}-{on.row.id}"
    watch = texts(f"{name}.watch") if texts.has(name, "watch") else ""
    text = texts("step-line", number=on.place + 1, count=len(on.rows), text=_text(guide, texts, on, name))
    return (
        *outcome.hazards(guide, texts, cautions(guide, case, on), short=True),
        Step(text, name, watch),
        *((Picture(shown),) if (shown := on.row.picture or _which_way(on)) else ()),
        *_hint(guide, texts, case, on),
    )


def _which_way(on: Way) -> str:
    """The picture of which way to turn, where that takes force; "" elsewhere."""
    return f"turning-{on.row.turns}:{on.fastening.id}" if on.row.by_force else ""


def _text(guide: Guide, texts: Texts, on: Way, name: str) -> str:
    if on.row.text:
        return on.row.text
    if on.row.refit:
        return " ".join(block.text for block in refitting(guide, texts, on.fastening) if isinstance(block, Step))
    return texts(name)


def _hint(guide: Guide, texts: Texts, case: Case, on: Way) -> tuple[Block, ...]:
    """While the tool is not on yet, what would change it and nobody has said."""
    now = case.now
    step = next_step(guide.topic, now.readings, now.asks, now.mentioned, guide.barred | now.settled)
    return outcome.yet_to_know(guide, texts, step, case, "beforehand") if on.place == 0 else ()


def cautions(guide: Guide, case: Case, on: Way) -> list[str]:
    """The cautions of a step that hold for this wheel."""
    held = {caution for row in on.rows for caution in row.cautions}
    shops = [caution for caution in on.row.cautions if caution not in guide.topic.cautions]
    ours = outcome.cautions_for(guide, case, [on.fastening])
    here = [each for each in ours if each in on.row.cautions or (on.place == 0 and each not in held)]
    own = [each for each in on.row.cautions if each not in here and each not in shops and on.row.text]
    return [*here, *own]


def left_at(guide: Guide, case: Case, on: Way) -> int:
    """The place of the step at which these steps were left and not finished; 0 where they were not begun with this
    wheel and this tool."""
    place, tool = 0, ""
    ids = [row.id for row in on.rows]
    for event in case.events:
        if isinstance(event, Stepped) and event.procedure == on.procedure and event.step in ids:
            place = ids.index(event.step)
        elif isinstance(event, Restarted) or (isinstance(event, LeftSteps) and event.finished):
            place, tool = 0, ""
        elif isinstance(event, Concluded) and event.outcome == "answer":
            named = guide.topic.fastenings.get(next(iter(event.named), ""))
            place = place if named is None or named.remover in ("", tool) else 0
            tool = str(named.remover) if named is not None else tool
    return place


def stuck_at(guide: Guide, case: Case) -> tuple[str, int, int, int] | None:
    """Where somebody got stuck: what they said last, how often they said it there, the number of the step and how many
    there are; None who never did."""
    trouble = [event for event in case.events if isinstance(event, Stepped) and event.exit not in _GOES_ON]
    if not trouble:
        return None
    last = trouble[-1]
    procedure = next((each for each in guide.topic.procedures if each.id == last.procedure), None)
    ids = [row.id for row in procedure.steps] if procedure is not None else []
    times = sum((event.step, event.exit) == (last.step, last.exit) for event in trouble)
    return last.exit, times, ids.index(last.step) + 1 if last.step in ids else 0, len(ids)


def offers(guide: Guide, texts: Texts, case: Case) -> tuple[Choice, ...]:
    """What can be said at the step, each by its button."""
    on = way(guide, case)
    if on is None:
        return ()
    may_break: tuple[Exit, ...] = ("broke",) if on.row.exits else ()
    exits: list[Exit] = ["done", *on.row.exits, *may_break, *(("do-not-have",) if on.row.needs else ()), "stop"]
    return tuple(Choice(each, label(texts, on, each)) for each in exits)


def label(texts: Texts, on: Way, exit: Exit) -> str:
    """What is said at a step for one way in which it ends or fails."""
    name = f"procedure-{on.procedure}-{on.row.id}"
    return texts(f"{name}.{exit}" if texts.has(name, exit) else f"exit-{exit}")
