"""Matter is never made or lost, except by vanishing, by falling out of the world and by breaking: random worlds."""

from __future__ import annotations

from hypothesis import given, settings
from hypothesis import strategies as st

from tickwright.engine.reference import Simulation
from tickwright.kinds import CONTAINERS, PLATES, STANDS
from tickwright.plan.hand import Stimulus
from tickwright.plan.setup import Setup
from tickwright.rules import load_rules
from tickwright.space import Cell
from watching import world

STEPS = 160
SHORT_LIVED = 60  # so that stacks vanish within the run
MOST_ITEMS = {"hopper": 320, "ejector": 576, "crate": 1728}
WIDE, DEEP, HIGH = 4, 4, 3


@st.composite
def containers(draw: st.DrawFn) -> str:
    kind = draw(st.sampled_from(sorted(CONTAINERS)))
    items = draw(st.one_of(st.integers(0, 5), st.integers(0, MOST_ITEMS[kind]), st.just(MOST_ITEMS[kind])))
    sides = {"hopper": ["down", "north", "south", "east", "west"], "ejector": ["up", "down", "north", "east"]}.get(kind)
    where = draw(st.sampled_from(sides)) if sides else ""
    into = f"into={where}" if kind == "hopper" else where
    return f"{kind} {into} items={items}"


@st.composite
def worlds(draw: st.DrawFn) -> dict[Cell, str]:
    """Cells of all sorts, among them a piston and an ejector each with a lever at its back; what stands has support."""
    sides = st.sampled_from(["north", "south", "east", "west", "up", "down"])
    flat = st.sampled_from(["north", "south", "east", "west"])
    movable = st.sampled_from(["block", "insulator", "lamp", "power-block"])
    plates = st.sampled_from(["item-plate", "tread-plate", "counting-plate", "counting-plate counts=10"])
    piston = st.tuples(st.sampled_from(["piston", "pull-piston"]), sides).map(" ".join)
    part = st.one_of(
        containers(),
        movable,
        plates,
        piston,
        st.sampled_from(["wire", "torch", "lever", "short-button", "change-sensor up"]),
        st.tuples(st.sampled_from(["repeater", "comparator"]), flat).map(" ".join),
    )
    cells = st.tuples(st.integers(0, WIDE - 1), st.integers(0, DEEP - 1), st.integers(0, HIGH - 1))
    parts = draw(st.dictionaries(cells, part, min_size=4, max_size=24))
    # Towards the east from (1, 0, 1): a piston before a row; from (1, 3, 1): an ejector before whatever there is.
    parts |= {(0, 0, 0): "insulator", (0, 0, 1): "lever", (0, 3, 0): "insulator", (0, 3, 1): "lever"}
    parts[1, 0, 1] = draw(st.sampled_from(["piston east", "pull-piston east"]))
    row = draw(st.lists(st.one_of(movable, movable, piston, plates), max_size=3))
    parts |= {(2 + at, 0, 1): text for at, text in enumerate(row)}
    parts[1, 3, 1] = f"ejector east items={draw(st.integers(0, 9))}"
    parts.pop((2, 3, 1), None) if draw(st.booleans()) else None
    parts[draw(st.integers(0, 3)), 2, 2] = f"hopper into={draw(flat)} items={draw(st.integers(0, 4))}"
    return supported(parts)


def supported(parts: dict[Cell, str]) -> dict[Cell, str]:
    out = dict(parts)
    for (x, y, z), text in parts.items():
        if text.split()[0] in STANDS:
            out.setdefault((x, y, z - 1), "block")
    # What stands on something that does not carry it is left out.
    for (x, y, z), text in sorted(out.items(), key=lambda entry: entry[0][2]):
        below = out.get((x, y, z - 1), "")
        if text.split()[0] in STANDS and (below.split() or [""])[0] in {*STANDS, "", "piston", "pull-piston"}:
            del out[x, y, z]
    return out


VERBS = {
    "lever": ("flip",),
    "short-button": ("press",),
    **dict.fromkeys(CONTAINERS, ("put", "take", "drop")),
    **dict.fromkeys(PLATES, ("drop", "drop", "take", "tread", "leave")),
}


def acts() -> st.SearchStrategy[list[tuple[int, int, int, int]]]:
    """Acts as (step, which of the cells that take one, which verb of theirs, number)."""
    at = st.integers(0, STEPS - 1)
    one = st.tuples(at, st.integers(0, 30), st.integers(0, 9), st.integers(1, 70))
    flips = st.tuples(at, st.integers(0, 1), st.just(0), st.just(1))  # the two levers, which are the first cells
    return st.lists(st.one_of(one, flips), min_size=5, max_size=30)


