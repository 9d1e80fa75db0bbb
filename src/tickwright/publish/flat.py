"""The one flat view of a plan that shows most: the layer or section with the most acting parts."""

from __future__ import annotations

from typing import TYPE_CHECKING

from tickwright.kinds import PARTS
from tickwright.plan.model import Plan
from tickwright.publish.canvas import Drawing
from tickwright.publish.drawing import layer_drawing, section_drawing
from tickwright.publish.tokens import Theme
from tickwright.rules import RuleSet

if TYPE_CHECKING:
    from tickwright.measurement import Measurement
    from tickwright.recording import Recording

LIT_SHARE = 0.25  # of the hold: how far into it the picture is taken


def flat_views(plan: Plan) -> list[tuple[str, int]]:
    """The layers ("z") and sections ("y", "x") of a plan, those with the most acting parts first.

    >>> from tickwright.kinds import parse_part
    >>> flat_views(Plan({(0, 0, 0): parse_part("block"), (0, 0, 1): parse_part("wire")}))[0]
    ('z', 1)
    """
    counts: dict[tuple[str, int], int] = {}
    for cell, part in plan.cells.items():
        acting = PARTS[part.kind].behaviour != "still"
        for axis, number in (("z", 2), ("y", 1), ("x", 0)):
            key = (axis, cell[number])
            counts[key] = counts.get(key, 0) + acting
    return sorted(counts, key=lambda key: (-counts[key], "zyx".index(key[0]), key[1]))


def flat_drawing(
    plan: Plan, rules: RuleSet, recording: Recording | None, step: int, theme: Theme = "light"
) -> tuple[Drawing, str]:
    """The flat view at a step of a run (None: as laid), without title or notes, and what it is called."""
    axis, at = next(iter(flat_views(plan)), ("z", 0))
    moment = recording.moment(step) if recording is not None else None
    if axis == "z":
        return layer_drawing(plan, rules, at, moment, theme, bare=True), f"from above, layer {at}"
    side = "south" if axis == "y" else "east"
    return section_drawing(plan, rules, axis, at, moment, theme, bare=True), f"section {axis} {at}, from the {side}"


def lit_step(recording: Recording, measured: Measurement) -> int:
    """A step of the run at which the measured output is on: some way into its hold."""
    at = (recording.pressed_at_step or 0) + (measured.delay_steps or 0) + int((measured.hold_steps or 0) * LIT_SHARE)
    return min(at, recording.trace.steps - 1)
