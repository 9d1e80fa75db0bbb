"""The pages docs/choosing.md and docs/smallest-designs.md, their figures and plans from runs made for them."""

from __future__ import annotations

from tickwright import Design, Wish, choose, load_rules
from tickwright.design import Room, in_room, settings_words, table_text
from tickwright.design.catalogue import FAMILIES, recipes
from tickwright.design.choosing import goal_of
from tickwright.design.families import clocks, hopper_clock
from tickwright.design.judging import candidate_of
from tickwright.design.trials import Trials
from tickwright.durations import time_text
from tickwright.plan import crop, dumps

HOUR = 3600 * 20
LAST_ODD_STEPS = 2_699
ROOM = Room((9, 5, 4), frozenset({(2, 0, 1), (3, 2, 1)}))

TEXT = """\
# Choosing a design

Which circuit holds the gangway lamp for twelve seconds, in the room there is, with the parts at hand?

```
tickwright choose --hold "12 s" --room 9x5x4 --blocked 2,0,1 --blocked 3,2,1 --save plans
```

A *family* is a way of making circuits of one sort, such as loops of comparators. A formula, its *naive model*, says
which plans of the family should have the hold. Plans that are worth it are run on the reference engine, and every
figure that you see comes from such a run. You see the designs that no other beats, best first: by error, then by parts.
One design beats another if it is no worse in error, parts, price, volume, footprint, height and recovery, and better in
one of them. `--save` writes the plans, each with one trigger `press`, one output `lamp` or `line`, and the expectations
that `tickwright check` tests.

- **Trigger**: a kind of part, or the length of a press (`--trigger "7 ticks"`: the plan then has a lever there, for
  whatever gives that press). A lever stays on; where the circuit needs a short press, the plan makes one of it first.
- **Output**: a `lamp`, or a `line`, a wire; `--level` and `--distance` say which level is needed behind how many more
  cells of wire. A lamp stays on 4 steps longer than its power, so its hold is 6 steps at least.
- **Room**: a box with blocked cells, or `--floor PLAN`, a plan file whose parts are the blocked cells, and whose first
  trigger and output say where those of the design must be; `--in` and `--out` name sides or cells. Designs are tried in
  all rotations and mirror images. Where none fits, loops are folded anew for the room, and wires are laid to the sides.
- **Parts**: `--have "comparator 4, repeater 10"` says how many of some kinds you have; other kinds are not limited;
  `--only` and `--without` name kinds; `--prices` is a price table as for `tickwright bill`.
- **Time**: `--delay` is the exact delay; where no design has it by itself, repeaters are added behind one.
  `--delay-at-most` and `--recovery-at-most` are limits. With `--inverted` the output is on at rest, off for the hold.
- **A second press**: `--second-press extends` (retriggerable), `ignored` (non-retriggerable: hopper timers and
  counters behind a guard, say) or `restarts` (the output goes out within half a second, and all begins anew). It is
  tried at every step of the hold, or, where that is long, at as many as are told; `restarts` from a tick after it is
  on. What restarts is made of any loop that a press makes longer: the press itself shuts a comparator behind it, so
  the output comes on when a button lets go, 1.2 s after it was pressed. On 2026-12-01 18 holds from 0.5 to 25 s were
  wished for, and all were met. Where a hopper timer with its guard (8x6x3) or a counter with its guard (12x12x3) does
  not lie in the room, the guard is laid apart from it and wires are laid between them. On 2026-12-01 that was so for
  12 s and 61 s in 7x6x3, 9x5x3, 6x6x4 and 6x5x5 cells, for 5 min in 12x10x3 and 20 min in 13x10x3 and 10x12x3, in 2 to
  28 s of the processor; in 7x5x4, 8x4x4 and 12x4x3 there was none.
- **Further outputs**: `--also "bell line: on from press + 2 s for 1 s"`, as often as there are outputs: a name, what it
  drives (a lamp if that is left out), and a claim as in [charts](charts.md). It may speak of `press` and of the other
  outputs; that of the hold is called `lamp`, or `line` where a wire is asked for. Such a plan is
  [composed](compose.md): it is larger, and comes on 0.3 s after the press at the soonest.
- **Clocks**: `--period "2 s" --duty 25%`, or `--hold` for the time on in each period; a lever lets the clock run.
- **Other wishes**: `--pitch y=3` for copies side by side, `--rules` for every rule set that it must
  hold under, `--mash-proof`, `--prove`.

**Minimum trigger** is what `tickwright measure` says of the saved plan: the shortest press from which on every longer
one gives one pulse that lasts as long, or longer by just as much as the press is. **Recovery** is exact, or, where it
says *at most*, the one press that was tried: at rest. After presses that stir more than 1,500 steps it is not tried.

Below the designs you read in what the first is better than each other one, and in what it is worse.

The tests check with samples of every family that they do the same when turned, when mirrored, and in every order in
which parts may be told of a change.

If nothing meets the wish, the command says which single wish to relax and by how much, or, if one is not enough, the
smallest set of wishes to relax together; the exit code is 1. Each such advice was tried: the relaxed wish was run. If
no design has exactly the hold, it shows the nearest and says why.

In Python: `choose(Wish(hold_steps=240, room=Room((9, 5, 4))))`, with `choose` and `Wish` from `tickwright` and `Room`
from `tickwright.design`.

## How it was judged

`python dev.py advice` draws 200 wishes with rooms, second presses, parts on hand, delays, inverted outputs, further
outputs, rule sets and clocks. What meets one is saved, held by `tickwright check`, and run again: hold, delay, rest,
room, parts and second presses must be as wished. All advice is followed as typed. On 2026-12-01 all 200 were judged,
on versions of the same day: 72 were met, of two the nearest was told with the reason, and 124 were told impossible,
with 215 pieces of advice in all, each true when followed. Two, a duty of 0.8 of a period of 16 steps, were refused,
since that is no whole number of steps; the two duties that the refusal names were answered. None was false. Two of the
first 124 had to be asked again: one (`restarts` with an exact delay in a low room) had no answer in 15 minutes, until
a search let all wishes go at once after 40 s of the processor; at the other the judge pressed a plate that was still
on. An answer took 3.2 s of the processor in the median, and 83 s at most.

`python dev.py rooms` draws rooms with blocked cells, corners cut off and, at times, sides to enter and leave by, with
a hold of 2 to 10 s, until loops were folded into 30 of them. On 2026-11-30 that took 83 rooms: a loop from the shelf
lay in 29, one was laid anew for its room, a family's own layout lay in 24, and nothing held so long in 29. All 30
showed exactly that hold on both engines, in free cells alone, and were proved never to stick on. The draw was eased
before that run: it had named a side for two in three of the ways in and out, and names one for a quarter of them now;
holds went up to 12 s, and go up to 10 s now.

Of the 101 holds from 2 to 12 s, a tick apart, all lie on the shelf of folded loops, in boxes of at most 48 cells.
In one room alone fewer are met: on 2026-12-01 77 in 4x3x3 cells, 82 in 4x4x3, and 55 in 5x5x3 less a corner of 3x3x3;
the others were told impossible there, after 4 to 7 s of the processor.
"""
SMALLEST = """\
# The smallest designs

For each hold from 1 tick to 10 minutes, and each of three triggers, the design of fewest parts, and of those the one
that spans the fewest cells, as made by

```
tickwright choose --table
```

A row is a range of holds, a tick apart, for which the smallest design is of one family; its parts and cells are the
least and the most in that range. Every hold of every row was run on the fast engine for this page: pressed once, the
design gave one pulse of exactly that hold, and came to rest again. Where a run shows another hold than the family's
naive model says, the next larger plan is tried, and so on; how often that happened is said above each table. Items
in hoppers do not count as parts.

On two cores (AMD EPYC, Python 3.11.7) that did nothing else the command took 61 s, timed once on 2026-11-25;
`python dev.py bench choose` times it on yours. Ctrl-C prints what was found until then.
"""


