"""Dropped item: a stack on an item plate holds the output for the five minutes that it lasts, or until it is taken.

A lamp adds its four steps, and taps may add up to as much again, a tick at a time.
"""

from __future__ import annotations

from collections.abc import Iterator

from tickwright.design.families import direct, repeater_taps
from tickwright.design.recipes import Goal, Recipe

NAME = "dropped item"
TRIGGER = "item-plate"


def recipes(goal: Goal) -> Iterator[Recipe]:
    """The plate alone, or behind taps, where that meets the goal."""
    if goal.trigger == TRIGGER:
        for recipe in (*direct.recipes(goal), *repeater_taps.recipes(goal)):
            yield Recipe(NAME, recipe.settings, recipe.output, recipe.hold_steps, recipe.make)
