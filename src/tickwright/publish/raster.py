"""Drawings as PNG, set by typst with the fonts that come with it, so that they look the same on every machine.

Letters that those fonts lack are shown with the fonts of the machine, if it has some.
"""

from __future__ import annotations

import re
from dataclasses import replace
from math import ceil

from tickwright.publish.canvas import Drawing, svg_text

PIXELS_PER_POINT = 0.75  # of a drawing, as typst reads an SVG: 96 pixels an inch, 72 points an inch
_PAGE = """#set page(width: auto, height: auto, margin: 0pt)
#image(bytes(sys.inputs.drawing), format: "svg")
"""


# What the fonts that typst brings along can show: Latin, Greek, Cyrillic and common signs. Other letters take a font of
# the machine, if it has one.
_OTHER_LETTERS = re.compile("[^\x00-\u052f\u1e00-\u25ff\ufb00-\ufb06\ufffd]")


def needs_other_fonts(text: str) -> bool:
    """Whether a text holds letters that the fonts which come with typst lack.

    >>> needs_other_fonts("Fähre, Паром, Λ ≥ 3"), needs_other_fonts("渡し船")
    (False, True)
    """
    return _OTHER_LETTERS.search(text) is not None


def png_bytes(drawing: Drawing, scale: float = 2.0) -> bytes:
    """The drawing as a PNG of `scale` times as many pixels along and across, the same to the byte each time.

    It is filled up to whole pixels first: typst blurs or drops a row of those of a picture that ends within one.
    """
    import typst

    width, height = (ceil(side * scale) / scale for side in (drawing.width, drawing.height))
    svg = svg_text(replace(drawing, width=width, height=height))
    made = typst.compile(
        _PAGE.encode(),
        format="png",
        ppi=72 * scale / PIXELS_PER_POINT,
        sys_inputs={"drawing": svg},
        ignore_system_fonts=not needs_other_fonts(svg),
    )
    return bytes(made)
