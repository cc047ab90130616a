"""Views of fastenings: right number, right words, nothing by colour alone, and the same every time."""

import re
import subprocess
import sys
from hashlib import sha256
from itertools import combinations
from typing import Any
from xml.etree import ElementTree

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.pictures.conftest import SUBJECT, Described
from tests.pictures.pixels import SVG, look_at, runs, written
from tests.strategies import rear_sprockets
from triagebot.errors import DataError
from triagebot.pictures import LESSONS, Picture, fastening_view, look_alikes, png, question_picture, turning_view
from triagebot.pictures.looks import fitting_of, look_of
from triagebot.pictures.sheet import DARK, EDGE, GREY, INK, LETTERS, PALE, PAPER, WARM, WARM_EDGE, WARM_LINE
from triagebot.topics import TURNS, Texts, Topic

FASTENINGS = tuple(rear_sprockets().fastenings)
ALLOWED = {"svg", "title", "desc", "defs", "linearGradient", "stop", "rect", "path", "circle", "text"}
PAIRS = (FASTENINGS[:1], FASTENINGS[:2], FASTENINGS[:5], FASTENINGS)


class Wordy:
    """Texts in a language that needs longer words and more of them, as many do beside English."""

    def __init__(self, texts: Texts) -> None:
        self._texts = texts

    def __call__(self, name: str, /, **values: Any) -> str:
        text = self._texts(name, **values)
        return f"{text}erlein und so" if name.startswith("label-") else text


@pytest.fixture(params=["English", "wordier"])
def spoken(request: pytest.FixtureRequest, texts: Texts) -> Any:
    return texts if request.param == "English" else Wordy(texts)


def everything(topic: Topic, texts: Any) -> dict[str, Picture]:
    found = {name: question_picture(topic, name, texts) for name in LESSONS}
    found |= {f"view of {name}": fastening_view(topic, name, texts) for name in topic.fastenings}
    found |= {f"{way} {name}": turning_view(topic, name, way, texts) for way in TURNS for name in topic.fastenings}
    return found | {f"{len(ids)} side by side": look_alikes(topic, ids, texts) for ids in PAIRS}


def test_every_picture_is_whole_xml_that_refers_to_nothing_outside_and_says_what_it_shows(
    topic: Topic, texts: Texts
) -> None:
    names = []
    for name, picture in everything(topic, texts).items():
        root = ElementTree.fromstring(picture.svg)
        assert root.attrib["role"] == "img", name
        title, desc = root.find(f"{SVG}title"), root.find(f"{SVG}desc")
        assert title is not None
        assert desc is not None
        assert (title.text, desc.text) == (picture.title, picture.alt), name
        assert len(picture.alt) > 40, name
        assert root.attrib["aria-labelledby"].split() == [title.attrib["id"], desc.attrib["id"]]
        assert root.attrib["width"] == f"{picture.width_mm:.3f}".rstrip("0").rstrip(".") + "mm"
        ids = [element.attrib["id"] for element in root.iter() if "id" in element.attrib]
        names += ids
        assert {element.tag.removeprefix(SVG) for element in root.iter()} <= ALLOWED, name
        for element in root.iter():
            assert not [key for key in element.attrib if key.endswith("href") or key == "style"], name
            links = [value for value in element.attrib.values() if "url(" in value or "http" in value]
            assert set(links) <= {f"url(#{one})" for one in ids}, name
    assert len(names) == len(set(names)), "ids clash when pictures stand in one page"


def test_words_stay_inside_and_never_on_each_other(topic: Topic, spoken: Any) -> None:
    for name, picture in everything(topic, spoken).items():
        boxes = written(picture)
        for box in boxes:
            inside = (
                box.left >= 0 and box.top >= 0 and box.right <= picture.width_mm and box.bottom <= picture.height_mm
            )
            assert inside, f"{name}: {box}"
        for one, other in combinations(boxes, 2):
            assert not one.meets(other), f"{name}: {one} and {other}"


def test_letters_are_legible_on_a_phone(topic: Topic, texts: Texts) -> None:
    """At least 12 pixels to the em where a phone of 360 pixels shows a picture 290 wide, as the pages do."""
    for name, picture in everything(topic, texts).items():
        for element in ElementTree.fromstring(picture.svg).iter(f"{SVG}text"):
            assert float(element.attrib["font-size"]) * 290 / picture.width_mm >= 12, name
    assert LETTERS * 290 >= 12


