"""What a shop folder ought to hold besides being usable.

This file decides what a shop owes its customers. Every remover of the topic hangs on the wall or is
declared missing; every fastening that has a remover has a procedure note, which calls the tool by the shop's own name;
notes can be found, followed from one to the next, and were read by somebody who knows within `review-months`.

What a customer would meet broken must be mended: a link that leads nowhere, a picture that is none. What is only not
there yet, or not lately read again, ought to be: a shop can begin with three notes.
"""

from collections.abc import Iterable
from dataclasses import replace
from datetime import date
from os.path import normpath
from pathlib import Path

from triagebot.errors import Problem
from triagebot.shop.load import LEARNED, SERVICES, read_shop
from triagebot.shop.notes import Note, is_note, review_due
from triagebot.shop.references import (
    ENCLOSURES,
    MOST_BYTES,
    PICTURES,
    Reference,
    begins_as,
    headings_of,
    html_of,
    references_of,
)
from triagebot.shop.shop import Shop
from triagebot.shop.words import fold
from triagebot.topics import PRIOR_TOLERANCE, Files, Topic, floors, taught, unnamed


def check_shop(folder: Path, topic: Topic, today: date) -> tuple[Problem, ...]:
    """Every problem of a shop folder, those that keep it from loading and those that only ought not to be."""
    shop, files, problems = read_shop(folder, topic)
    found = list(problems)
    if shop is not None:
        links = [link for note in shop.notes for link in references_of(note)]
        found += [*_learned(shop, topic, files), *_headings(shop), *_raw_html(shop), *_broken_links(shop, links)]
        ought = [*_wall(shop, topic, files), *_choices(shop, topic, files), *_removers_in_notes(shop, topic, files)]
        if not any(
            Path(problem.file).suffix == ".md" for problem in problems
        ):  # else the note may be there, unreadable
            ought += _coverage(shop, topic)
        ought += [*_services(shop), *_reviews(shop, files, today), *_unlinked(shop, files, links)]
        found += [replace(problem, ought=True) for problem in ought]
    return tuple(sorted(set(found), key=lambda problem: (problem.ought, problem)))


def overdue(shop: Shop, today: date) -> tuple[Note, ...]:
    """The notes whose review no longer counts on `today`, or that never had one."""
    dues = ((note, review_due(note, shop.about.review_months)) for note in shop.notes)
    return tuple(note for note, due in dues if due is None or due < today)


def _wall(shop: Shop, topic: Topic, files: Files) -> Iterable[Problem]:
    for remover in topic.removers:
        if remover not in shop.tools and remover not in shop.tools_file.not_held:
            message = f"{remover!r} of the topic is neither here nor under not-held"
            yield files.problem("tools.yaml", ("tools",), message, key=True)


def _choices(shop: Shop, topic: Topic, files: Files) -> Iterable[Problem]:
    for question in topic.flow.questions:
        for choice in question.choices if question.shop_words else ():
            if choice not in shop.choice_labels:
                message = f"{choice!r} has no entry, so that nobody can be asked for it by name"
                yield files.problem("makers.yaml", ("choices",), message, key=True)


def _learned(shop: Shop, topic: Topic, files: Files) -> Iterable[Problem]:
    """What was learned sums to what it replaces, keeps to the floors, and leaves every fastening in reach."""
    learned, shipped = shop.learned, topic.fastenings
    if learned is None or learned.topic != topic.id or not learned.priors.keys() <= shipped.keys():
        return
    total, room = sum(learned.priors.values()), sum(shipped[name].prior for name in learned.priors)
    if abs(total - room) > PRIOR_TOLERANCE:
        message = f"they sum to {total:.4g}, where the topic gives these fastenings {room:.4g}"
        yield files.problem(LEARNED, ("priors",), message, key=True)
    least = floors(topic.catalogue)
    for name, share in learned.priors.items():
        if share < least[name] * (1 - PRIOR_TOLERANCE):
            message = f"no less than {least[name]:.4g}, which counts in its place"
            yield files.problem(LEARNED, ("priors", name), message)
    for place in unnamed(taught(topic, learned)):
        name = topic.catalogue.fastenings[place].id
        message = f"with these figures no truthful answers lead to the remover of {name!r}"
        yield files.problem(LEARNED, ("priors", name), message, key=True)


def _services(shop: Shop) -> Iterable[Problem]:
    if not shop.services:
        message = "no service is listed, so nobody is told that you do it yourselves, or for how much"
        yield Problem(str(shop.folder / SERVICES), 0, 0, message)


def _coverage(shop: Shop, topic: Topic) -> Iterable[Problem]:
    noted = {*shop.elsewhere, *(fastening for note in shop.notes for fastening in note.head.fastenings)}
    for fastening in topic.catalogue.fastenings:
        if fastening.remover is not None and fastening.id not in noted:
            message = f"no note is about the fastening {fastening.id!r}"
            yield Problem(str(shop.folder / "notes"), 0, 0, message)


