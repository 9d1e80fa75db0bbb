"""Recipes: what a family proposes for a goal, with the hold that its naive model gives; and the table of families."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace

from tickwright.plan import Plan

__all__ = ["LAMP_STEPS", "OUTPUTS", "Goal", "OpenRecipe", "Recipe", "as_is"]

LAMP_STEPS = 4
OUTPUTS = ("lamp", "line", "full")


@dataclass(frozen=True, slots=True)
class Goal:
    """What a family is asked for: a hold from `least_steps` to `most_steps`, best near `hold_steps`.

    `trigger` is the part that is pressed, for `trigger_steps` (None: it stays on). `outputs` are those that will do:
    "lamp"; "line", a wire that shows level 1 or more; "full", a wire that shows 15. `answer` is what a second press
    during the hold must do ("any", "ignored", "extends" or "restarts"): families that can be made to do so are.
    """

    hold_steps: int
    least_steps: int
    most_steps: int
    trigger: str
    trigger_steps: int | None
    outputs: tuple[str, ...]
    answer: str = "any"

    def pulses(self, base_steps: int, least_steps: int) -> Iterator[int]:
        """Lengths of a pulse that bring `base_steps` to the goal: the exact one, even ones beside, the press."""
        wanted = max(self.hold_steps - base_steps, least_steps)
        for steps in dict.fromkeys((wanted, wanted + wanted % 2, wanted - wanted % 2, self.trigger_steps)):
            if steps is not None and steps >= max(least_steps, 1) and self.meets(base_steps + steps):
                yield steps

    def only(self, outputs: tuple[str, ...]) -> Goal:
        """The goal with those outputs alone, if they will do."""
        return replace(self, outputs=tuple(output for output in self.outputs if output in outputs))

    def meets(self, hold_steps: int) -> bool:
        """Whether a hold will do."""
        return self.least_steps <= hold_steps <= self.most_steps


@dataclass(frozen=True, slots=True)
class Recipe:
    """One plan that a family proposes: `hold_steps` is what its naive model says, `make` lays the plan.

    `sort` tells apart what a family makes in ways that no size shows, such as how soon it recovers.
    """

    family: str
    settings: Mapping[str, int | str]
    output: str
    hold_steps: int
    make: Callable[[], Plan]
    sort: str = ""


@dataclass(frozen=True, slots=True)
class OpenRecipe:
    """As a recipe, of a timer without its front: `make` takes the name of what reads whether it is busy."""

    family: str
    settings: Mapping[str, int | str]
    output: str
    hold_steps: int
    make: Callable[[str], Plan]


def as_is(plan: Plan) -> Plan:
    """The plan itself: what `make` of a recipe calls where the plan is there already."""
    return plan
