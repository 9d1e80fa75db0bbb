"""What a layout is to do, as the hand of a test and a judgement of what a cell then shows."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise

from tickwright.charts import EarlySpan, Names, NotationError, Timeline, Wave, judge, parse_claim, parse_hand_line
from tickwright.charts.notation import Claim, HandLine, Level
from tickwright.durations import parse_duration
from tickwright.engine.native.layouts import Pattern
from tickwright.errors import UsageError
from tickwright.plan.hand import Stimulus

APART_STEPS = 1000  # from one press to the next: any circuit of a small box that rests has come to rest by then
SHORT_STEPS, LONG_STEPS = 20, 50
OWN = 0  # a press as long as the button's own; of SHORT_STEPS where it is a lever
NOWHERE = (0, 0, 0)
MOST_HAND_STEPS = 4_000
BEHAVIOURS = (
    "hold D, delay D, rising pulse D, falling pulse D, inverter, latch, toggle, holds (the fewest parts of each hold) "
    'or a claim of a chart, such as "out: on from press + 4 steps for 1 s"'
)
MOST_HOLD_STEPS = 255  # of the table "holds"
MANY, FEW = 3, 1  # layouts of the fewest parts that are kept, of one behaviour and of each in a table


@dataclass(frozen=True)
class Behaviour:
    """What the hand does, and a judgement of what a cell then shows, in steps from the first act on.

    `meaning` says it in a sentence. A run is watched for `watch_steps` from the first act on. `verdict` gives 0 for
    what is not wanted, else 1, or in a table which of its behaviours it is. `edges` is how often the output changes.
    """

    text: str
    meaning: str
    button: tuple[Stimulus, ...]  # a number of steps stands for a press of that length; the cell is filled in later
    lever: tuple[Stimulus, ...]
    verdict: Callable[[tuple[int, ...], bool], int]
    watch_steps: int
    edges: int = 2
    hold_steps: int = 0  # of a hold
    keeps: int = MANY
    is_table: bool = False  # a verdict is how long the hold is

    def shown(self, pattern: Pattern) -> int:
        """The verdict of this pattern; what does not come to rest never is as wanted."""
        return 0 if pattern.goes_on or pattern.cut else int(self.verdict(pattern.edges, pattern.rests_on))


def _presses(*lengths: int) -> tuple[tuple[Stimulus, ...], tuple[Stimulus, ...]]:
    """Presses of these lengths in steps, `APART_STEPS` apart: of a button, and of a lever."""
    button = tuple(Stimulus(n * APART_STEPS, NOWHERE, "press", steps) for n, steps in enumerate(lengths))
    lever = tuple(
        Stimulus(n * APART_STEPS + late, NOWHERE, verb)
        for n, steps in enumerate(lengths)
        for verb, late in (("on", 0), ("off", steps or SHORT_STEPS))
    )
    return button, lever


def parse_behaviour(text: str, again: bool = False) -> Behaviour:
    """Read a behaviour; a hold is to come `again` at a second press, as of what moves or holds items it may not.

    Raises UsageError for one that is not known, or whose duration cannot be read.

    >>> parse_behaviour("hold 6 ticks").meaning
    'after one press it is on once, for 12 steps, and off at rest'
    """
    words = re.sub(r"\s+", " ", text.strip().lower())
    for name, make in _WITH_DURATION.items():
        if words.startswith(f"{name} "):
            steps = parse_duration(words.removeprefix(f"{name} "))
            if steps < 1:
                raise UsageError(f'"{text}": a {name} of no length is nothing to look for; give at least 1 step.')
            return _hold_twice(text, steps) if again and make is _hold else make(text, steps)
    if words in _PLAIN:
        return _PLAIN[words](text)
    if ":" in words:
        return parse_chart(text.strip())
    raise UsageError(
        f'"{text}" is no behaviour that can be looked for. Give one of: {BEHAVIOURS}. For example: "hold 12 steps".'
    )


def _hold(text: str, steps: int) -> Behaviour:
    def shown(edges: tuple[int, ...], rests_on: bool) -> bool:
        return not rests_on and len(edges) == 2 and edges[1] - edges[0] == steps

    said = f"after one press it is on once, for {steps} steps, and off at rest"
    watch = max(2 * APART_STEPS, 2 * steps + APART_STEPS)
    return Behaviour(text, said, *_presses(OWN), shown, watch, hold_steps=steps)


def _hold_twice(text: str, steps: int) -> Behaviour:
    def shown(edges: tuple[int, ...], rests_on: bool) -> bool:
        if rests_on or len(edges) != 4 or edges[2] - edges[0] != APART_STEPS:
            return False
        return edges[1] - edges[0] == edges[3] - edges[2] == steps

    if 2 * steps > APART_STEPS:
        raise UsageError(f'"{text}": without proof a hold is pressed twice, and is {APART_STEPS // 2} steps at most.')
    said = f"after each of two presses it is on once, for {steps} steps, and off at rest"
    return Behaviour(text, said, *_presses(OWN, OWN), shown, 2 * APART_STEPS, edges=4, hold_steps=steps)


def _holds(text: str) -> Behaviour:
    def which(edges: tuple[int, ...], rests_on: bool) -> int:
        steps = edges[1] - edges[0] if len(edges) == 2 and not rests_on else 0
        return steps if steps <= MOST_HOLD_STEPS else 0

    said = (
        f"after one press it is on once, for 1 to {MOST_HOLD_STEPS} steps, and off at rest; of each hold the smallest"
    )
    return Behaviour(text, said, *_presses(OWN), which, 2 * APART_STEPS, keeps=FEW, is_table=True)


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
    return Behaviour(text, said, *_presses(*_TWICE), shown, 2 * APART_STEPS, edges=4)


def _pulse(at: tuple[int, int], words: str) -> Callable[[str, int], Behaviour]:
    def make(text: str, steps: int) -> Behaviour:
        def shown(edges: tuple[int, ...], rests_on: bool) -> bool:
            return not rests_on and _two(edges, at, at) and edges[1] - edges[0] == steps

        said = f"{_TWICE_SAID} it is on once for {steps} steps, always as late after the {words}, and off at rest"
        return Behaviour(text, said, *_presses(*_TWICE), shown, 2 * APART_STEPS, edges=4)

    return make


def _inverter(text: str) -> Behaviour:
    def shown(edges: tuple[int, ...], rests_on: bool) -> bool:
        return rests_on and _two(edges, _PRESSED, _RELEASED) and edges[1] - _RELEASED[0] == edges[0]

    said = f"it is on at rest, and {_TWICE_SAID} off as long as the press"
    return Behaviour(text, said, *_presses(*_TWICE), shown, 2 * APART_STEPS, edges=4)


def _latch(text: str) -> Behaviour:
    def shown(edges: tuple[int, ...], rests_on: bool) -> bool:
        return not rests_on and len(edges) == 1 and edges[0] < APART_STEPS

    said = "it is off at first, goes on at the first press, and is on for good"
    return Behaviour(text, said, *_presses(OWN, OWN), shown, 2 * APART_STEPS, edges=1)


def _toggle(text: str) -> Behaviour:
    def shown(edges: tuple[int, ...], rests_on: bool) -> bool:
        return not rests_on and [edge // APART_STEPS for edge in edges] == [0, 1, 2, 3]

    said = "it is off at first, and each of four presses turns it on or off, by turns"
    return Behaviour(text, said, *_presses(*(OWN,) * 4), shown, 4 * APART_STEPS, edges=4)


def parse_chart(text: str) -> Behaviour:
    """A claim of a chart, of the output "out" and the trigger "press"; the hand may stand before it, and "->".

    The trigger is worked once at 0 with its usual act, or at the moments that the hand names. Raises UsageError for
    what cannot be read, and for claims that one run of one output does not tell.

    >>> parse_chart("0: press, 5 s: press -> out: on from 1st press until 2nd press").watch_steps
    2100
    """
    hand, arrow, said = text.rpartition("->")
    names = Names(("press",), ("out",), {})
    try:
        claim = parse_claim(said.strip(), names)
        lines = [parse_hand_line(line.strip(), names) for line in hand.split(",")] if arrow else []
    except NotationError as error:
        raise UsageError(f'"{text}": {error.sentence}') from None
    worked = tuple(line.moment.steps for line in lines) or (0,)
    _check_chart(text, claim, lines, worked)
    watch = worked[-1] + 2 * APART_STEPS

    def kept(edges: tuple[int, ...], rests_on: bool) -> bool:
        run = Timeline(watch, {"out": Wave(rests_on, edges)}, worked={"press": worked}, rests_on={"out": rests_on})
        return all(verdict.passed for verdict in judge((claim,), run))

    try:
        kept((), False)
    except EarlySpan as error:
        raise UsageError(f'"{text}": a span would begin {-error.step} steps before time 0.') from None
    button = tuple(Stimulus(step, NOWHERE, "press", OWN) for step in worked)
    lever = tuple(Stimulus(step, NOWHERE, ("on", "off")[n % 2]) for n, step in enumerate(worked))
    meaning = f"worked at {', '.join(map(str, worked))} steps, {claim.text}"
    return Behaviour(text, meaning, button, lever, kept, watch)


def _check_chart(text: str, claim: Claim, lines: Sequence[HandLine], worked: Sequence[int]) -> None:
    wrong = [
        (claim.kind != "output", 'a further press is not tried here: claim something of "out"'),
        (any(line.act or line.moment.event for line in lines), 'the hand takes lines such as "2 s: press" here'),
        (any(isinstance(clause, Level) for clause in claim.clauses), "levels are not told apart here"),
        ("released" in claim.text, "triggers are let go at different times: count from press"),
        (
            any(late - soon < LONG_STEPS for soon, late in pairwise(worked)),
            f"presses lie {LONG_STEPS} steps apart here",
        ),
        (worked[0] != 0, "the first press is at 0"),
        (worked[-1] > MOST_HAND_STEPS, f"the last press is at {MOST_HAND_STEPS} steps at the latest"),
    ]
    for found, why in wrong:
        if found:
            raise UsageError(f'"{text}" is no behaviour that can be looked for: {why}.')


_WITH_DURATION: dict[str, Callable[[str, int], Behaviour]] = {
    "hold": _hold,
    "delay": _delay,
    "rising pulse": _pulse(_PRESSED, "press begins"),
    "falling pulse": _pulse(_RELEASED, "press ends"),
}
_PLAIN: dict[str, Callable[[str], Behaviour]] = {
    "inverter": _inverter,
    "latch": _latch,
    "toggle": _toggle,
    "holds": _holds,
}
