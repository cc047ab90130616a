"""`ask --why`: one message and all that the reader made of it, as lines that tell why the bot answered that."""

from collections.abc import Iterator

from triagebot.conversation import Guide, Turn
from triagebot.conversation.enquiries import Enquiry
from triagebot.conversation.policy import weighed
from triagebot.conversation.understanding.choices import Found
from triagebot.conversation.understanding.counts_and_sizes import Doubt
from triagebot.conversation.understanding.joining import Quantity
from triagebot.conversation.understanding.layout import Layout, lay_out
from triagebot.conversation.understood import Meaning
from triagebot.identify.readings import BoundReading, ChoiceReading, CountReading, Reading, SizeReading
from triagebot.study.trace import Look, Step, Thread
from triagebot.study.word_rows import WordRow, WordRows

#: So much of a row of the words files is shown.
_SHOWN = 60
#: So many fastenings are named.
_LIKELIEST = 4


def explained(guide: Guide, looks: list[Look], enquiry: Enquiry | None, taken: Turn) -> str:
    """What was read, by which rules and on which words, what became of it, what was answered, and what each question
    would have been worth."""
    lines: list[str] = []
    for look in looks:
        lines += [*_look(look), ""]
    if enquiry is not None:
        lines.append(f"asked in between: {enquiry.id} {enquiry.term}".rstrip() + " (enquiries in the words files)")
    reply = taken.reply
    asked = reply.question.id if reply.question else "none"
    lines.append(f"answered: status {reply.status}, fastening {reply.result.fastening}, question {asked}")
    lines += _weighing(guide, taken)
    return "\n".join((*lines, ""))


def _weighing(guide: Guide, taken: Turn) -> Iterator[str]:
    """The likeliest fastenings, and the questions that may be asked, the most worth first."""
    topic, now = guide.topic, taken.case.now
    likeliest = [f"{row.fastening} {row.probability:.3f}" for row in taken.reply.candidates[:_LIKELIEST]]
    yield f"likeliest: {', '.join(likeliest)}"
    chosen = taken.reply.question.id if taken.reply.question is not None else ""
    asks = {question: times - (question == chosen) for question, times in now.asks.items()}  # as when it was chosen
    seen = weighed(topic, now.readings, asks, now.mentioned, guide.barred | now.settled)
    for row in sorted(seen.worth, key=lambda row: -row.an_effort):
        hard = " (hard to see: only where no other pays)" if topic.questions[row.question].hidden else ""
        saves = f"saves {row.at_once:.2f} at once, {row.in_time:.2f} in time, {row.an_effort:.2f} an effort"
        yield f"  worth       {row.question:<10} {saves}{hard}"


def _look(look: Look) -> Iterator[str]:
    setting, layout = look.setting, lay_out(look.text, look.setting)
    asked_back = ", something is being asked back" if setting.confirming else ""
    yield f"read “{look.text}” while the open question is {setting.open_question or 'none'}{asked_back}"
    if not layout.tokens:
        return
    rows = list(
        WordRows(setting.words).matching([t.key for t in layout.tokens], [t.number is not None for t in layout.tokens])
    )
    yield from _statements(layout, rows)
    for thread in look.threads:
        yield from _thread(layout, look.meaning, thread, rows)
    yield from _rest(look.meaning)
    own = [row for row in rows if row.path.startswith(f"commands.{look.meaning.command}.")]
    yield from (_row(layout, row) for row in _longest(own))


def _statements(layout: Layout, rows: list[WordRow]) -> Iterator[str]:
    """What each part of the message speaks of, and the row that says so."""
    first = 0
    for place, scope in enumerate(layout.scopes):
        if place + 1 < len(layout.scopes) and layout.scopes[place + 1] == scope:
            continue
        yield f"  speaks of   {scope:<10} “{layout.quote(first, place)}”"
        about = [r for r in rows if r.path in (f"scopes.{scope}", f"openings.{scope}") and first <= r.first <= place]
        yield from (_row(layout, row) for row in _longest(about))
        first = place + 1


