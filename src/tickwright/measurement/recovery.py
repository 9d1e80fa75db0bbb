"""Recovery: how soon after the output has gone off another press does all that the first one did."""

from __future__ import annotations

from tickwright.measurement.measuring import hold_of, kind_of
from tickwright.measurement.observe import FirstPress, Observation, Runs, observe
from tickwright.measurement.press import Trigger
from tickwright.plan.setup import Setup

MOST_SCANNED_STEPS = 2_000


def recovery_steps(
    setup: Setup,
    trigger: Trigger,
    output: str,
    alone: Observation | None = None,
    runs: Runs | None = None,
) -> int | None:
    """The least R such that a press R or more steps after the output's last off has the delay and hold of the first.

    0 or more. From the step in which the whole circuit is at rest all later presses are alike, so presses are tried
    from there back to the last off, at most 2,000 steps back. None if the first press gives no single pulse that ends,
    or the circuit does not come to rest. `alone` is the observation of the first press alone, if it is at hand; `runs`
    as for `observe`.
    """
    runs = runs or Runs()
    alone = alone or observe(setup, trigger, runs=runs)
    found = alone.pulses(output)
    hold = hold_of(found)
    if kind_of(alone, output) != "one-shot" or hold is None or alone.rest_steps is None:
        return None
    delay, off = found[0].start, found[0].start + hold
    first = max(off, alone.rest_steps + 1 - MOST_SCANNED_STEPS)
    least = alone.rest_steps + 1
    press = FirstPress(setup, trigger, runs)
    press.advance(first)
    for offset in range(alone.rest_steps, first - 1, -1):
        seen = press.again(offset)
        after = [pulse for pulse in seen.pulses(output) if pulse.start >= off]
        if [(pulse.start - offset, pulse.duration) for pulse in after] != [(delay, hold)]:
            break
        least = offset
    return max(least - off, 0)
