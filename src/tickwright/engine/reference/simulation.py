"""The reference engine's world: its state, its clock, and the one way in which anything changes.

It works on the cells as the rules read. A step has four phases: due parts, moves, items, hand. One thing changes at a
time: after each change all wire levels are brought to their fixed point at once, then every part whose input may have
changed is told, in order; only then does the next change happen.
"""

from __future__ import annotations

import heapq
from collections import deque
from collections.abc import Callable, Hashable, Iterable, Mapping
from typing import NamedTuple

from tickwright.engine.interface import Change, Hook, Phase
from tickwright.engine.notes import Notes
from tickwright.engine.order import notification_order
from tickwright.engine.reference import hand, items, pistons, signals
from tickwright.engine.trace import Recorder, Trace
from tickwright.kinds import CONTAINERS, HEARING, PARTS, PISTONS, Part
from tickwright.plan.hand import Stimulus
from tickwright.plan.setup import Setup
from tickwright.rules.geometry import Geometry
from tickwright.rules.layout import Stand, around
from tickwright.space import Cell

MOST_CONFIGURATIONS = 512
Configurations = dict[frozenset[tuple[Cell, Stand | None]], Geometry]


class Event(NamedTuple):
    """When a part is to act: events come up by (due step, priority, order of scheduling)."""

    due: int
    priority: int
    serial: int
    cell: Cell


