"""Fittings drawn from their geometry: SVG for pages and PNG for chats, each with the same in words.

No picture is kept as a file: all are drawn from the catalogue and the texts, the same on every machine. Drawing is pure
and reads nothing but the bundled font; `check_pictures` reads the topic's folder.
"""

from triagebot.pictures.check import check_pictures
from triagebot.pictures.geometry import Point, circle, number, places, polar, polygon, spot
from triagebot.pictures.lessons import LESSONS, question_picture
from triagebot.pictures.lettering import lines_of, not_in_font, width_of
from triagebot.pictures.named import drawable, picture, picture_ids
from triagebot.pictures.raster import FONT
from triagebot.pictures.render import png, png_elsewhere
from triagebot.pictures.sheet import Picture, on_paper
from triagebot.pictures.true_size import true_outline
from triagebot.pictures.views import fastening_view, look_alikes, turning_view

__all__ = [
    "FONT",
    "LESSONS",
    "Picture",
    "Point",
    "check_pictures",
    "circle",
    "drawable",
    "fastening_view",
    "lines_of",
    "look_alikes",
    "not_in_font",
    "number",
    "on_paper",
    "picture",
    "picture_ids",
    "places",
    "png",
    "png_elsewhere",
    "polar",
    "polygon",
    "question_picture",
    "spot",
    "true_outline",
    "turning_view",
    "width_of",
]
