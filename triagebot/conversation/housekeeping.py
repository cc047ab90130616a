"""What people ask about the conversation itself: its code, what is kept of it, another language, being forgotten.

Rules of this file: being forgotten is asked back once, and done only by whoever says yes right after that; the turn
itself deletes nothing, it only says that all is to go (`erases`), and whoever keeps cases sees to it.
"""

from collections.abc import Iterable, Sequence

from triagebot.conversation.case import Asked, Case, Closed, Event, Handed, Remarked, Spoke
from triagebot.conversation.mentoring import for_somebody_else
from triagebot.conversation.reply import Choice
from triagebot.conversation.scene import Scene
from triagebot.conversation.understood import Understood
from triagebot.shop import fold

#: How the choice of a language begins: `speak-de`.
SPEAK = "speak-"


def erases(events: Sequence[Event]) -> bool:
    """Whether a turn that made these events ends in everything being deleted."""
    return bool(events) and isinstance(events[-1], Remarked) and events[-1].what == "erase"


def asked_before(case: Case) -> str:
    """What of this was asked last, if nothing has happened since: "forget", "language", "move" or "". That staff take
    or close the case meanwhile takes no question back, nor does a case's first question, which waits behind this."""
    last = next(event for event in reversed(case.events) if not isinstance(event, Closed | Asked | Handed))
    return last.what if isinstance(last, Remarked) and last.what in ("forget", "language", "move") else ""


def code(scene: Scene, meant: Understood, text: str) -> None:
    _aside(scene, "case", text, "your-case", code=scene.case.code)


def privacy(scene: Scene, meant: Understood, text: str) -> None:
    shop = scene.guide.shop
    scene.remark("privacy", text)
    scene.say("privacy", shop=shop.name, contact=shop.contact.person)
    if for_somebody_else(scene.case):
        scene.say("mentor-privacy")
    scene.stand_still()


def forget(scene: Scene, meant: Understood, text: str) -> None:
    """Asks whether it is meant; the question that was open waits."""
    scene.remark("forget", text)
    scene.say("forget")
    scene.offers = (Choice("erase", scene.texts("forget-yes")), Choice("keep", scene.texts("forget-no")))
    scene.hush = True


def erase(scene: Scene, meant: Understood, text: str) -> None:
    if asked_before(scene.case) != "forget":
        forget(scene, meant, text)
        return
    scene.add(Remarked(scene.at, "erase"))
    scene.say("forgotten")
    scene.hush = True


def keep(scene: Scene, meant: Understood, text: str) -> None:
    _aside(scene, "keep", text, "kept")


def move(scene: Scene, meant: Understood, text: str) -> None:
    """Somebody may go on with this case where they asked to; not if anything was said since they were asked about it.
    Whoever keeps cases lets them in, and knows whether they wait for it still."""
    if asked_before(scene.case) != "move":
        scene.say("move-over")
        scene.stand_still()
        return
    scene.add(Remarked(scene.at, "moved"))
    scene.say("moved")
    scene.hush = True


def stay(scene: Scene, meant: Understood, text: str) -> None:
    _aside(scene, "stayed", text, "stayed")


def language(scene: Scene, meant: Understood, text: str) -> None:
    """Which languages there are, each by its own name."""
    names = _own_names(scene.guide.spoken)
    if len(names) == 1:
        _aside(scene, "language", text, "language-one", language=next(iter(names.values())))
        return
    scene.remark("language", text)
    scene.say("language", languages=", ".join(names.values()))
    scene.offers = tuple(Choice(f"{SPEAK}{each}", name) for each, name in names.items())
    scene.hush = True


def speak(scene: Scene, language: str) -> None:
    """Goes on in a language; one that is not spoken, or is spoken already, changes nothing."""
    if language in scene.guide.spoken and language != scene.case.language:
        scene.add(Spoke(scene.at, language))
    scene.stand_still()


def named_language(scene: Scene, text: str) -> str | None:
    """The language that a message names right after it was asked which."""
    if asked_before(scene.case) != "language":
        return None
    said = fold(text).strip(" .!")
    names = _own_names(scene.guide.spoken)
    return next((each for each, name in names.items() if said in (each.lower(), fold(name))), None)


def _aside(scene: Scene, what: str, text: str, name: str, **values: object) -> None:
    """Say the text of this name, and leave everything where it stands."""
    scene.remark(what, text)
    scene.say(name, **values)
    scene.stand_still()


def _own_names(languages: Iterable[str]) -> dict[str, str]:
    from babel import Locale

    return {each: Locale.parse(each, sep="-").get_display_name() or each for each in languages}


#: What a plain yes and a plain no mean right after something of this was asked.
YES_NO = {"forget": (erase, keep), "move": (move, stay)}
