"""What people ask about the conversation itself: its code, what is kept of it, another language, being forgotten.

Rules of this file: being forgotten is asked back once, and only a yes right after that counts; the turn itself deletes
nothing, it only says that everything is to go (it remarks "erase"), and the caller deletes it.
"""

from collections.abc import Iterator

from triagebot.conversation.events import Remarked, Spoke
from triagebot.conversation.scene import KEPT, Scene
from triagebot.conversation.understood import Meaning
from triagebot.conversation.visiting import ask_them, dont_ask
from triagebot.shop import Shop, fold, retention
from triagebot.topics import Texts

#: What is noted of somebody who asks for what is kept of them.
EXPORT = "export"


def code(scene: Scene, meant: Meaning, text: str) -> None:
    _aside(scene, "case", text, "your-case", code=scene.case.code)


def privacy(scene: Scene, meant: Meaning, text: str) -> None:
    shop = scene.guide.shop
    scene.remark("privacy", text)
    rows = "\n".join(kept_rows(scene.texts, shop))
    scene.say("privacy", shop=shop.name, contact=shop.contact.person, rows=rows)
    if scene.case.for_a_rider:
        scene.say("mentor-privacy")
    scene.stand_still()


def export(scene: Scene, meant: Meaning, text: str) -> None:
    """The caller puts the file behind it, or where it is fetched."""
    scene.remark(EXPORT, text)
    scene.say("export")
    scene.stand_still()


def kept_rows(texts: Texts, shop: Shop) -> Iterator[str]:
    """What is kept, why and how long, a line each."""
    for row in retention().values():
        if row.id in shop.kept:
            long = texts(f"kept-{row.id}-long", days=_days(texts, shop.kept[row.id].days))
        else:
            long = texts(f"kept-with-{row.goes_with}" if row.goes_with else f"kept-by-{row.by}")
        yield texts("privacy-row", what=texts(f"kept-{row.id}"), long=long)


def _days(texts: Texts, days: int) -> str:
    """As somebody would say it: 730 days are two years, 180 six months."""
    if days % 365 == 0:
        return texts("kept-years", count=days // 365)
    return texts("kept-months", count=days // 30) if days % 30 == 0 else texts("kept-days", count=days)


def forget(scene: Scene, meant: Meaning, text: str) -> None:
    """Asks whether it is meant; the question that was open waits."""
    scene.fire("forget", lambda _: Remarked(scene.at, "forget", text[:KEPT]))


def erase(scene: Scene, meant: Meaning, text: str) -> None:
    if scene.case.now.confirming != "forget":
        forget(scene, meant, text)
        return
    scene.add(Remarked(scene.at, "erase"))
    scene.say("forgotten")


def keep(scene: Scene, meant: Meaning, text: str) -> None:
    _aside(scene, "keep", text, "kept")


def move(scene: Scene, meant: Meaning, text: str) -> None:
    """A yes to going on with this case where somebody asked to, if nothing was said since. The caller lets them in, and
    knows whether they still wait."""
    if scene.case.now.confirming != "move":
        scene.say("move-over")
        scene.stand_still()
        return
    scene.add(Remarked(scene.at, "moved"))
    scene.say("moved")


def stay(scene: Scene, meant: Meaning, text: str) -> None:
    _aside(scene, "stayed", text, "stayed")


def language(scene: Scene, meant: Meaning, text: str) -> None:
    """Asks which, where there are several."""
    if len(scene.guide.spoken) == 1:
        (name,) = scene.guide.own_names.values()
        _aside(scene, "language-one", text, "language-one", language=name)
        return
    scene.fire("language", lambda _: Remarked(scene.at, "language", text[:KEPT]))


def speak(scene: Scene, language: str) -> None:
    """Goes on in a language; one that is not spoken, or is spoken already, changes nothing."""
    if language in scene.guide.spoken and language != scene.case.language:
        scene.add(Spoke(scene.at, language))
    scene.stand_still()


def named_language(scene: Scene, text: str) -> str | None:
    """The language that a message names right after it was asked which."""
    if scene.case.now.confirming != "language":
        return None
    said = fold(text).strip(" .!")
    names = scene.guide.own_names
    return next((each for each, name in names.items() if said in (each.lower(), fold(name))), None)


def _aside(scene: Scene, what: str, text: str, name: str, **values: object) -> None:
    """Say the text of this name, and leave everything where it stands."""
    scene.remark(what, text)
    scene.say(name, **values)
    scene.stand_still()


#: What a plain yes and a plain no mean right after something of this was asked.
YES_NO = {
    "forget": (erase, keep),
    "move": (move, stay),
    "visit": (ask_them, dont_ask),
    "hold": (ask_them, dont_ask),
}
