"""The page docs/sweeps.md, its figures from a sweep made for it."""

from __future__ import annotations

import tempfile
from pathlib import Path

from tickwright import grid, load, sweep
from tickwright.sweeps import Row

EXAMPLE = Path(__file__).resolve().parents[1] / "examples" / "taps.toml"
STRAIGHT, ROUND = "2,0,1:delay", "2,2,1:delay"
DELAYS = "1..4"
LENGTHS = "6 ticks..10 ticks/4 ticks"

TEXT = f"""\
# Sweeps: many runs as one job

How does the hold change with a delay, a number of items, the length of the press, the rule set? `tickwright sweep`
measures every combination, on all cores, and keeps each result in a file as soon as it is there. Take the bell
at the barrier of the ferry landing (`examples/taps.toml`). A press reaches it on two ways, called *taps*: straight
ahead through one repeater, and on a detour through three. Set the first repeater of each way to every delay: how long
is the wire on at which both ways join, after a press of 6 ticks and after one of 10?

```
tickwright sweep examples/taps.toml --into bell.sqlite \\
  --set "{STRAIGHT}={DELAYS}" --set "{ROUND}={DELAYS}" --length "{LENGTHS}"
```

The hold of the joined wire, from that sweep; more than one pulse in brackets:
"""

MORE = """

## What can vary

| what | how | such as |
|---|---|---|
| the plan | name several files | `examples/flat-loop-*.toml` |
| the rule set | `--rules`, repeated | `--rules standard --rules older-wire` |
| an argument of a part, by its cell or name | `--set WHERE:NAME=VALUES`, repeated | `--set 3,0,1:delay=1..4` |
| the length of the trigger | `--length` | `--length "10 ticks..30 ticks"`, `--length "1 s..2 s/5 ticks"` |
| the trigger | `--trigger`, repeated; each in turn if not given | `--trigger press` |
| the order of telling | `--order`, repeated | `--order canonical --order reversed` |
| the steps of acts | `--do` and `--for` | `--do 0:press --do 20..60/2:press --for "10 s"` |
| (what is asked) a chart of the plan | `--chart` | `--chart "one press"` |

A name is that of a trigger or an output. Values are numbers and ranges of them, `items=32..320/32,1`, or words,
`mode=threshold,difference`. A range has both its ends. What follows a `/` is its stride; without one numbers go by 1,
lengths by ticks if both ends are in ticks, else by steps. With `--do` each point is a run, and its result is what the
outputs show; with `--chart NAME` the hand of that [chart](charts.md) is played at each point, and a column for each
claim says whether it is kept; else each is what `measure` says of one press. `--minimum` adds the minimum trigger,
for which every length is played.

`--dry-run` only says how many points there are and how many are left.

## What is kept, and going on

The file after `--into` is a SQLite database with one row for each point in the table `points`; it is written by the
process that began the sweep and by no other, a few points at a time. The key of a row is a digest of what decides its
result: the parts and names of the plan, every value of the rule set, what was set, and the stimulus. So a point is done
once, whatever becomes of the sweep: after Ctrl-C, a crash or a lost worker the same command does what is left, a larger
grid only what is new in it, and a change of a comment in the plan nothing. A point that the rules refuse (a button
fixed to nothing, say) is a row with its error.

`--json` and `--csv` give the rows of the grid when it is done; `tickwright sweep --into bell.sqlite --csv`, without a
plan, gives all that the file holds. In Python, `tickwright.grid` makes the points and `tickwright.sweep` does them.

## More than one machine

`--cluster ADDRESS` hands the points to the workers of a dask.distributed scheduler:

```
pip install ".[cluster]"               # on every machine
dask scheduler                         # on one; it prints its address
dask worker tcp://ADDRESS:8786         # on the others
tickwright sweep ... --cluster tcp://ADDRESS:8786
```

Workers may come and go. The points of one that is lost go to another.
"""


def page() -> str:
    """The page: the text, and the table of the example's sweep."""
    points = grid(
        {EXAMPLE.stem: load(EXAMPLE)}, settings=[f"{STRAIGHT}={DELAYS}", f"{ROUND}={DELAYS}"], lengths=[LENGTHS]
    )
    with tempfile.TemporaryDirectory() as folder:
        rows = sweep(points, Path(folder) / "bell.sqlite", workers=1)
    delays = list(dict.fromkeys(row.settings[ROUND] for row in rows))
    lines = [TEXT, f"| press | straight ahead, in ticks | {' | '.join(f'detour {delay}' for delay in delays)} |"]
    lines.append("|---" * (len(delays) + 2) + "|")
    for length in dict.fromkeys(row.length_steps for row in rows):
        for straight in dict.fromkeys(row.settings[STRAIGHT] for row in rows):
            here = [row for row in rows if (row.length_steps, row.settings[STRAIGHT]) == (length, straight)]
            lines.append(f"| {(length or 0) // 2} ticks | {straight} | {' | '.join(map(hold, here))} |")
    return "\n".join(lines) + MORE


def hold(row: Row) -> str:
    """The hold of the joined wire in ticks, with its pulses if there are several."""
    found = next(result for result in row.results if result["output"] == "joined")
    pulses = len(found["pulses"])
    return f"{found['hold_steps'] / 2:g}" + (f" ({pulses})" if pulses > 1 else "")