class Simulation:
    """A plan under a rule set, run step by step by a script of the hand.

    `advance(until)` simulates all steps before `until`; `now` is the last step at which anything happened. `watch` maps
    names to cells; `sample(step, values)` is called at the end of step 0 and of each step in which something happened.
    `button_steps` gives single buttons a press length of their own, in steps, and `button_levels` a level, 1 to 15.
    Simulations of one plan under the same rules may share `configurations`, the geometries worked out so far. `hook` is
    given every change.
    """

    def __init__(
        self,
        setup: Setup,
        watch: Mapping[str, Cell] | None = None,
        sample: Callable[[int, list[int]], None] | None = None,
        button_steps: Mapping[Cell, int] | None = None,
        configurations: Configurations | None = None,
        button_levels: Mapping[Cell, int] | None = None,
        hook: Hook | None = None,
    ) -> None:
        self.rules = setup.rules
        self.key = notification_order(setup.order)
        self._part_outputs = setup.plan.part_outputs
        self.watch(watch or {})
        self.sample = sample
        self.hook = hook
        self.button_steps = dict(button_steps or {})
        self.button_levels = dict(button_levels or {})
        self.notes = Notes()
        self.now = 0

        self.stands: dict[Cell, Stand] = {cell: Stand(part) for cell, part in setup.plan.cells.items()}
        self.laid = dict(self.stands)
        self._differs: dict[Cell, Stand | None] = {}
        self._configurations: Configurations = {} if configurations is None else configurations
        self._serial = self._steps = self._moves = 0
        self._reconfigure()

        self.level: dict[Cell, int] = {}
        self.count: dict[Cell, int] = {}
        self.events: list[Event] = []
        self.outstanding: dict[Cell, Event] = {}
        self.torches = signals.TorchMemory()
        self.ejector_powered: set[Cell] = set()
        self.moves = pistons.Moves()
        self.matter = items.Matter()

        self.causes: dict[Cell, int] = {}  # by which change a part does what it does next
        self._number = 0  # of the next change
        self.reason: int | None = None  # the change by which what is scheduled at this moment is due
        self._phase: Phase = "start"
        self._actor: Cell = (0, 0, 0)
        self._cause: int | None = None

        self._changed: dict[Cell, int] = {}
        self._restood: dict[Cell, Hashable] = {}
        self._recounted: set[Cell] = set()
        self.stimuli: deque[Stimulus] = deque()
        self._start()

    def watch(self, watch: Mapping[str, Cell]) -> None:
        """Sample these cells from now on; of the plan's part outputs whether something stands there."""
        self.watched = tuple((cell, name in self._part_outputs) for name, cell in watch.items())

    # --- time ------------------------------------------------------------------------------------------------------

    def _start(self) -> None:
        """Torches are lit, all else is at rest; wires settle; then every part is told once, in order."""
        for cell, stand in self.stands.items():
            self._at_rest(cell, stand.part)
        self._settle(cell for cell, part in self.geometry.parts.items() if PARTS[part.kind].behaviour == "wire")
        self._changed.clear()
        for cell in sorted(self.geometry.parts, key=self.key):
            if self.geometry.parts[cell].kind in HEARING:
                self.notify(cell)
        self._fresh = True

    def _at_rest(self, cell: Cell, part: Part) -> None:
        """Give a part the state it starts with."""
        kind = PARTS[part.kind]
        if kind.starts_on == "always" or (kind.starts_on == "thrown" and part.thrown):
            self.level[cell] = self.rules.wire.top_level
        elif kind.slots:
            self.count[cell] = part.items

    def queue_stimuli(self, stimuli: Iterable[Stimulus]) -> None:
        """Add acts of the hand, in order of their steps; none may lie before the present."""
        self.stimuli.extend(stimuli)

    def next_step(self) -> int | None:
        """The next step in which something is due, the hand left out; None if everything is at rest."""
        while self.events and self.outstanding.get(self.events[0].cell) is not self.events[0]:
            heapq.heappop(self.events)
        steps = [self.events[0].due] if self.events else []
        if self.moves.queue:
            steps.append(self.now if self._fresh else self.now + 1)
        if self.moves.underway:
            steps.append(self.moves.underway[0].lands)
        step = self.matter.next_step()
        if step is not None:
            steps.append(step)
        return min(steps) if steps else None

    def advance(self, until: int, most_work: int | None = None) -> bool:
        """Simulate every step before `until`; steps in which nothing is due cost nothing.

        It stops early, and says False, once it has done so much since the start: a step or an event counts one,
        and each move of cells takes twenty off, since the fast engine takes longer for these.
        """
        while most_work is None or self._serial + self._steps - 20 * self._moves < most_work:
            step = self.next_step()
            if self.stimuli and (step is None or self.stimuli[0].step < step):
                step = self.stimuli[0].step
            if self._fresh and until > 0:
                step = 0
            if step is None or step >= until:
                return True
            self.step(step)
        return False

    def step(self, step: int) -> None:
        """Simulate one step: due parts, moves, items, hand."""
        self.now = step
        self._steps += 1
        self._fresh = False
        self.matter.begin_step()
        while self.events and self.events[0].due <= step:
            event = heapq.heappop(self.events)
            if self.outstanding.get(event.cell) is event:
                del self.outstanding[event.cell]
                self.begin("due", event.cell, self.causes.pop(event.cell, None))
                signals.act(self, event.cell)
        pistons.start_moves(self)
        items.items_phase(self)
        while self.stimuli and self.stimuli[0].step <= step:
            self.do(self.stimuli.popleft())
        if self.sample is not None:
            self.sample(step, self.shown())

    def do(self, act: Stimulus) -> None:
        """One act of the hand, as the last thing in the present step, which is already simulated."""
        self.begin("hand", act.cell, None)
        hand.perform(self, act)

    def copy(self) -> Simulation:
        """A simulation that goes on exactly as this one would, and on its own; it samples nothing.

        To be made between steps. What never changes is shared: the rules, the plan as laid, the geometries.
        """
        clone = object.__new__(type(self))
        clone.__dict__.update(self.__dict__)
        clone.__dict__.update(
            sample=None,
            hook=None,
            causes=self.causes.copy(),
            notes=self.notes.copy(),
            stands=self.stands.copy(),
            _differs=self._differs.copy(),
            level=self.level.copy(),
            count=self.count.copy(),
            events=self.events.copy(),  # the events themselves are shared: which one is outstanding goes by identity
            outstanding=self.outstanding.copy(),
            torches=self.torches.copy(),
            ejector_powered=self.ejector_powered.copy(),
            moves=self.moves.copy(),
            matter=self.matter.copy(),
            stimuli=self.stimuli.copy(),
            _changed=self._changed.copy(),
            _restood=self._restood.copy(),
            _recounted=self._recounted.copy(),
        )
        return clone

    def schedule(self, cell: Cell, delay: int, priority: int = 0) -> None:
        """Schedule an event; a part that has one is never scheduled again."""
        if cell not in self.outstanding:
            self._serial += 1
            event = Event(self.now + delay, priority, self._serial, cell)
            self.outstanding[cell] = event
            self.because(cell)
            heapq.heappush(self.events, event)

    # --- one change at a time --------------------------------------------------------------------------------------

    def set_level(self, cell: Cell, level: int) -> None:
        """As part of a change: what the part in the cell shows."""
        self._changed.setdefault(cell, self.level.get(cell, 0))
        self.level[cell] = level

    def set_count(self, cell: Cell, count: int) -> None:
        """As part of a change: how many items a container holds."""
        self._recounted.add(cell)
        self.count[cell] = count

    def set_stand(self, cell: Cell, stand: Stand | None, quietly: bool = False) -> None:
        """As part of a change: what stands in a cell. `quietly` is for what is not a change for others."""
        if not quietly:
            self._restood.setdefault(cell, self._look_of(cell))
        if stand is None:
            self.stands.pop(cell, None)
        else:
            self.stands[cell] = stand
        if self.laid.get(cell) == stand:
            self._differs.pop(cell, None)
        else:
            self._differs[cell] = stand
        if quietly:
            self._reconfigure()

    def take_away(self, cell: Cell) -> None:
        """As part of a change: the part in the cell is gone, its state and its event with it."""
        kind = self.kind_at(cell)
        if kind is not None and PARTS[kind].behaviour == "wire":  # another as high in its place is no change of level
            self._changed.setdefault(cell, self.level.get(cell, 0))
        self.set_stand(cell, None)
        self.forget(cell)

    def forget(self, cell: Cell) -> None:
        """Drop the state of what stood in the cell."""
        self.level.pop(cell, None)
        self.count.pop(cell, None)
        self.outstanding.pop(cell, None)
        self.torches.forget(cell)
        self.ejector_powered.discard(cell)
        self.matter.forget(cell)

    def kind_at(self, cell: Cell) -> str | None:
        """The kind of the active part in the cell, in the middle of a change too; None if it is empty or inert."""
        stand = self.stands.get(cell)
        return None if stand is None or stand.inert else stand.part.kind

    def put_down(self, cell: Cell, part: Part) -> None:
        """As part of a change: a part in its state of rest."""
        self.set_stand(cell, Stand(part))
        self._at_rest(cell, part)

    def configuration(self) -> frozenset[tuple[Cell, Stand | None]]:
        """The cells in which something else stands than at the start, with what stands there now."""
        return frozenset(self._differs.items())

    def look_every(self, cell: Cell) -> int:
        """Every how many steps the plate in the cell looks again while it is on."""
        return self.rules.look_every(self.stands[cell].part.kind)

    def _reconfigure(self) -> None:
        self._moves += 1
        key = self.configuration()
        geometry = self._configurations.get(key)
        if geometry is None:
            if len(self._configurations) >= MOST_CONFIGURATIONS:
                self._configurations.clear()
            geometry = self._configurations[key] = Geometry(dict(self.stands), self.rules)
        self.geometry = geometry

    def change(self) -> None:
        """End a change: settle the wires, then tell every part whose input may have changed, in order."""
        number = self.reason = self._number
        self._number += 1
        if self._restood:
            self._reconfigure()
        geometry = self.geometry
        notified: set[Cell] = set()
        wires = {wire for cell in self._changed for wire in geometry.fed_wires(cell)}
        if self._restood:
            parts = geometry.parts
            for cell in around(set(self._restood), 2):
                if geometry.is_wire(cell):
                    wires.add(cell)
            for cell in around(set(self._restood), 4):
                if cell in parts and parts[cell].kind in HEARING and parts[cell].kind not in PISTONS:
                    notified.add(cell)
        if wires:
            self._settle(wires)
        for cell, before in self._changed.items():
            level = self.level.get(cell, 0)
            if level == before:
                continue
            notified.update(geometry.listeners(cell))
            notified.update(geometry.pistons_near(cell))
            if self._looks_changed(cell, before, level):
                notified.update(geometry.watchers(cell))
        for cell in self._recounted:
            notified.update(geometry.listeners(cell))
            notified.update(geometry.pistons_near(cell))
            self.matter.recounted(self, cell)
        for cell, look in self._restood.items():
            if self._look_of(cell) != look:
                notified.update(geometry.watchers(cell))
            notified.update(geometry.pistons_near(cell))
            self.matter.recounted(self, cell)
        in_order = sorted(notified, key=self.key)
        if self.hook is not None:
            self._report(number, self._changed, in_order)
        self._changed, self._restood, self._recounted = {}, {}, set()
        for cell in in_order:
            self.notify(cell)
            self.reason = number

    def _report(self, number: int, before: Mapping[Cell, int], notified: list[Cell]) -> None:
        """Give the change to the hook."""
        levels = ((cell, level, self.level.get(cell, 0)) for cell, level in before.items())
        differing = tuple(entry for entry in levels if entry[1] != entry[2])
        counts, stands, what = tuple(self._recounted), tuple(self._restood), (self.now, self._phase, self._actor)
        assert self.hook is not None
        self.hook(Change(number, *what, differing, counts, stands, tuple(notified), self._cause))

    def begin(self, phase: Phase, actor: Cell, cause: int | None) -> None:
        """A part, an item or the hand begins to act, because of that change; what it schedules is due to its own."""
        self._phase, self._actor, self._cause = phase, actor, cause
        self.reason = self._number

    def because(self, cell: Cell) -> None:
        """Keep by which change the part in the cell will do what it does next."""
        if self.reason is None:
            self.causes.pop(cell, None)
        else:
            self.causes[cell] = self.reason

    def _looks_changed(self, cell: Cell, before: int, level: int) -> bool:
        """Whether a change-sensor can see it: a wire's level, of every other part only whether it is on."""
        kind = self.geometry.kind(cell)
        return (kind is not None and PARTS[kind].level_is_visible) or (before > 0) != (level > 0)

    def _look_of(self, cell: Cell) -> Hashable:
        """What a change-sensor sees of what stands in a cell: the part and whether it is on; an arm; a cell moving."""
        stand = self.stands.get(cell)
        if stand is None or stand.inert:
            return stand and stand.posture
        return stand.seen_part, self.level.get(cell, 0) > 0

    def notify(self, cell: Cell) -> None:
        """Let one part look at its input."""
        behaviour = self.geometry.behaviour(cell)
        if behaviour is not None:  # else what was told of has gone or moves since the round began
            signals.notified(self, cell, behaviour)

    def notify_of_lamp(self, cell: Cell) -> None:
        """A lamp that lights while being told changes at once; what watches it is told next."""
        watchers = sorted({*self.geometry.watchers(cell), *self.geometry.pistons_near(cell)}, key=self.key)
        round_of, (phase, actor, cause) = self.reason, (self._phase, self._actor, self._cause)
        number, self._number = self._number, self._number + 1
        if self.hook is not None:
            self._phase, self._actor, self._cause = phase, cell, round_of
            self._report(number, {cell: 0}, watchers)
            self._phase, self._actor, self._cause = phase, actor, cause
        for watcher in watchers:
            self.reason = number
            self.notify(watcher)
        self.reason = round_of

    # --- levels ----------------------------------------------------------------------------------------------------

    def heard(self, sources: Iterable[Cell]) -> int:
        """The highest level of the sources."""
        level, highest = self.level, 0
        for source in sources:
            here = level.get(source, 0)
            if here > highest:  # noqa: PLR1730 - the builtin is slower, and this is asked all the time
                highest = here
        return highest

    def powered(self, cell: Cell) -> bool:
        """Whether power reaches the rear of a repeater, or any side that the part hears on."""
        level = self.level
        for source in self.geometry.fan_in(cell).power:  # noqa: SIM110 - a generator costs more than the few looks
            if level.get(source, 0) > 0:
                return True
        return False

    def _in_reach(self, wires: Iterable[Cell]) -> dict[Cell, None]:
        """These wires and all into which level may flow from them before it is lost."""
        flow, reach = self.geometry.outflows, dict.fromkeys(wires)
        edge = list(reach)
        for _ in range((self.rules.wire.top_level - 1) // self.rules.wire.loss):
            edge = list(dict.fromkeys(other for wire in edge for other in flow(wire) if other not in reach))
            if not edge:
                break
            reach.update(dict.fromkeys(edge))
        return reach

    def _settle(self, wires: Iterable[Cell]) -> None:
        """Bring all wires to their fixed point, where what changed is only what these wires hear or what joins them.

        Level = max(strongest source it hears, strongest wire that flows into it less the loss), strongest first. Wires
        out of reach keep their levels, and give what they gave.
        """
        geometry, loss, top, level = self.geometry, self.rules.wire.loss, self.rules.wire.top_level, self.level
        reach = self._in_reach(wires)
        fresh = {}
        for cell in reach:
            around_it = [level.get(wire, 0) - loss for wire in geometry.inflows(cell) if wire not in reach]
            fresh[cell] = max(min(self.heard(geometry.wire_sources(cell)), top), *around_it, 0)
        heap = [(-strength, cell) for cell, strength in fresh.items() if strength > loss]
        heapq.heapify(heap)
        while heap:
            strength, cell = heapq.heappop(heap)
            passed = -strength - loss
            if -strength < fresh[cell] or passed <= 0:
                continue
            for other in geometry.outflows(cell):
                if other in reach and passed > fresh[other]:
                    fresh[other] = passed
                    heapq.heappush(heap, (-passed, other))
        for cell, strength in fresh.items():
            if level.get(cell, 0) != strength:
                self.set_level(cell, strength)

    def value(self, cell: Cell) -> int:
        """What a watched cell shows at this moment."""
        stand = self.stands.get(cell)
        if stand is None or stand.inert:
            return 0
        if stand.part.kind in CONTAINERS:
            return self.count[cell]
        if PARTS[stand.part.kind].shows_passed:
            return self.heard(self.geometry.block_sources(cell))
        return self.level.get(cell, 0)

    def stands_at(self, cell: Cell) -> int:
        """15 while something stands in the cell that is not on the move, else 0; an arm is no part."""
        stand = self.stands.get(cell)
        return self.rules.wire.top_level if stand is not None and not stand.inert else 0

    def shown(self) -> list[int]:
        """What every watched cell shows, in the order of `watch`."""
        return [self.stands_at(cell) if part else self.value(cell) for cell, part in self.watched]


def trace_of(
    setup: Setup,
    watch: Mapping[str, Cell],
    stimuli: Iterable[Stimulus],
    steps: int,
    most_work: int | None = None,
) -> tuple[Trace, Notes] | None:
    """What the watched cells show in steps 0 to `steps` - 1, and what there is to say; None if it is too much work."""
    recorder = Recorder(watch)
    simulation = Simulation(setup, watch, recorder.sample)
    simulation.queue_stimuli(stimuli)
    if not simulation.advance(steps, most_work):
        return None
    return recorder.finish(steps), simulation.notes
