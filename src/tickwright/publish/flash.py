"""Flashing: whether moving pictures could set off a seizure, by WCAG 2.2 SC 2.3.1, and how much slower they are safe.

A general flash is a pair of opposing changes of relative luminance of 10 % or more of the greatest there is (1.0), the
darker of the two below 0.80. More than three of them within any one second fail, unless the area that flashes is small:
at most 25 % of any 10 degrees of the visual field, which is 21,824 pixels of a page of 1024 by 768. Here the areas of
all that flashes are added up, wherever on the page they lie, which is never milder than the criterion.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache
from typing import TYPE_CHECKING, Any, NamedTuple

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

MOST_FLASHES = 3
LEAST_CHANGE = 0.10
DARK = 0.80
SMALL_AREA = 21_824 / (1024 * 768)  # of the page
_ROUNDING = 1e-9
SLOWDOWNS = (1, 2, 4, 5, 8, 10, 16, 20, 32, 40, 64, 80)


class Flashing(NamedTuple):
    """What a moving picture does: the most flashes of any place within one second, and how much of the page fails.

    `failing_share` is the share of the page, 0 to 1, that flashes more than three times within some one second; `safe`
    if that is small enough.
    """

    most_flashes: int
    failing_share: float
    safe: bool


def flashing(luminances: Any, seconds: Sequence[float], shares: Any = None) -> Flashing:
    """Judge places of a page by their relative luminance over time.

    `luminances[frame, place]` is 0 to 1; `seconds[frame]` says when that frame comes, never falling; `shares[place]` is
    the share of the page that the place takes, the whole page if there is but one place and none is given. Source: WCAG
    2.2, SC 2.3.1 and the definition of general flash.

    >>> flashing([[0.0], [1.0]] * 3, [n / 6 for n in range(6)]).safe  # three times a second
    True
    >>> flashing([[0.0], [1.0]] * 5, [n / 8 for n in range(10)])
    Flashing(most_flashes=4, failing_share=1.0, safe=False)
    """
    import numpy as np

    levels = np.asarray(luminances, dtype=np.float64)
    levels = levels.reshape(len(levels), -1) if len(levels) else np.zeros((0, 0))
    parts = np.full(levels.shape[1], 1 / max(1, levels.shape[1])) if shares is None else np.asarray(shares, np.float64)
    most = most_flashes(levels, np.asarray(seconds, dtype=np.float64))
    failing = float(parts[most > MOST_FLASHES].sum())
    return Flashing(int(most.max(initial=0)), failing, failing <= SMALL_AREA + _ROUNDING)


def most_flashes(levels: NDArray[np.float64], seconds: NDArray[np.float64]) -> NDArray[np.int64]:
    """For each place the most flashes within any one second: `levels[frame, place]`, `seconds[frame]`.

    A change counts from the last turning point, however many frames it takes. The second begins with a frame, whose own
    change counts, and ends just before the moment one second later.
    """
    import numpy as np

    if not len(levels):
        return np.zeros(levels.shape[1], dtype=np.int64)
    changed = np.zeros(levels.shape, dtype=np.int64)  # changed[frame, place] = 1 where a change is complete
    going = np.zeros(levels.shape[1], dtype=np.int8)  # +1 after a change to brighter, -1 to darker, 0 before the first
    low, high = levels[0].copy(), levels[0].copy()  # darkest and brightest since the last change
    least = LEAST_CHANGE - _ROUNDING
    for frame, now in enumerate(levels):
        up = (going != 1) & (now - low >= least) & (low < DARK)
        down = (going != -1) & (high - now >= least) & (now < DARK)
        changed[frame] = up | down
        going[up], going[down] = 1, -1
        low = np.where(down, now, np.minimum(low, now))
        high = np.where(up, now, np.maximum(high, now))
    counted = np.vstack([np.zeros_like(changed[:1]), np.cumsum(changed, axis=0)])
    ends = np.searchsorted(seconds, seconds + 1 - _ROUNDING, side="left")
    return np.asarray((counted[ends] - counted[:-1]).max(axis=0) // 2)


def safe_slowdown(luminances: Any, seconds: Sequence[float]) -> int | None:
    """How many times slower the pictures must go to be safe: 1 if they are as they stand, None if 80 times do not help.

    >>> safe_slowdown([[0.0], [1.0]] * 40, [n / 20 for n in range(80)])  # ten times a second
    4
    """
    for times in SLOWDOWNS:
        if flashing(luminances, [second * times for second in seconds]).safe:
            return times
    return None


def frame_luminances(frame: NDArray[np.uint8]) -> NDArray[np.float64]:
    """The relative luminance of each pixel of a picture `frame[row, column, red-green-blue]`. Source: WCAG 2.2."""
    import numpy as np

    return np.asarray(_linear()[frame] @ np.array((0.2126, 0.7152, 0.0722)))


@cache
def _linear() -> NDArray[np.float64]:
    """For each value of an sRGB channel the light it stands for, 0 to 1."""
    import numpy as np

    values = np.arange(256) / 255
    return np.where(values <= 0.04045, values / 12.92, ((values + 0.055) / 1.055) ** 2.4)
