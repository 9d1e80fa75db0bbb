"""The figures of docs/items-and-pistons.md, each from a run made for it."""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path

from tickwright import load, run

EXAMPLES = Path(__file__).resolve().parents[1] / "examples"
PRESS = 60

# Example, trigger, output, steps to run.
HOLDS = (
    ("dropped-item", "item", "item-lamp", 7000),
    ("dropped-item", "counted", "counting-lamp", 7000),
    ("dropped-item", "over-tread", "tread-lamp", 7000),
    ("drain-timer", "release", "lamp", 1000),
    ("drain-timer", "release", "level", 1000),
    ("shuttle", "throw", "bell", 1000),
    ("barrier", "press", "barrier", 1000),
    ("hour-counter", "run", "lamp", 80_000),
)
CLOCKS = (("shuttle-clock", "throw", "bell", 1000), ("hopper-clock", "run", "back", 30_000))

TEXT = """\
# Items and pistons

Timers that run on matter hold for minutes and hours where a loop of comparators holds for seconds. What they hold
follows from a few numbers.

**Containers.** A hopper moves one item every 8 steps (0.4 s). So N items leave in 8 × (N − 1) steps, first to last:
32 items take 12.4 s, and 320, as many as a hopper holds, 127.6 s. A hopper that is powered stands still; it can
still be filled and emptied by others. A comparator behind a container shows 0 when it is empty and 1 + 14 × the
filled part otherwise, rounded down: a thin fill gives a low level, which a wire carries only a cell or two.

**Things that lie about.** What is dropped lasts 6000 steps (five minutes). An item plate or a counting plate feels
it until then, or until the look after somebody takes it (every 20 steps, a counting plate every 10); a tread plate
does not feel it.

**Pistons.** A piston starts in the step in which a part tells it of power, or in the next when a hand does, and
what it pushes or pulls is on its way for 2 steps: no wire hears it then. It pushes 12 cells at most, and no
container and no piston at work. A pull-piston brings back the cell before its arm, unless it is told to go back
before its push has landed: then it leaves the cell behind. What stands on a cell that moves breaks. A push or a
pull that cannot be, a cell left behind and a part that broke are findings of the run, with cells and steps.
"""


def page() -> str:
    """The page: the text, and the holds and periods of the examples."""
    lines = [TEXT, "## Holds, from runs", "", "One press; delay from the press, hold from first on to last off.", ""]
    lines += ["| example | trigger → output | delay | hold |", "|---|---|---|---|"]
    lines += [hold_row(*row) for row in HOLDS]
    lines += ["", "## Periods, from runs", "", "| example | output | on | off | period |", "|---|---|---|---|---|"]
    lines += [period_row(*row) for row in CLOCKS]
    return "\n".join(lines)


def changes(example: str, trigger: str, output: str, steps: int) -> list[tuple[int, int]]:
    """What an output shows from the press on, as (steps after the press, value)."""
    done = run(load(EXAMPLES / f"{example}.toml"), [f"{PRESS}:{trigger}"], steps=PRESS + steps)
    return [(step - PRESS, value) for step, value in done.trace.changes[output] if step >= PRESS]


def hold_row(example: str, trigger: str, output: str, steps: int) -> str:
    """One row of the table of holds."""
    found = changes(example, trigger, output, steps)
    delay, hold = "–", "never on"
    if found:
        if found[-1][1]:
            raise ValueError(f"{example}: {output} is still on after {steps} steps")
        delay, hold = shown(found[0][0]), shown(found[-1][0] - found[0][0])
    return f"| [{example}](../examples/{example}.toml) | {trigger} → {output} | {delay} | {hold} |"


def period_row(example: str, trigger: str, output: str, steps: int) -> str:
    """One row of the table of clocks; every turn of the run but the last is like the first."""
    found = changes(example, trigger, output, steps)
    ons = [step for step, value in found if value]
    offs = [step for step, value in found if not value and step > ons[0]]
    periods = {later - sooner for sooner, later in pairwise(ons)}
    if len(periods) != 1:
        raise ValueError(f"{example}: {output} has periods of {sorted(periods)} steps")
    on, period = offs[0] - ons[0], periods.pop()
    link = f"[{example}](../examples/{example}.toml)"
    return f"| {link} | {output} | {shown(on)} | {shown(period - on)} | {shown(period)} |"


def shown(steps: int) -> str:
    """Steps, and the same in seconds."""
    return f"{steps:,} {'step' if steps == 1 else 'steps'} ({steps / 20:,.10g} s)"
