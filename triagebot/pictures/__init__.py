"""Fittings drawn from their geometry: SVG for pages and PNG for chats, each with the same in words.

No picture is kept as a file: all are drawn from the catalogue and the texts, the same on every machine. Drawing is pure
and reads nothing but the bundled font; `check_pictures` reads the topic's folder.
"""

from triagebot.pictures.check import check_pictures
from triagebot.pictures.geometry import Point, circle, number, places, polar, polygon, spot
from triagebot.pictures.lessons import LESSONS, question_picture
from triagebot.pictures.lettering import not_in_font
from triagebot.pictures.named import drawable, picture, picture_ids
from triagebot.pictures.render import png, png_elsewhere, png_true_size
from triagebot.pictures.sheet import Picture, on_paper
from triagebot.pictures.true_size import scale_bar, true_outline
from triagebot.pictures.views import fastening_view, look_alikes

__all__ = [
    "LESSONS",
    "Picture",
    "Point",
    "check_pictures",
    "circle",
    "drawable",
    "fastening_view",
    "look_alikes",
    "not_in_font",
    "number",
    "on_paper",
    "picture",
    "picture_ids",
    "places",
    "png",
    "png_elsewhere",
    "png_true_size",
    "polar",
    "polygon",
    "question_picture",
    "scale_bar",
    "spot",
    "true_outline",
]
