"""A sheet to print at true size and outlines for a screen: what to hold against a fitting where there is no calliper.

Everything is drawn from the catalogue and the texts. Nothing here reads or writes a file, except `write_gauge`, which
writes one, and `check_gauge`, which reads the topic's texts; the bundled font belongs to the pictures.
"""

from triagebot.gauge.check import check_gauge
from triagebot.gauge.coins import Coin, coins_of, country_in, country_of
from triagebot.gauge.outlines import Outline, screen_outlines
from triagebot.gauge.page import PAPERS, Page, Paper, paper_of
from triagebot.gauge.pdf import gauge_pdf, pdf_elsewhere, write_gauge
from triagebot.gauge.reading import OutlineReading, expanded_mm, not_told_apart, reading_from_outline, size_reading
from triagebot.gauge.sheet import CARD, Sheet, alike_in_words, card_outline, gauge_sheet

__all__ = [
    "CARD",
    "PAPERS",
    "Coin",
    "Outline",
    "OutlineReading",
    "Page",
    "Paper",
    "Sheet",
    "alike_in_words",
    "card_outline",
    "check_gauge",
    "coins_of",
    "country_in",
    "country_of",
    "expanded_mm",
    "gauge_pdf",
    "gauge_sheet",
    "not_told_apart",
    "paper_of",
    "pdf_elsewhere",
    "reading_from_outline",
    "screen_outlines",
    "size_reading",
    "write_gauge",
]
