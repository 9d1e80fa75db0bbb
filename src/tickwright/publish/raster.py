"""Drawings as PNG, set by typst with our own letters and those that come with it: the same on every machine.

Letters that those fonts lack are shown with the fonts of the machine, if it has some.
"""

from __future__ import annotations

import json
import re
import unicodedata
from collections.abc import Sequence
from dataclasses import replace
from functools import cache
from math import ceil
from typing import Any

from tickwright.publish.canvas import Drawing, svg_text
from tickwright.publish.tokens import FONT_FOLDER

PIXELS_PER_POINT = 0.75  # of a drawing, as typst reads an SVG: 96 pixels an inch, 72 points an inch
_PAGES = """#set page(width: auto, height: auto, margin: 0pt)
#for drawing in json(bytes(sys.inputs.drawings)) { page(image(bytes(drawing), format: "svg")) }
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


@cache
def fonts(system: bool) -> Any:
    """Our letters and those that come with typst, with the fonts of the machine if `system`, as typst takes them."""
    import typst

    return typst.Fonts(include_system_fonts=system, font_paths=[FONT_FOLDER])


_LETTERS = """#set page(width: 32pt, height: 32pt, margin: 6pt)
#set text(font: ("Inter Tabular", "DejaVu Sans Mono", "Libertinus Serif"), size: 12pt)
#for letter in sys.inputs.letters.codepoints() { page(letter) }
"""
_NO_LETTER = "\U0010ffff"  # a code point that Unicode keeps free for ever: no font has it
_MOST_TOLD = 10


def letters_without_font(text: str) -> str:
    """The letters of a text, each once, that no font at hand has: none that comes with typst and none of the machine.

    In PDFs, PNGs and films each of them is shown as the same box. Every letter is set by itself and compared with what
    is set for a code point that no font has. Marks that combine with a letter are not looked at.
    """
    import typst

    asked = "".join(dict.fromkeys(one for one in _OTHER_LETTERS.findall(text) if unicodedata.category(one)[0] != "M"))
    if not asked:
        return ""
    box, *pages = typst.compile(
        _LETTERS.encode(),
        format="png",
        ppi=144,
        sys_inputs={"letters": _NO_LETTER + asked},
        font_paths=fonts(True),
    )
    return "".join(letter for letter, page in zip(asked, pages, strict=True) if page == box)


def font_note(title: str) -> str:
    """What is to be told of how PDFs, PNGs and films show a title on this machine; empty if all is well."""
    if not needs_other_fonts(title):
        return ""
    if lacking := letters_without_font(title):
        more = " and more" if len(lacking) > _MOST_TOLD else ""
        return (
            f"no font of this machine has {' '.join(lacking[:_MOST_TOLD])}{more}, which the title holds: PDF, PNGs and "
            "films show boxes instead. Install fonts that have them (on Debian fonts-noto-cjk for Chinese, Japanese "
            "and Korean, fonts-noto-core for most others) and make the files again."
        )
    return (
        "the title holds letters that the fonts which come with Tickwright lack: PDF, PNGs and films show them with "
        "fonts of this machine, and may look different where they are made on another."
    )


def png_bytes(drawing: Drawing, scale: float = 2.0) -> bytes:
    """The drawing as a PNG of `scale` times as many pixels along and across, the same to the byte each time.

    It is filled up to whole pixels first: typst blurs or drops a row of those of a picture that ends within one.
    """
    return png_pages([drawing], scale)[0]


def png_pages(drawings: Sequence[Drawing], scale: float = 2.0) -> list[bytes]:
    """Each drawing as a PNG, set in one go; see `png_bytes`."""
    import typst

    texts = []
    for drawing in drawings:
        width, height = (ceil(side * scale) / scale for side in (drawing.width, drawing.height))
        texts.append(svg_text(replace(drawing, width=width, height=height)))
    made: Any = typst.compile(
        _PAGES.encode(),
        format="png",
        ppi=72 * scale / PIXELS_PER_POINT,
        sys_inputs={"drawings": json.dumps(texts)},
        font_paths=fonts(any(map(needs_other_fonts, texts))),
    )
    return [bytes(made)] if isinstance(made, bytes) else [bytes(one) for one in made]
