"""Every kind of part in every engine and on every page: a kind that somebody forgot fails here, by its name.

What is expected comes from the kind's row and the rule set; each engine is asked by itself.
"""

from __future__ import annotations

from itertools import count

import pytest

from tickwright.engine import circuit_of, run
from tickwright.engine.running import ENGINES
from tickwright.errors import UsageError
from tickwright.kinds import PARTS, Part, parse_part
from tickwright.plan.model import Plan
from tickwright.plan.setup import Setup
from tickwright.publish.solids import solid_of
from tickwright.publish.symbols import symbol, wire_symbol
from tickwright.publish.verilog import verilog_text
from tickwright.rules import load_rules
from watching import name, world
from worlds.generator import random_world

Cell = tuple[int, int, int]
HERE: Cell = (3, 3, 1)
RULES = load_rules()
FLOOR = {(x, y, 0): "block" for x in range(8) for y in range(8)}
EVERYWHERE = pytest.mark.parametrize(("kind", "engine"), [(kind, engine) for kind in PARTS for engine in ENGINES])


def placed(kind: str) -> str:
    """A part of the kind: it faces east if it can, holds an item if it holds any."""
    row = PARTS[kind]
    words = [kind]
    if row.direction == "":
        words.append("east")
    elif row.direction is not None and "down" not in row.directions:
        words.append(f"{row.direction}=east")
    return " ".join([*words, *["items=2"] * bool(row.slots)])


def trace(engine: str, parts: dict[Cell, str], acts: list[str], cell: Cell, steps: int = 60):
    """What the cell shows, and the codes of the findings."""
    done = run(world(FLOOR | parts), acts, steps, engine=engine, watch={"here": cell})
    return list(done.trace.changes["here"]), [finding.code for finding in done.findings]


def feeding(kind: str) -> Cell:
    """Where a lever stands that the part hears."""
    match PARTS[kind].hears:
        case "back":
            return (2, 3, 1)
        case "facing":
            return (3, 3, -1)
        case "around" | "not-face":
            return (3, 4, 1)
    raise AssertionError(f"{kind} hears nothing")


@EVERYWHERE
def test_it_is_notified(kind, engine):
    """Power that comes at 5 makes whatever hears do something it did not do without."""
    if not PARTS[kind].hears:
        assert PARTS[kind].behaviour not in ("repeater", "comparator", "torch", "lamp", "piston", "hopper", "ejector")
        return
    cell = feeding(kind)
    lever = {cell: "lever"} if cell[2] > 0 else {(2, 3, 0): "lever on=east"}
    parts = {HERE: placed(kind), **lever}
    floor = {there: text for there, text in FLOOR.items() if PARTS[kind].hears != "facing" or there == (3, 3, 0)}
    fed = next(iter(lever))
    below = {(3, 3, 0): "crate"} if PARTS[kind].behaviour == "hopper" else {}
    plan = world(floor | parts | below)
    seen = [
        run(plan, acts, 60, engine=engine, watch={"here": HERE}).trace.changes["here"]
        for acts in ([], [f"5:{name(fed)}:on"])
    ]
    assert seen[0] != seen[1], f"a {kind} does not notice power"


def due(kind: str) -> tuple[dict[Cell, str], list[str], int]:
    """Parts, acts and the step of the part's last event, by the rule set, for a kind that has a delay."""
    row, steps = PARTS[kind], RULES.delay_steps(parse_part(placed(kind)))
    match row.behaviour:
        case "repeater" | "comparator" | "ejector":
            cell = feeding(kind)
            return {cell: "lever"}, [f"5:{name(cell)}:on"], 5 + steps
        case "torch":
            return {(2, 3, 0): "lever on=east"}, ["5:2,3,0:on"], 5 + steps
        case "lamp":
            return {(3, 4, 1): "lever"}, ["5:3,4,1:on", "9:3,4,1:off"], 9 + steps
        case "button":
            return {}, [f"5:{name(HERE)}:press"], 5 + steps
        case "plate":
            verbs = ("tread", "leave")
            return {}, [f"{step}:{name(HERE)}:{verb}" for step, verb in zip((5, 7), verbs, strict=True)], 5 + steps
        case "sensor":
            return {(2, 3, 1): "lever"}, ["5:2,3,1:on"], 5 + steps + RULES.sensor.pulse
    raise AssertionError(f"nothing is known of when a {kind} acts")


@EVERYWHERE
def test_it_acts_when_it_is_due(kind, engine):
    if not PARTS[kind].delay:
        return
    parts, acts, step = due(kind)
    shown, _ = trace(engine, {HERE: placed(kind), **parts}, acts, HERE)
    assert shown[-1][0] == step, f"{kind}: {shown}"


@EVERYWHERE
def test_a_sensor_sees_that_it_goes(kind, engine):
    """Cleared at 5, it is seen to go, and the sensor is on from 7 to 9."""
    watched = {(4, 3, 1): "change-sensor east"}
    shown, codes = trace(engine, {HERE: placed(kind), **watched}, [f"5:{name(HERE)}:clear"], (4, 3, 1), 12)
    assert (7, 15) in shown, f"{kind}: {shown}"
    assert "act-refused" not in codes


@EVERYWHERE
def test_it_is_pushed_or_breaks_or_stands_in_the_way(kind, engine):
    row = PARTS[kind]
    text = placed(kind).replace("east", "north") if "north" in row.directions else placed(kind)
    parts = {(2, 3, 1): "piston east", (2, 2, 1): "lever", HERE: text}
    _, codes = trace(engine, parts, ["5:2,2,1:on"], HERE, 12)
    shown = trace(engine, parts, ["5:2,2,1:on", "9:4,3,1:clear"], (2, 3, 1), 12)[1]
    if RULES.movable.get(kind, False):
        assert codes == []
        assert shown == [], f"{kind} is not where it was pushed to"
    elif row.support is not None:
        assert codes == ["part-broke"]
    else:
        assert codes == ["piston-blocked"]


@pytest.mark.parametrize("kind", PARTS)
def test_it_is_drawn(kind):
    """Its symbol differs from that of every other kind (a block's is bare), and its solid has faces."""
    part = parse_part(placed(kind))
    shapes = wire_symbol((), ()) if kind == "wire" else symbol(part, False)
    assert shapes or kind == "block"
    assert solid_of(part).faces
    others = [other.symbol for other in PARTS.values() if other.name != kind]
    assert PARTS[kind].symbol not in others


@pytest.mark.parametrize("kind", PARTS)
def test_it_is_exported_or_refused(kind):
    """The Verilog of a plan names it, or it is one of those that move items or cells, which are refused."""
    row = PARTS[kind]
    plan = Plan({(3, 3, 0): Part("block"), HERE: parse_part(placed(kind)), (3, 4, 1): Part("crate", items=1)})
    setup = Setup(plan, RULES)
    if row.behaviour in ("piston", "hopper", "ejector"):
        with pytest.raises(UsageError, match=kind):
            verilog_text(circuit_of(setup), {"here": HERE}, (), 9)
        return
    text = verilog_text(circuit_of(setup), {"here": HERE}, (), 9)
    assert f"// {kind} 3,3,1" in text or f"// {kind} (3, 3, 1)" in text


def test_random_worlds_hold_every_kind():
    seen: set[str] = set()
    for seed in count():
        seen |= {part.kind for part in random_world(seed).plan.cells.values()}
        if seen == set(PARTS):
            return
        assert seed < 400, f"no random world holds {set(PARTS) - seen}"
