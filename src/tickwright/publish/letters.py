"""How wide letters are: read from our own font files, so that texts fit where they are set."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache, lru_cache
from struct import unpack_from

from tickwright.publish.tokens import FONT_FILES, FONT_FOLDER

OTHER = 0.62  # of a letter that the font lacks, as a share of the text's size
WIDE = 1.1  # of one of those scripts whose letters fill a square
_FIRST_WIDE = 0x1100


@cache
def advances(bold: bool) -> Mapping[int, float]:
    """The advance of each letter of our font by its code point, as a share of the text's size.

    Source: OpenType 1.9, tables cmap (format 4), hhea, hmtx and head.
    """
    data = (FONT_FOLDER / f"{FONT_FILES[bold]}.ttf").read_bytes()
    tables = {}
    for number in range(unpack_from(">H", data, 4)[0]):
        tag, _, offset, _ = unpack_from(">4sIII", data, 12 + 16 * number)
        tables[tag.decode("ascii")] = offset
    units = unpack_from(">H", data, tables["head"] + 18)[0]
    measured = unpack_from(">H", data, tables["hhea"] + 34)[0]
    widths = [unpack_from(">H", data, tables["hmtx"] + 4 * glyph)[0] / units for glyph in range(measured)]
    return {code: widths[min(glyph, measured - 1)] for code, glyph in _characters(data, tables["cmap"]).items()}


def _characters(data: bytes, cmap: int) -> Mapping[int, int]:
    """The glyph of each code point of the basic plane."""
    for number in range(unpack_from(">H", data, cmap + 2)[0]):
        start = cmap + unpack_from(">I", data, cmap + 8 + 8 * number)[0]
        if unpack_from(">H", data, start)[0] == 4:
            break
    else:
        raise ValueError("the font has no cmap of format 4")
    count = unpack_from(">H", data, start + 6)[0] // 2
    ends, starts = start + 14, start + 16 + 2 * count
    deltas, offsets = starts + 2 * count, starts + 4 * count
    found = {}
    for segment in range(count):
        first, last = (unpack_from(">H", data, at + 2 * segment)[0] for at in (starts, ends))
        delta, offset = (unpack_from(">H", data, at + 2 * segment)[0] for at in (deltas, offsets))
        for code in range(first, min(last, 0xFFFE) + 1):
            glyph = code
            if offset:
                glyph = unpack_from(">H", data, offsets + 2 * segment + offset + 2 * (code - first))[0]
            if glyph or not offset:
                found[code] = (glyph + delta) & 0xFFFF
    return found


@lru_cache(maxsize=20_000)
def text_width(text: str, size: float, *, bold: bool = False) -> float:
    """How wide a text is in our letters; letters that they lack are guessed.

    >>> round(text_width("111", 10), 2) == round(text_width("888", 10), 2)
    True
    """
    known = advances(bold)
    return sum(known.get(ord(letter), WIDE if ord(letter) >= _FIRST_WIDE else OTHER) for letter in text) * size
