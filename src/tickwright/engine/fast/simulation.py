"""A run of the fast engine: compiled code for what changes levels and counts, Python for what moves cells."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import NamedTuple

import numpy as np

from tickwright.engine.circuit import KIND, NO_ACTOR, Circuit, Roster, build
from tickwright.engine.fast import arrays as a
from tickwright.engine.fast import moving
from tickwright.engine.fast.entries import advance, start
from tickwright.engine.fast.packing import Packed, pack
from tickwright.engine.fast.state import fresh, lay, shift_stacks, turns_room, unlink, with_rows
from tickwright.engine.notes import Notes
from tickwright.engine.trace import Changes, Trace
from tickwright.kinds import PISTONS, Part, a_kind
from tickwright.memory import collection_paused
from tickwright.plan.hand import USUAL, Stimulus, default_act
from tickwright.plan.model import Plan
from tickwright.rules.geometry import Geometry
from tickwright.rules.layout import Stand
from tickwright.rules.ruleset import RuleSet
from tickwright.space import Cell, beside, cell_text, zyx

MOST_CONFIGURATIONS = 512
_PISTONS = [KIND[kind] for kind in PISTONS]
VERB = {name: number for number, name in enumerate(a.VERBS)}
Key = frozenset[tuple[Cell, Stand | None]]


class Setting(NamedTuple):
    """All that goes with one configuration."""

    circuit: Circuit
    packed: Packed
    notified: a.Ints  # all that can be told but pistons, in order: an actor each
    live: tuple[tuple[int, Cell], ...]  # the live wires
    hoppers: a.Ints
    plates: a.Ints


class Simulation:
    """A plan under a rule set and one script of the hand, run to any step; it must be valid under the rules.

    `watch` maps names to cells; `button_steps` gives single buttons a press length of their own, in steps.
    """

    def __init__(
        self,
        plan: Plan,
        rules: RuleSet,
        order: str = "canonical",
        watch: Mapping[str, Cell] | None = None,
        stimuli: Iterable[Stimulus] = (),
        button_steps: Mapping[Cell, int] | None = None,
    ) -> None:
        self.rules = rules
        self.watch = dict(watch or {})
        self.stimuli = list(stimuli)
        self.button_steps = dict(button_steps or {})
        self.notes = Notes()
        self.stands: dict[Cell, Stand] = {cell: Stand(part) for cell, part in plan.cells.items()}
        self.laid = dict(self.stands)
        self.differs: dict[Cell, Stand | None] = {}
        self.also = tuple(dict.fromkeys(act.cell for act in self.stimuli))
        actors = {cell for cell, part in plan.cells.items() if part.kind not in NO_ACTOR}
        self.roster = Roster(sorted(actors.union(self.also), key=zyx), order)
        self.rows = 0
        self._circuits: dict[Key, Circuit] = {}
        self._settings: dict[Key, Setting] = {}  # for the number of rows there are now
        self.torch_rows: dict[int, int] = {}
        self.moves: list[moving.Move] = []
        self._chunks: list[a.Ints] = []
        self._parts_shown = {name: cell for name, cell in self.watch.items() if name in plan.part_outputs}
        self._stood = {cell: [(0, int(cell in self.stands))] for cell in self._parts_shown.values()}

        self.restless = any(part.kind in PISTONS for part in plan.cells.values()) or any(
            act.verb in ("place", "clear") for act in self.stimuli
        )
        with collection_paused():
            self.setting = self._setting(frozenset())
        self.rows = self.setting.circuit.n
        if self.restless:
            self.rows += 64 + self.rows // 4
            self._settings.clear()
            self.setting = self._setting(frozenset())
        torches, spare_log, spare_stacks = self._rooms(self.setting)
        self.world = fresh(self.setting.packed, torches, self._script(), spare_log, spare_stacks)
        lay(self.world, self.setting.circuit)
        start(*self.world.arrays)

    # --- configurations --------------------------------------------------------------------------------------------

    def configuration(self) -> Key:
        """The cells in which something else stands than at the start, with what stands there now."""
        return frozenset(self.differs.items())

    def _setting(self, key: Key) -> Setting:
        setting = self._settings.get(key)
        if setting is not None:
            return setting
        circuit = self._circuits.get(key)
        if circuit is None:
            if len(self._circuits) >= MOST_CONFIGURATIONS:
                self._circuits.clear()
                self._settings.clear()
            circuit = self._circuits[key] = build(Geometry(dict(self.stands), self.rules), self.roster, self.also)
        for actor in np.flatnonzero(circuit.kind == KIND["torch"]):
            self.torch_rows.setdefault(int(actor), len(self.torch_rows))
        rows = max(self.rows, circuit.n)
        packed = pack(circuit, tuple(self.watch.values()), rows, self.torch_rows, self.button_steps)
        traits = packed.m.reshape(-1, a.ROW)[: circuit.n, a.TRAITS]
        notified = np.flatnonzero(((traits & a.HEARS) != 0) & ~np.isin(circuit.kind, _PISTONS))
        setting = self._settings[key] = Setting(
            circuit,
            packed,
            notified[np.argsort(circuit.rank[notified])].astype(np.int32),
            tuple((wire, circuit.cells[wire]) for wire in circuit.live_wires()),
            packed.e[packed.e[a.HOPPERS] : packed.e[a.HOPPERS_END]],
            packed.e[packed.e[a.PLATES] : packed.e[a.PLATES_END]],
        )
        return setting

    def reconfigure(self) -> None:
        """Take up the circuit of what stands now; the state goes on."""
        setting = self._setting(self.configuration())
        if len(self.roster.cells) > self.rows:
            self.actor(self.roster.cells[-1])
            setting = self._setting(self.configuration())
        self.setting = setting
        self.world.m, self.world.e = setting.packed
        torches, spare_log, spare_stacks = self._rooms(setting)
        needed = {"torch": torches, "turns": turns_room(len(setting.hoppers)), "log": 2 * spare_log}
        short = {name: 2 * room for name, room in needed.items() if room > self.world.sizes[name]}
        if short:
            self.world = self.world.resized(**short)
        world, c = self.world, self.world.c
        c[a.SPARE_LOG], c[a.SPARE_STACKS] = spare_log, spare_stacks
        if len(setting.hoppers):
            turns = world.tables["matter"][setting.hoppers, a.TURN].astype(np.int64)
            entries = np.sort(((turns << 31) | world.part[setting.hoppers, a.RANK])[turns >= 0])
            world.turns[: len(entries)] = entries
            c[a.TURNS_LENGTH] = len(entries)
        if len(setting.plates):
            looks = world.tables["matter"][setting.plates, a.LOOK].tolist()
            c[a.NEXT_LOOK] = min((look for look in looks if look >= 0), default=a.NEVER)
        dirty, probes = world.tables["dirty"], len(self.watch)
        dirty[:probes] = 1
        dirty[probes:] = np.arange(probes)
        c[a.DIRTY_LENGTH] = probes

    def _rooms(self, setting: Setting) -> tuple[int, int, int]:
        """Rows for torches, and how many log entries and stacks a step may bring."""
        torches = len(self.torch_rows)
        stacks = len(self.stimuli) + int(setting.packed.e[a.EJECTOR_TOTAL])
        return torches, torches + stacks + 1, stacks

    # --- time ------------------------------------------------------------------------------------------------------

    def _script(self) -> a.Ints:
        rows = np.zeros((len(self.stimuli), a.ACT), np.int32)
        for row, act in zip(rows, self.stimuli, strict=True):
            laid = self.laid.get(act.cell)
            spare = default_act(laid.part.kind if laid else None) or "press"
            row[:] = (act.step, self.roster.index[act.cell], VERB[act.verb], act.number, VERB[spare], 0)
        return rows

    def advance(self, until: int) -> None:
        """Simulate every step before `until`; steps in which nothing is due cost nothing."""
        while True:
            code = advance(*self.world.arrays, until)
            self._take_notes()
            if code == a.FINISHED:
                return
            if code == a.MOVES_DUE:
                moving.moves_phase(self)
            elif code == a.HAND_DUE:
                act = self.stimuli[int(self.world.c[a.NEXT_ACT])]
                self.world.c[a.NEXT_ACT] += 1
                moving.perform(self, act)
            else:
                self._make_room()

    def _make_room(self) -> None:
        c = self.world.c
        self._chunks.append(self.world.tables["trace"][: c[a.TRACE_LENGTH]].copy())
        c[a.TRACE_LENGTH] = 0
        if c[a.STACK_END] - c[a.STACK_BASE] + int(c[a.SPARE_STACKS]) > len(self.world.tables["stack"]):
            self.world = shift_stacks(self.world)

    # --- cells, for what moves them --------------------------------------------------------------------------------

    @property
    def now(self) -> int:
        """The present step."""
        return int(self.world.c[a.NOW])

    def actor(self, cell: Cell) -> int:
        """The actor of the cell, with its rows in all arrays of the state."""
        actor = self.roster.add(cell)
        if actor >= self.rows:
            self.rows = actor + 64
            self.world = with_rows(self.world, self.rows)
            self._settings.clear()
        return actor

    def level(self, cell: Cell) -> int:
        """The level of the part in the cell, wires left out."""
        actor = self.roster.index.get(cell)
        return int(self.world.hot[actor, a.LEVEL]) if actor is not None else 0

    def set_level(self, cell: Cell, level: int) -> None:
        """Give the part in the cell a level, telling nobody."""
        actor = self.actor(cell)
        self.world.hot[actor, a.LEVEL] = level

    def set_count(self, cell: Cell, count: int) -> None:
        """Give the container in the cell so many items, telling nobody."""
        actor = self.actor(cell)
        self.world.tables["matter"][actor, a.COUNT] = count

    def set_stand(self, cell: Cell, stand: Stand | None) -> None:
        """Let something stand in the cell, telling nobody."""
        if stand is None:
            self.stands.pop(cell, None)
        else:
            self.stands[cell] = stand
        if cell in self._stood:
            self._stood[cell].append((self.now, int(stand is not None and not stand.inert)))
        if self.laid.get(cell) == stand:
            self.differs.pop(cell, None)
        else:
            self.differs[cell] = stand

    def forget(self, cell: Cell) -> None:
        """Drop the state and the entry of what stood in the cell; what lies there stays, and its place in the queue."""
        actor = self.roster.index.get(cell)
        if actor is None:
            return
        world = self.world
        if world.hot[actor, a.DUE] >= 0:
            unlink(world, actor)
        world.hot[actor] = (0, -1, -1, world.hot[actor, a.FLAGS] & a.QUEUED)
        world.tables["matter"][actor, [a.COUNT, a.READY]] = 0
        world.tables["matter"][actor, [a.TURN, a.SINCE, a.LOOK]] = -1
        if actor in self.torch_rows:
            world.tables["torch"][self.torch_rows[actor], [a.KEPT, a.PUT]] = 0

    def powered(self, cell: Cell) -> bool:
        """Whether power reaches the part in the cell."""
        world = self.world
        row = world.part[self.roster.index[cell]]
        edges = world.e[row[a.POWER] : row[a.POWER_END]]
        return bool((world.hot[edges >> 8, a.LEVEL] > (edges >> 4) & 15).any())

    def plate_level(self, cell: Cell, part: Part) -> int:
        """What a plate in the cell shows at once."""
        row = self.world.tables["matter"][self.actor(cell)]
        things = int(row[a.CREATURES]) + (0 if part.kind == "tread-plate" else int(row[a.STACKS]))
        top = self.rules.wire.top_level
        if part.kind == "counting-plate":
            return min(top, -(-things // part.counts))
        return top if things else 0

    def next_in_queue(self) -> Cell:
        """The piston whose turn it is to move; it leaves the queue."""
        c, queue = self.world.c, self.world.tables["queue"]
        actor, length = int(queue[0]), int(c[a.QUEUE_LENGTH]) - 1
        queue[:length] = queue[1 : length + 1].copy()
        c[a.QUEUE_LENGTH] = length
        self.world.hot[actor, a.FLAGS] &= ~a.QUEUED
        return self.roster.cells[actor]

    # --- what it leaves --------------------------------------------------------------------------------------------

    def trace(self, steps: int) -> Trace:
        """What was watched, over a run of so many steps."""
        self._make_room()
        rows = np.concatenate(self._chunks)
        self._chunks = [rows]
        found: dict[str, Changes] = {}
        by_probe = np.argsort(rows[:, 0], kind="stable")
        ends = np.cumsum(np.bincount(rows[:, 0], minlength=len(self.watch)))
        begin = 0
        for name, end in zip(self.watch, ends.tolist(), strict=True):
            mine = rows[by_probe[begin:end]]
            found[name] = tuple(zip(mine[:, 1].tolist(), mine[:, 2].tolist(), strict=True))
            begin = end
        top = self.rules.wire.top_level
        for name, cell in self._parts_shown.items():
            at_end = dict(self._stood[cell])  # the last of each step counts
            pairs = [(step, top * there) for step, there in at_end.items() if step < steps]
            kept = [pair for before, pair in zip([(0, None), *pairs], pairs, strict=False) if pair[1] != before[1]]
            found[name] = tuple(kept)
        return Trace(steps, found)

    def _take_notes(self) -> None:
        c = self.world.c
        for code, step, actor, argument in self.world.tables["log"][: c[a.LOG_LENGTH]].tolist():
            if code == a.REFUSED:
                self._note_refusal(self.stimuli[actor], step, a.VERBS[argument >> 8], argument & 255)
                continue
            cell = self.roster.cells[actor]
            if code == a.BURNT_OUT:
                rules = self.rules.torch
                message = (
                    f"The torch at {cell_text(cell)} went off {rules.burnout_count} times within "
                    f"{rules.burnout_window} steps: it stays dark for {rules.burnout_rest} steps."
                )
                self.notes.add("torch-burns-out", "warning", message, (cell,), step)
            else:
                stand = self.stands.get(cell)
                if stand is not None and stand.part.kind == "ejector":
                    cell = beside(cell, str(stand.part.facing))
                what = f"{argument} {'item' if argument == 1 else 'items'} let go at {cell_text(cell)}"
                message = f"{what} fell out of the world."
                self.notes.add("item-lost", "warning", message, (cell,), step, "Put a floor or a plate below.")
        c[a.LOG_LENGTH] = 0

    def _note_refusal(self, act: Stimulus, step: int, verb: str, why: int) -> None:
        stand = self.stands.get(act.cell)
        if act.verb == USUAL:
            usual = stand or self.laid.get(act.cell)
            verb = default_act(usual.part.kind if usual else None) or "press"
        if why == a.NOT_SO:
            problem = self.why_not(act.cell)
        else:
            problem = {
                a.IS_FULL: "it is full",
                a.IS_EMPTY: "it is empty",
                a.NOTHING_LIES: "nothing lies there",
                a.NO_CREATURE: "no creature is there",
            }[why]
        self.note_refused(act.cell, verb, problem, step)

    def why_not(self, cell: Cell) -> str:
        """What keeps the hand from using what is in the cell."""
        stand = self.stands.get(cell)
        if stand is None:
            return "the cell is empty now"
        if not stand.inert:
            return f"{a_kind(stand.part.kind)} is there now"
        return "an arm is there" if stand.posture == "arm" else f"the {stand.part.kind} there is on the move"

    def note_refused(self, cell: Cell, verb: str, problem: str, step: int) -> None:
        """Note an act that could not be done."""
        message = f'"{verb}" at {cell_text(cell)} did nothing: {problem}.'
        self.notes.add("act-refused", "warning", message, (cell,), step)


def trace_of(
    plan: Plan,
    rules: RuleSet,
    order: str,
    watch: Mapping[str, Cell],
    stimuli: Iterable[Stimulus],
    steps: int,
    _most_work: int | None = None,
) -> tuple[Trace, Notes]:
    """What the watched cells show in steps 0 to `steps` - 1, and what there is to say; it never gives up."""
    simulation = Simulation(plan, rules, order, watch, stimuli)
    simulation.advance(steps)
    return simulation.trace(steps), simulation.notes
