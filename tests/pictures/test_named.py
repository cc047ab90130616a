"""Every picture has a name, and is the same by its name as by its own function."""

import pytest

from tests.pictures.conftest import SUBJECT, Described
from tests.pictures.pixels import look_at
from triagebot.pictures import (
    LESSONS,
    drawable,
    fastening_view,
    look_alikes,
    picture,
    picture_ids,
    png,
    question_picture,
    turning_view,
)
from triagebot.topics import TURNS, Texts, Topic

#: What nobody knows the look of, and what is no fastening.
UNDESCRIBED = ["hub-helical-bayonet", "locknut-flats", "unlisted"]


def test_all_that_a_conversation_can_come_to_has_a_name(topic: Topic) -> None:
    names = picture_ids(topic)
    assert len(names) == len(set(names))
    assert {question.picture for question in topic.flow.questions} - {None} <= set(names)
    assert {f"fastening:{name}" for name in topic.fastenings} <= set(names)
    assert "turning-anticlockwise:freewheel-20-spline" in names
    assert {"turning-clockwise:fixed-notched-ring", "turning-anticlockwise:fixed-notched-ring"} <= set(names)
    assert not any(name.startswith("turning-") and name.endswith("snap-ring-sprocket") for name in names)
    assert "look-alikes:cassette-12-spline+cassette-12-spline-deep" in names
    assert "look-alikes:freewheel-12-spline+freewheel-12-spline-odd" in names


def test_every_one_of_them_can_be_drawn_and_says_in_words_what_it_shows(topic: Topic, texts: Texts) -> None:
    for name in picture_ids(topic):
        drawn = picture(topic, name, texts)
        assert len(drawn.alt) > 40, name
        pixels = look_at(png(drawn, 120), drawn).values
        assert pixels.shape[1] == 120
        assert pixels.min() < 60, name
        assert pixels.max() > 250, name


def test_a_name_leads_to_the_picture(topic: Topic, texts: Texts) -> None:
    for name in LESSONS:
        assert picture(topic, name, texts) == question_picture(topic, name, texts)
    for name in topic.fastenings:
        assert picture(topic, f"fastening:{name}", texts) == fastening_view(topic, name, texts)
        for way in TURNS:
            assert picture(topic, f"turning-{way}:{name}", texts) == turning_view(topic, name, way, texts)
    three = ("freewheel-4-notch-24", "freewheel-2-notch", "unlisted")
    assert picture(topic, f"look-alikes:{'+'.join(three)}", texts) == look_alikes(topic, three, texts)


@pytest.mark.parametrize(
    "name",
    [
        *("", "no-such-picture", "fastening:", "fastening:no-such-thing", "fastening:freewheel-2-notch "),
        *("Fastening:freewheel-2-notch", "freewheel-2-notch", "fastening:freewheel-2-notch+freewheel-4-notch-24"),
        *("turning-clockwise:", "turning-clockwise:no-such-thing", "turning-left:freewheel-2-notch"),
        *("look-alikes:", "look-alikes:+", "look-alikes:freewheel-2-notch", "look-alikes:freewheel-2-notch+"),
        *("look-alikes:freewheel-2-notch+freewheel-2-notch", "look-alikes:freewheel-2-notch+no-such-thing"),
        *("look-alikes:freewheel-2-notch freewheel-4-notch-24", "../flow.yaml"),
    ],
)
def test_a_name_that_is_none_is_a_key_error(topic: Topic, texts: Texts, name: str) -> None:
    with pytest.raises(KeyError):
        picture(topic, name, texts)


def test_the_biggest_sheet_of_look_alikes_is_one_of_everything(topic: Topic, texts: Texts) -> None:
    """Nobody can ask for a sheet without end: none is shown twice."""
    everything = "+".join(topic.fastenings)
    assert picture(topic, f"look-alikes:{everything}", texts).height_mm < 37.5 * len(topic.fastenings)
    with pytest.raises(KeyError):
        picture(topic, f"look-alikes:{everything}+{next(iter(topic.fastenings))}", texts)


def test_what_is_not_described_is_not_worth_showing(topic: Topic, described: Described) -> None:
    assert [name for name in topic.fastenings if not drawable(topic, name)] == UNDESCRIBED
    assert not drawable(described(fitting="splines"), SUBJECT)
    with pytest.raises(KeyError):
        drawable(topic, "no-such-thing")


def test_what_has_no_fitting_is_drawn_as_what_is_there(topic: Topic, texts: Texts) -> None:
    assert "wire ring" in picture(topic, "fastening:snap-ring-sprocket", texts).alt
    assert "nothing to grip" in picture(topic, "fastening:cassette-threaded-sprocket", texts).alt
