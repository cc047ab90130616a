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

FLOW = "flow.yaml"

_WRITTEN = re.compile(r"<text [^>]*>([^<]*)</text>")


def check_pictures(topic: Topic) -> tuple[Problem, ...]:
    """Every picture named in the flow file that cannot be drawn; and, over all pictures that a conversation can come
    to, every label that is lacking or holds characters that the bundled font does not have; sorted. None when all is
    well. A text file that cannot be read is left to `check_topic`."""
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
    _, marks = read_yaml(topic.folder / FLOW)
    for place, question in enumerate(topic.flow.questions):
        if question.picture is not None and question.picture not in LESSONS:
            path = ("questions", place, "picture")
            message = f"there is no picture {question.picture!r}; there are: {', '.join(LESSONS)}"
            name = field_name(marks.data, path)
            yield Problem(str(topic.folder / FLOW), *marks.value(path), f"{name}: {message}")


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
