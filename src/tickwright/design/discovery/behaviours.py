"""What a layout is to do, as the hand of a test and a judgement of what a cell then shows."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass

from tickwright.durations import parse_duration
from tickwright.engine.native.layouts import Pattern
from tickwright.errors import UsageError
from tickwright.plan.hand import Stimulus

APART_STEPS = 1000  # from one press to the next: any circuit of a small box that rests has come to rest by then
SHORT_STEPS, LONG_STEPS = 20, 50
OWN = 0  # a press as long as the button's own; of SHORT_STEPS where it is a lever
NOWHERE = (0, 0, 0)
BEHAVIOURS = "hold D, delay D, rising pulse D, falling pulse D, inverter, latch or toggle"


@dataclass(frozen=True)
class Behaviour:
    """Presses, each of a length in steps, `APART_STEPS` apart; and whether a pattern is what is wanted.

    `meaning` says it in a sentence. A run is watched for `watch_steps` from the first press on.
    """

    text: str
    meaning: str
    presses: tuple[int, ...]
    matches: Callable[[tuple[int, ...], bool], bool]
    watch_steps: int

    def button(self) -> tuple[Stimulus, ...]:
        """What the hand does with a button; a number of steps stands for a press of that length."""
        return tuple(Stimulus(n * APART_STEPS, NOWHERE, "press", steps) for n, steps in enumerate(self.presses))

    def lever(self) -> tuple[Stimulus, ...]:
        """What it does with a lever."""
        return tuple(
            Stimulus(n * APART_STEPS + late, NOWHERE, verb)
            for n, steps in enumerate(self.presses)
            for verb, late in (("on", 0), ("off", steps or SHORT_STEPS))
        )

    def is_shown(self, pattern: Pattern) -> bool:
        """Whether a cell that shows this pattern behaves as wanted; what does not come to rest never does."""
        return not pattern.goes_on and not pattern.cut and self.matches(pattern.edges, pattern.rests_on)


def parse_behaviour(text: str) -> Behaviour:
    """Read a behaviour. Raises UsageError for one that is not known, or whose duration cannot be read.

    >>> parse_behaviour("hold 6 ticks").meaning
    'after one press it is on once, for 12 steps, and off at rest'
    """
    words = re.sub(r"\s+", " ", text.strip().lower())
    for name, make in _WITH_DURATION.items():
        if words.startswith(f"{name} "):
            steps = parse_duration(words.removeprefix(f"{name} "))
            if steps < 1:
                raise UsageError(f'"{text}": a {name} of no length is nothing to look for; give at least 1 step.')
            return make(text, steps)
    if words in _PLAIN:
        return _PLAIN[words](text)
    raise UsageError(f'"{text}" is no behaviour that can be looked for: say {BEHAVIOURS}, such as "hold 12 steps".')


def _hold(text: str, steps: int) -> Behaviour:
    def shown(edges: tuple[int, ...], rests_on: bool) -> bool:
        return not rests_on and len(edges) == 2 and edges[1] - edges[0] == steps

    said = f"after one press it is on once, for {steps} steps, and off at rest"
    return Behaviour(text, said, (OWN,), shown, max(2 * APART_STEPS, 2 * steps + APART_STEPS))


def _two(edges: tuple[int, ...], begin: tuple[int, int], end: tuple[int, int]) -> bool:
    """Whether two spans begin as late after these steps as each other, and end so."""
    return len(edges) == 4 and (
        edges[0] - begin[0] == edges[2] - begin[1] >= 0 and edges[1] - end[0] == edges[3] - end[1] >= 0
    )


_PRESSED = (0, APART_STEPS)
_RELEASED = (SHORT_STEPS, APART_STEPS + LONG_STEPS)
_TWICE = (SHORT_STEPS, LONG_STEPS)
_TWICE_SAID = f"at presses of {SHORT_STEPS} and of {LONG_STEPS} steps"


def _delay(text: str, steps: int) -> Behaviour:
    def shown(edges: tuple[int, ...], rests_on: bool) -> bool:
        return (
            not rests_on and _two(edges, _PRESSED, _RELEASED) and edges[0] == steps and edges[1] == _RELEASED[0] + steps
        )

    said = f"{_TWICE_SAID} it is on as long as the press, {steps} steps later, and off at rest"
    return Behaviour(text, said, _TWICE, shown, 2 * APART_STEPS)


def _pulse(at: tuple[int, int], words: str) -> Callable[[str, int], Behaviour]:
    def make(text: str, steps: int) -> Behaviour:
        def shown(edges: tuple[int, ...], rests_on: bool) -> bool:
            return not rests_on and _two(edges, at, at) and edges[1] - edges[0] == steps

        said = f"{_TWICE_SAID} it is on once for {steps} steps, always as late after the {words}, and off at rest"
        return Behaviour(text, said, _TWICE, shown, 2 * APART_STEPS)

    return make


def _inverter(text: str) -> Behaviour:
    def shown(edges: tuple[int, ...], rests_on: bool) -> bool:
        return rests_on and _two(edges, _PRESSED, _RELEASED) and edges[1] - _RELEASED[0] == edges[0]

    said = f"it is on at rest, and {_TWICE_SAID} off as long as the press"
    return Behaviour(text, said, _TWICE, shown, 2 * APART_STEPS)


def _latch(text: str) -> Behaviour:
    def shown(edges: tuple[int, ...], rests_on: bool) -> bool:
        return not rests_on and len(edges) == 1 and edges[0] < APART_STEPS

    said = "it is off at first, goes on at the first press, and is on for good"
    return Behaviour(text, said, (OWN,) * 2, shown, 2 * APART_STEPS)


def _toggle(text: str) -> Behaviour:
    def shown(edges: tuple[int, ...], rests_on: bool) -> bool:
        return not rests_on and [edge // APART_STEPS for edge in edges] == [0, 1, 2, 3]

    said = "it is off at first, and each of four presses turns it on or off, by turns"
    return Behaviour(text, said, (OWN,) * 4, shown, 4 * APART_STEPS)


_WITH_DURATION: dict[str, Callable[[str, int], Behaviour]] = {
    "hold": _hold,
    "delay": _delay,
    "rising pulse": _pulse(_PRESSED, "press begins"),
    "falling pulse": _pulse(_RELEASED, "press ends"),
}
_PLAIN: dict[str, Callable[[str], Behaviour]] = {"inverter": _inverter, "latch": _latch, "toggle": _toggle}
