"""Proof that a topic's pictures can be drawn, in every language that it speaks, before anybody needs them."""

import re
from collections.abc import Callable, Iterator
from functools import partial
from html import unescape

from triagebot.errors import DataError, Problem
from triagebot.pictures.lessons import LESSONS
from triagebot.pictures.lettering import not_in_font
from triagebot.pictures.named import picture, picture_ids
from triagebot.pictures.sheet import Picture
from triagebot.pictures.views import look_alikes
from triagebot.topics import Texts, Topic, field_name, languages, load_texts, read_yaml

FLOW, PROCEDURES = "flow.yaml", "procedures.yaml"

#: The names of pictures by what asks for them.
_Named = dict[tuple[str | int, ...], str | None]
_WRITTEN = re.compile(r"<text [^>]*>([^<]*)</text>")


def check_pictures(topic: Topic) -> tuple[Problem, ...]:
    """Every picture named by a question or a step that cannot be drawn; and, over all pictures that a conversation can
    come to, every label that is lacking or holds characters that the bundled font does not have; sorted. None when all
    is well. A text file that cannot be read is left to `check_topic`."""
    found = list(_unknown(topic))
    for language in languages(topic.folder):
        try:
            texts = load_texts(topic.folder, language)
        except DataError:
            continue
        for draw in _all(topic, texts):
            try:
                found += _unwritable(topic, language, draw())
            except DataError as error:
                found += error.problems
    return tuple(sorted(set(found)))


def _unknown(topic: Topic) -> Iterator[Problem]:
    asked: _Named = {("questions", place): question.picture for place, question in enumerate(topic.flow.questions)}
    done: _Named = {
        ("procedures", place, "steps", at): step.picture
        for place, procedure in enumerate(topic.procedures)
        for at, step in enumerate(procedure.steps)
    }
    for file, named in ((FLOW, asked), (PROCEDURES, done)):
        unknown = {path: name for path, name in named.items() if name is not None and name not in LESSONS}
        if not unknown:
            continue
        _, marks = read_yaml(topic.folder / file)
        for place, name in unknown.items():
            path = (*place, "picture")
            message = f"there is no picture {name!r}; there are: {', '.join(LESSONS)}"
            line, column = marks.value(path)
            yield Problem(str(topic.folder / file), line, column, f"{field_name(marks.data, path)}: {message}")


def _all(topic: Topic, texts: Texts) -> Iterator[Callable[[], Picture]]:
    for name in picture_ids(topic):
        yield partial(picture, topic, name, texts)
    yield partial(look_alikes, topic, tuple(topic.fastenings), texts)  # any of them may be left side by side


def _unwritable(topic: Topic, language: str, drawn: Picture) -> Iterator[Problem]:
    for written in _WRITTEN.findall(drawn.svg):
        text = unescape(written)
        lacking = not_in_font(text)
        if lacking:
            file = topic.folder / "text" / f"{language}.ftl"
            message = f"the letters of the pictures lack {' '.join(lacking)}, which the label “{text}” needs"
            yield Problem(str(file), 0, 0, message)
