"""What a rule set refuses in a well-formed plan, and what it lets pass."""

from __future__ import annotations

from dataclasses import replace

import msgspec
import pytest

from tickwright.errors import PlanError
from tickwright.kinds import PARTS, parse_part, support_cell
from tickwright.plan import Plan, validate
from tickwright.plan.validate import pistons_can_reach
from tickwright.rules import load_rules
from tickwright.space import OPPOSITE, along, beside

RULES = load_rules()
CARRIERS = "block, change-sensor, crate, ejector, hopper, insulator, lamp, piston, power-block, pull-piston"
CARRYING = [
    "block", "lamp", "insulator", "power-block", "change-sensor east", "piston down", "pull-piston west",
    "ejector up", "hopper", "crate",
]  # fmt: skip
NOT_CARRYING = ["wire", "torch", "repeater east", "lever", "item-plate", "piston up", "pull-piston up"]
STANDING = ["wire", "repeater north", "comparator west", "torch", "lever", "short-button", "counting-plate"]


def laid(*texts: tuple[tuple[int, int, int], str]) -> Plan:
    return Plan({cell: parse_part(text) for cell, text in texts})


def refusal(plan: Plan, rules=RULES) -> str | None:
    try:
        validate(plan, rules)
    except PlanError as error:
        return str(error)
    return None


@pytest.mark.parametrize("standing", STANDING)
def test_what_stands_needs_what_carries(standing):
    for under in CARRYING:
        assert refusal(laid(((0, 0, 0), under), ((0, 0, 1), standing))) is None, under
    kind = parse_part(standing).kind
    for under in NOT_CARRYING:
        plan = laid(((0, 0, -1), "block"), ((0, 0, 0), under), ((0, 0, 1), standing))
        other = parse_part(under).kind
        what = (
            f"the face of a {other}" if "piston" in other else f"an {other}" if other == "item-plate" else f"a {other}"
        )
        assert refusal(plan) == (
            f"The {kind} at (0, 0, 1) has no support: the cell (0, 0, 0), below it, holds {what}, which "
            f"carries nothing. Put a part there that carries ({CARRIERS}), or remove the {kind}."
        )


@pytest.mark.parametrize("kind", ["torch", "lever", "short-button", "long-button"])
def test_what_is_fixed_to_a_side_needs_that_side(kind):
    for direction in PARTS[kind].directions:
        text = f"{kind} on={direction}"
        side = beside((0, 0, 0), direction)
        assert support_cell(parse_part(text), (0, 0, 0)) == side
        assert refusal(laid(((0, 0, 0), text), (side, "block"))) is None
        assert refusal(laid(((0, 0, 0), text), (side, f"piston {direction}"))) is None
        assert "holds the face of a piston" in str(
            refusal(laid(((0, 0, 0), text), (side, f"piston {OPPOSITE[direction]}")))
        )
        assert "holds nothing. Put" in str(refusal(laid(((0, 0, 0), text), (beside(side, direction), "block"))))


def test_the_rule_set_says_what_carries():
    plan = laid(((0, 0, 0), "lamp"), ((0, 0, 1), "wire"))
    softer = msgspec.structs.replace(RULES, carries={**RULES.carries, "lamp": False})
    assert refusal(plan) is None
    assert "holds a lamp, which carries nothing" in str(refusal(plan, softer))


def test_the_first_error_in_the_order_of_cells_is_told():
    plan = laid(((5, 0, 0), "wire"), ((0, 1, 0), "wire"), ((0, 0, 1), "wire"))
    assert "The wire at (5, 0, 0)" in str(refusal(plan))


def test_a_container_holds_what_fits_under_the_rules():
    plan = laid(((0, 0, 0), "hopper items=320"))
    smaller = msgspec.structs.replace(RULES, container=msgspec.structs.replace(RULES.container, hopper_slots=4))
    assert refusal(plan) is None
    assert refusal(plan, smaller) == (
        "The hopper at (0, 0, 0) holds 320 items: under the rules standard at most 256 fit; give it fewer."
    )


def test_an_output_watches_a_part_or_where_pistons_reach():
    plan = replace(laid(((0, 0, 0), "block")), outputs={"bell": (1, 0, 0)})
    assert refusal(plan) == (
        'The output "bell" watches (1, 0, 0), an empty cell that no piston reaches: name a cell that holds a part.'
    )
    assert refusal(replace(plan, cells={**plan.cells, (1, 0, 1): parse_part("piston down")})) is None
    assert refusal(replace(plan, outputs={}, triggers={"rope": (7, 7, 7)})) is None


@pytest.mark.parametrize("direction", list(OPPOSITE))
def test_a_piston_reaches_one_cell_more_than_it_pushes(direction):
    at = (20, 20, 20)
    plan = Plan({at: parse_part(f"piston {direction}")})
    reached = [pistons_can_reach(plan, RULES, along(at, direction, distance)) for distance in range(-1, 16)]
    assert reached == [False, False, *[True] * 13, False, False]
    assert not any(
        pistons_can_reach(plan, RULES, beside(along(at, direction, 2), other))
        for other in OPPOSITE
        if other not in (direction, OPPOSITE[direction])
    )


def test_a_piston_acts_from_where_another_moves_it():
    # The piston at x = 2 is pushed one east, or pulled one west, by the one at x = 0; it reaches north from there.
    pusher = ((0, 5, 0), "pull-piston east")
    plan = laid(pusher, ((2, 5, 0), "piston north"))
    columns = {x for x in range(12) if pistons_can_reach(plan, RULES, (x, 3, 0))}
    assert {1, 2, 3} <= columns
    assert not pistons_can_reach(laid(pusher), RULES, (2, 3, 0))
    assert not pistons_can_reach(plan, RULES, (2, 6, 0))


def test_pistons_that_can_carry_each_other_on_reach_far_but_not_aside():
    plan = laid(((0, 0, 0), "piston east"), ((5, 0, 0), "pull-piston west"))
    assert pistons_can_reach(plan, RULES, (900, 0, 0))
    assert not pistons_can_reach(plan, RULES, (900, 1, 0))


def test_a_crowd_of_pistons_is_let_pass():
    directions = list(OPPOSITE)
    cells = {
        (x, y, z): parse_part(f"piston {directions[(x + 2 * y + 3 * z) % 6]}")
        for x in range(6) for y in range(6) for z in range(6)
    }  # fmt: skip
    assert pistons_can_reach(Plan(cells), RULES, (1000, 1000, 200))