def in_containers(sim: Simulation) -> int:
    return sum(sim.count[cell] for cell, stand in sim.stands.items() if stand.part.kind in CONTAINERS)


def held_by_stacks(sim: Simulation) -> int:
    resting = sum(stack.number for stacks in sim.matter.resting.values() for stack in stacks)
    return resting + sum(stack.number for _, _, stack in sim.matter.flights)


def items(sim: Simulation) -> int:
    """All items there are or were: in containers, in the open, vanished, lost."""
    return in_containers(sim) + held_by_stacks(sim) + sim.matter.vanished + sim.matter.lost


def full_cells(sim: Simulation) -> list[str]:
    """What fills a cell, arms left out: no piston makes or unmakes any of it."""
    return sorted(
        str(stand.part)
        for stand in sim.stands.values()
        if stand.posture != "arm" and stand.part.kind not in STANDS and stand.part.kind not in CONTAINERS
    )


def standing(sim: Simulation) -> int:
    return sum(stand.part.kind in STANDS for stand in sim.stands.values() if stand.posture != "arm")


RULES = load_rules()
QUICK = type(RULES)(
    **{
        **{name: getattr(RULES, name) for name in RULES.__struct_fields__},
        "item": type(RULES.item)(rest=RULES.item.rest, vanish=SHORT_LIVED),
    }
)


@settings(max_examples=80)
@given(parts=worlds(), script=acts(), order=st.sampled_from(["canonical", "reversed", "7"]))
def test_matter_is_neither_made_nor_lost(parts, script, order):
    sim = Simulation(Setup(world(parts), QUICK, order))
    cells = [(0, 0, 1), (0, 3, 1), *sorted(cell for cell, text in parts.items() if text.split()[0] in VERBS)]
    expected = items(sim)
    filled, stood = full_cells(sim), standing(sim)
    for at, where, which, number in sorted(script, key=lambda act: act[0]):
        sim.advance(at)
        check_levels(sim)
        assert items(sim) == expected
        # The hand is the only one to bring items, and to take them away.
        before = items(sim)
        cell = cells[where % len(cells)]
        verbs = VERBS[parts[cell].split()[0]]
        verb = verbs[which % len(verbs)]
        if verb == "drop" and parts[cell].split()[0] in CONTAINERS:
            cell = (cell[0], cell[1], cell[2] + 1)
        kind = sim.kind_at(cell)
        room = MOST_ITEMS[kind] - sim.count[cell] if kind in CONTAINERS else 0
        held = sim.count[cell] if kind in CONTAINERS else None
        sim.queue_stimuli([Stimulus(at, cell, verb, number)])
        sim.advance(at + 1)
        expected = items(sim)
        check_change_by_hand(sim, verb, number, kind, room, held, expected - before)
    sim.advance(STEPS + 2 * SHORT_LIVED)
    check_levels(sim)
    assert items(sim) == expected
    assert full_cells(sim) == filled
    broken = [found for found in sim.notes.findings() if found.code == "part-broke"]
    assert stood - standing(sim) == sum(len(found.steps) for found in broken)
    assert len([1 for stand in sim.stands.values() if stand.posture == "arm"]) == len(
        [1 for stand in sim.stands.values() if stand.posture == "out"]
    )


def check_change_by_hand(sim, verb, number, kind, room, held, change):
    """What one act of the hand may do to the number of items, parts in the way or not.

    Hoppers and ejectors work in the same step before the hand, so that room and fill are bounds give or take their
    items of one step.
    """
    if verb == "drop":
        assert change in {0, number}
    elif verb == "put":
        assert change <= number
        assert change >= 0
        if held is not None and room > 6:
            assert change >= min(number, room - 6)
    elif verb == "take":
        assert change <= 0
        if held is not None:
            assert change >= -number
    else:
        assert change == 0


def check_levels(sim: Simulation) -> None:
    assert all(0 <= level <= 15 for level in sim.level.values())
    for cell, stand in sim.stands.items():
        if stand.part.kind in CONTAINERS:
            assert 0 <= sim.count[cell] <= MOST_ITEMS[stand.part.kind]
    for cell, stacks in sim.matter.resting.items():
        assert stacks
        assert all(stack.number > 0 and stack.cell == cell for stack in stacks)
    assert set(sim.count) == {cell for cell, stand in sim.stands.items() if stand.part.kind in CONTAINERS}
    assert set(sim.level) <= set(sim.stands)
