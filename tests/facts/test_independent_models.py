"""Whole circuits against models in two independent simulators, step for step.

Seven of the examples are rebuilt by hand, four in MyHDL and three in Verilog (IEEE 1364-2005) for Icarus: every
connection below was read off the picture above it with the rules in hand, none comes from Tickwright's geometry. The
behaviour of the parts is written out in models/parts_myhdl.py and models/parts.v; the order of events is the
simulators' own. A second run of each puts a lever in the place of each button, thrown at irregular steps: pulses that
are too short for a loop run round it as trains, and repeaters stretch, swallow and lock.
"""

from __future__ import annotations

import random
import subprocess
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

import myhdl
import pytest
from models.parts_myhdl import STEP, Button, Comparator, Desk, Lamp, Lever, Repeater, level, record, use

from tickwright.engine import run
from tickwright.kinds import parse_part
from tickwright.plan import load
from tickwright.plan.model import Plan
from tickwright.space import Cell

MODELS = Path(__file__).parent / "models"
EXAMPLES = Path(__file__).parents[2] / "examples"

STEPS = 500


# --- MyHDL: flat-loop-4 --------------------------------------------------------------------------------------------
#
#      x   0 1 2 3 4 5           The lamp is under the entry (2, 0); it also hears the block under (2, 1), which that
#  y 0     b r w > > w           wire powers, so it is lit as long as either wire is on.
#  y 1     . . w < < w
#
# The button is heard by the repeater r; r gives to the entry; > (3, 0) hears the entry and gives straight to > (4, 0);
# that one's level goes through two cells of wire, one lost, to < (4, 1), straight to < (3, 1), and through two cells,
# one lost, to the entry.


def flat_loop_4(desk: Desk, press: myhdl.Signal) -> dict[str, myhdl.Signal]:
    r, c1, c2, c3, c4, entry, west, east, power, lit = (level() for _ in range(10))
    Repeater(desk, 2, press, r)
    desk.join(entry, (r, 0), (c4, 1))
    desk.join(west, (c4, 0), (r, 1))
    desk.join(east, (c2, 1))
    Comparator(desk, 3, entry, c1, ahead=True)
    Comparator(desk, 4, c1, c2)
    Comparator(desk, 6, east, c3, ahead=True)
    Comparator(desk, 5, c3, c4)
    desk.join(power, (entry, 0), (west, 0))
    Lamp(desk, 1, power, lit)
    return {"entry": entry, "lamp": lit, "r": r, "c1": c1, "c2": c2, "c3": c3, "c4": c4, "west": west, "east": east}


# --- MyHDL: stacked-loop-3 -----------------------------------------------------------------------------------------
#
#      x   0 1 2 3 4 5      Seen from the side. r powers the lamp L (a lamp conducts) strongly. The entry w (2, z 2) on
#  z 3     . . # < w .      it hears that, and # (2, z 3) above it, which < powers strongly. It powers L weakly.
#  z 2     . . w # # w      > (3, z 1) hears L: the stronger of both. > (4, z 1) powers # (5, z 1) strongly; w (5, z 2)
#  z 1     b r L > > #      on it hears that and climbs to w (4, z 3), one lost, which lies behind <.
#  z 0     # # # # # #


def stacked_loop_3(desk: Desk, press: myhdl.Signal) -> dict[str, myhdl.Signal]:
    r, c1, c2, c3, entry, east, upper, lit = (level() for _ in range(8))
    Repeater(desk, 1, press, r)
    desk.join(entry, (r, 0), (c3, 0))
    desk.join(east, (c2, 0))
    desk.join(upper, (c2, 1))
    Lamp(desk, 2, entry, lit)
    Comparator(desk, 3, entry, c1, ahead=True)
    Comparator(desk, 4, c1, c2)
    Comparator(desk, 5, upper, c3)
    return {"entry": entry, "lamp": lit, "r": r, "c1": c1, "c2": c2, "c3": c3, "east": east, "upper": upper}


# --- MyHDL: pulse-shortener ----------------------------------------------------------------------------------------
#
#      x   0 1 2 3 4      The wire (1, 0) behind d has the button's 15. It runs down to (1, 2) and (2, 2), 12, behind
#  y 0     b w d w L      the repeater n of two ticks, which faces north into d's flank. d gives to the wire before
#  y 1     . w n          the lamp.
#  y 2     . w w


