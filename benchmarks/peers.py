"""What the engines are measured against, on the same Circuit: general-purpose simulators, told of the same parts.

Icarus Verilog runs what `publish.verilog_text` writes, and for rings a bare and a clocked model (the latter Verilator,
too, where there is one); SimPy and a plain heap in Python run the parts of the workloads with callbacks, no process and
no object for each: the quickest way known to us.
"""

from __future__ import annotations

import atexit
import heapq
import re
import resource
import shutil
import subprocess
import tempfile
import time
from collections.abc import Callable, Iterable, Mapping
from contextlib import ExitStack
from functools import partial
from pathlib import Path

from tickwright.engine.circuit import KINDS, Circuit
from tickwright.kinds import BUTTONS
from tickwright.plan import Stimulus
from tickwright.publish import verilog_text
from tickwright.space import Cell

Schedule = Callable[[int, int, int], None]
CHILDREN = resource.RUSAGE_CHILDREN


_FOLDERS = ExitStack()
atexit.register(_FOLDERS.close)


def fresh_folder() -> Path:
    """A folder that is there until the benchmarks end."""
    return Path(_FOLDERS.enter_context(tempfile.TemporaryDirectory()))


def processor_seconds(command: list[str], folder: Path) -> float:
    """Run a command and give the processor time that it and its children took."""
    before = resource.getrusage(CHILDREN)
    subprocess.run(command, cwd=folder, check=True, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE)
    after = resource.getrusage(CHILDREN)
    return after.ru_utime - before.ru_utime + after.ru_stime - before.ru_stime


# --- Verilog --------------------------------------------------------------------------------------------------------


class Icarus:
    """A bench that Icarus Verilog has compiled, once for all its runs; it runs for as long as it is told."""

    def __init__(self, text: str) -> None:
        self._folder = folder = fresh_folder()
        (folder / "plan.v").write_text(text, encoding="ascii")
        self.compiling = processor_seconds(["iverilog", "-g2005", "-o", "plan.vvp", "plan.v"], folder)

    def seconds(self, length: int) -> float:
        """Processor seconds of loading and running it, LENGTH given."""
        return processor_seconds(["vvp", "-n", "plan.vvp", f"+LENGTH={length}"], self._folder)


def icarus_is_there() -> bool:
    """Whether this machine has Icarus Verilog."""
    return shutil.which("iverilog") is not None


class IcarusCircuit:
    """A circuit as it is exported, in Icarus Verilog."""

    def __init__(self, circuit: Circuit, watch: Mapping[str, Cell], stimuli: Iterable[Stimulus], going_at: int) -> None:
        text = verilog_text(circuit, watch, stimuli, going_at, one_by_one=False)
        step = re.search(r"A step of 0.05 s is (\d+) units", text)
        end = re.search(r"    #\(64'd(\d+)\) \$finish;", text)
        if step is None or end is None:
            raise RuntimeError("The exported bench has another form: see publish/verilog.py.")
        self._step, self._rest = int(step[1]), int(end[1])
        notified = '    if (!$value$plusargs("LENGTH=%d", length)) $finish;\n    #(length) $finish;'
        text = text.replace(end[0], notified).replace("module bench;", "module bench;\n  reg [63:0] length;", 1)
        self.bench = Icarus(text)

    def seconds(self, more_steps: int) -> float:
        """Processor seconds of loading and running it until so many steps after all is going."""
        return self.bench.seconds(self._rest + more_steps * self._step)

    def steady_seconds(self, steps: int) -> float:
        """Processor seconds of so many steps once all is going: a longer run less a shorter one."""
        return self.seconds(steps) - self.seconds(0)


RING = """\
`timescale 1ns/1ns
module bench;
  integer length;
  initial if (!$value$plusargs("LENGTH=%d", length)) $finish;
"""


