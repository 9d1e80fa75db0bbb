"""Take away or turn single parts of placed plans and see that acceptance notices: `python dev.py accept`.

The plans: c17 as its example lies, an adder of four bits from the shelf, and by tiles and router an LFSR, a Johnson
ring, s27 and covers at random. Half of the time a part is turned (one that can face another way), else it is taken
away. What acceptance looks at is counted one after another, each for what those before did not see:

- *stands*: every part is carried, and every output watches a part;
- *hears*: every input hears just what the netlist says, whether the parts that should be there are or not;
- *plays*: its levers are worked, its lamps held against the netlist;
- *is there*: each part of a tile and each repeater of a route is where it was laid.

A change that none of them sees is proved to alter nothing if every part that acts hears, tells and waits as before;
else it is missed. `--parts N` changes are drawn (300), others for another `--seed`.
"""

from __future__ import annotations

import argparse
import sys
from collections import Counter
from collections.abc import Callable, Iterator, Mapping
from dataclasses import replace
from pathlib import Path
from random import Random
from typing import NamedTuple

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))
from tests.netlist.texts import FOLDER, adder, covers, netlist

from tickwright.engine import circuit_of
from tickwright.errors import TickwrightError
from tickwright.kinds import Part
from tickwright.layout.computing import Exact, computes
from tickwright.layout.gates import wanted
from tickwright.layout.hearing import Laid, heard_otherwise, hearing_faults
from tickwright.layout.judging import judge
from tickwright.layout.laying import lay
from tickwright.layout.placed import finish
from tickwright.layout.pruning import without_needless
from tickwright.layout.repeating import lay_kept
from tickwright.netlist import Network, map_network, parse_blif, plan_names
from tickwright.plan import Plan, load
from tickwright.plan.setup import Setup
from tickwright.plan.validate import problems
from tickwright.rules import load_rules
from tickwright.space import Cell, cell_text

RULES = load_rules()
LEAST = 0.99
ONES = frozenset(("lever", "torch", "repeater", "lamp"))  # parts that give 15 or 0, and hear whether there is a level
STAGES = ("stands", "hears", "plays", "is there")
SAME, MISSED = "changes nothing, proved", "missed"


class Case(NamedTuple):
    """A placed plan: `hears` and `there` say of a changed one whether acceptance would refuse it for that."""

    name: str
    network: Network
    plan: Plan
    hears: Callable[[Plan], bool]
    there: Callable[[Plan], bool]


def cases() -> Iterator[Case]:
    """The plans that parts are taken from."""
    yield _exact("c17, exactly", netlist("c17.blif"), load(FOLDER / "c17.toml"))
    network = parse_blif(adder(4))
    row = lay_kept(network, (RULES,))
    assert row is not None
    yield _exact("adder of 4 bits", network, replace(row.plan, triggers=dict(row.levers), outputs=dict(row.lamps)))
    yield tiles_case("LFSR of 4 stages", netlist("lfsr4.blif"))
    yield tiles_case("Johnson ring of 4 stages", netlist("johnson4.blif"))
    yield tiles_case("s27", netlist("s27.blif"))
    yield tiles_case("40 covers at random", parse_blif(covers(40, 3, outputs=12)))


def _exact(name: str, network: Network, plan: Plan) -> Case:
    exact = Exact(plan, dict(plan.triggers), dict(plan.outputs), ())
    assert computes(exact, network, (RULES,))

    def hears(changed: Plan) -> bool:
        return not computes(exact._replace(plan=changed), network, (RULES,))

    return Case(name, network, plan, hears, lambda _: False)


def tiles_case(name: str, network: Network) -> Case:
    """A netlist laid by tiles and router, and accepted."""
    asked = wanted(network, map_network(network))
    layout = without_needless(lay(asked.instances, asked.nets, tries=4), asked.nets, (RULES,))
    own = {one: one for one in plan_names([*network.inputs, *network.outputs, *network.covers])}
    own |= {one.output: one.output for one in network.latches}
    placed = finish(network, asked, layout, own, False, (RULES,), 0, 0.0)
    assert placed.placed, placed.reasons
    laid = Laid(placed.plan, list(layout.instances.values()), asked.nets, layout.repeaters)
    return Case(
        name,
        network,
        placed.plan,
        lambda changed: bool(heard_otherwise(laid._replace(plan=changed), RULES, 1)),
        lambda changed: bool(hearing_faults(laid._replace(plan=changed), RULES, 1)),
    )