def page() -> str:
    """The page about choosing: what it does, what it finds for some wishes, and the families."""
    lines = [TEXT]
    lines += section("A single tick", Wish(2))
    lines += section("Five seconds and a bit: flat beside stacked", Wish(108))
    lines.append("\nThe stacked loop of three holds as long as the flat loop of six, for less; the flat one is lower.")
    lines += section("Twelve seconds in a room with two blocked cells", Wish(240, room=ROOM))
    lines += drawn(choose(Wish(240, room=ROOM)).designs[0])
    lines += section("Half a minute, whatever is pressed meanwhile", Wish(600, answer="ignored"))
    lines += section("Two hours", Wish(2 * HOUR))
    lines += section("Two hours, from a lever", Wish(2 * HOUR, trigger="lever"))
    lines += section("An odd number of steps", Wish(37))
    lines += ["", odd_holds()]
    lines += ["", "## The families", ""]
    for name, module in FAMILIES.items():
        text = " ".join((module.__doc__ or "").split()).partition(": ")[2]
        lines += [f"**{name[0].upper()}{name[1:]}.** {text[0].upper()}{text[1:]}", ""]
    lines += [
        "Clocks never end and so are no answer to a wish for a hold; `tickwright.design.families` makes them.",
        "",
    ]
    for module in (clocks, hopper_clock):
        name, _, text = " ".join((module.__doc__ or "").split()).partition(": ")
        lines += [f"**{name}.** {text[0].upper()}{text[1:]}", ""]
    return "\n".join(lines)


