"""Which rules of the block world a run reaches, counted from outside while the reference engine runs.

`watching(counts)` lays itself round the functions of the reference engine for as long as it is open; each hook looks
at the state before and after, and counts what it saw under one of the names of RULES.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from itertools import pairwise
from typing import Any
from unittest import mock

from tickwright.engine.reference import hand, items, pistons, signals, simulation
from tickwright.engine.reference.simulation import Simulation
from tickwright.kinds import BUTTONS, CONTAINERS, PISTONS, PLATES, STANDS
from tickwright.rules import power, wire
from tickwright.rules.geometry import Geometry
from tickwright.space import HORIZONTAL, Cell, beside
from worlds.rules import RULES


def sort(kind: str | None) -> str:
    """The kind, with buttons, plates and pistons each taken together."""
    groups = {"button": BUTTONS, "plate": PLATES, "piston": PISTONS, "sensor": ("change-sensor",)}
    return next((name for name, kinds in groups.items() if kind in kinds), str(kind))


class Watcher:
    """The hooks; `counts` maps names of RULES to how often each was seen."""

    def __init__(self, counts: Counter[str]) -> None:
        self.counts = counts
        self._wires: dict[tuple[int, Cell], tuple[str, ...]] = {}
        self._powers: dict[tuple[int, Cell], tuple[tuple[str, ...], tuple[Cell, ...]]] = {}
        self._keep: list[Geometry] = []  # so that no id comes back
        self._pushed: set[tuple[Cell, Cell]] = set()  # in this step, from and to
        self._pulled: set[tuple[Cell, Cell]] = set()
        self._flicks: dict[Cell, int] = {}  # wire seen by a sensor in this step -> its level before

    def see(self, *names: str) -> None:
        for name in names:
            assert name in RULES, name
            self.counts[name] += 1

    def hooks(self) -> Iterator[tuple[Any, str, Callable[..., Any]]]:
        """Every function to wrap: its owner, its name and the wrapper, which gets the function first."""
        yield signals, "act", self.act
        yield signals, "notified", self.notified
        yield Simulation, "step", self.step
        yield Simulation, "schedule", self.schedule
        yield Simulation, "change", self.change
        yield Simulation, "notify_of_lamp", self.notify_of_lamp
        yield Simulation, "_start", self.start
        yield pistons, "start_moves", self.start_moves
        yield pistons, "notified", self.piston_notified
        yield pistons, "_extend", self.extend
        yield pistons, "_retract", self.retract
        yield pistons, "_carry_off", self.carry_off
        yield pistons, "_land", self.land
        yield pistons, "break_part", self.break_part
        yield pistons, "_note_blocked", self.blocked
        yield items, "_hopper_turn", self.hopper_turn
        yield items, "_push", self.push
        yield items, "eject", self.eject
        yield items, "let_go", self.let_go
        yield items, "_look_again", self.look_again
        yield items.Matter, "rest", self.rest
        yield hand, "perform", self.perform

    # --- time and order ----------------------------------------------------------------------------------------

    def start(self, real: Callable[..., None], sim: Simulation) -> None:
        real(sim)
        self.see(*["start-schedules"] * bool(sim.events))

    def step(self, real: Callable[..., None], sim: Simulation, step: int) -> None:
        self._flicks, self._pushed, self._pulled = {}, set(), set()
        due = sorted(e for e in sim.events if e.due <= step and sim.outstanding.get(e.cell) is e)
        for one, other in pairwise(due):
            if one.priority == other.priority:
                self.see("serial-tie")
            elif one.serial > other.serial:
                self.see("priority-tie")
        vanished = sim.matter.vanished
        real(sim, step)
        self.see(*["vanishes"] * (sim.matter.vanished > vanished))
        for cell, before in self._flicks.items():
            if sim.level.get(cell, 0) == before and sim.geometry.kind(cell) == "wire":
                self.see("flicker")
        for cell in sim.geometry.pistons:
            posture = sim.stands[cell].posture
            if posture != "back" and sim.powered(cell) != (posture == "out") and cell not in sim.moves.queue:
                self.see("not-told")

    def schedule(self, real: Callable[..., None], sim: Simulation, cell: Cell, delay: int, priority: int = 0) -> None:
        if cell in sim.outstanding:
            self.see("outstanding")
        elif (kind := sim.geometry.kind(cell)) in ("repeater", "comparator"):
            front = sim.geometry.parts.get(beside(cell, str(sim.geometry.parts[cell].facing)))
            if front is not None and front.kind in ("repeater", "comparator"):
                if power.is_ahead(sim.geometry, cell):
                    self.see(f"{kind}-ahead")
                else:
                    self.see("repeater-head-on")
        real(sim, cell, delay, priority)

    def notify_of_lamp(self, real: Callable[..., None], sim: Simulation, cell: Cell) -> None:
        if sim.geometry.watchers(cell) or sim.geometry.pistons_near(cell):
            self.see("lamp-seen")
        if sim.geometry.watchers(cell):
            self.see("sees-lamp")
        real(sim, cell)

    # --- levels ------------------------------------------------------------------------------------------------

    def change(self, real: Callable[..., None], sim: Simulation) -> None:
        changed = dict(sim._changed)
        stood = [cell for cell, look in sim._restood.items() if sim._look_of(cell) != look]
        self._changed_wires(sim, real)
        geometry = sim.geometry
        for cell, before in changed.items():
            kind, level = geometry.kind(cell), sim.level.get(cell, 0)
            if kind is None or level == before:
                continue
            watchers = geometry.watchers(cell)
            if watchers and (before > 0) != (level > 0) and (name := f"sees-{sort(kind)}") in RULES:
                self.see(name)
            elif watchers and kind in ("comparator", "counting-plate"):
                self.see("unseen-level")
            if level > 0:
                strong = self._power(geometry, cell)[0]
                self.see(*strong)
        if any(geometry.watchers(cell) for cell in stood):
            self.see("sees-stand")

    def _changed_wires(self, sim: Simulation, real: Callable[..., None]) -> None:
        """Run the change, and look at the wires it settles."""
        before: dict[Cell, int] = {}
        settle = Simulation._settle

        def settled(this: Simulation, wires: Iterable[Cell]) -> None:
            wires = list(wires)
            levels = {there: this.level.get(there, 0) for there in this._in_reach(wires)}
            settle(this, wires)
            before.update({there: old for there, old in levels.items() if this.level.get(there, 0) != old})
            for there in levels.keys() & before.keys():
                if this.geometry.watchers(there):
                    self.see("sees-wire")
                    self._flicks.setdefault(there, before[there])

        with mock.patch.object(Simulation, "_settle", settled):
            real(sim)
        for cell in before:
            if sim.level.get(cell, 0) > 0:
                self.see(*self._wire(sim.geometry, cell))
                self._weak(sim, cell)

    def _wire(self, geometry: Geometry, cell: Cell) -> tuple[str, ...]:
        """What the surroundings of a wire with level have to show."""
        key = (id(geometry), cell)
        if key not in self._wires:
            self._keep.append(geometry)
            joins = wire.joins(geometry, cell)
            axes = {side in ("east", "west") for side in joins}
            names = {("points-all", "points-axis", "points-corner")[len(axes)]}
            for side in HORIZONTAL:
                there = beside(cell, side)
                below = beside(there, "down")
                above = beside(there, "up")
                if geometry.kind(below) == "wire" and not geometry.conducts(there):
                    down = below in geometry.outflows(cell)
                    names.add("climb-conductor" if down else "no-way-down")
                if geometry.kind(above) == "wire" and geometry.kind(there) is not None:
                    roofed = geometry.conducts(beside(cell, "up"))
                    names |= {"roof"} if roofed else set() if geometry.conducts(there) else {"climb-insulator"}
            self._wires[key] = tuple(names)
        return self._wires[key]

    def _weak(self, sim: Simulation, cell: Cell) -> None:
        for block in self._power(sim.geometry, cell)[1]:
            self.see("weak-power")
            for side in HORIZONTAL:
                there = beside(block, side)
                if sim.geometry.kind(there) == "wire" and there != cell and sim.level.get(there, 0) == 0:
                    self.see("wire-deaf-to-weak")

    def _power(self, geometry: Geometry, cell: Cell) -> tuple[tuple[str, ...], tuple[Cell, ...]]:
        """The names of strong power that the part in the cell gives, and the blocks that it powers weakly."""
        key = (id(geometry), cell)
        if key not in self._powers:
            self._keep.append(geometry)
            near = [beside(cell, side) for side in (*HORIZONTAL, "up", "down")]
            strong = any(cell in power.strong_sources(geometry, there) for there in near)
            weak = tuple(there for there in near if cell in power.weak_sources(geometry, there))
            self._powers[key] = ((f"strong-by-{sort(geometry.kind(cell))}",) if strong else (), weak)
        return self._powers[key]

    # --- parts that are told or due ----------------------------------------------------------------------------

    def notified(self, real: Callable[..., None], sim: Simulation, cell: Cell, behaviour: str) -> None:
        if behaviour == "repeater":
            self._repeater_notified(sim, cell)
        elif behaviour == "torch" and cell in sim.torches.burnt:
            self.see("burnt-deaf")
        elif behaviour == "sensor" and signals.is_on(sim, cell):
            self.see("sensor-busy")
        elif (
            behaviour == "ejector" and cell not in sim.ejector_powered and sim.powered(cell) and cell in sim.outstanding
        ):
            self.see("eject-edge-lost")
        was = sim.level.get(cell, 0)
        real(sim, cell, behaviour)
        if behaviour == "lamp" and sim.level.get(cell, 0) > was:
            self.see("lamp-lights")
        if behaviour in ("lamp", "torch") and any(
            sim.geometry.kind(source) == "power-block" for source in sim.geometry.fan_in(cell).power
        ):
            self.see("power-block")

    def _repeater_notified(self, sim: Simulation, cell: Cell) -> None:
        if sim.powered(cell) == signals.is_on(sim, cell):
            return
        lock = sim.geometry.fan_in(cell).lock
        if signals.locked(sim, cell):
            self.see("locked-told")
            if any(sim.geometry.kind(there) == "comparator" and sim.level.get(there, 0) for there in lock):
                self.see("locked-by-comparator")
        elif lock and cell not in sim.outstanding:
            self.see("lock-released")

    def act(self, real: Callable[..., None], sim: Simulation, cell: Cell) -> None:
        kind, before = sim.geometry.kind(cell), sim.level.get(cell, 0)
        powered = kind in ("repeater", "torch", "lamp") and sim.powered(cell)
        locked = kind == "repeater" and signals.locked(sim, cell)
        burnt = cell in sim.torches.burnt
        real(sim, cell)
        after = sim.level.get(cell, 0)
        if kind == "repeater":
            self._repeater_due(sim, cell, before, powered, locked)
        elif kind == "comparator":
            self._comparator_due(sim, cell, before, after)
        elif kind == "torch":
            self.see("torch-keeps" if before == after and not burnt else "torch-on" if after else "torch-off")
            self.see(*["torch-side"] * (sim.geometry.parts[cell].facing != "down"))
            if burnt:
                self.see("burnt-lights" if after else "burnt-stays")
            elif cell in sim.torches.burnt:
                self.see("burn-out")
        elif kind == "lamp":
            self.see("lamp-keeps" if powered else "lamp-dark")
        elif kind == "change-sensor":
            self.see(*["sensor-pulses"] * (after > 0))
            self.see(*["sensor-vertical"] * (sim.geometry.parts[cell].facing in ("up", "down")))
        elif kind in BUTTONS:
            self.see("button-releases")

    def _repeater_due(self, sim: Simulation, cell: Cell, before: int, powered: bool, locked: bool) -> None:
        if locked:
            self.see("locked-due")
            return
        if sim.geometry.parts[cell].delay > 1:
            self.see(f"repeater-delay-{sim.geometry.parts[cell].delay}")
        if before:
            self.see("repeater-swallows" if powered else "repeater-off")
            return
        self.see("repeater-on")
        if not powered:
            self.see("repeater-stretches")

    def _comparator_due(self, sim: Simulation, cell: Cell, before: int, after: int) -> None:
        fan_in, part = sim.geometry.fan_in(cell), sim.geometry.parts[cell]
        rear, flank = sim.heard(fan_in.power), sim.heard(fan_in.flank)
        if fan_in.container is not None:
            directly = fan_in.container[1]
            if directly or rear < 15:
                rear = sim.rules.fill_level(str(sim.geometry.kind(fan_in.container[0])), sim.count[fan_in.container[0]])
                self.see("reads-container" if directly else "reads-through")
                self.see(*["reads-instead"] * (not directly and rear > 0 and sim.heard(fan_in.power) > 0))
            else:
                self.see("rear-full")
        if before == after:
            self.see("comparator-loses")
        elif before and after:
            self.see("comparator-changes")
        if part.mode == "difference":
            self.see(*["difference"] * (rear > 0 and flank > 0))
        elif rear or flank:
            self.see("threshold-shuts" if rear < flank else "threshold-equal" if rear == flank else "threshold-passes")
        for source in fan_in.flank:
            if sim.level.get(source, 0):
                self.see(f"flank-{sort(sim.geometry.kind(source))}")

    def look_again(self, real: Callable[..., None], sim: Simulation, cell: Cell) -> None:
        before = sim.level.get(cell, 0)
        real(sim, cell)
        after = sim.level.get(cell, 0)
        self.see("plate-keeps" if before == after else "plate-changes" if after else "plate-releases")

    # --- items -------------------------------------------------------------------------------------------------

    def hopper_turn(self, real: Callable[..., None], sim: Simulation, cell: Cell) -> None:
        ready, counts = sim.matter.ready.get(cell, 0), dict(sim.count)
        goal, above = sim.geometry.hopper_ends(cell)
        stack = sum(one.number for one in sim.matter.resting.get(above, ()))
        if ready <= sim.now and sim.powered(cell):
            self.see("hopper-locked")
        real(sim, cell)
        if ready > sim.now or sim.powered(cell):
            return
        pushed = (cell, goal) in self._pushed
        pulled = sim.geometry.capacity(above) and sim.count[above] < counts[above]
        took = above not in sim.geometry.parts or sim.geometry.kind(above) in PLATES
        took = took and sum(one.number for one in sim.matter.resting.get(above, ())) < stack
        self.see(
            *["pull"] * bool(pulled), *["pull-stack"] * took, *["push-and-pull"] * (pushed and bool(pulled or took))
        )
        if sim.geometry.capacity(goal) and counts[cell] and not pushed:
            self.see("no-room")
        if {(cell, goal), (above, cell)} & self._pushed & (self._pulled | {(above, cell)} if pulled else self._pulled):
            self.see("pair-moves-two")
        if pulled:
            self._pulled.add((above, cell))
            self.see(*["locked-emptied"] * (sim.geometry.kind(above) == "hopper" and sim.powered(above)))

    def push(self, real: Callable[..., None], sim: Simulation, cell: Cell, goal: Cell) -> None:
        self._pushed.add((cell, goal))
        self.see("push")
        if sim.geometry.kind(goal) == "hopper":
            self.see(*["first-wait"] * (sim.count[goal] == 0), *["locked-filled"] * sim.powered(goal))
        real(sim, cell, goal)

    def eject(self, real: Callable[..., None], sim: Simulation, cell: Cell) -> None:
        front = beside(cell, str(sim.geometry.parts[cell].facing))
        kind, held = sim.geometry.kind(front), sim.count[cell]
        real(sim, cell)
        if held == 0:
            self.see("eject-empty")
        elif kind in CONTAINERS:
            self.see("eject-container" if sim.count[cell] < held else "eject-full")
        elif sim.count[cell] < held:
            self.see("eject-plate" if kind in PLATES else "eject-open")
        else:
            self.see("eject-blocked")

    def let_go(self, real: Callable[..., None], sim: Simulation, cell: Cell, number: int) -> None:
        lost, flights = sim.matter.lost, len(sim.matter.flights)
        goal = items._place_of_rest(sim, cell)
        real(sim, cell, number)
        flew = len(sim.matter.flights) > flights
        self.see("lost" if sim.matter.lost > lost else "falls" if flew else "rests-at-once")
        if goal is not None and flew:
            between = [(cell[0], cell[1], z) for z in range(goal[2], cell[2] + 1)]
            self.see(
                *["falls-past-standing"] * any(sim.geometry.kind(there) in STANDS - {*PLATES} for there in between)
            )

    def rest(self, real: Callable[..., None], matter: items.Matter, sim: Simulation, stack: items.Stack) -> None:
        real(matter, sim, stack)
        self.see(*["two-stacks"] * (len(matter.resting[stack.cell]) > 1))
        self._feels(sim, stack.cell)

    def _feels(self, sim: Simulation, cell: Cell) -> None:
        stand = sim.stands.get(cell)
        kind = sim.kind_at(cell)
        if stand is None or kind not in PLATES:
            return
        if sim.level.get(cell, 0):
            self.see(f"{kind}-10" if stand.part.counts == 10 else str(kind))
        elif kind == "tread-plate":
            self.see("tread-plate-deaf")

    # --- pistons -----------------------------------------------------------------------------------------------

    def start_moves(self, real: Callable[..., None], sim: Simulation) -> None:
        queued = list(sim.moves.queue)
        for cell in queued:
            if sim.geometry.kind(cell) in PISTONS:
                stand = sim.stands[cell]
                if stand.posture != "back" and sim.powered(cell) == (stand.posture == "out"):
                    self.see("dropped")
        self._moving = True
        real(sim)
        self._moving = False

    _moving = False

    def piston_notified(self, real: Callable[..., None], sim: Simulation, cell: Cell) -> None:
        length = len(sim.moves.queue)
        real(sim, cell)
        if len(sim.moves.queue) > length:
            self.see(*["queued-while-moving"] * self._moving)

    def extend(self, real: Callable[..., None], sim: Simulation, cell: Cell, part: Any) -> None:
        sides = [side for side in (*HORIZONTAL, "up", "down") if side != part.facing]
        direct = {source for side in sides for source in power.heard_through(sim.geometry, cell, side)}
        if not sim.heard(direct):
            self.see("from-above")
        moving = sum(len(move.goals) for move in sim.moves.underway)
        real(sim, cell, part)
        if sim.stands.get(cell) is None or sim.stands[cell].posture != "out":
            return
        row = sum(len(move.goals) for move in sim.moves.underway) - moving
        self.see("extends" if row <= 0 else "pushes", *["pushes-many"] * (row > 10))
        self.see(*["moves-vertical"] * (part.facing in ("up", "down")))

    def retract(self, real: Callable[..., None], sim: Simulation, cell: Cell, part: Any) -> None:
        self.see("retracts")
        if any(move.piston == cell and not move.retracted for move in sim.moves.underway):
            self.see("left-behind")
        underway, found = len(sim.moves.underway), len(sim.notes.findings())
        real(sim, cell, part)
        if part.kind == "pull-piston" and underway == len(sim.moves.underway) - 1:
            if any(finding.code == "piston-cannot-pull" for finding in sim.notes.findings()[found:]):
                self.see("cannot-pull")
            elif not sim.moves.underway[-1].goals:
                self.see("no-cell-push")
            if sim.moves.underway[-1].goals:
                self.see("pulls")

    def carry_off(self, real: Callable[..., None], sim: Simulation, here: Cell, goal: Cell, move: Any) -> None:
        kind, on = sim.stands[here].part.kind, sim.level.get(here, 0) > 0
        self.see(*["loses-entry"] * (here in sim.outstanding), *["pushes-piston"] * (kind in PISTONS))
        self.see(*["pushes-sensor"] * (kind == "change-sensor" and on))
        real(sim, here, goal, move)

    def land(self, real: Callable[..., None], sim: Simulation, move: Any) -> None:
        self.see(*["lands"] * bool(move.goals))
        real(sim, move)

    def break_part(self, real: Callable[..., None], sim: Simulation, cell: Cell, why: str) -> None:
        self.see("push-breaks" if "pushed into it" in why else "support-lost")
        real(sim, cell, why)

    def blocked(self, real: Callable[..., None], sim: Simulation, cell: Cell, here: Cell, stand: Any) -> None:
        self.see("too-many" if pistons.movable(sim, stand) else "blocked-moving" if stand.inert else "blocked")
        real(sim, cell, here, stand)

    # --- hand --------------------------------------------------------------------------------------------------

    def perform(self, real: Callable[..., None], sim: Simulation, act: Any) -> None:
        stand, level = sim.stands.get(act.cell), sim.level.get(act.cell, 0)
        held = sim.count.get(act.cell, 0)
        kind = sim.kind_at(act.cell)
        refused = self._refusals(sim)
        real(sim, act)
        self.see(*["hand-usual"] * (act.verb == "usual"))
        if self._refusals(sim) > refused:
            self.see("hand-refused", *["hand-on-move"] * (stand is not None and stand.inert))
            return
        if act.verb in ("put", "take", "drop", "tread", "leave", "place", "clear"):
            self.see(f"hand-{act.verb}")
        if kind in CONTAINERS and act.verb in ("put", "take") and abs(sim.count[act.cell] - held) < act.number:
            self.see("hand-clipped")
        if stand is not None and stand.posture == "out" and act.verb in ("place", "clear"):
            self.see("hand-clears-out")
        if kind in BUTTONS:
            self.see("button-deaf" if level else str(kind))
        if kind == "lever" and sim.kind_at(act.cell) == "lever":
            self.see("lever")
        if act.verb == "tread":
            self._feels(sim, act.cell)

    def _refusals(self, sim: Simulation) -> int:
        return sum(len(finding.steps) for finding in sim.notes.findings() if finding.code == "act-refused")


@contextmanager
def watching(counts: Counter[str]) -> Iterator[None]:
    """While open, every run of the reference engine adds to `counts` what it reaches."""
    watcher = Watcher(counts)
    patches = []
    for owner, name, wrapper in watcher.hooks():
        real = getattr(owner, name)
        patches.append(mock.patch.object(owner, name, _wrapped(real, wrapper)))
    try:
        for patch in patches:
            patch.start()
        yield
    finally:
        for patch in reversed(patches):
            patch.stop()


def _wrapped(real: Callable[..., Any], wrapper: Callable[..., Any]) -> Callable[..., Any]:
    def call(*arguments: Any, **named: Any) -> Any:
        return wrapper(real, *arguments, **named)

    return call


assert simulation.signals is signals
