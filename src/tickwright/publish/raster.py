"""Drawings as PNG, set by typst with the fonts that come with it, so that they look the same on every machine."""

from __future__ import annotations

from tickwright.publish.canvas import Drawing, svg_text

PIXELS_PER_POINT = 0.75  # of a drawing, as typst reads an SVG: 96 pixels an inch, 72 points an inch
_PAGE = """#set page(width: auto, height: auto, margin: 0pt)
#image(bytes(sys.inputs.drawing), format: "svg")
"""


def png_bytes(drawing: Drawing, scale: float = 2.0) -> bytes:
    """The drawing as a PNG of `scale` times as many pixels along and across, the same to the byte each time."""
    import typst

    made = typst.compile(
        _PAGE.encode(),
        format="png",
        ppi=72 * scale / PIXELS_PER_POINT,
        sys_inputs={"drawing": svg_text(drawing)},
        ignore_system_fonts=True,
    )
    return bytes(made)
