"""The table of families, smallest circuits first."""

from __future__ import annotations

from collections.abc import Iterator

from tickwright.design.families import (
    corner_loop,
    difference_fader,
    direct,
    drain_timer,
    dropped_item,
    flat_loop,
    hopper_counter,
    hopper_relay,
    hopper_timer,
    latch_line,
    pulse_shortener,
    repeater_taps,
    restarting_loop,
    shuttle,
    small_box,
    stacked_loop,
    torch_one_shot,
    wire_loop,
)
from tickwright.design.recipes import Goal, Recipe

__all__ = ["FAMILIES", "recipes"]

_MODULES = (
    dropped_item,  # before those that it is made of, so that an equal plan bears its name
    direct,
    small_box,
    pulse_shortener,
    repeater_taps,
    torch_one_shot,
    shuttle,
    drain_timer,
    wire_loop,
    flat_loop,
    stacked_loop,
    corner_loop,
    restarting_loop,
    difference_fader,
    latch_line,
    hopper_relay,
    hopper_timer,
    hopper_counter,
)
FAMILIES = {module.NAME: module for module in _MODULES}


def recipes(goal: Goal) -> Iterator[Recipe]:
    """What all families propose for the goal."""
    for module in _MODULES:
        yield from module.recipes(goal)