def clocked_ring(repeaters: int) -> str:
    """A ring of one-tick repeaters as registers on one clock, pulses of two ticks in it, for LENGTH ticks."""
    lines = ["  reg clk = 0;", *(f"  reg a{i} = {int(i % 4 < 2)};" for i in range(repeaters))]
    lines += [f"  always @(posedge clk) a{i} <= a{(i - 1) % repeaters};" for i in range(repeaters)]
    lines += ["  initial begin #1 repeat (2 * length) #1 clk = !clk; $display(a0); $finish; end", "endmodule", ""]
    return RING + "\n".join(lines)


def bare_ring(repeaters: int) -> str:
    """The same ring driven by events, with nothing but delays: a part follows the one before it a tick later."""
    lines = [f"  reg a{i};" for i in range(repeaters)]
    lines += [f"  always @(a{(i - 1) % repeaters}) a{i} <= #2 a{(i - 1) % repeaters};" for i in range(repeaters)]
    lines += ["  initial begin", "    #1;", *(f"    a{i} = {int(i % 4 < 2)};" for i in range(repeaters))]
    lines += ["    #(2 * length + 1) $display(a0);", "    $finish;", "  end", "endmodule", ""]
    return RING + "\n".join(lines)


class Verilator:
    """The same for Verilator: a program made of a bench."""

    def __init__(self, text: str) -> None:
        self._folder = folder = fresh_folder()
        (folder / "bench.v").write_text(text, encoding="ascii")
        processor_seconds(["verilator", "--binary", "-O3", "-Wno-fatal", "--top-module", "bench", "bench.v"], folder)

    def seconds(self, length: int) -> float:
        """Processor seconds of running it, LENGTH given."""
        return processor_seconds(["obj_dir/Vbench", f"+LENGTH={length}"], self._folder)


def verilator_is_there() -> bool:
    """Whether this machine has Verilator."""
    return shutil.which("verilator") is not None


# --- plain Python ---------------------------------------------------------------------------------------------------


class Parts:
    """The parts of a Circuit as plain lists, and what they do when told and when due; the caller keeps the time."""

    def __init__(self, circuit: Circuit, schedule: Schedule) -> None:
        self.schedule = schedule
        self.kind = [KINDS[code] for code in circuit.kind]
        everyone = range(circuit.n)
        edges = [
            [
                [(int(p.source[e]), int(p.loss[e])) for e in range(p.start[actor], p.start[actor + 1])]
                for actor in everyone
            ]
            for p in (circuit.power, circuit.flank)
        ]
        self.power, self.flank = edges
        self.notified = [circuit.notified.of(actor) for actor in everyone]
        self.live = [circuit.live.of(actor) for actor in everyone]
        self.delay = circuit.delay.tolist()
        self.priority = circuit.priority.tolist()
        self.difference = circuit.difference.tolist()
        self.level = circuit.laid.tolist()
        self.waiting = [False] * circuit.n
        self.events = 0
        self.index = circuit.index
        for actor in everyone:
            if self.told_kind(actor):
                self.notify(actor)

    def told_kind(self, actor: int) -> bool:
        """Whether the actor is a part that looks at its input at the start."""
        return self.kind[actor] in ("repeater", "comparator", "torch", "lamp")

    def at(self, port: list[tuple[int, int]]) -> int:
        """The level at a port."""
        level, highest = self.level, 0
        for source, loss in port:
            here = level[source] - loss
            if here > highest:  # noqa: PLR1730 - the builtin is slower
                highest = here
        return highest

    def compared(self, actor: int) -> int:
        """The level that a comparator computes."""
        rear, flank = self.at(self.power[actor]), self.at(self.flank[actor])
        if self.difference[actor]:
            return max(rear - flank, 0)
        return rear if rear >= flank else 0

    def notify(self, actor: int) -> None:
        """Let a part look at its input."""
        kind, level = self.kind[actor], self.level[actor]
        if kind == "lamp" and level == 0 and self.at(self.power[actor]):
            self.level[actor] = 15
            return
        if self.waiting[actor]:
            return
        if kind == "repeater":
            if self.at(self.flank[actor]) or (self.at(self.power[actor]) > 0) == (level > 0):
                return
        elif kind == "comparator":
            if self.compared(actor) == level:
                return
        elif kind == "torch":
            if (self.at(self.power[actor]) > 0) != (level > 0):
                return
        elif kind == "lamp":
            if not level or self.at(self.power[actor]):
                return
        elif kind != "change-sensor" or level:
            return
        self.waiting[actor] = True
        self.schedule(actor, self.delay[actor], self.priority[actor][level > 0])

    def act(self, actor: int) -> None:
        """A part is due."""
        self.events += 1
        self.waiting[actor] = False
        kind, level = self.kind[actor], self.level[actor]
        again = False
        if kind == "repeater":
            if self.at(self.flank[actor]):
                return
            powered = self.at(self.power[actor]) > 0
            new = 0 if level and not powered else 15
            again = not level and not powered
        elif kind == "comparator":
            new = self.compared(actor)
        elif kind == "torch":
            new = 0 if self.at(self.power[actor]) else 15
        elif kind == "lamp":
            new = level if self.at(self.power[actor]) else 0
        else:  # a change-sensor or a button
            new = 0 if level else 15
            again = kind == "change-sensor" and new > 0
        self.show(actor, new)
        if again and not self.waiting[actor]:
            self.waiting[actor] = True
            self.schedule(actor, self.delay[actor], self.priority[actor][1])

    def show(self, actor: int, new: int) -> None:
        """A part shows a level: if it is another, everyone who hears it is told."""
        old = self.level[actor]
        if new == old:
            return
        self.level[actor] = new
        visible = (new > 0) != (old > 0)
        for wire in self.live[actor]:
            level = self.at(self.power[wire])
            if level != self.level[wire]:
                self.level[wire] = level
                for sensor in self.notified[wire]:
                    self.notify(sensor)
        for other in self.notified[actor]:
            if visible or self.kind[other] != "change-sensor":
                self.notify(other)

    def hand(self, cell: Cell) -> None:
        """Press the button in the cell, or flip the lever."""
        actor = self.index[cell]
        if self.kind[actor] in BUTTONS and not self.waiting[actor]:
            self.waiting[actor] = True
            self.schedule(actor, self.delay[actor], 0)
        self.show(actor, 0 if self.level[actor] else 15)


