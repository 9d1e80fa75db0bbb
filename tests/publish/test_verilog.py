"""Verilog: Icarus gives the engines' traces on every static example and on random circuits."""

from __future__ import annotations

import re
import subprocess
from dataclasses import replace
from pathlib import Path

import pytest

from tickwright.engine import Trace, circuit_of, first_difference, run
from tickwright.engine.running import script
from tickwright.errors import UsageError
from tickwright.kinds import parse_part
from tickwright.plan import Plan
from tickwright.plan.setup import Setup
from tickwright.publish import verilog_text
from tickwright.publish.verilog_parts import MODULES
from tickwright.rules import BUILT_IN, RuleSet, load_rules
from worlds.differ import ORDERS, RULE_SETS, examples, rule_set
from worlds.generator import World, random_world

ROOT = Path(__file__).resolve().parents[2]
RANDOM_WORLDS = 10
# Without pistons, hoppers and ejectors.
STATIC = [
    world
    for world in examples()
    if world.acts and not re.search(r"piston|hopper|ejector|-plate", str(world.plan.bill()))
]


def written(world: World, rules: RuleSet, order: str = "canonical", one_by_one: bool = True) -> str:
    acts = script(world.plan, world.acts)
    circuit = circuit_of(Setup(world.plan, rules, order))
    return verilog_text(circuit, world.watched(), acts, world.steps, world.plan.title, one_by_one)


def simulated(text: str, world: World, folder: Path, need_tool) -> Trace:
    """What Icarus makes of the file, warnings as errors."""
    source, compiled = folder / "plan.v", folder / "plan.vvp"
    source.write_text(text, encoding="ascii")
    command = [need_tool("iverilog"), "-g2005", "-Wall", "-o", str(compiled), str(source)]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    said = [line for line in done.stderr.splitlines() if "Unable to get version" not in line]
    assert (done.returncode, said) == (0, [])
    output = subprocess.run([need_tool("vvp"), "-n", str(compiled)], check=True, capture_output=True, text=True).stdout
    names = list(world.watched())
    changes: dict[str, list[tuple[int, int]]] = {name: [] for name in names}
    for line in output.splitlines():
        step, number, value = map(int, line.split())
        changes[names[number]].append((step, value))
    return Trace(world.steps, {name: tuple(pairs) for name, pairs in changes.items()})


def compared(world: World, rules: RuleSet, folder: Path, need_tool, order: str = "canonical", one_by_one: bool = True):
    ours = run(world.plan, world.acts, world.steps, rules, order, watch=world.watched()).trace
    theirs = simulated(written(world, rules, order, one_by_one), world, folder, need_tool)
    return first_difference(ours, theirs)


@pytest.mark.parametrize("rules", BUILT_IN)
@pytest.mark.parametrize("world", STATIC, ids=lambda world: world.name)
def test_icarus_gives_the_trace_of_every_static_example(world, rules, tmp_path, need_tool):
    assert compared(world, rule_set(rules), tmp_path, need_tool) is None


def test_there_are_static_examples():
    assert len({world.plan.title for world in STATIC}) >= 15


@pytest.mark.parametrize("rules", RULE_SETS)
def test_icarus_gives_the_trace_of_random_circuits(rules, tmp_path, need_tool):
    """Ties too: what is due in one step acts by priority and order of scheduling in both."""
    found: set[str] = set()
    for seed in range(RANDOM_WORLDS):
        world = random_world(seed, static=True)
        order = ORDERS[seed % len(ORDERS)]
        found.update(re.findall(r"\btw_\w+", written(world, rule_set(rules))))
        assert compared(world, rule_set(rules), tmp_path, need_tool, order) is None, (world, order)
    assert found == set(MODULES), "too few kinds of parts were met"


def burner() -> World:
    """A torch powers, by a block and a wire, the block it is fixed to; a lever does too."""
    parts = {(1, 0, 0): "block", (2, 0, 0): "torch on=west", (2, 0, 1): "block", (1, 0, 1): "wire"}
    parts |= {(0, 0, 0): "lever on=east", (3, 0, 0): "lamp"}
    cells = {cell: parse_part(text) for cell, text in parts.items()}
    return World("burner", Plan(cells), ("40:0,0,0:on", "200:0,0,0:off"), 600)


def test_icarus_burns_torches_out(tmp_path, need_tool):
    world = burner()
    assert any(found.code == "torch-burns-out" for found in run(world.plan, world.acts, world.steps).findings)
    assert compared(world, load_rules(), tmp_path, need_tool) is None


def test_a_crate_that_nothing_fills_is_a_level(tmp_path, need_tool):
    parts = {(0, 0, 0): "crate items=600", (1, 0, 0): "block", (3, 0, 0): "block", (2, 0, 0): "block"}
    parts |= {(0, 0, 1): "crate items=200", (1, 0, 1): "block", (2, 0, 1): "comparator east", (3, 0, 1): "wire"}
    parts |= {
        (1, 0, 2): "lever",
        (0, 1, 0): "block",
        (0, 1, 1): "comparator south",
        (0, 2, 0): "block",
        (0, 2, 1): "wire",
    }
    cells = {cell: parse_part(text) for cell, text in parts.items()}
    world = World("crates", Plan(cells), ("5:1,0,2:on", "50:1,0,2:off"), 100)
    assert compared(world, load_rules(), tmp_path, need_tool) is None


def test_parts_may_act_together(tmp_path, need_tool):
    world = next(world for world in STATIC if world.name == "stacked-loop-4 pressed")
    assert compared(world, load_rules(), tmp_path, need_tool, one_by_one=False) is None


def test_a_title_puts_nothing_into_the_file(tmp_path, need_tool):
    world = burner()
    plain = written(world, load_rules())
    title = "end\n$finish; `define x \\\r\u2028endmodule /* * é"
    odd = written(replace(world, plan=replace(world.plan, title=title)), load_rules())
    assert odd.splitlines()[1:] == plain.splitlines()[1:]
    assert odd.splitlines()[0].startswith("// end?$finish; ?define x ???endmodule /* * ?, under the rules")
    named = verilog_text(circuit_of(Setup(world.plan, load_rules())), {"a\nb`c": (1, 0, 0)}, (), 9)
    assert "//   0 a?b?c\n" in named
    assert simulated(odd, world, tmp_path, need_tool) == simulated(plain, world, tmp_path, need_tool)


def refusal(parts: dict, acts: tuple[str, ...] = ()) -> str:
    plan = Plan({cell: parse_part(text) for cell, text in parts.items()})
    with pytest.raises(UsageError) as caught:
        verilog_text(circuit_of(Setup(plan, load_rules())), {}, script(plan, acts))
    return str(caught.value)


@pytest.mark.parametrize("text", ["piston east", "pull-piston up", "hopper", "ejector down"])
def test_what_moves_is_refused(text):
    assert refusal({(0, 0, 0): "block", (2, 0, 0): text}) == (
        f"The {text.split()[0]} at (2, 0, 0) cannot be said in Verilog: only plans without pistons, hoppers and "
        "ejectors can be exported so. Remove it, or export waveforms (--vcd)."
    )


@pytest.mark.parametrize("act", ["place=wire", "clear", "drop", "take"])
def test_acts_that_build_or_handle_items_are_refused(act):
    parts = {(0, 0, 0): "block", (0, 0, 1): "item-plate"}
    assert refusal(parts, (f"3:0,0,1:{act}",)) == (
        f'"3:0,0,1:{act}" cannot be said in Verilog: only levers, buttons and creatures on plates can be exported so. '
        "Leave the act out."
    )