def pulse_shortener(desk: Desk, press: myhdl.Signal) -> dict[str, myhdl.Signal]:
    behind_d, behind_n, d, n, lit = (level() for _ in range(5))
    desk.join(behind_d, (press, 0))
    desk.join(behind_n, (press, 3))
    Comparator(desk, 1, behind_d, d, less=n)
    Repeater(desk, 3, behind_n, n, ticks=2, ahead=True)
    Lamp(desk, 2, d, lit)
    return {"short": d, "bell": lit, "n": n, "behind_n": behind_n}


# --- MyHDL: difference-fader ---------------------------------------------------------------------------------------
#
#      x   0 1 2 3 4 5      The flat loop of four again, but the second comparator is d. v reads the crate k, which
#  y 0     . . . . k .      holds one item, hence 1, and faces into d's flank: from step 2 on d takes 1 away.
#  y 1     . . . . v .
#  y 2     b r w > d w
#  y 3     . . w < < w


def difference_fader(desk: Desk, press: myhdl.Signal) -> dict[str, myhdl.Signal]:
    r, c1, d, c3, c4, v, entry, west, east, power, lit = (level() for _ in range(11))
    crate = myhdl.Signal(1)
    Comparator(desk, 2, crate, v, ahead=True)
    Repeater(desk, 3, press, r)
    desk.join(entry, (r, 0), (c4, 1))
    desk.join(west, (c4, 0), (r, 1))
    desk.join(east, (d, 1))
    Comparator(desk, 4, entry, c1, ahead=True)
    Comparator(desk, 5, c1, d, less=v)
    Comparator(desk, 7, east, c3, ahead=True)
    Comparator(desk, 6, c3, c4)
    desk.join(power, (entry, 0), (west, 0))
    Lamp(desk, 1, power, lit)
    return {"entry": entry, "lamp": lit, "v": v, "c1": c1, "d": d, "c3": c3, "c4": c4, "east": east}


# --- Verilog: taps -------------------------------------------------------------------------------------------------
#
#      x   0 1 2 3 4 5 6 7      The repeater (2, 0) hears the wire (1, 0) with 15; those in the third row are a chain
#  y 0     b w 4 w w w w L      that begins at the wire (1, 2) with 13. Their fronts meet at the joined wire (5, 0): two
#  y 1     . w . . . w          cells from (3, 0), two from (5, 2). The bell hears the next wire.
#  y 2     . w 4 4 4 w

TAPS = """
  wire [3:0] press, by_y2, t1, t2, t3, t4, t1_less, t4_less, joined, last, bell;
  wires #(2) w1(press, by_y2);
  repeater #(.RANK(1), .TICKS(4)) r1(press, 4'd0, t1);
  repeater #(.RANK(3), .TICKS(4), .AHEAD(1)) r2(by_y2, 4'd0, t2);
  repeater #(.RANK(4), .TICKS(4), .AHEAD(1)) r3(t2, 4'd0, t3);
  repeater #(.RANK(5), .TICKS(4)) r4(t3, 4'd0, t4);
  wires #(2) w2(t1, t1_less);
  wires #(2) w3(t4, t4_less);
  stronger s1(t1_less, t4_less, joined);
  wires #(1) w4(joined, last);
  lamp #(.RANK(2)) l1(last, bell);
"""

# --- Verilog: torch-clock ------------------------------------------------------------------------------------------
#
#      x   0 1 2 3 4 5 6 7 8 9      The lever l is fixed to # (1, 0) and powers it strongly. The torch (2, 0) on it
#  y 0     l # t w # t w # t w      lights the wire (3, 0), which powers # (4, 0); and so on. The wire (9, 0) of the
#  y 1     . w . . . . . . . w      third torch runs eleven cells on to (1, 1), which powers # (1, 0). That wire hears
#  y 2     . w w w w w w w w w      the strong power of the lever, which runs the eleven cells back to (9, 0).

