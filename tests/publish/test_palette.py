"""Colours against the published formulas and rows: WCAG 2.2 contrast; lightness by CIE 15 for the scale of levels."""

from __future__ import annotations

from itertools import combinations, pairwise

import pytest

from tickwright.publish.palette import LEVEL_COLOURS, THEMES, contrast, luminance, over

TEXT, GRAPHICS = 4.5, 3.0  # WCAG 2.2, SC 1.4.3 and SC 1.4.11


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


@pytest.mark.parametrize("theme", THEMES)
def test_text_and_lines_stand_apart_from_every_ground(theme):
    colours = THEMES[theme]
    grounds = [colours[role] for role in ("ground", "paper", "solid", "left", "right")]
    assert min(contrast(colours["ink"], ground) for ground in grounds) >= TEXT
    assert min(contrast(colours["name"], colours[role]) for role in ("ground", "paper")) >= TEXT
    assert min(contrast(colours["edge"], colours[role]) for role in ("ground", "paper", "solid")) >= GRAPHICS


def test_the_number_on_a_level_can_be_read():
    assert min(contrast(over(colour), colour) for colour in LEVEL_COLOURS) >= TEXT


def lightness(colour: str) -> float:
    """CIE 1976 L* under D65: 116 f(Y/Yn) - 16. Source: CIE 15:2004 (from memory)."""
    share = luminance(colour)
    return 116 * share ** (1 / 3) - 16 if share > 0.008856 else 903.3 * share


def deuteranope(colour: str) -> tuple[float, float]:
    """What is left of a colour without green cones: lightness, and blue less the rest.

    Source: the projection of Viénot, Brettel and Mollon (1999), in linear RGB (from memory).
    """
    red, green, blue = (int(colour[place : place + 2], 16) / 255 for place in (1, 3, 5))
    red, green, blue = (part**2.2 for part in (red, green, blue))
    same = 0.29275 * red + 0.70725 * green
    return same, blue


def test_levels_grow_lighter_in_even_steps():
    steps = [lightness(high) - lightness(low) for low, high in pairwise(LEVEL_COLOURS)]
    assert min(steps) > 3
    assert max(steps) < 8


def test_no_two_levels_look_alike_without_green_cones():
    seen = [deuteranope(colour) for colour in LEVEL_COLOURS]
    assert [same for same, _ in seen] == sorted(same for same, _ in seen)
    assert min(max(abs(a - b) for a, b in zip(one, other, strict=True)) for one, other in combinations(seen, 2)) > 0.005
