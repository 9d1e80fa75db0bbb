"""Hand tables for the numbers read off pulses, where a slip of one would be hard to see in a whole run."""

from __future__ import annotations

from typing import NamedTuple

import pytest

from tickwright.measurement.measuring import hold_of, kind_of
from tickwright.measurement.pulses import Pulse, duties, periods, pulses, separations
from tickwright.measurement.second_press import effect_of

HOLDS = [
    ([], None),
    ([Pulse(5, 2)], 2),
    ([Pulse(5, 2), Pulse(10, 3)], 8),  # 5 to 13
    ([Pulse(5, 2), Pulse(10, 3), Pulse(20, 4)], 19),  # 5 to 24
    ([Pulse(5, 2), Pulse(10, 3), Pulse(20, 4), Pulse(30, 1)], 26),
    ([Pulse(5, 2), Pulse(10, None)], None),
]


@pytest.mark.parametrize(("train", "hold"), HOLDS)
def test_the_hold_is_from_the_first_on_to_the_last_off(train, hold):
    assert hold_of(train) == hold


class Seen(NamedTuple):
    """What `kind_of` asks an observation for."""

    found: list[Pulse]
    decided: bool = True
    for_ever: bool = False

    def pulses(self, _output):
        return self.found

    def toggles_for_ever(self, _output):
        return self.for_ever


KINDS = [
    (Seen([]), "none"),
    (Seen([Pulse(5, 2)]), "one-shot"),
    (Seen([Pulse(5, 2), Pulse(9, 2)]), "train"),
    (Seen([Pulse(5, 2), Pulse(9, 2), Pulse(14, 1)]), "train"),
    (Seen([Pulse(5, 2), Pulse(9, None)]), "latched"),
    (Seen([Pulse(5, None)]), "latched"),
    (Seen([Pulse(5, 2)], for_ever=True), "clock"),
    (Seen([Pulse(5, 2)], decided=False, for_ever=True), "undecided"),
]


@pytest.mark.parametrize(("seen", "kind"), KINDS)
def test_the_kind_of_an_answer(seen, kind):
    assert kind_of(seen, "lamp") == kind


ONCE = [Pulse(2, 10)]  # to 12
EFFECTS = [
    ([Pulse(2, 10)], "one-shot", "ignored"),
    ([Pulse(2, 16)], "one-shot", "extends"),
    ([Pulse(2, 4), Pulse(8, 4)], "train", "other"),  # ends at 12 as well: no later
    ([Pulse(2, 4), Pulse(8, 5)], "train", "restarts"),
    ([Pulse(2, 4), Pulse(8, 3)], "train", "other"),
    ([Pulse(3, 16)], "one-shot", "other"),  # it began later than the first press alone
    ([Pulse(2, 7)], "one-shot", "other"),
    ([], "none", "other"),
    ([Pulse(2, 4), Pulse(8, 1), Pulse(10, 9)], "train", "restarts"),
    ([Pulse(2, 16)], "clock", "other"),
]


@pytest.mark.parametrize(("after", "kind", "effect"), EFFECTS)
def test_what_a_second_press_did(after, kind, effect):
    assert effect_of(ONCE, after, kind) == effect


def test_pulses_between_thresholds():
    """Levels 0, 7, 8, 6, 0 at steps 0, 3, 5, 9, 11: on at 7 and more from 3 to 9; at 8 from 5; at 6 from 3 to 11."""
    changes = [(0, 0), (3, 7), (5, 8), (9, 6), (11, 0)]
    assert pulses(changes, threshold=7) == [Pulse(3, 6)]
    assert pulses(changes, threshold=8) == [Pulse(5, 4)]
    assert pulses(changes, threshold=6) == [Pulse(3, 8)]
    assert pulses([(0, 15), (4, 0), (6, 15), (7, 0)]) == [Pulse(6, 1)]


def test_what_lies_between_pulses():
    train = [Pulse(4, 3), Pulse(10, 1), Pulse(20, 5)]
    assert separations(train) == [3, 9, None]
    assert periods(train) == [6, 10, None]
    assert duties(train) == [0.5, 0.1, None]