TORCH_CLOCK = """
  wire [3:0] run, t1, t2, t3, t3_less, start_less, back, home, power;
  wires #(11) w1(t3, t3_less);
  wires #(11) w2(run, start_less);
  stronger s1(t3_less, run, home);
  stronger s2(t3, start_less, back);
  stronger s3(home, run, power);
  torch #(.RANK(1)) a(power, t1);
  torch #(.RANK(2)) b(t1, t2);
  torch #(.RANK(3)) c(t2, t3);
"""

# --- Verilog: latch ------------------------------------------------------------------------------------------------
#
#      x   0 1 2 3 4 5 6      The button `set` is heard by r (2, 0) alone. r's 15 goes two cells on to (5, 0), before
#  y 0     . b r w w w L      the lamp, and five cells round to (2, 2), behind d. d faces north into r's flank and
#  y 1     b r d . w          locks it; its own west flank is fed by r (1, 1), which hears the button `reset`.
#  y 2     . . w w w

LATCH = """
  wire [3:0] set, reset, r1, r2, d, ahead, round, barrier;
  repeater #(.RANK(1)) a(set, d, r1);
  wires #(2) w1(r1, ahead);
  wires #(5) w2(r1, round);
  lamp #(.RANK(2)) l1(ahead, barrier);
  repeater #(.RANK(3), .AHEAD(1)) b(reset, 4'd0, r2);
  comparator #(.RANK(4), .DIFFERENCE(1), .AHEAD(1)) c(round, r2, d);
"""


@dataclass(frozen=True)
class Case:
    """An example, its model, the cells that the model's names stand for, and what its triggers are at the start."""

    plan: str
    model: Callable[[Desk, myhdl.Signal], dict[str, myhdl.Signal]] | str
    watch: dict[str, Cell]
    start: int = 0
    part: str = "button"


CASES = [
    Case("flat-loop-4", flat_loop_4, {
        "entry": (2, 0, 1), "lamp": (2, 0, 0), "r": (1, 0, 1), "c1": (3, 0, 1), "c2": (4, 0, 1), "c3": (4, 1, 1),
        "c4": (3, 1, 1), "west": (2, 1, 1), "east": (5, 1, 1),
    }),
    Case("stacked-loop-3", stacked_loop_3, {
        "entry": (2, 0, 2), "lamp": (2, 0, 1), "r": (1, 0, 1), "c1": (3, 0, 1), "c2": (4, 0, 1), "c3": (3, 0, 3),
        "east": (5, 0, 2), "upper": (4, 0, 3),
    }),
    Case("pulse-shortener", pulse_shortener, {
        "short": (3, 0, 1), "bell": (4, 0, 1), "n": (2, 1, 1), "behind_n": (2, 2, 1),
    }),
    Case("difference-fader", difference_fader, {
        "entry": (2, 2, 1), "lamp": (2, 2, 0), "v": (4, 1, 1), "c1": (3, 2, 1), "d": (4, 2, 1), "c3": (4, 3, 1),
        "c4": (3, 3, 1), "east": (5, 3, 1),
    }),
    Case("taps", TAPS, {
        "joined": (5, 0, 1), "bell": (7, 0, 1), "last": (6, 0, 1), "by_y2": (1, 2, 1), "t1": (2, 0, 1), "t2": (2, 2, 1),
        "t3": (3, 2, 1), "t4": (4, 2, 1),
    }),
    Case("torch-clock", TORCH_CLOCK, {
        "t1": (2, 0, 1), "t2": (5, 0, 1), "t3": (8, 0, 1), "back": (9, 0, 1), "home": (1, 1, 1), "power": (1, 0, 1),
    }, start=15, part="lever"),
    Case("latch", LATCH, {
        "r1": (2, 0, 1), "r2": (1, 1, 1), "d": (2, 1, 1), "ahead": (5, 0, 1), "round": (2, 2, 1), "barrier": (6, 0, 1),
    }),
]  # fmt: skip

Script = list[tuple[int, str]]  # step and trigger


def presses(triggers: list[str], source: random.Random) -> Script:
    """Presses of the plan's own triggers at irregular steps, some while still pressed."""
    steps = sorted(source.sample(range(3, STEPS - 60), 8))
    return [(step, source.choice(triggers)) for step in steps]


