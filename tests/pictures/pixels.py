"""Pictures looked at as a person would: pixels, and the words that stand in them."""

from dataclasses import dataclass
from io import BytesIO
from xml.etree import ElementTree

import numpy as np
import numpy.typing as npt
from PIL import Image
from scipy.ndimage import map_coordinates

from triagebot.pictures.lettering import width_of
from triagebot.pictures.sheet import Picture

SVG = "{http://www.w3.org/2000/svg}"
Values = npt.NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Pixels:
    """A rendered picture. Lengths are mm from its upper left; `scale` is pixels a mm."""

    values: Values
    scale: float

    def at(self, x: npt.ArrayLike, y: npt.ArrayLike) -> Values:
        """Red, green and blue (0..255) at points, between pixels by interpolation; one row a colour."""
        places = [np.asarray(y) * self.scale - 0.5, np.asarray(x) * self.scale - 0.5]
        return np.array([map_coordinates(self.values[:, :, c], places, order=1, mode="nearest") for c in range(3)])

    def darkness(self, x: npt.ArrayLike, y: npt.ArrayLike) -> Values:
        """How dark it is at points: 0 white, 1 black."""
        return 1 - self.at(x, y).mean(axis=0) / 255

    def colourful(self, x: npt.ArrayLike, y: npt.ArrayLike) -> npt.NDArray[np.bool_]:
        """Whether there is colour at points: only what is pointed out has any."""
        seen = self.at(x, y)
        return np.asarray(seen.max(axis=0) - seen.min(axis=0) > 40)

    def round_about(self, centre: tuple[float, float], diameter: float) -> npt.NDArray[np.bool_]:
        """Where there is colour along a circle, from the top clockwise."""
        angles = np.linspace(0, 2 * np.pi, 3600, endpoint=False)
        return self.colourful(centre[0] + diameter / 2 * np.sin(angles), centre[1] - diameter / 2 * np.cos(angles))


def look_at(png: bytes, picture: Picture) -> Pixels:
    """A rendered picture as pixels."""
    image = Image.open(BytesIO(png)).convert("RGB")
    return Pixels(np.asarray(image, dtype=np.float64), image.width / picture.width_mm)


def runs(ring: npt.NDArray[np.bool_]) -> int:
    """How often a closed row of marks changes from off to on."""
    return int(np.sum(ring & ~np.roll(ring, 1)))


@dataclass(frozen=True, slots=True)
class Box:
    """Where words stand in a picture, mm."""

    text: str
    left: float
    top: float
    right: float
    bottom: float

    def meets(self, other: "Box") -> bool:
        return (
            self.left < other.right and other.left < self.right and self.top < other.bottom and other.top < self.bottom
        )


def written(picture: Picture) -> list[Box]:
    """All words of a picture with their places; letters reach 0.76 em above and 0.24 em below the base line."""
    found = []
    for element in ElementTree.fromstring(picture.svg).iter(f"{SVG}text"):
        em, x, y = (float(element.attrib[name]) for name in ("font-size", "x", "y"))
        text = element.text or ""
        width = width_of(text, em)
        left = x - {"start": 0.0, "middle": width / 2, "end": width}[element.attrib.get("text-anchor", "start")]
        found.append(Box(text, left, y - 0.76 * em, left + width, y + 0.24 * em))
    return found