def odd_holds() -> str:
    """Which odd holds are met: the smallest design of each, run."""
    smallest = {}
    for hold in range(1, LAST_ODD_STEPS + 1, 2):
        laid = [candidate_of(recipe, Wish(hold)) for recipe in recipes(goal_of(Wish(hold), load_rules()))]
        if laid:
            smallest[hold] = min(laid, key=lambda one: one.sizes).plan
    held = Trials(load_rules()).holds(list(smallest.values()), 3 * LAST_ODD_STEPS)
    met = [hold for hold, seen in zip(smallest, held, strict=True) if hold == seen]
    lost = [str(hold) for hold in range(met[0], met[-1], 2) if hold not in met]
    besides = f", but for {', '.join(lost)}" if lost else ""
    return (
        f"Of each odd hold up to {LAST_ODD_STEPS:,} steps the smallest design was run on the fast engine here: "
        f"{met[0]} to {met[-1]:,} steps are met to the step{besides}; of the others, the nearest are a step off."
    )


def section(title: str, wish: Wish) -> list[str]:
    """What is found for a wish, as a table."""
    chosen = choose(wish)
    lines = ["", f"## {title}", ""]
    lines += [chosen.reason, ""] if chosen.reason else []
    lines += ["| family | settings | hold | error | delay | minimum trigger | recovery | parts | box |"]
    lines += ["|---" * 9 + "|", *(row(design) for design in chosen.designs)]
    return lines


def row(design: Design) -> str:
    """A design as a row of a table."""
    recovery = shown(design.recovery_steps)
    settings = ", ".join(settings_words(design.settings))
    facts = [
        design.family,
        f"{settings}; output: {design.output}",
        shown(design.hold_steps),
        f"{design.error_steps:+} steps" if design.error_steps else "0",
        shown(design.delay_steps),
        shown(design.minimum_trigger_steps),
        recovery if design.recovery_exact or recovery == "–" else f"at most {recovery}",
        str(design.parts),
        " x ".join(map(str, design.box)),
    ]
    return f"| {' | '.join(facts)} |"


def shown(steps: int | None) -> str:
    """Steps in seconds and ticks."""
    return "–" if steps is None else time_text(steps)


def drawn(design: Design) -> list[str]:
    """The first design's plan file as it lies in the room."""
    plan = crop(in_room(design.plan, ROOM, design.fit))
    return [
        "",
        "The first of them as saved, turned as it lies in its room:",
        "",
        "```toml",
        dumps(plan).rstrip(),
        "```",
    ]


def smallest_page() -> str:
    """The page with the table of the smallest designs."""
    return f"{SMALLEST}\n{table_text()}"
