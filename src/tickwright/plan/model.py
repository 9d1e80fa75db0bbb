"""The Plan: cells and parts, named triggers and outputs, expectations. An immutable value."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Any, NamedTuple

from tickwright.arguments import checked_fields
from tickwright.kinds import Part
from tickwright.plan.building import Building
from tickwright.plan.cells import LARGE_PLAN, Cells, within_grid
from tickwright.space import Cell


@checked_fields
@dataclass(frozen=True, slots=True)
class Expectation:
    """What one press of `trigger` must do to `output`; the keys that are None are not asked for.

    `hold_steps`, `delay_steps` and `recovery_steps` may each differ by at most `within_steps`.
    """

    trigger: str
    output: str
    hold_steps: int | None = None
    delay_steps: int | None = None
    recovery_steps: int | None = None
    within_steps: int = 0
    pulses: int | None = None
    level_at_least: int | None = None
    never: bool = False
    settles_within_steps: int | None = None
    minimum_trigger_at_most_steps: int | None = None


@checked_fields
@dataclass(frozen=True, slots=True)
class Chart:
    """What a circuit must do over time, as the plan file says it; `tickwright.charts` reads the texts.

    `hand` holds lines MOMENT: WHO[:ACT], None if the file has none; `watch_steps` is how long the run is, None until
    all rests. `at_rest` says whether time 0 is the first step at rest, else it is step 0. `shows` holds the claims.
    """

    name: str
    shows: tuple[str, ...]
    hand: tuple[str, ...] | None = None
    watch_steps: int | None = None
    at_rest: bool = True


@dataclass(frozen=True, slots=True)
class Machine:
    """A state machine that charts name, as the plan file says it; the first of `states` is entered at time 0.

    Acts 1 to `deaf_steps` - 1 steps after a transition are lost; None if the file does not say.
    """

    name: str
    states: tuple[str, ...]
    transitions: tuple[str, ...]
    deaf_steps: int | None = None


class PlanPort(NamedTuple):
    """Where a net meets a module: its own `cell`, the `side` of it at which the net's wire lies, and `role` in or out.

    `also` are further sides that will do; an input's wire must have the level `need` there, an output's has `gives`.
    """

    cell: Cell
    side: str
    role: str
    also: tuple[str, ...] = ()
    need: int = 2
    gives: int = 15


class Use(NamedTuple):
    """A module laid in a plan: the file `plan` (or "tile:NAME"), its own cell (0, 0, 0) at `at`, `turn` in degrees.

    It is mirrored east to west, if `mirror`, before it is turned clockwise; `inside` is the plan that it lays.
    """

    plan: str
    at: Cell
    turn: int
    mirror: bool
    name: str
    inside: Plan


def _frozen(values: Mapping) -> Mapping:  # type: ignore[type-arg]
    return values if isinstance(values, MappingProxyType | Cells) else MappingProxyType(dict(values))


def _laid(cells: Mapping[Cell, Part]) -> Mapping[Cell, Part]:
    """The cells as a plan keeps them: many as codes, few as they are, which is quicker to ask."""
    if len(cells) < LARGE_PLAN or isinstance(cells, Cells) or not all(map(within_grid, cells)):
        return cells
    return Cells.of(cells)


def _reach(cells: Mapping[Cell, Part]) -> Iterable[Cell]:
    """Cells as far out as any of these along each axis."""
    if not isinstance(cells, Cells):
        return cells
    x, y, z = cells.far
    return ((x - 1, y - 1, z - 1),) if cells else ()


@dataclass(frozen=True, slots=True, eq=True)
class Plan(Building):
    """A circuit as laid: `cells` maps each cell that is not empty to its part.

    `rules` is the name of a rule set or the path of a rule set file; `size` is how many cells the grid has along x, y
    and z, empty margins and all named cells included; `path` is the file it came from. The outputs in `part_outputs`
    show 15 while something stands in their cell that is not on the move, else 0. Two plans are equal if all but their
    path and source text are. `cells`, `triggers`, `outputs` and `ports` hold what the modules of `uses` lay, too, names
    as MODULE.NAME; `nets` names the cells that a signal takes. Edits (`tickwright.plan.edits`) give new Plans, and so
    do the methods that build: `Plan.empty().place((0, 0, 0), "block")`.
    """

    cells: Mapping[Cell, Part]
    triggers: Mapping[str, Cell] = field(default_factory=dict)
    outputs: Mapping[str, Cell] = field(default_factory=dict)
    expectations: tuple[Expectation, ...] = ()
    title: str = ""
    rules: str = "standard"
    size: Cell = (0, 0, 0)
    part_outputs: frozenset[str] = frozenset()
    charts: tuple[Chart, ...] = ()
    machines: tuple[Machine, ...] = ()
    ports: Mapping[str, PlanPort] = field(default_factory=dict)
    nets: Mapping[str, tuple[Cell, ...]] = field(default_factory=dict)
    uses: tuple[Use, ...] = ()
    path: str | None = field(default=None, compare=False)
    source: str | None = field(default=None, compare=False, repr=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "cells", _laid(self.cells))
        for name in ("cells", "triggers", "outputs", "ports", "nets"):
            object.__setattr__(self, name, _frozen(getattr(self, name)))
        held = (*_reach(self.cells), *self.triggers.values(), *self.outputs.values())
        far = [max(along) + 1 for along in zip(*held, strict=True)] or [0, 0, 0]
        x, y, z = (max(pair) for pair in zip(self.size, far, strict=True))
        object.__setattr__(self, "size", (x, y, z) if x and y else (0, 0, z))

    def __reduce__(self) -> tuple[type[Plan], tuple[Any, ...]]:
        """How it is pickled: a frozen mapping cannot be."""
        values = (getattr(self, name) for name in self.__slots__)
        return (Plan, tuple(dict(value) if isinstance(value, MappingProxyType) else value for value in values))

    def bill(self) -> dict[str, int]:
        """How many parts of each kind it takes, most first, then by name."""
        cells = self.cells
        counts: Counter[str] = Counter()
        for part, number in (cells.counts() if isinstance(cells, Cells) else Counter(cells.values())).items():
            counts[part.kind] += number
        return dict(sorted(counts.items(), key=lambda item: (-item[1], item[0])))
