"""Flashing, held against the published limits (WCAG 2.2 SC 2.3.1): full frames, areas, and changes of luminance."""

from __future__ import annotations

import numpy as np
import pytest

from tickwright.publish.flash import SMALL_AREA, flashing, frame_luminances, safe_slowdown

RATE = 60  # frames a second


def blink(hertz, dark=0.0, bright=1.0, seconds=3.0):
    """A full frame that is dark for half of each period and bright for the other half."""
    times = np.arange(int(RATE * seconds)) / RATE
    return np.where((times * hertz) % 1 < 0.5, dark, bright), times


@pytest.mark.parametrize(
    ("hertz", "dark", "bright", "safe"),
    [
        (3, 0.0, 1.0, True),  # WCAG 2.2 SC 2.3.1: full frame, 3 Hz passes
        (4, 0.0, 1.0, False),  # 4 Hz fails
        (4, 0.81, 0.95, True),  # the darker is not below 0.80
        (4, 0.50, 0.59, True),  # less than 10 %
        (4, 0.50, 0.60, False),  # 10 %
        (10, 0.79, 0.90, False),
        (10, 0.79, 0.88, True),
    ],
)
def test_general_flashes_of_a_full_frame(hertz, dark, bright, safe):
    found = flashing(*blink(hertz, dark, bright))
    assert found.safe is safe
    assert found.failing_share == (0.0 if safe else 1.0)


def test_a_change_may_take_many_frames():
    # A triangle wave of 5 Hz between 0.2 and 0.8, in steps of 0.1 that are each no flash with the next.
    one = [0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.7, 0.6, 0.5, 0.4, 0.3]
    assert flashing(one * 10, np.arange(120) / RATE).most_flashes == 5
    assert flashing(np.linspace(0, 1, 120), np.arange(120) / RATE).most_flashes == 0


def test_small_changes_on_the_way_are_no_flashes():
    ripple = [0.30, 0.38] * 60
    assert flashing(ripple, np.arange(120) / RATE).most_flashes == 0


def test_the_area_that_flashes_decides():
    # 21,824 of the 1024 x 768 pixels of a page may flash, one more may not.
    levels, times = blink(5)
    still = np.zeros_like(levels)
    for pixels, safe in ((21_824, True), (21_825, False)):
        share = pixels / (1024 * 768)
        found = flashing(np.stack([levels, still], axis=1), times, [share, 1 - share])
        assert (found.safe, found.most_flashes) == (safe, 5)
    assert pytest.approx(0.02775, abs=1e-5) == SMALL_AREA


def test_areas_that_flash_in_turn_add_up():
    levels, times = blink(5)
    two = np.stack([levels, 1 - levels, np.zeros_like(levels)], axis=1)
    assert flashing(two, times, [0.02, 0.007, 0.973]).safe
    assert not flashing(two, times, [0.02, 0.008, 0.972]).safe


def test_slower_until_it_is_safe():
    assert safe_slowdown(*blink(3)) == 1
    assert safe_slowdown(*blink(4)) == 2
    assert safe_slowdown(*blink(10)) == 4
    levels, times = blink(15)
    times_safe = safe_slowdown(levels, times)
    assert times_safe == 5
    assert flashing(levels, times * times_safe).safe


def test_luminance_of_pixels():
    # WCAG 2.2: white is 1, black 0, and #767676 stands 4.54 : 1 below white.
    frame = np.array([[[255, 255, 255], [0, 0, 0], [0x76, 0x76, 0x76]]], dtype=np.uint8)
    white, black, grey = frame_luminances(frame)[0]
    assert (white, black) == (pytest.approx(1), 0)
    assert (white + 0.05) / (grey + 0.05) == pytest.approx(4.54, abs=0.005)


def test_nothing_never_flashes():
    assert flashing([], []) == (0, 0.0, True)
    assert flashing([[0.0, 1.0]], [0.0]).safe
