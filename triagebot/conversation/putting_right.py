"""What somebody puts right in the next breath: "no, 10" behind "9", "sorry, it stays", "it's 25" behind the answer.

Rules of this file:
- a word such as "no" or "sorry" (`righting`) begins it, and at most `MOST` words follow, which are the correction;
- that is about what they told last, or, once an outcome stands, about the one number of theirs that it can replace;
  where there are more, they are asked which;
- to change an answer by the name of its question one says so in a few words (`LONGEST_CALL`);
- what answers the open question answers that, and a denial without a comma ("no splines") puts nothing right.
"""

import re
from collections.abc import Callable
from dataclasses import replace
from functools import lru_cache

from triagebot.conversation.events import Answered
from triagebot.conversation.guide import Guide
from triagebot.conversation.scene import Scene
from triagebot.conversation.understanding import Setting, understand
from triagebot.conversation.understanding.phrasebook import tables
from triagebot.conversation.understood import Fact, Meaning, Puzzle
from triagebot.conversation.wording import either
from triagebot.identify import UnsureReading
from triagebot.shop import fold
from triagebot.topics import Texts

#: A call to change an answer is read this far.
LONGEST_CALL = 120
#: A correction has at most so many words.
MOST = 4
_APOSTROPHES = re.compile(r"[’']")


def put_right(scene: Scene, text: str, act: Callable[[Scene, Meaning, str], None]) -> bool:
    """Pass what a message corrects to `act`, or ask what it is about; False for any other message."""
    now = scene.case.now
    last = next((e for e in reversed(scene.case.events) if isinstance(e, Answered) and e.facts), None)
    if last is None:
        return False
    rest, denies = _instead(text, scene.case.language, settled=now.question is None)
    if now.puzzle is not None or not rest:
        return False
    answers = now.question is not None and _told(scene, rest, now.question) is not None
    if answers and not denies:
        return False
    told = reversed(last.facts if now.question is not None or _has_number(rest) else ())
    found = (_another(scene, rest, fact) for fact in told if fact.reading.question != now.question)
    instead = next((fact for fact in found if fact is not None), None)
    if instead is None:
        return _has_number(rest) and not answers and _of_the_numbers(scene, rest, text, act)
    if answers:  # "no, 20" may be the width that is asked for, and the count of just now
        doubt = Puzzle("likely", instead.reading.question, instead.text, instead.reading)
        act(scene, Meaning(puzzles=(doubt,)), text)
    else:
        act(scene, Meaning(facts=(instead,)), text)
    return True


def _has_number(words: str) -> bool:
    return any(each.isdigit() for each in words)


def _of_the_numbers(scene: Scene, rest: str, text: str, act: Callable[[Scene, Meaning, str], None]) -> bool:
    """The one number told that this replaces; asks which where it may be several."""
    topic, found = scene.guide.topic, {}
    for fact in scene.case.now.facts:
        if topic.questions[fact.reading.question].kind != "choice" and (new := _another(scene, rest, fact)) is not None:
            found[fact.reading.question] = new
    if len(found) == 1:
        act(scene, Meaning(facts=tuple(found.values())), text)
    elif found:
        names = [scene.texts(f"question-{question}.name") for question in found]
        scene.remark("which-number", rest)
        scene.say("which-number", said=rest, names=either(scene.texts, names))
        scene.keep_open()
    return bool(found)


def _another(scene: Scene, rest: str, before: Fact) -> Fact | None:
    """What the words say in answer to the same question, if it is something else."""
    if _has_number(rest) and scene.guide.topic.questions[before.reading.question].kind == "choice":
        return None
    told = _told(scene, rest, before.reading.question)
    if told is None or told.reading == before.reading or isinstance(before.reading, UnsureReading):
        return None
    return replace(told, corrects=True)


def _told(scene: Scene, rest: str, question: str) -> Fact | None:
    setting = replace(scene.guide.setting(scene.case.language, question), confirming=False)
    found = [fact for fact in understand(rest, setting).facts if fact.reading.question == question]
    return found[0] if found and not isinstance(found[0].reading, UnsureReading) else None


def _instead(text: str, language: str, *, settled: bool) -> tuple[str, bool]:
    """The words behind those of putting right, and whether these may deny as well, which takes a comma or a number
    behind them; "" where there are none."""
    plain = _APOSTROPHES.sub("", text.strip())
    found = _leads(language, settled).match(plain)
    if found is None:
        return "", False
    words, lead = plain[found.end() :].split(), found[0].strip().casefold()
    denying = tables(language).get("denying", ())
    denies = any(word in denying for word in re.findall(r"\w+", lead))
    if not 0 < len(words) <= MOST or (lead in denying and not words[0][0].isdigit()):
        return "", False
    return " ".join(words), denies


@lru_cache(maxsize=8)
def _leads(language: str, settled: bool) -> re.Pattern[str]:
    """What puts something right, at any time or once nothing is asked any more; a comma behind it or not."""
    rows = tables(language)
    words = [*rows.get("righting", ()), *(rows.get("says-it-is", ()) if settled else ())]
    ways = "|".join(re.escape(word) for word in sorted(words, key=len, reverse=True))
    return re.compile(rf"(?:(?:{ways})\b[\s,.;:!–—-]*)+" if words else r"(?!)", re.IGNORECASE)


@lru_cache(maxsize=64)
def _names(guide: Guide, texts: Texts) -> tuple[tuple[str, str], ...]:
    """What each question is called when it is spoken of, folded."""
    return tuple((question, fold(texts(f"question-{question}.name"))) for question in guide.topic.questions)


def change_by_name(scene: Scene, text: str, setting: Setting) -> Meaning | None:
    """ "Change the width of the fitting": a question by the very name that we call it, with a word for changing."""
    said = fold(text[:LONGEST_CALL])
    for question, name in _names(scene.guide, scene.texts):
        if name in said:
            rest = said.replace(name, " ", 1).strip()
            if rest and understand(rest, setting).command == "change":
                return Meaning(command="change", target=question)
    return None
