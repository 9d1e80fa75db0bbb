"""What outputs do when nothing is pressed: a clock that runs by itself, a lamp that comes on once and stays."""

from __future__ import annotations

from typing import Any, NamedTuple

from tickwright.measurement.measuring import hold_of, kind_of
from tickwright.measurement.observe import Observation, observe_unpressed
from tickwright.plan.setup import Setup


class ByItself(NamedTuple):
    """What an output does from the start of the world on, in steps from it, while nothing is pressed.

    `kind` as of a measurement. Of a clock `on_steps` and `off_steps` are the least and the greatest within a period,
    which begins anew every `period_steps`, when the whole circuit is as it was; of what ends, `on_steps` is from first
    on to last off twice. None for what there is not.
    """

    output: str
    kind: str
    first_on_step: int | None
    on_steps: tuple[int, int] | None
    off_steps: tuple[int, int] | None
    period_steps: int | None

    def as_data(self) -> dict[str, Any]:
        """The row as JSON shows it."""
        data = self._asdict()
        return {name: list(value) if isinstance(value, tuple) else value for name, value in data.items()}


def by_itself(setup: Setup) -> list[ByItself]:
    """What each output does while nothing is pressed, until the circuit rests or comes back to a state it was in.

    >>> from tickwright.plan import Setup, loads
    >>> from tickwright.rules import load_rules
    >>> plan = loads('''format = "tickwright plan 1"
    ... legend = {"#" = "block", p = "power-block", L = "lamp"}
    ... layer = [{rows = "#pL"}]
    ... outputs = {lamp = [2, 0, 0], block = [0, 0, 0]}''')
    >>> [(found.output, found.kind) for found in by_itself(Setup(plan, load_rules("standard")))]
    [('lamp', 'latched'), ('block', 'none')]
    """
    seen = observe_unpressed(setup)
    return [_answer(seen, output) for output in setup.plan.outputs]


def _answer(seen: Observation, output: str) -> ByItself:
    kind, train = kind_of(seen, output), seen.pulses(output)
    first = train[0].start if train else None
    hold = hold_of(train) if kind in ("one-shot", "train") else None
    if kind != "clock" or seen.returns_to is None:
        return ByItself(output, kind, first, (hold, hold) if hold is not None else None, None, None)
    begin, end = seen.returns_to
    period = end - begin
    edges = _edges(seen.changes[output], begin, end)
    # the part that comes back is a ring: after its last edge comes its first, a period later
    lengths = [
        (on, after - step)
        for (step, on), (after, _) in zip(edges, [*edges[1:], (edges[0][0] + period, False)], strict=True)
    ]
    ons, offs = ([length for here, length in lengths if here is on] for on in (True, False))
    return ByItself(output, kind, first, (min(ons), max(ons)), (min(offs), max(offs)), period)


def _edges(changes: list[tuple[int, int]], begin: int, end: int) -> list[tuple[int, bool]]:
    """The (step, on or off) at which the output goes on or off after `begin`, `end` included."""
    found: list[tuple[int, bool]] = []
    before = False
    for step, value in changes:
        on = value > 0
        if on is not before and begin < step <= end:
            found.append((step, on))
        before = on
    return found
