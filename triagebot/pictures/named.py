"""Every picture by its name, as chats and pages ask for it.

This file decides how a picture's name follows from what it shows. A lesson goes by its own name;
`fastening:<id>` is a fastening, `fitting:<id>` the same without words, for a list, `turning-<way>:<id>` which way it
is turned at a step, and `look-alikes:<id>+<id>` two or more side by side, none of them twice.
"""

from triagebot.pictures.lessons import LESSONS, question_picture
from triagebot.pictures.looks import UNKNOWN, look_of
from triagebot.pictures.sheet import Picture
from triagebot.pictures.views import fastening_view, fitting_alone, look_alikes, turning_view
from triagebot.topics import TURNS, Texts, Topic

FASTENING, FITTING, LOOK_ALIKES, AND = "fastening:", "fitting:", "look-alikes:", "+"
#: By each way in which something is turned.
TURNING = {f"turning-{way}:": way for way in TURNS}


def picture(topic: Topic, picture_id: str, texts: Texts) -> Picture:
    """The picture of that name. Raises KeyError for a name that is none, DataError for a text that is lacking."""
    if picture_id.startswith(FASTENING):
        return fastening_view(topic, picture_id.removeprefix(FASTENING), texts)
    if picture_id.startswith(FITTING):
        return fitting_alone(topic, picture_id.removeprefix(FITTING), texts)
    if picture_id.startswith(LOOK_ALIKES):
        ids = picture_id.removeprefix(LOOK_ALIKES).split(AND)
        if len(ids) < 2 or len(ids) > len(set(ids)):
            raise KeyError(picture_id)
        return look_alikes(topic, ids, texts)
    for head, way in TURNING.items():
        if picture_id.startswith(head):
            return turning_view(topic, picture_id.removeprefix(head), way, texts)
    return question_picture(topic, picture_id, texts)


def picture_ids(topic: Topic) -> tuple[str, ...]:
    """The names of all pictures that a conversation in this topic can come to: the lessons that its questions and
    steps name, every fastening, which way each is turned, and every group that it declares to look alike. A name that
    is no lesson's is left out."""
    asked = [question.picture for question in topic.flow.questions]
    done = [step.picture for procedure in topic.procedures for step in procedure.steps]
    lessons = [name for name in (*asked, *done) if name in LESSONS]
    fastenings = [FASTENING + name for name in topic.fastenings]
    alike = [LOOK_ALIKES + AND.join(group.fastenings) for group in topic.catalogue.look_alikes]
    turned = [
        f"turning-{step.turns}:{name}"
        for procedure in topic.procedures
        for name in procedure.fastenings
        for step in procedure.steps
        if step.by_force
    ]
    return tuple(dict.fromkeys([*(name for name in lessons if name is not None), *fastenings, *turned, *alike]))


def drawable(topic: Topic, fastening_id: str) -> bool:
    """Whether the catalogue says enough of a fastening to draw what it looks like. One without a fitting is drawn as
    what is there, a wire ring or a smooth middle; one that could be anything is a dashed ring with question marks, and
    not worth showing. Raises KeyError for an unknown id."""
    return look_of(topic.fastenings[fastening_id]) != UNKNOWN
