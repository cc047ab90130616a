"""What the files of a shop folder must say alike, and what they may point to in the topic.

This file decides which faults keep a shop from being used at all. All of them would make an answer
ambiguous or wrong: an id that means nothing, the same thing said twice, a word that means two things.
"""

from collections.abc import Collection, Iterable, Mapping
from difflib import get_close_matches
from typing import Any

from triagebot.errors import Problem
from triagebot.shop.front_matter import FrontMatter
from triagebot.shop.hours import overlapping_days, show
from triagebot.shop.schema import WEEKDAYS
from triagebot.shop.shop import Shop
from triagebot.shop.words import fold
from triagebot.topics import Files, Topic

Path = tuple[Any, ...]


def disagreements(shop: Shop, topic: Topic | None, files: Files) -> list[Problem]:
    """Everything that one file of the folder says against another, against itself or, if given, against the topic."""
    problems = [*_hours(shop, files), *_money(shop, files), *_twice(shop, files), *_makers(shop, files)]
    problems += [*_beginnings(shop, files), *_signposts(shop, topic, files), *_replies(shop, files)]
    if topic is not None:
        problems += _strangers(shop, topic, files)
    return problems


def _hours(shop: Shop, files: Files) -> Iterable[Problem]:
    for day, night, span in overlapping_days(shop.about.hours.days):
        eve = WEEKDAYS[day - 1]
        message = f"{show(span)} begins before {show(night)} of {eve} has ended"
        yield files.problem("shop.yaml", ("hours", WEEKDAYS[day]), message)


def _money(shop: Shop, files: Files) -> Iterable[Problem]:
    if shop.currency is not None:
        return
    message = "an amount, but shop.yaml names no currency"
    for n, tool in enumerate(shop.tools_file.tools):
        for key, amount in (("price", tool.price), ("deposit", tool.deposit)):
            if amount is not None:
                yield files.problem("tools.yaml", ("tools", n, key), message)
    for n, service in enumerate(shop.services):
        if service.price is not None:
            yield files.problem("services.yaml", ("services", n, "price"), message)
    for n, part in enumerate(shop.parts_file.parts):
        if part.price is not None:
            yield files.problem("parts.yaml", ("parts", n, "price"), message)


def _twice(shop: Shop, files: Files) -> Iterable[Problem]:
    tools = [(t.tool, "tools.yaml", ("tools", n, "tool")) for n, t in enumerate(shop.tools_file.tools)]
    absent = [(i, "tools.yaml", ("not-held", n)) for n, i in enumerate(shop.tools_file.not_held)]
    names = [(fold(t.name), "tools.yaml", ("tools", n, "name")) for n, t in enumerate(shop.tools_file.tools)]
    services = [(s.id, "services.yaml", ("services", n, "id")) for n, s in enumerate(shop.services)]
    choices = [(c.choice, "makers.yaml", ("choices", n, "choice")) for n, c in enumerate(shop.makers_file.choices)]
    notes = [(note.slug, note.file, ("slug",)) for note in shop.notes]
    replies = [(r.id, "replies.yaml", ("replies", n, "id")) for n, r in enumerate(shop.replies)]
    parts = [(p.id, "parts.yaml", ("parts", n, "id")) for n, p in enumerate(shop.parts_file.parts)]
    for rows in (tools + absent, names, services, choices, notes, replies, parts):
        first: dict[str, str] = {}
        for value, file, path in rows:
            if value in first:
                yield files.problem(file, path, f"{value!r} stands twice (also in {first[value]})")
            first.setdefault(value, file)


def _makers(shop: Shop, files: Files) -> Iterable[Problem]:
    """Words that people's spelling cannot tell apart must not mean two choices, nor need writing twice."""
    seen: dict[str, tuple[str, str]] = {}
    for n, row in enumerate(shop.makers_file.choices):
        for m, maker in enumerate(row.makers):
            place: Path = ("choices", n, "makers", m)
            words = [(maker.name, (*place, "name")), *((w, (*place, "also", i)) for i, w in enumerate(maker.also))]
            for word, path in words:
                folded = fold(word)
                if not folded:
                    yield files.problem("makers.yaml", path, f"{word!r} holds no letter and no digit")
                elif folded in seen:
                    other, choice = seen[folded]
                    message = f"{word!r} reads the same as {other!r} of {choice} once case, accents and signs are gone"
                    yield files.problem("makers.yaml", path, message)
                else:
                    seen[folded] = (word, row.choice)


def _beginnings(shop: Shop, files: Files) -> Iterable[Problem]:
    """The parts of a note that its own head names."""
    for note in shop.notes:
        known = [section.slug for section in note.sections]
        for fastening, section in note.head.sections.items():
            if section not in known:
                message = f"no heading of this note has the address {section!r}{_nearest(section, known)}"
                yield files.problem(note.file, ("sections", fastening), message)


def _replies(shop: Shop, files: Files) -> Iterable[Problem]:
    """A reply that is not in a person's language is sent in the shop's own."""
    for n, reply in enumerate(shop.replies):
        if shop.language not in reply.text:
            message = f"{reply.id!r} has no text in the shop's own language, {shop.language!r}"
            yield files.problem("replies.yaml", ("replies", n, "text"), message, key=True)


