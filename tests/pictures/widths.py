"""The widths of the bundled font's characters, as they stand in the font and beside it.

    python -m tests.pictures.widths

writes them anew, for another font.
"""

import json

from fontTools.ttLib import TTFont

from triagebot.pictures.lettering import FONT, WIDTHS


def of_the_font() -> str:
    """What belongs into the file."""
    with TTFont(FONT, lazy=True) as font:
        units = font["hmtx"]
        widths = {str(code): units[name][0] for code, name in sorted(font.getBestCmap().items())}
        return json.dumps({"em": font["head"].unitsPerEm, "widths": widths}) + "\n"


if __name__ == "__main__":
    WIDTHS.write_text(of_the_font(), encoding="ascii")
