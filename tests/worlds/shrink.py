"""Make a world on which two engines differ small, so that the reason can be seen."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import Any

from tickwright.kinds import parse_part
from tickwright.plan import Plan
from tickwright.space import zyx
from worlds.generator import World, without

Differs = Callable[[World], "int | None"]  # the first step in which the engines differ on it, or None


def shrunk(world: World, differs: Differs) -> World:
    """A smaller world on which they still differ: fewer steps, acts and parts, plainer parts.

    Each round leaves out what it can, the largest pieces first, until a round changes nothing.
    """
    while True:
        before = world
        world = _shorter(world, differs)
        world = _fewer_acts(world, differs)
        world = _fewer_parts(world, differs)
        world = _plainer_parts(world, differs)
        if world == before:
            return _cropped(world, differs)


def _shorter(world: World, differs: Differs) -> World:
    step = differs(world)
    if step is None or step + 1 >= world.steps:
        return world
    acts = tuple(act for act in world.acts if int(act.split(":")[0]) <= step)
    shorter = replace(world, steps=step + 1, acts=acts)
    return shorter if differs(shorter) is not None else world


def _left_out(items: Sequence[Any], still: Callable[[list[Any]], bool]) -> list[Any]:
    """As few of the items as `still` takes, leaving out ever smaller pieces."""
    kept = list(items)
    size = max(1, len(kept) // 2)
    while kept:
        start = 0
        while start < len(kept):
            rest = kept[:start] + kept[start + size :]
            if still(rest):
                kept = rest
            else:
                start += size
        if size == 1:
            break
        size //= 2
    return kept


def _fewer_acts(world: World, differs: Differs) -> World:
    acts = _left_out(world.acts, lambda rest: differs(replace(world, acts=tuple(rest))) is not None)
    return replace(world, acts=tuple(acts))


def _fewer_parts(world: World, differs: Differs) -> World:
    cells = sorted(world.plan.cells, key=zyx)

    def rest_of(kept: list[Any]) -> World:
        return without(world, set(cells) - set(kept))

    kept = _left_out(cells, lambda rest: bool(rest) and differs(rest_of(rest)) is not None)
    return rest_of(kept)


def _plainer_parts(world: World, differs: Differs) -> World:
    """Blocks in place of other parts, and repeaters of one tick, wherever they do as well."""
    for cell in sorted(world.plan.cells, key=zyx):
        part = world.plan.cells[cell]
        for plain in (parse_part("block"), part._replace(delay=1), part._replace(items=min(part.items, 1))):
            if plain == part:
                continue
            changed = replace(world, plan=Plan({**world.plan.cells, cell: plain}, title=world.plan.title))
            if differs(changed) is not None:
                world = changed
                break
    return world


def _cropped(world: World, differs: Differs) -> World:
    """Moved to the origin, acts and all."""
    low = [min(cell[axis] for cell in world.plan.cells) for axis in range(3)]

    def moved(numbers: Sequence[int]) -> tuple[int, ...]:
        return tuple(number - least for number, least in zip(numbers, low, strict=True))

    acts = []
    for act in world.acts:
        step, who, *verb = act.split(":", 2)
        if who in world.plan.triggers:
            return world
        acts.append(":".join([step, ",".join(map(str, moved([int(number) for number in who.split(",")]))), *verb]))
    cells = {moved(cell): part for cell, part in world.plan.cells.items()}
    cropped = replace(world, plan=Plan(cells, title=world.plan.title), acts=tuple(acts))  # type: ignore[arg-type]
    return cropped if differs(cropped) is not None else world