def drawn(plan: Plan, random: Random) -> tuple[Cell, Part | None]:
    """A cell, and its part turned; or None, for what is taken away."""
    cells = sorted(plan.cells)
    turns = [cell for cell in cells if len(plan.cells[cell].row.directions) > 1]
    if turns and random.random() < 0.5:
        cell = random.choice(turns)
        part = plan.cells[cell]
        return cell, part._replace(facing=random.choice([one for one in part.row.directions if one != part.facing]))
    return random.choice(cells), None


def changed(plan: Plan, cell: Cell, part: Part | None) -> Plan:
    """The plan with that part in the cell, or none."""
    cells = {there: own for there, own in plan.cells.items() if there != cell} | ({cell: part} if part else {})
    return replace(plan, cells=cells, size=plan.size, charts=(), nets={})


def outcome(case: Case, cell: Cell, part: Part | None) -> str:
    """What sees the change: one of STAGES, else SAME or MISSED."""
    plan = changed(case.plan, cell, part)
    if next(problems(plan, RULES), None) is not None:
        return "stands"
    if case.hears(plan):
        return "hears"
    if played_wrong(case, plan):
        return "plays"
    if case.there(plan):
        return "is there"
    return SAME if works_alike(case.plan, plan) else MISSED


def played_wrong(case: Case, plan: Plan) -> bool:
    """Whether it is wrong when it is played; a lever that is not there cannot be worked."""
    try:
        return judge(plan, case.network, plan.triggers, plan.outputs, (RULES,), {}).wrong > 0
    except TickwrightError:
        return True


def works_alike(plan: Plan, other: Plan) -> bool:
    """Whether each part that acts hears, tells and waits as before: then nothing in time can differ.

    Losses of level do not matter to parts that give 15 or nothing and ask whether there is a level at all.
    """
    before, after = wiring(plan), wiring(other)
    kinds = {part.kind for one in (plan, other) for part in one.cells.values() if part.behaviour != "wire"}
    return before == after and kinds <= ONES | {"block"}


def wiring(plan: Plan) -> Mapping[Cell, tuple[object, ...]]:
    """For each part that acts: its kind, delay and priorities, what it hears at each port, and whom it tells."""
    circuit = circuit_of(Setup(plan, RULES))
    return {
        cell: (
            plan.cells[cell].kind,
            int(circuit.delay[actor]),
            circuit.priority[actor].tolist(),
            [{circuit.cells[source] for source, _ in port.of(actor)} for port in (circuit.power, circuit.flank)],
            [circuit.cells[told] for told in circuit.notified.of(actor)],
        )
        for actor, cell in enumerate(circuit.cells)
    }


def main() -> int:
    """Draw changes until there are so many; 1 if acceptance sees fewer than 99 % of those that alter anything."""
    parser = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    parser.add_argument("--parts", type=int, default=300, help="how many changes are drawn")
    parser.add_argument("--seed", type=int, default=0, help="others for another number")
    given = parser.parse_args()
    random = Random(given.seed)
    plans = list(cases())
    counts = {case.name: Counter[str]() for case in plans}
    turned = 0
    for number in range(given.parts):
        case = plans[number % len(plans)]
        cell, part = drawn(case.plan, random)
        turned += part is not None
        seen = outcome(case, cell, part)
        counts[case.name][seen] += 1
        if seen not in STAGES:
            what = f"turned to {part}" if part else "taken away"
            print(f"{case.name}: {case.plan.cells[cell]} at {cell_text(cell)} {what}: {seen}", flush=True)
    for case in plans:
        told = ", ".join(f"{what} {counts[case.name][what]}" for what in (*STAGES, SAME, MISSED))
        print(f"{case.name} ({len(case.plan.cells)} parts): {told}")
    whole = sum(counts.values(), Counter[str]())
    real = given.parts - whole[SAME]
    seen, laid = real - whole[MISSED], whole["is there"]
    print(f"{given.parts} changes, {turned} of them turns; {whole[SAME]} alter nothing, proved.")
    print(f"Seen: {seen} of {real} ({seen / real:.2%}); without asking whether each part is there {seen - laid}.")
    return 0 if seen >= LEAST * real else 1


if __name__ == "__main__":
    sys.exit(main())