def _signposts(shop: Shop, topic: Topic | None, files: Files) -> Iterable[Problem]:
    """What the table of links stands for: a note here, a section of it, or a fastening of the topic."""
    sections = {note.slug: [section.slug for section in note.sections] for note in shop.notes}
    noted = {fastening for note in shop.notes for fastening in note.head.fastenings}
    fastenings = set(topic.fastenings) if topic is not None else set()
    for signpost, link in shop.elsewhere.items():
        slug, hash_sign, section = signpost.partition("#")
        path: Path = ("links", signpost)
        if slug in fastenings - noted - sections.keys() and not hash_sign:
            if link.title is None:
                message = f"no note here is about {slug!r}, so give a title: {{title: …, address: …}}"
                yield files.problem("links.yaml", path, message)
        elif hash_sign and slug in sections and section not in sections[slug]:
            message = f"the note {slug!r} has no section {section!r}{_nearest(section, sections[slug])}"
            yield files.problem("links.yaml", path, message, key=True)
        elif slug not in sections and (hash_sign or (topic is not None and slug not in fastenings)):
            known = {*sections, *fastenings}
            message = f"{slug!r} is no note here and no fastening of this topic{_nearest(slug, known)}"
            yield files.problem("links.yaml", path, message, key=True)


def _strangers(shop: Shop, topic: Topic, files: Files) -> Iterable[Problem]:
    """Every id that the topic does not know."""
    tools = {*topic.removers, *topic.accessories}
    systems = {f.system for f in topic.catalogue.fastenings}
    makers = {choice for q in topic.flow.questions if q.shop_words for choice in q.choices}
    rows: list[tuple[str, Collection[str], str, str, Path]] = []
    rows += [
        (t.tool, tools, "remover or accessory", "tools.yaml", ("tools", n, "tool"))
        for n, t in enumerate(shop.tools_file.tools)
    ]
    rows += [
        (name, tools, "remover or accessory", "tools.yaml", ("not-held", n))
        for n, name in enumerate(shop.tools_file.not_held)
    ]
    choices = {row.id for row in topic.flow.shop_referrals}
    rows += [(i, choices, "choice", "shop.yaml", ("hand-over", n)) for n, i in enumerate(shop.about.hand_over)]
    covering = [("services", n, row.fastenings, row.systems) for n, row in enumerate(shop.services)]
    covering += [("parts", n, row.fastenings, row.systems) for n, row in enumerate(shop.parts_file.parts)]
    for what, n, kinds, kinds_of in covering:
        file, at = f"{what}.yaml", (what, n)
        rows += [(name, topic.fastenings, "fastening", file, (*at, "fastenings", i)) for i, name in enumerate(kinds)]
        rows += [(name, systems, "system", file, (*at, "systems", i)) for i, name in enumerate(kinds_of)]
    if shop.learned is not None:
        asked = [q.id for q in topic.flow.questions if q.slip is not None]
        place: Path = ("topic",)
        rows.append((shop.learned.topic, (topic.id,), "name", "learned.yaml", place))
        rows += [
            (name, topic.fastenings, "fastening", "learned.yaml", ("priors", name)) for name in shop.learned.priors
        ]
        rows += [(name, asked, "question with choices", "learned.yaml", ("slips", name)) for name in shop.learned.slips]
    rows += [
        (row.choice, makers, "choice of a question about markings", "makers.yaml", ("choices", n, "choice"))
        for n, row in enumerate(shop.makers_file.choices)
    ]
    for note in shop.notes:
        head, file = note.head, note.file
        rows += [
            (name, topic.fastenings, "fastening", file, ("fastenings", i)) for i, name in enumerate(head.fastenings)
        ]
        rows += [(name, topic.removers, "remover", file, ("removers", i)) for i, name in enumerate(head.removers)]
        rows += _answers(head.answers, topic, file)
        rows += _steps(head, topic, file)
    for name, known, kind, file, path in rows:
        if name not in known:
            yield files.problem(file, path, f"{name!r} is no {kind} of this topic{_nearest(name, known)}")


def _steps(head: FrontMatter, topic: Topic, file: str) -> Iterable[tuple[str, Collection[str], str, str, Path]]:
    """What a note's steps are in place of or behind, and their cautions."""
    procedures = filter(None, map(topic.procedure_for, head.fastenings))
    known = {step.id for procedure in procedures for step in procedure.steps}
    for place, step in enumerate(head.steps):
        where = ("steps", place)
        field = "instead-of" if step.instead_of is not None else "after"
        yield str(step.instead_of or step.after), known, "step", file, (*where, field)
        for n, name in enumerate(step.cautions):
            yield name, topic.cautions, "caution", file, (*where, "cautions", n)


def _answers(
    answers: Mapping[str, tuple[str, ...]], topic: Topic, file: str
) -> Iterable[tuple[str, Collection[str], str, str, Path]]:
    for question, choices in answers.items():
        yield question, topic.questions, "question", file, ("answers", question)
        if question in topic.questions:
            known = topic.questions[question].choices
            for n, choice in enumerate(choices):
                yield choice, known, f"choice of {question}", file, ("answers", question, n)


def _nearest(name: str, known: Collection[str]) -> str:
    close = get_close_matches(name, known, n=1)
    return f"; did you mean {close[0]!r}?" if close else ""
