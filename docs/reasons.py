"""The page why.md: how to ask why a circuit holds as long as it does, with the answers of runs."""

from __future__ import annotations

from itertools import groupby
from pathlib import Path

from tickwright import load, why

EXAMPLES = Path(__file__).resolve().parents[1] / "examples"

INTRODUCTION = """# Why it holds

`tickwright why PLAN` presses a trigger once, in the circuit at rest, and tells in sentences why each output holds as
long as it does. A *hold* is the time from the first step in which an output is on to the first in which it is off for
good. In the examples below *entry* is the wire in which the press enters a ring of parts. A ring is *charged* when its
level has come back to the entry before the press lets go. Other words are in the [glossary](glossary.md).

Nothing in it is a text written for a family of circuits. Each change in the run knows which change brought it about, so
the program walks back from the output's first and last edge to the press. What lies on both ways makes the pulse later,
not longer, and cancels out. The rest is the hold, told as a sum: only if it adds up.

| sentence | what it tells |
|---|---|
| what one press does | the hold and the delay |
| "takes all of the ... before it", "before it comes" | what the delay is made of |
| "feed one another in a ring" | parts that pass a level round and round; how long one turn takes |
| "a turn costs" | how many levels are lost in a turn, and where |
| "is left with" | what the start of the ring shows, turn by turn |
| "gives away", "takes in" | items that move one by one |
| "unlocks", "pushes", "locks it" | what else begins it, or keeps it |
| a sum | the hold, as the parts that it is made of |
| "the first half takes", "the last round takes" | what halves or rounds of a long sum are made of |
| "has been on since" | where one source of the output lets go while another is on, and the time to spare |
| "keep one another on", "is locked" | what makes an output stay on for good |
| "comes again every" | the period of a clock, and what one round is made of |
| "a press must last" | the minimum trigger, and what a press one step shorter does |
| "one tick more" | what another delay at a repeater would do: foretold from the causes, and tried in a run |

Every number can be derived again. `--json` says for each one what it is: the time between two changes, the level of a
cell at a step, and so on. The tests get each of them a second time, from a run of the other engine. What is hidden
within one step is not told.

`--trigger` and `--output` choose one of them. Times assume a world at its full 20 steps a second.
"""

SHOWN = (
    ("flat-loop-4", "A ring of comparators that loses two levels a turn."),
    ("stacked-loop-3", "A ring with one level less to lose: twice the turns."),
    ("taps", "A short way and a long one: the hold is the press and what the long way takes longer."),
    ("latch", "What is locked stays."),
    ("older-wire-fade", "A ring that loses nothing under this rule set."),
    ("drain-timer", "Items that go one by one."),
    ("torch-clock", "A ring that turns over once each round is a clock."),
)


def page() -> str:
    """The page, its answers from runs of the examples."""
    lines = [INTRODUCTION]
    for name, about in SHOWN:
        plan = load(EXAMPLES / f"{name}.toml")
        lines += [f"## {plan.title}", "", f"{about} `tickwright why examples/{name}.toml` says:", ""]
        for (trigger, output), told in groupby(why(plan).sentences, key=lambda one: (one.trigger, one.output)):
            lines += [f"**{trigger} → {output}**", "", *(f"- {sentence.text}" for sentence in told), ""]
    return "\n".join(lines)