def luminance(colour: str) -> float:
    parts = [int(colour[place : place + 2], 16) / 255 for place in (1, 3, 5)]
    red, green, blue = (part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(first: str, second: str) -> float:
    """WCAG 2.2's ratio of contrast: words need 4.5, the parts of a drawing 3."""
    low, high = sorted((luminance(first), luminance(second)))
    return (high + 0.05) / (low + 0.05)


def test_words_and_outlines_stand_out() -> None:
    assert min(contrast(INK, ground) for ground in (PAPER, PALE, GREY, DARK)) >= 4.5
    assert min(contrast(WARM_EDGE, ground) for ground in (PAPER, PALE, GREY)) >= 3
    assert contrast(WARM_LINE, PAPER) >= 3
    assert contrast(EDGE, PAPER) >= 3


#: What nobody knows the look of, and what is no fastening.
UNDESCRIBED = {
    f"{shown} {name}" for shown in ("view of", *TURNS) for name in ("hub-helical-bayonet", "locknut-flats", "unlisted")
}


def test_what_is_pointed_out_is_hatched_and_nothing_else_has_any_colour(topic: Topic, texts: Texts) -> None:
    for name, picture in everything(topic, texts).items():
        root = ElementTree.fromstring(picture.svg)
        for element in root.iter():
            colours = {value for value in element.attrib.values() if re.fullmatch("#[0-9a-f]{6}", value)}
            if element.attrib.get("fill", "").startswith("url("):
                assert colours == {WARM_EDGE}, name
            elif element.tag == f"{SVG}stop":
                assert colours <= {WARM, WARM_LINE}, name
            else:
                assert all(len({colour[1:3], colour[3:5], colour[5:7]}) == 1 for colour in colours), name
        hatched = [element for element in root.iter() if element.attrib.get("fill", "").startswith("url(")]
        assert bool(hatched) == (name not in UNDESCRIBED), name


def test_a_hatching_shows_in_grey(topic: Topic, texts: Texts) -> None:
    """Along a circle through a smooth ring, stripes and ground take turns, and differ by a quarter of all greys."""
    picture = look_alikes(topic, ["cassette-threaded-sprocket"], texts)
    pixels = look_at(png(picture, 900), picture)
    fitting = fitting_of(look_of(topic.fastenings["cassette-threaded-sprocket"]))
    angles = np.linspace(0, 2 * np.pi, 3600, endpoint=False)
    radius = (fitting.outer + fitting.inner) / 4
    x, y = picture.width_mm / 2, centre_height(picture)
    dark = pixels.darkness(x + radius * np.sin(angles), y - radius * np.cos(angles))
    assert np.quantile(dark, 0.95) - np.quantile(dark, 0.05) > 0.25
    assert runs(dark > 0.35) > 20


@pytest.mark.parametrize("name", [name for name in FASTENINGS if look_of(rear_sprockets().fastenings[name]).count])
def test_as_many_are_drawn_as_the_catalogue_says(topic: Topic, texts: Texts, name: str) -> None:
    look = look_of(topic.fastenings[name])
    assert counted(look_alikes(topic, [name], texts), topic, name) == look.count


@pytest.mark.parametrize("count", [2, 3, 5, 8, 11, 16, 24, 37, 48])
@pytest.mark.parametrize("fitting", ["splines", "notches", "outer-notches"])
def test_any_catalogue_is_drawn_with_its_own_numbers(
    described: Described, texts: Texts, fitting: str, count: int
) -> None:
    topic = described(fitting=fitting, count=str(count), size={"mm": 31.5})
    assert counted(look_alikes(topic, [SUBJECT], texts), topic, SUBJECT) == count
    view = fastening_view(topic, SUBJECT, texts)
    words = [box.text for box in written(view)]
    assert any(text.startswith(f"{count}") for text in words)
    assert "31.5 mm" in words
    assert f"{count} " in view.alt
    assert "31.5 mm" in view.alt


def counted(picture: Picture, topic: Topic, name: str) -> int:
    """Splines or notches counted along a circle through them, in the picture of one fastening alone."""
    fitting = fitting_of(look_of(topic.fastenings[name]))
    pixels = look_at(png(picture, 900), picture)
    centre = (picture.width_mm / 2, centre_height(picture))
    through = {
        "splines": (fitting.across + fitting.inner) / 2,
        "notches": (fitting.outer + fitting.inner) / 2,
        "outer-notches": fitting.across - 0.04 * fitting.across,
    }
    return runs(pixels.round_about(centre, through[look_of(topic.fastenings[name]).kind]))


def centre_height(picture: Picture) -> float:
    """The height at which the axle's end is drawn."""
    last = [path for path in ElementTree.fromstring(picture.svg).iter(f"{SVG}path") if path.attrib.get("fill") == DARK]
    return float(last[-1].attrib["transform"].removeprefix("translate(").removesuffix(")").split()[1])


@given(
    st.sampled_from(["splines", "notches", "outer-notches"]), st.integers(2, 48), st.floats(10, 60), st.floats(0, 30)
)
def test_whatever_a_catalogue_holds_can_be_drawn(
    described: Described, texts: Texts, fitting: str, count: int, low: float, more: float
) -> None:
    size = {"low": low, "high": low + more} if more > 0.01 else {"mm": low}
    topic = described(fitting=fitting, count=str(count), size=size)
    for picture in (fastening_view(topic, SUBJECT, texts), look_alikes(topic, [SUBJECT, "unlisted"], texts)):
        assert "nan" not in picture.svg
        ElementTree.fromstring(picture.svg)
        assert all(box.right <= picture.width_mm and box.left >= 0 for box in written(picture))


def test_the_size_is_written_as_the_catalogue_has_it(topic: Topic, texts: Texts) -> None:
    wanted = {"cassette-12-spline": "23.4 mm", "freewheel-4-notch-40": "40 mm", "fixed-notched-ring": "30 to 45 mm"}
    for name, size in wanted.items():
        assert size in [box.text for box in written(fastening_view(topic, name, texts))]


def test_axle_and_locknut_are_named_in_every_view(topic: Topic, texts: Texts) -> None:
    for name in topic.fastenings:
        assert {"axle", "locknut"} <= {box.text for box in written(fastening_view(topic, name, texts))}


def test_look_alikes_are_drawn_at_one_scale_and_told_in_words(topic: Topic, texts: Texts) -> None:
    ids = ["freewheel-4-notch-24", "freewheel-4-notch-40"]
    picture = look_alikes(topic, ids, texts)
    for name in ids:
        alone = fastening_view(topic, name, texts)
        assert fitting_of(look_of(topic.fastenings[name])).body in picture.svg
        assert fitting_of(look_of(topic.fastenings[name])).body in alone.svg
        assert texts(f"fastening-{name}") in picture.alt


def test_what_is_not_there_is_said_so(topic: Topic, texts: Texts) -> None:
    with pytest.raises(KeyError):
        fastening_view(topic, "no-such-thing", texts)
    with pytest.raises(ValueError, match="at least one"):
        look_alikes(topic, [], texts)

    def without_labels(name: str, /, **values: Any) -> str:
        return texts(name.replace("label-", "no-such-"), **values)

    with pytest.raises(DataError, match="no-such-locknut"):
        fastening_view(topic, SUBJECT, without_labels)  # type: ignore[arg-type]


PRINT = """
from hashlib import sha256
from triagebot.pictures import fastening_view, look_alikes, png
from triagebot.topics import built_in_topic, load_texts, load_topic
topic = load_topic(built_in_topic())
texts = load_texts(topic.folder, "en")
for picture in (fastening_view(topic, "freewheel-20-spline", texts), look_alikes(topic, list(topic.fastenings), texts)):
    print(sha256(picture.svg.encode()).hexdigest(), sha256(png(picture, 500)).hexdigest())
"""


def test_another_process_draws_the_same_to_the_last_bit(topic: Topic, texts: Texts) -> None:
    pictures = (fastening_view(topic, "freewheel-20-spline", texts), look_alikes(topic, FASTENINGS, texts))
    here = [
        f"{sha256(picture.svg.encode()).hexdigest()} {sha256(png(picture, 500)).hexdigest()}" for picture in pictures
    ]
    there = subprocess.run([sys.executable, "-c", PRINT], capture_output=True, text=True, check=True)
    assert there.stdout.split("\n")[:-1] == here