def _thread(layout: Layout, meaning: Meaning, thread: Thread, rows: list[WordRow]) -> Iterator[str]:
    value = thread.value
    if isinstance(value, Quantity):
        words = layout.quote(layout.spans[value.first].first, layout.spans[value.last].last)
        yield f"  number      “{words}” is {value.role}{f' of {value.question}' if value.question else ''}"
        yield from (_step(step) for step in _turns_of_role(thread))
    elif isinstance(value, Doubt):
        yield f"  doubt       {value.puzzle.question}: {value.puzzle.kind} “{value.puzzle.text}”"
        yield from map(_step, thread.steps)
    elif isinstance(value, Found):
        last = value.last if value.last >= 0 else len(layout.tokens) - 1
        words = layout.quote(value.first, last)
        end = _became(layout, meaning, value)
        yield f"  reading     {_told(value.reading)}, from “{words}”, sure {value.sure:.2f}: {end}"
        yield from map(_step, thread.steps)
        moved = any(step.rule == "from_motion" for step in thread.steps)
        own = [r for r in rows if value.first <= r.first and r.last <= last and _belongs(r, value.reading, moved)]
        yield from (_row(layout, row) for row in _longest(own))


def _turns_of_role(thread: Thread) -> list[Step]:
    """The first step of a number, and those that made it something else."""
    before: tuple[str, str | None] = ("", None)
    kept = []
    for step in thread.steps:
        role = (step.value.role, step.value.question)
        if role != before:
            kept.append(step)
        before = role
    return kept


def _belongs(row: WordRow, reading: Reading, moved: bool) -> bool:
    """Whether a row may be what a reading stands on."""
    table, _, rest = row.path.partition(".")
    if table in ("scopes", "openings"):
        return False
    if table == "motion":
        return moved and rest.startswith(f"{reading.question}.")
    return not moved and (rest.split(".")[0] == reading.question or table in ("unsure", "negations", "comparisons"))


def _longest(rows: list[WordRow]) -> list[WordRow]:
    """Without rows that match only a part of what another one matches."""

    def within(row: WordRow, other: WordRow) -> bool:
        longer = other.last - other.first > row.last - row.first
        return longer and other.first <= row.first and row.last <= other.last

    return [row for row in rows if not any(within(row, other) for other in rows)]


def _became(layout: Layout, meaning: Meaning, found: Found) -> str:
    limits, question = layout.words.sureness, found.reading.question
    if any(fact.reading == found.reading for fact in meaning.facts):
        return "a fact"
    puzzle = next((p for p in meaning.puzzles if p.proposed == found.reading or p.question == question), None)
    if puzzle is not None:
        return f"asked back ({puzzle.kind})"
    others = [scope for scope in layout.scopes[found.first : found.last + 1] if scope not in ("own", "tentative")]
    if others and meaning.asides:
        return f"passed over ({others[0]})"
    if found.sure < limits.ask:
        return f"dropped, since `sureness` asks back from {limits.ask:.2f} on"
    return "left out" if not any(fact.reading.question == question for fact in meaning.facts) else "gave way to another"


def _rest(meaning: Meaning) -> Iterator[str]:
    """What else the message came to."""
    told = {"command": meaning.command, "about": meaning.target, "tone": meaning.tone, "mood": meaning.mood,
            "unread": meaning.unread, "language": meaning.language}  # fmt: skip
    said = [f"{name} {value}" for name, value in told.items() if value and (name, value) != ("tone", "plain")]
    if said:
        yield f"  besides     {', '.join(said)}"


def _told(reading: Reading) -> str:
    match reading:
        case ChoiceReading(question, choice, denied):
            return f"{question} is {'not ' if denied else ''}{choice}"
        case CountReading(question, low, high):
            return f"{question} is {low if low == high else f'{low} to {high}'}"
        case SizeReading():
            return f"{reading.question} is {reading.mm:g} mm, {reading.half_width:g} either way"
        case BoundReading():
            return f"{reading.question} is from {reading.low} to {reading.high} mm"
    return f"{reading.question} is not known"


def _step(step: Step) -> str:
    sure = f" to {step.value.sure:.2f}" if step.what == "changed" and isinstance(step.value, Found) else ""
    return f"    {step.what + sure:<16}{step.place:<28}{step.rule}"


def _row(layout: Layout, row: WordRow) -> str:
    pattern = row.pattern if len(row.pattern) <= _SHOWN else f"{row.pattern[:_SHOWN]}…"
    return f"    {'by the row':<16}{row.place:<28}{row.path}: {pattern}"
