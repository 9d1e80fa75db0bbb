"""Hopper relay: a hopper that is empty at rest passes items on, 7 steps after it has got one, so that the hold is odd.

A *pair*: while the press holds its lock off, the first hopper gives the second an item every 4 ticks, and gets it back.
The output reads the second. A *ring* of four: what the second has in it keeps the lock of the first off, and the
fourth, locked until then, gives all items back. Each item adds 4 ticks. A press during the hold of a ring changes
nothing, but for its last moments. Odd holds from 7 steps (0.35 s; a lamp's from 11) to 2,575 (128.75 s) are made so.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial

from tickwright.design.families.direct import named
from tickwright.design.pulse_formers import ENTRY, PulseFormer, former_for, lay_former
from tickwright.design.recipes import LAMP_STEPS, Goal, Recipe
from tickwright.design.sketch import Sketch
from tickwright.plan import Plan
from tickwright.space import Cell

NAME = "hopper relay"
ITEM_STEPS = 8
PASSED_STEPS = 7  # from the last item that comes to the empty hopper until it is empty again
GATE_STEPS = 4  # its torch, and the comparator
MOST_ITEMS = 320  # five slots of 64
MOST_TAPS_TICKS = 3  # more are another item
DELAYS_TICKS = (1, 2, 3, 4)
LEAST_HOLD_STEPS, MOST_HOLD_STEPS = 7, 2575  # of a pair at a line, and of a ring with a lamp
MARGIN_STEPS = 2  # a press ends so much after the gate has come round


def pair_steps(passed: int, taps_ticks: int, output: str) -> int:
    """The naive model of a pair: the items but one, what the last one takes, and the taps."""
    return ITEM_STEPS * (passed - 1) + PASSED_STEPS + 2 * taps_ticks + LAMP_STEPS * (output == "lamp")


def ring_steps(items: int, delay_ticks: int, output: str) -> int:
    """The naive model of a ring: the same, and torch, comparator and repeater of the gate."""
    return ITEM_STEPS * (items - 1) + PASSED_STEPS + GATE_STEPS + 2 * delay_ticks + LAMP_STEPS * (output == "lamp")


def make_pair(taps_ticks: int, former: PulseFormer, trigger: str, output: str) -> Plan:
    """A pair behind a front; its output, or with taps what joins it with a later copy of itself."""
    sketch = Sketch()
    x, y, z = ENTRY
    sketch.put(ENTRY, "block")
    sketch.put((x + 1, y, z), "torch on=west")
    sketch.put((x + 2, y, z), "hopper into=south items=2")
    sketch.put((x + 2, y + 1, z), "hopper into=north")
    sketch.put((x + 3, y + 1, z), "comparator east")
    end: Cell = (x + 4, y + 1, z)
    if taps_ticks or output == "full":
        sketch.put(end, "block")
        sketch.put((x + 5, y + 1, z), "repeater east")
        end = (x + 6, y + 1, z)
    if taps_ticks:
        sketch.put((x + 4, y + 2, z), f"repeater south delay={taps_ticks + 1}")
        sketch.fill([(x + 4, y + 3, z), (x + 5, y + 3, z), (x + 6, y + 3, z), (x + 6, y + 2, z)], "wire")
    sketch.put(end, "lamp" if output == "lamp" else "wire")
    press = lay_former(sketch, former, trigger, into_block=True)
    return sketch.plan("Hopper relay, pair", press, {named(output): end})


def make_ring(items: int, delay_ticks: int, former: PulseFormer, trigger: str, output: str) -> Plan:
    """A ring behind a front: the gate in the entry, beside the fourth hopper; its torch locks the first.

    What the second has in it, one item, is a level of 1: a repeater hears it beside the block behind the comparator.
    """
    sketch = Sketch()
    x, y, z = ENTRY
    sketch.put(ENTRY, "lamp" if output == "lamp" else "block")
    sketch.put((x + 2, y, z), f"hopper into=north items={items}")
    sketch.put((x + 2, y - 1, z), "hopper into=west")
    sketch.put((x + 1, y - 1, z), "hopper into=south")
    sketch.put((x + 1, y, z), "hopper into=east")
    sketch.put((x, y + 1, z), "torch on=north")
    sketch.put((x + 1, y + 1, z), "wire")
    sketch.put((x + 2, y + 1, z), "block")
    sketch.put((x + 2, y - 2, z), "comparator north")
    sketch.put((x + 2, y - 3, z), "block")
    sketch.put((x + 1, y - 3, z), f"repeater west delay={delay_ticks}")
    sketch.fill([(x, y - 3, z), (x, y - 2, z), (x, y - 1, z)], "wire")
    end = ENTRY if output == "lamp" else (x, y - 1, z)
    if output == "full":
        end = (x - 2, y - 2, z)
        sketch.put((x - 1, y - 2, z), "repeater west")
        sketch.put(end, "wire")
    press = lay_former(sketch, former, trigger, into_block=True)
    return sketch.plan(f"Hopper relay, ring of {items} items", press, {named(output): end}, floor="insulator")


def recipes(goal: Goal) -> Iterator[Recipe]:
    """Pairs and rings that meet the goal."""
    yield from _pairs(goal)
    yield from _rings(goal)


def _pairs(goal: Goal) -> Iterator[Recipe]:
    for output in goal.outputs:
        for taps in range(MOST_TAPS_TICKS + 1):
            passed = round((goal.hold_steps - pair_steps(0, taps, output)) / ITEM_STEPS)
            hold = pair_steps(passed, taps, output)
            if passed < 1 + (taps == MOST_TAPS_TICKS) or not goal.meets(hold):  # its repeater would stretch one item
                continue
            least, most = max(ITEM_STEPS * (passed - 1) + 2, 4), ITEM_STEPS * passed
            press = goal.trigger_steps
            former = former_for(press, press if press is not None and least <= press <= most else least)
            if former is not None and former.shape != "taps":
                copy = {"copy ticks": taps} if taps else {}
                settings = {"items passed": passed, **copy, **former.settings()}
                making = partial(make_pair, taps, former, goal.trigger, output)
                yield Recipe(NAME, settings, output, hold, making, sort="pair")


def _rings(goal: Goal) -> Iterator[Recipe]:
    for output in goal.outputs:
        for delay in DELAYS_TICKS:
            items = round((goal.hold_steps - ring_steps(0, delay, output)) / ITEM_STEPS)
            hold = ring_steps(items, delay, output)
            former = _ring_former(
                goal.trigger_steps, GATE_STEPS + 2 * delay + MARGIN_STEPS, ring_steps(items, delay, "line")
            )
            least = 1 + (delay == DELAYS_TICKS[-1])  # its repeater would stretch one item
            if least <= items <= MOST_ITEMS and goal.meets(hold) and former is not None:
                settings = {"items": items, "delay ticks": delay, **former.settings()}
                making = partial(make_ring, items, delay, former, goal.trigger, output)
                yield Recipe(NAME, settings, output, hold, making, sort="ring")


def _ring_former(trigger_steps: int | None, least_steps: int, open_steps: int) -> PulseFormer | None:
    """The front for a gate that is on for so many steps: the press as it is if it is long enough but not too long."""
    if trigger_steps is not None and least_steps <= trigger_steps < open_steps:
        return former_for(trigger_steps, trigger_steps)
    return former_for(trigger_steps, least_steps) if least_steps < open_steps else None