def _removers_in_notes(shop: Shop, topic: Topic, files: Files) -> Iterable[Problem]:
    for note in shop.notes:
        words = f" {fold(note.body)} "
        used = {topic.fastenings[f].remover for f in note.head.fastenings if f in topic.fastenings}
        for n, remover in enumerate(note.head.removers):
            if remover in topic.removers and remover not in used:
                message = f"none of this note's fastenings comes off with {remover!r}"
                yield files.problem(note.file, ("removers", n), message)
            tool = shop.tool_for(remover)
            if tool is not None and f" {fold(tool.name)} " not in words:
                message = f"the note never says {tool.name!r}, which is what tools.yaml calls {remover!r}"
                yield files.problem(note.file, ("removers", n), message)


def _reviews(shop: Shop, files: Files, today: date) -> Iterable[Problem]:
    months = shop.about.review_months
    late = overdue(shop, today)
    for note in shop.notes:
        reviewed = note.head.reviewed_on
        if reviewed is None:
            yield files.problem(note.file, (), "nobody has reviewed this note (reviewed-on, reviewed-by)")
        elif reviewed > today:
            yield files.problem(note.file, ("reviewed-on",), f"{reviewed} has not come yet")
        elif note in late:
            message = f"overdue since {review_due(note, months)} (review-months is {months}): read it again"
            yield files.problem(note.file, ("reviewed-on",), message)


def _unlinked(shop: Shop, files: Files, links: list[Reference]) -> Iterable[Problem]:
    linked = {link.file for link in links if link.relative and link.file != Path(normpath(link.note.path))}
    for note in shop.notes:
        if not note.head.fastenings and not note.head.answers and Path(normpath(note.path)) not in linked:
            message = "nothing leads to this note: name fastenings or answers, or link it from another note"
            yield files.problem(note.file, (), message)


# --- what the Markdown says ---------------------------------------------------------------------------------------


def _headings(shop: Shop) -> Iterable[Problem]:
    """Headings that Markdown sees and the section list does not, and two headings that share an address."""
    for note in shop.notes:
        lines = {section.line for section in note.sections}
        for line in headings_of(note):
            if line not in lines:
                message = "write a heading as # signs, a space and its words, on a line of its own"
                yield Problem(str(note.path), line, 1, message)
        seen: set[str] = set()
        for section in note.sections:
            if not section.slug:
                yield Problem(str(note.path), section.line, 1, "a heading needs a letter or a digit for its address")
            elif section.slug in seen:
                yield Problem(str(note.path), section.line, 1, f"a second heading has the address #{section.slug}")
            seen.add(section.slug)


def _raw_html(shop: Shop) -> Iterable[Problem]:
    """Tags are shown as the letters that they are: a note is Markdown."""
    for note in shop.notes:
        for number, line in enumerate(html_of(note.body)):
            if line:
                message = f"{line!r} is HTML, and readers would see it as it stands: write Markdown"
                yield Problem(str(note.path), note.body_line + number, 1, message)


def _broken_links(shop: Shop, links: list[Reference]) -> Iterable[Problem]:
    sections = {Path(normpath(note.path)): {s.slug for s in note.sections} for note in shop.notes}
    home = Path(normpath(shop.folder))
    files = {Path(normpath(file)) for file in shop.folder.rglob("*") if file.is_file()}
    for link in links:
        place = (str(link.note.path), link.line, 1)
        if not link.relative:
            if link.picture:
                yield Problem(*place, f"the picture {link.target!r} lies elsewhere: put it into the shop folder")
            elif link.parts is None or not link.parts.scheme:
                yield Problem(*place, f"{link.target!r} leads out of the shop folder")
        elif not link.file.is_relative_to(home):
            yield Problem(*place, f"{link.target!r} leads out of the shop folder")
        elif link.file not in files:
            yield Problem(*place, f"{link.target!r} leads to no file")
        elif link.file in sections and not link.picture:
            if link.anchor and link.anchor not in sections[link.file]:
                yield Problem(*place, f"no heading of that note has the address #{link.anchor}")
        elif not is_note(link.file, home / "notes"):  # one that was not read is told
            yield from _enclosure(link, place)


def _enclosure(link: Reference, place: tuple[str, int, int]) -> Iterable[Problem]:
    """A file that a note shows or hands out must be of a kind, and of a size, that pages send."""
    known = PICTURES if link.picture else ENCLOSURES
    if link.file.suffix.lower() not in known:
        yield Problem(*place, f"{link.target!r} is not of a kind that pages show: {', '.join(known)}")
    elif link.file.stat().st_size > MOST_BYTES:
        yield Problem(*place, f"{link.target!r} is larger than {MOST_BYTES // 1_000_000} MB")
    elif not begins_as(link.file):
        yield Problem(*place, f"{link.target!r} holds no {link.file.suffix.lower()[1:]}: save it as one once more")
