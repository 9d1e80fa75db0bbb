"""Pulses and their terms: IEEE Std 181-2011 / IEC 60469 (definitions from memory); IEEE Std 94-1977, 2.2.2."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tickwright.errors import UsageError
from tickwright.measurement import Pulse, duties, periods, pulses, separations


def test_pulse_terms() -> None:
    """1 us on, 3 us off: period 4 us, duty 0.25; no period or duty without a next edge.

    Source: IEEE Std 181-2011 / IEC 60469, definitions from memory; a microsecond is a step here.
    """
    train = pulses([(0, 0), (5, 15), (6, 0), (9, 15), (10, 0), (13, 15), (14, 0)])
    assert train == [Pulse(5, 1), Pulse(9, 1), Pulse(13, 1)]
    assert separations(train) == [3, 3, None]
    assert periods(train) == [4, 4, None]
    assert duties(train) == [0.25, 0.25, None]


def test_a_pulse_that_has_not_ended_has_no_duration() -> None:
    train = pulses([(0, 0), (2, 15), (4, 0), (10, 15)])
    assert train == [Pulse(2, 2), Pulse(10, None)]
    assert separations(train) == [6, None]
    assert periods(train) == [8, None]
    assert duties(train) == [0.25, None]


def test_what_is_on_at_the_start_is_a_level() -> None:
    assert pulses([(0, 15)]) == []
    assert pulses([(0, 15), (7, 0)]) == []
    assert pulses([(0, 15), (3, 9), (7, 0), (9, 4), (10, 0)]) == [Pulse(9, 1)]


def test_levels_that_change_while_on_do_not_split_a_pulse() -> None:
    assert pulses([(0, 0), (3, 15), (5, 13), (8, 1), (9, 0)]) == [Pulse(3, 6)]


@pytest.mark.parametrize(
    ("threshold", "expected"),
    [
        (1, [Pulse(3, 9)]),
        (8, [Pulse(3, 2), Pulse(8, 2)]),  # equal to the threshold is on
        (9, [Pulse(3, 2), Pulse(8, 2)]),
        (10, [Pulse(3, 2)]),
        (15, [Pulse(3, 2)]),
    ],
)
def test_threshold(threshold: int, expected: list[Pulse]) -> None:
    assert pulses([(0, 0), (3, 15), (5, 7), (8, 9), (10, 2), (12, 0)], threshold=threshold) == expected


def test_a_threshold_below_one_is_refused() -> None:
    with pytest.raises(UsageError) as error:
        pulses([(0, 0)], threshold=0)
    assert str(error.value) == "The threshold 0 is met by everything, off included: use 1 or more."


def test_no_pulses_have_no_terms() -> None:
    assert pulses([(0, 0)]) == []
    assert separations([]) == periods([]) == duties([]) == []


@given(st.lists(st.integers(0, 3), min_size=1, max_size=40), st.integers(1, 3))
def test_pulses_cover_what_is_on_after_the_first_off(levels: list[int], threshold: int) -> None:
    changes = [(step, level) for step, level in enumerate(levels) if step == 0 or level != levels[step - 1]]
    train = pulses(changes, threshold=threshold)
    covered = {
        step
        for pulse in train
        for step in range(pulse.start, pulse.start + (pulse.duration or len(levels) - pulse.start))
    }
    first_off = next((step for step, level in enumerate(levels) if level < threshold), len(levels))
    assert covered == {step for step, level in enumerate(levels) if level >= threshold and step > first_off}
    assert all(pulse.duration is not None for pulse in train[:-1])
    for pulse, gap, period in zip(train, separations(train), periods(train), strict=True):
        assert (gap is None) == (period is None) == (pulse is train[-1])
        assert gap is None or (pulse.duration or 0) + gap == period