def flips(triggers: list[str], source: random.Random) -> Script:
    """Irregular pulses: flips from 1 to 12 steps apart, with a rest now and then."""
    script, step = [], 2
    while step < STEPS - 120:
        script.append((step, source.choice(triggers)))
        step += source.choice((1, 1, 2, 2, 3, 4, 5, 6, 7, 8, 10, 12, 40))
    return script


def run_myhdl(case: Case, part: str, script: Script) -> list[dict[str, int]]:
    assert callable(case.model)
    desk, press = Desk(), level()
    hand = (Button if part == "button" else Lever)(desk, press)
    watched = case.model(desk, press)
    rows: list[dict[str, int]] = []
    acts = use([(step, hand.use) for step, _ in script])
    simulation = myhdl.Simulation(*desk.processes, acts, record(STEPS, watched, rows))
    try:
        simulation.run((STEPS + 2) * STEP, quiet=1)
    finally:
        simulation.quit()  # there can be only one
    return rows


def run_icarus(
    case: Case, part: str, script: Script, triggers: list[str], folder: Path, need_tool: Callable[[str], str]
) -> list[dict[str, int]]:
    names = list(case.watch)
    hands = "\n".join(f"  {part} #(.START({case.start})) hand_{name}({name});" for name in triggers)
    acts = "\n".join(
        f"    #(64'd{step + 1} * `STEP + 4 * `SLOT + {index} * `GAP - $time) hand_{name}.use_it;"
        for index, (step, name) in enumerate(script)
    )
    shown = " ".join(["%0d"] * len(names))
    bench = f"""
module bench;
  integer tickets, step;
  initial tickets = 0;
{case.model}
{hands}
  initial begin
{acts}
  end
  initial begin
    #(`STEP + 7 * `SLOT);
    for (step = 0; step < {STEPS}; step = step + 1) begin
      $display("{shown}", {", ".join(names)});
      #(`STEP);
    end
    $finish;
  end
endmodule
"""
    (folder / "bench.v").write_text((MODELS / "parts.v").read_text(encoding="utf-8") + bench, encoding="utf-8")
    compiled = folder / "bench.vvp"
    sources = ["-s", "bench", "-o", str(compiled), str(folder / "bench.v")]
    subprocess.run([need_tool("iverilog"), "-g2005", "-Wall", *sources], check=True, capture_output=True)
    output = subprocess.run([need_tool("vvp"), "-n", str(compiled)], check=True, capture_output=True, text=True).stdout
    lines = [line for line in output.splitlines() if line and line[0].isdigit()]
    return [dict(zip(names, map(int, line.split()), strict=True)) for line in lines]


def with_levers(plan: Plan) -> Plan:
    """A lever in the place of each trigger's button."""
    levers = dict.fromkeys(plan.triggers.values(), parse_part("lever"))
    return replace(plan, cells={**plan.cells, **levers})


@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize("hand", ["presses", "flips"])
@pytest.mark.parametrize("case", CASES, ids=lambda case: case.plan)
def test_same_trace_as_the_model(
    case: Case, hand: str, seed: int, tmp_path: Path, need_tool: Callable[[str], str]
) -> None:
    plan = load(EXAMPLES / f"{case.plan}.toml")
    triggers = list(plan.triggers)
    source = random.Random(f"{case.plan} {hand} {seed}")
    script = (presses if hand == "presses" else flips)(triggers, source)
    part = case.part if hand == "presses" else "lever"
    if part != case.part:
        plan = with_levers(plan)
    if isinstance(case.model, str):
        rows = run_icarus(case, part, script, triggers, tmp_path, need_tool)
    else:
        rows = run_myhdl(case, part, script)
    assert len(rows) == STEPS
    acts = [f"{step}:{who}:{'press' if part == 'button' else 'flip'}" for step, who in script]
    trace = run(plan, acts, STEPS, watch=case.watch).trace
    for step, row in enumerate(rows):
        assert {name: trace.value_at(name, step) for name in case.watch} == row, f"first difference in step {step}"
    assert all(len(trace.changes[name]) > 1 for name in case.watch), "every watched cell must have moved"