class HeapLoop:
    """A heap of (step, priority, serial, part), popped one by one."""

    def __init__(self, circuit: Circuit) -> None:
        self.now, self.serial = 0, 0
        self.heap: list[tuple[int, int, int, int]] = []
        self.parts = Parts(circuit, self.schedule)

    def schedule(self, actor: int, delay: int, priority: int) -> None:
        """Schedule an event."""
        self.serial += 1
        heapq.heappush(self.heap, (self.now + delay, priority, self.serial, actor))

    def run(self, stimuli: Iterable[Stimulus], steps: int) -> None:
        """Do the acts and all that is due before `steps`."""
        heap, act = self.heap, self.parts.act
        for done in [*stimuli, None]:
            until = steps if done is None else done.step + 1
            while heap and heap[0][0] < until:
                self.now, _, _, actor = heapq.heappop(heap)
                act(actor)
            if done is not None:
                self.now = done.step
                self.parts.hand(done.cell)


class SimPyLoop:
    """The same parts on SimPy: one timeout with a callback for each event; SimPy knows no such priorities."""

    def __init__(self, circuit: Circuit) -> None:
        import simpy

        self.environment = simpy.Environment()
        self.parts = Parts(circuit, self.schedule)

    def schedule(self, actor: int, delay: int, _priority: int) -> None:
        """Schedule an event."""
        self.environment.timeout(delay).callbacks.append(partial(self.due, actor))

    def due(self, actor: int, _event: object) -> None:
        """A timeout is over."""
        self.parts.act(actor)

    def run(self, stimuli: Iterable[Stimulus], steps: int) -> None:
        """Do the acts, in the middle of their steps, and all that is due before `steps`."""
        for stimulus in stimuli:
            if self.environment.now <= stimulus.step:
                self.environment.run(until=stimulus.step + 0.5)
            self.parts.hand(stimulus.cell)
        self.environment.run(until=steps)


def timed(work: Callable[[], object]) -> float:
    """Processor seconds of this process that the work takes."""
    start = time.process_time()
    work()
    return time.process_time() - start
