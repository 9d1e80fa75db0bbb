"""Presses: what pressing a trigger once means, and a trigger of any length."""

from __future__ import annotations

from dataclasses import replace
from typing import NamedTuple

from tickwright.errors import PlanError, UsageError, near
from tickwright.kinds import BUTTONS, CONTAINERS, PARTS, Part, a_kind, is_a
from tickwright.plan.cells import with_changes
from tickwright.plan.hand import Stimulus, default_act
from tickwright.plan.model import Plan
from tickwright.plan.setup import Setup
from tickwright.space import Cell
from tickwright.toml import read_toml


class Trigger(NamedTuple):
    """A named trigger and the length of one press of it in steps; None if it stays on, or its length is not its own."""

    name: str
    cell: Cell
    kind: str | None
    length_steps: int | None


def find_trigger(setup: Setup, name: str) -> Trigger:
    """The trigger of that name; a UsageError names the near ones, or says that the part takes no press."""
    plan = setup.plan
    if name not in plan.triggers:
        known = near(name, plan.triggers) if plan.triggers else " The plan names none: add one under [triggers]."
        raise UsageError(f'The plan has no trigger "{name}".{known}')
    cell = plan.triggers[name]
    part = plan.cells.get(cell)
    kind = part.kind if part else None
    if kind is not None and default_act(kind) is None:
        raise _at_trigger(
            plan,
            name,
            f'The trigger "{name}" is {a_kind(kind)}, which cannot be pressed: name a button, lever or plate.',
        )
    length = None
    if kind in BUTTONS and kind is not None:
        length = setup.rules.button_steps(kind)
    elif kind is not None and PARTS[kind].feels == "creatures":
        length = setup.rules.look_every(kind)
    return Trigger(name, cell, kind, length)


def _at_trigger(plan: Plan, name: str, message: str) -> PlanError:
    """The message as an error of the plan, with the file and the place that names the trigger, if it came from one."""
    if plan.source is None:
        return PlanError(message)
    found = read_toml(plan.source)[1].error(message, "triggers", name)
    return PlanError(message, found.line, found.column, plan.path)


def press_stimuli(trigger: Trigger, step: int) -> tuple[Stimulus, ...]:
    """One press as acts of the hand.

    A button is pressed, a lever flipped; a plate or container gets one item; a tread plate is stepped on and left at
    once.
    """
    verb = default_act(trigger.kind)
    stimuli = (Stimulus(step, trigger.cell, str(verb)),)
    return (*stimuli, Stimulus(step, trigger.cell, "leave")) if verb == "tread" else stimuli


def takes_length(trigger: Trigger) -> bool:
    """Whether a button can take the trigger's place: it is one, or a lever or plate."""
    return is_a(trigger.kind, "button", "plate", "lever")


def with_button(plan: Plan, trigger: Trigger) -> Plan:
    """The plan with a button in the trigger's place, fixed to the same cell."""
    if not takes_length(trigger):
        what = a_kind(trigger.kind) if trigger.kind in CONTAINERS else "an open cell"
        raise UsageError(f'The trigger "{trigger.name}" is {what}: it has no length. Name a button, lever or plate.')
    part = plan.cells[trigger.cell]
    facing = part.facing if PARTS[part.kind].support == "facing" else "down"
    return replace(plan, cells=with_changes(plan.cells, {trigger.cell: Part("short-button", facing)}))
