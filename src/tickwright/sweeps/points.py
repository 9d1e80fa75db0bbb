"""What a sweep is made of: points of its grid, and rows, which are points that are done."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from tickwright.kinds import Part
from tickwright.rules import RuleSet
from tickwright.space import Cell


@dataclass(frozen=True, slots=True)
class Point:
    """One point of a grid: a plan with some parts changed, under a rule set, and what is done to it.

    With `steps` it is a run of `acts` over so many steps; with `chart` the hand of that chart is played and its claims
    are judged; with neither, one press of `trigger`, which a button of `length_steps` replaces if given, is measured,
    with its minimum trigger if `minimum`. `settings` holds the changes as they were written, ("3,0,1:delay", "2").
    `key` is a digest of all that decides the result: the plan's parts and names, every value of the rule set, the
    changes that are changes, order and stimulus, and of a chart its lines and the plan's machines.
    """

    plan: str
    rules: str
    settings: tuple[tuple[str, str], ...]
    order: str
    trigger: str | None
    length_steps: int | None
    minimum: bool
    acts: tuple[str, ...]
    steps: int | None
    key: str
    text: str = field(repr=False)
    ruleset: RuleSet = field(repr=False)
    changes: tuple[tuple[Cell, Part], ...] = field(repr=False)
    chart: str | None = None


@dataclass(frozen=True, slots=True)
class Row:
    """A point that is done, as in `Point`, and what came of it.

    `results` is what `measure` gives as data, one entry for each output; of a run of acts it is empty, and `outputs`
    holds each output's changes, [step, value]. Of a `chart` both are empty, and `claims` holds its claims' verdicts as
    `check` gives them. `error` says why the rules refuse the point, or the chart cannot be judged there; then there is
    nothing else.
    """

    plan: str
    rules: str
    settings: dict[str, str]
    order: str
    trigger: str | None
    length_steps: int | None
    acts: list[str]
    steps: int | None
    results: list[dict[str, Any]] = field(default_factory=list)
    outputs: dict[str, list[list[int]]] = field(default_factory=dict)
    findings: list[dict[str, Any]] = field(default_factory=list)
    error: str | None = None
    chart: str | None = None
    claims: list[dict[str, Any]] = field(default_factory=list)

    def as_data(self) -> dict[str, Any]:
        """The row as JSON shows it."""
        return {name: getattr(self, name) for name in self.__slots__}
