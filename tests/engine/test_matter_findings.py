"""What goes wrong with matter is said with its cells and steps; and waiting for it costs nothing."""

from __future__ import annotations

from pathlib import Path

import pytest

from tickwright.engine.reference import Simulation
from tickwright.plan import load
from tickwright.plan.hand import parse_script
from tickwright.plan.setup import Setup
from tickwright.rules import load_rules
from watching import watch, world

PISTON, NEXT = (0, 0, 1), (1, 0, 1)
LEVER = {(0, 1, 0): "insulator", (0, 1, 1): "lever"}
ON, OFF = "5:0,1,1:on", "20:0,1,1:off"
SHORT = ["5:0,1,1:on", "6:0,1,1:off"]


@pytest.mark.parametrize(
    ("parts", "acts", "expected"),
    [
        pytest.param(
            {PISTON: "piston east", NEXT: "block", (2, 0, 1): "crate items=0"},
            [ON],
            [
                (
                    "piston-blocked",
                    "warning",
                    "The piston at (0, 0, 1) cannot extend: the crate at (2, 0, 1) cannot be pushed.",
                    (PISTON, (2, 0, 1)),
                    (6,),
                )
            ],
            id="pushes the unpushable",
        ),
        pytest.param(
            {PISTON: "pull-piston east", (2, 0, 1): "hopper"},
            [ON, OFF],
            [
                (
                    "piston-cannot-pull",
                    "warning",
                    "The pull-piston at (0, 0, 1) cannot pull the hopper at (2, 0, 1).",
                    (PISTON, (2, 0, 1)),
                    (21,),
                )
            ],
            id="pulls at a container",
        ),
        pytest.param(
            {PISTON: "piston east", NEXT: "block", (1, 0, 2): "wire", (2, 0, 1): "block", (2, 0, 2): "repeater east"},
            [ON],
            [
                (
                    "part-broke",
                    "error",
                    "The wire at (1, 0, 2) broke: it lost the cell that it stands on at (1, 0, 1).",
                    ((1, 0, 2),),
                    (6,),
                ),
                (
                    "part-broke",
                    "error",
                    "The repeater at (2, 0, 2) broke: it lost the cell that it stands on at (2, 0, 1).",
                    ((2, 0, 2),),
                    (6,),
                ),
            ],
            id="breaks its own wiring",
        ),
        pytest.param(
            {PISTON: "pull-piston east", NEXT: "block"},
            SHORT,
            [
                (
                    "cell-left-behind",
                    "warning",
                    (
                        "The pull-piston at (0, 0, 1) went back before what it pushed had landed: it left the cell at "
                        "(2, 0, 1) behind."
                    ),
                    (PISTON, (2, 0, 1)),
                    (7,),
                )
            ],
            id="loses a cell to a short pulse",
        ),
    ],
)
def test_a_finding_names_cells_and_steps(parts, acts, expected):
    done = watch({**LEVER, **parts}, acts, 60, [PISTON])
    assert [(one.code, one.severity, one.message, one.cells, one.steps) for one in done.findings] == expected


def test_what_recurs_is_one_finding_with_all_its_steps():
    # The power comes three times; each time the crate is in the way.
    acts = ["5:0,1,1:on", "20:0,1,1:off", "30:0,1,1:on", "40:0,1,1:off", "50:0,1,1:on"]
    done = watch({**LEVER, PISTON: "piston east", NEXT: "crate items=0"}, acts, 100, [PISTON])
    assert [(one.code, one.steps) for one in done.findings] == [("piston-blocked", (6, 31, 51))]


class Counted(Simulation):
    """A simulation that notes which steps it worked on."""

    def step(self, step: int) -> None:
        self.__dict__.setdefault("worked", []).append(step)
        super().step(step)


def worked(plan, acts, steps):
    simulation = Counted(Setup(plan, load_rules()))
    simulation.queue_stimuli(parse_script(plan, acts))
    simulation.advance(steps)
    return simulation.__dict__["worked"]


def test_five_idle_minutes_of_a_dropped_item_are_a_handful_of_steps():
    # The start, the drop, the end of the item (a look of the plate in the same step), the lamp 4 steps later.
    plan = load(Path(__file__).resolve().parents[2] / "examples" / "dropped-item.toml")
    found = worked(plan, ["10:item"], 1_000_000)
    assert found[0] == 0
    assert set(found) >= {10, 6010, 6014}
    assert len(found) <= 6


def test_a_locked_or_empty_hopper_costs_no_steps():
    parts = {
        (0, 0, 0): "insulator", (0, 0, 1): "lever thrown=yes", (1, 0, 1): "hopper into=east items=320",
        (2, 0, 1): "crate items=0", (5, 0, 1): "hopper",
    }  # fmt: skip
    assert len(worked(world(parts), [], 1_000_000)) <= 3
