"""Tokens against the published formulas: WCAG 2.2 contrast, CIE 1976 lightness and difference, colour sight."""

from __future__ import annotations

import json
from itertools import pairwise
from pathlib import Path

import pytest

from tickwright.publish.tokens import FONT_FILES, FONT_FOLDER, THEMES, TOKENS, contrast, luminance, wire_width

TEXT, GRAPHICS = 4.5, 3.0  # WCAG 2.2, SC 1.4.3 and SC 1.4.11
LEVELS = range(1, 16)
# Machado, Oliveira and Fernandes, IEEE TVCG 15(6), 2009: the matrices of severity 1, for linear RGB (from memory).
SIGHT = {
    "full": ((1, 0, 0), (0, 1, 0), (0, 0, 1)),
    "protanopia": ((0.152286, 1.052583, -0.204868), (0.114503, 0.786281, 0.099216), (-0.003882, -0.048116, 1.051998)),
    "deuteranopia": ((0.367322, 0.860646, -0.227968), (0.280085, 0.672501, 0.047413), (-0.01182, 0.04294, 0.968881)),
    "tritanopia": ((1.255528, -0.076749, -0.178779), (-0.078411, 0.930809, 0.147602), (0.004733, 0.691367, 0.3039)),
}


@pytest.mark.parametrize(
    ("colour", "ratio", "least", "passes"),
    [
        # W3C, WCAG 2.2: the lightest greys on white that still pass, and the next ones that do not.
        ("#767676", 4.54, TEXT, True),
        ("#777777", 4.48, TEXT, False),
        ("#949494", 3.03, GRAPHICS, True),
        ("#959595", 2.996, GRAPHICS, False),
    ],
)
def test_contrast_is_that_of_wcag(colour, ratio, least, passes):
    found = contrast("#ffffff", colour)
    assert found == pytest.approx(ratio, abs=0.006)
    assert (found >= least) is passes
    assert contrast("#000000", "#ffffff") == pytest.approx(21)


def linear(colour: str) -> list[float]:
    parts = [int(colour[place : place + 2], 16) / 255 for place in (1, 3, 5)]
    return [part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts]


def lab(rgb: list[float]) -> tuple[float, float, float]:
    """CIE 1976 L*a*b* under D65 of linear sRGB. Source: CIE 15:2004, IEC 61966-2-1 (from memory)."""
    red, green, blue = rgb
    x = 0.4124564 * red + 0.3575761 * green + 0.1804375 * blue
    y = 0.2126729 * red + 0.7151522 * green + 0.0721750 * blue
    z = 0.0193339 * red + 0.1191920 * green + 0.9503041 * blue

    def f(t: float) -> float:
        return t ** (1 / 3) if t > (6 / 29) ** 3 else t / (3 * (6 / 29) ** 2) + 4 / 29

    fx, fy, fz = f(x / 0.95047), f(y), f(z / 1.08883)
    return 116 * fy - 16, 500 * (fx - fy), 200 * (fy - fz)


def seen(colour: str, sight: str) -> list[float]:
    rgb = linear(colour)
    return [max(0.0, min(1.0, sum(a * b for a, b in zip(row, rgb, strict=True)))) for row in SIGHT[sight]]


def difference(one: str, other: str) -> float:
    """Delta E of CIE 1976."""
    pairs = zip(lab(linear(one)), lab(linear(other)), strict=True)
    return sum((a - b) ** 2 for a, b in pairs) ** 0.5


def test_the_formulas_give_what_is_published():
    assert lab(linear("#ffffff")) == pytest.approx((100, 0, 0), abs=0.02)
    # sRGB red in CIELAB, as colour tables print it: 53.24, 80.09, 67.20 (from memory).
    assert lab(linear("#ff0000")) == pytest.approx((53.24, 80.09, 67.20), abs=0.05)


@pytest.mark.parametrize("theme", THEMES)
def test_text_can_be_read_on_every_ground(theme):
    colours = THEMES[theme]
    for role in ("ink", "soft", "accent", "good", "bad", "warn", "items"):
        for ground in ("paper", "panel", "block"):
            assert contrast(colours[role], colours[ground]) >= TEXT, f"{role} on {ground}"
    for text, ground in (("onaccent", "accent"), ("amberink", "amber"), ("onitems", "items"), ("soft", "wanted")):
        assert contrast(colours[text], colours[ground]) >= TEXT, f"{text} on {ground}"
    for level in LEVELS:
        assert contrast(colours[f"on-level-{level}"], colours[f"level-{level}"]) >= TEXT, level


@pytest.mark.parametrize("theme", THEMES)
def test_off_and_on_stand_apart(theme):
    colours = THEMES[theme]
    pairs = [("level-1", "panel"), ("level-1", "block"), ("amber", "panel"), ("soft", "panel"), ("soft", "block")]
    pairs += [("edge", "panel"), ("edge", "paper"), ("field", "panel"), ("bad", "wanted"), ("accent", "panel")]
    # The rim of what is amber keeps it apart from every ground that it may stand on.
    pairs += [("amberedge", ground) for ground in ("paper", "panel", "block", "below", "wanted", "front", "side")]
    for one, other in pairs:
        assert contrast(colours[one], colours[other]) >= GRAPHICS, f"{one} : {other}"


@pytest.mark.parametrize("theme", THEMES)
@pytest.mark.parametrize("sight", SIGHT)
def test_levels_are_in_one_order_however_one_sees_colours(theme, sight):
    lightness = [lab(seen(THEMES[theme][f"level-{level}"], sight))[0] for level in LEVELS]
    steps = [after - before for before, after in pairwise(lightness)]
    assert all(step > 1.5 for step in steps) or all(step < -1.5 for step in steps), steps


@pytest.mark.parametrize("theme", THEMES)
def test_the_accent_is_no_level(theme):
    colours = THEMES[theme]
    assert min(difference(colours["accent"], colours[f"level-{level}"]) for level in LEVELS) >= 20
    for other in ("amber", "items", "bad", "good"):
        assert difference(colours["accent"], colours[other]) >= 20


def test_stronger_wires_are_wider():
    widths = [wire_width(level) for level in range(16)]
    assert widths == sorted(widths)
    assert widths[15] == TOKENS["wire"]["most"]


def test_the_file_holds_the_same_names_for_every_theme():
    assert {frozenset(TOKENS[theme]) for theme in ("light", "dark", "print")} == {frozenset(TOKENS["light"])}
    text = (Path(FONT_FOLDER).parent / "tokens.json").read_text(encoding="utf-8")
    assert json.loads(text) == dict(TOKENS)
    assert luminance(THEMES["print"]["paper"]) == 1


def test_the_letters_come_with_their_licence():
    assert "SIL Open Font License" in (FONT_FOLDER / "LICENSE").read_text(encoding="utf-8")
    for name in FONT_FILES:
        assert (FONT_FOLDER / f"{name}.woff2").read_bytes()[:4] == b"wOF2"
        assert (FONT_FOLDER / f"{name}.ttf").stat().st_size > 100_000
