"""Findings of random worlds: nothing raises, all is told in cells of the plan's own space, and twice the same."""

from __future__ import annotations

from dataclasses import replace

import pytest

from tickwright import diagnose
from tickwright.diagnosis import CODES, single_mistakes
from tickwright.diagnosis.mistakes import built_with
from tickwright.kinds import PARTS
from tickwright.plan import Plan
from tickwright.plan.setup import Setup
from tickwright.rules import load_rules
from worlds.generator import SWITCHES, random_world

SEEDS = range(12)
SHOWN = ("lamp", "repeater", "wire", "comparator")


def named_world(seed: int) -> Plan:
    """A random world without matter, two of its switches named as triggers and three of its parts as outputs."""
    plan = random_world(seed, static=True).plan
    switches = [cell for cell, part in plan.cells.items() if part.kind in SWITCHES][:2]
    shown = [cell for cell, part in plan.cells.items() if part.kind in SHOWN][:3]
    triggers = {f"switch-{number}": cell for number, cell in enumerate(switches)}
    return replace(plan, triggers=triggers, outputs={f"shown-{number}": cell for number, cell in enumerate(shown)})


@pytest.mark.parametrize("seed", SEEDS)
def test_findings_of_random_worlds(seed):
    plan = named_world(seed)
    found = diagnose(plan, repairs=False, depth="pressed").findings
    for finding in found:
        assert finding.severity == CODES[finding.code].severity
        assert set(finding.cells) <= set(plan.cells)
        assert all(step >= 0 for step in finding.steps)
    assert diagnose(plan, repairs=False, depth="pressed").findings == found


@pytest.mark.parametrize("seed", SEEDS)
def test_mistakes_of_random_worlds_can_be_built(seed):
    plan = named_world(seed)
    for mistake in single_mistakes(Setup(plan, load_rules())):
        built = built_with(plan, [mistake])
        assert mistake.rules or built.cells != plan.cells
        assert {part.kind for part in built.cells.values()} <= set(PARTS)
