"""A question about the work ("how tight does it go back?") is looked up in the shop's procedure notes.

Rules of this file:
- the notes searched are those about what was found; until something is, those about what is still plausible: each of
  these has its own line if there are at most `FEW`, else only a section that stands out among all notes is shown;
- the note's own words are told only if it is about what this person has, or about no fastening: what is right for one
  fastening may be dangerous for another. Otherwise there are links, and the reason why there is no answer yet;
- the open question stays open, and the case stands where it stood.
"""

from collections.abc import Sequence
from typing import TYPE_CHECKING

from triagebot.conversation import outcome
from triagebot.conversation.blocks import Excerpt, NoteLinks
from triagebot.conversation.case import ASKED
from triagebot.conversation.policy import plausible
from triagebot.conversation.scene import Scene

if TYPE_CHECKING:
    from triagebot.shop import Found

#: Fastenings of which each may have its own line in an answer.
FEW = 3
#: At a step of the work a section must say more than this of what was asked, and it must have been asked.
AT_A_STEP = 1.0


def is_asked(scene: Scene, text: str) -> bool:
    """Whether a message is put as a question, or comes after the outcome, when people only ask; at a step they tell."""
    if scene.case.now.places[-1].kind == "guided":
        return scene.guide.shop.note_index.asks(text, scene.case.language)
    return scene.case.now.outcome in outcome.NAMED or scene.guide.shop.note_index.asks(text, scene.case.language)


def answered(scene: Scene, text: str, *, surely: bool = False) -> bool:
    """Tell what the notes say about this; False if they say nothing, and with `surely` also if that depends on what the
    person has and is not known yet."""
    now = scene.case.now
    fastenings = _in_question(scene)
    named = now.outcome in outcome.NAMED or len(fastenings) == 1
    found = _sections(scene, text, fastenings)
    if not found or (surely and not named and not _about_none(found)):
        return False
    scene.remark(ASKED, text)
    if len(found) == 1 and (named or _about_none(found)):
        _tell(scene, found[0])
    elif len(fastenings) > FEW and not _stands_out(scene, text):
        scene.say("notes-depend")
    else:
        shown = found if len(fastenings) <= FEW else [_stands_out(scene, text)]
        links = [found.link for found in shown if found is not None]
        scene.tell(NoteLinks(scene.texts("notes-for-each" if named else "notes-depend-see"), tuple(links)))
    return True


def told_too(scene: Scene, text: str) -> None:
    """Behind an answer from elsewhere: what the notes about what was named say, where it is one section."""
    if scene.case.now.outcome in outcome.NAMED:
        found = _sections(scene, text, _in_question(scene))
        if len(found) == 1:
            _tell(scene, found[0])


def _tell(scene: Scene, found: "Found") -> None:
    """A section: where it is, and the part of it that says most about what was asked."""
    section = found.section
    lead = scene.texts("notes-say", section=section.title) if section is not None else scene.texts("notes-say-plain")
    words = "\n".join([scene.texts("notes-words", words=found.words), scene.texts("notes-care")])
    scene.tell(Excerpt(lead, found.link, words))


def _in_question(scene: Scene) -> list[str]:
    """The fastenings that were named; else those that are still plausible, likeliest first."""
    step = scene.decide()
    if scene.case.now.outcome in outcome.NAMED:
        return [fastening.id for fastening in outcome.leading(scene.guide, step, step.decision)]
    return list(plausible(scene.guide.topic.model, step.shares))


def _sections(scene: Scene, text: str, fastenings: Sequence[str]) -> "list[Found]":
    """The best section for each of these fastenings, each once."""
    index, language = scene.guide.shop.note_index, scene.case.language
    best = (index.best(text, language, [fastening]) for fastening in fastenings)
    least = AT_A_STEP if scene.case.now.places[-1].kind == "guided" else 0.0
    found = {(one.note.slug, one.section): one for one in best if one is not None and one.score > least}
    return list(found.values())


def _stands_out(scene: Scene, text: str) -> "Found | None":
    return scene.guide.shop.note_index.best(text, scene.case.language)


def _about_none(found: "Sequence[Found]") -> bool:
    return not any(one.note.head.fastenings for one in found)
