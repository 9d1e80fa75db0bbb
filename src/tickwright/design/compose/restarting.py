"""Further presses that restart what runs: memories that each press clears, and that hear nothing of earlier ones.

A press is told at once, by a pulse of 4 steps, to every memory. That clears it. What earlier presses still have under
way is shut out: a *shutter* makes of each press a window, in which resets do not get through, or a memory is held off.
Late edges come from rings that each press fills anew, so that they fade from the last press on.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from tickwright.design.compose.extending import SHUT_FOR, extending_rings, lay_taps
from tickwright.design.compose.machine_tiles import STRUCK, Ring, rings_steps
from tickwright.design.compose.network import Need, Network, Program, Tap
from tickwright.design.compose.tapping import tap_needs
from tickwright.design.compose.tiles import FALLEN, Made, Sketch, drive, joint
from tickwright.design.compose.waiting import add_rings
from tickwright.layout.model import Port

OPENS = 6  # steps after a press from which on a window is open, if the ways took no time
WINDOWS = (2, 4, 6, 8)  # taps of the shutters there are: their windows last 12, 24, 40 and 56 steps
FROM, LATEST = 8, 12  # steps after a press between which a window must begin where it is heard
SOONEST_AGAIN = 14  # before what a window lets through, its end must not lie more: earlier presses come up to there
UNGATED = 26  # edges so long after a press need no window: those of the press before are over
DIRECT = 72  # steps after which rings make an edge
FILLED = 24  # steps for which the shutter of short rings fills them
CLEARED = 6  # steps from when a clear leaves its column until the memory has looked once more, after the clear is over
COLUMN = 2


def shutter(name: str, taps: int, shut: bool = False) -> Made:
    """Makes a window of a pulse of 4 steps: port `out` is on from 2 steps after its column, for SHUT_FOR - 2 steps.

    With `shut` it is on as well while what comes through the column `na` is.
    """
    s = Sketch(name)
    s.wires((0, -4), (0, -2))
    s.put(0, -3, "repeater south")
    s.input_column("in", 0, -5, 1, "south")
    s.out("out", 0, -2, "east", gives=14)
    if shut:
        s.input_column("na", 0, -1, 1, "north")
    lay_taps(s, taps)
    return s.made()


def restarter(
    name: str, set_length: int, reset_length: int, gated: bool, held: bool, drives: str = "port", rests_on: bool = False
) -> Made:
    """A memory that presses clear: on 2 steps after the column `set0`, off 2 after `clear0` and after `reset0`.

    With `gated` a reset gets through only while `gate` is off, and takes 2 steps more. With `held` it takes another 2,
    and the memory is off from 8 steps after `clear1` begins, for 6 steps, and from 4 after `hold` on while that is on.
    """
    s = Sketch(name)
    s.wires((0, 0), (-1, 0))
    s.west_column("set0", -2, 0, set_length)
    s.put(1, 0, "comparator east mode=difference")
    s.wires((2, 0), (2, 1), (0, 1), (3, 0))
    s.put(1, 1, "repeater west")
    s.wires((1, -1), (1, -2))
    _beside(s, "clear0", 2, -2, "west", 1)
    if held:
        _beside(s, "clear1", 0, -2, "east", 3)
        del s.columns["clear1"]
        _beside(s, "hold", 2, -4, "west", 1)
        s.put(1, -3, "repeater south")
        s.wires((1, -4))
    if reset_length:
        y = -5 if held else -3
        if gated:
            s.put(1, y, "comparator south mode=difference")
            _beside(s, "gate", 0, y, "east", 1)
        s.input_column("reset0", 1, y - 1 if gated else y, reset_length, "south")
    drive(s, drives, rests_on, 13)
    return s.made()


def _beside(s: Sketch, port: str, x: int, y: int, facing: str, ticks: int) -> None:
    """A repeater at x, y that an input comes through."""
    s.put(x, y, f"repeater {facing} delay={ticks}")
    s.ports[port] = Port((x, y, 1), "east" if facing == "west" else "west", "in", need=1)
    s.columns[port] = ((x, y, 1),)


@dataclass
class Restarts:
    """What presses of one trigger restart: its windows, and the needs of all memories."""

    network: Network
    trigger: str
    windows: dict[int, list[Need]] = field(default_factory=dict)  # by the taps of the shutter
    direct: list[Need] = field(default_factory=list)
    late: list[Need] = field(default_factory=list)

    @property
    def source(self) -> str:
        """The net that tells of a press."""
        return self.network.net(f"{self.trigger}-striker", "rise")

    def memory(
        self, name: str, begin: int, end: int | None, clear_by: int, drives: str, rests_on: bool,
        lead: tuple[tuple[str, str, str], ...],
    ) -> None:  # fmt: skip
        """A memory from `begin` to `end` steps after the last press, off `clear_by` steps after each at the latest."""
        network = self.network
        gated, held = end is not None and end > UNGATED + 2, begin > UNGATED
        leaves = [] if end is None else [end - 2 - (2 if gated else 0) - (2 if held else 0)]
        set_at = begin - 2
        made = restarter(
            name, _length(set_at), _length(leaves[0]) if leaves else 0, gated, held, drives, rests_on
        )  # fmt: skip
        network.add(name, made)
        clear_at = clear_by - 2
        if clear_at + CLEARED == set_at:  # the memory looks again in the step of its set, and would be on too soon
            clear_at -= 2
        self.direct.append(Need(name, "clear0", clear_at, lead))
        if held:
            network.connect(self.source, name, "clear1", max(0, clear_by - 4) // 2 * 2)
            self._window(Need(name, "hold", FROM), set_at - 4, LATEST)  # it ends where its memory is 2 steps later
        self._edge(Need(name, "set0", set_at, lead))
        for leave in leaves:
            if gated:
                self._window(Need(name, "gate", FROM), leave, min(set_at - (4 if held else 2), LATEST + 2))
            self._edge(Need(name, "reset0", leave, lead))

    def _edge(self, need: Need) -> None:
        (self.direct if need.leave <= DIRECT else self.late).append(need)

    def _window(self, need: Need, until: int, latest: int) -> None:
        """A window that ends before `until`, and after all that earlier presses bring by then."""
        goal = min(until, DIRECT)
        for taps in WINDOWS:
            lasts = SHUT_FOR[taps] - 2
            begins = min(latest, goal - lasts)
            begins -= begins % 2
            if begins >= FROM and begins + lasts >= goal - SOONEST_AGAIN:
                self.windows.setdefault(taps, []).append(Need(need.instance, need.port, begins))
                return
        raise AssertionError(f"no window until {until}")

    def program(self) -> None:
        """The trigger's program: direct edges, windows, rings."""
        network, trigger = self.network, self.trigger
        program = Program(trigger, f"{trigger}-striker", [Tap(self.source, STRUCK, None)], {self.source: []})
        tap_needs(network, program, self.direct, STRUCK)
        taps: dict[int, int] = {}
        fills = {WINDOWS[1] if need.leave <= self._short_most() else WINDOWS[-1] for need in self.late}
        for number in sorted({*self.windows, *fills}):
            taps[number] = self._shutter(program, number, self.windows.get(number, []))
        for need in self.late:
            self._ring(program, need, taps)
        network.programs.append(program)

    def _shutter(self, program: Program, taps: int, needs: Sequence[Need]) -> int:
        network = self.network
        name = network.add(f"{self.trigger}-shutter{taps}", shutter(f"{self.trigger}-shutter{taps}", taps))
        way = network.connect(self.source, name, "in", 0)
        net = network.net(name, "out")
        for need in needs:
            network.connect(net, need.instance, need.port, max(0, need.leave - OPENS - 2) // 2 * 2)
        program.taps.append(Tap(net, OPENS, name, self.source, 0, 0, 2, (way,)))
        program.needs[net] = list(needs)
        return len(program.taps) - 1

    def _short_most(self) -> int:
        return OPENS + FILLED + max(ring.fade_steps for ring in _short_rings())

    def _ring(self, program: Program, need: Need, taps: dict[int, int]) -> None:
        """Rings that a window fills, and that fade from its end on."""
        network = self.network
        short = need.leave <= self._short_most()
        number = WINDOWS[1] if short else WINDOWS[-1]
        lasts = SHUT_FOR[number] - 2
        until = need.leave - 2 * COLUMN - 6
        rest = until - OPENS - lasts - FALLEN - 6
        rings: Sequence[Ring]
        if short:
            rings = (min(_short_rings(), key=lambda ring: (abs(ring.fade_steps - rest), ring.wide)),)
        else:
            rings = extending_rings(rest)
        source = program.taps[taps[number]].net
        name = f"{need.instance}-{need.port}"
        names, ways = add_rings(network, name, rings, 1)
        lead = [network.connect(source, names[0], "in", 4), *ways]
        fixed = rings_steps(rings) + FALLEN
        if len(rings) > 1:  # the last fills anew with each press, too
            both = network.add(f"{name}-refill", joint(f"{name}-refill", [1, 1]))
            last = lead.pop()
            network.sinks[last[0]] = [sink for sink in network.sinks[last[0]] if sink.instance != names[-1]]
            lead.append(network.connect(last[0], both, "in0", 4))
            network.connect(source, both, "in1", 4)
            lead.append(network.connect(network.net(both, "out"), names[-1], "in", 2))
            fixed += 2
        net = network.net(names[-1], "out")
        program.taps.append(Tap(net, until, names[0], source, taps[number], lasts, fixed, tuple(lead)))
        program.needs[net] = [need]
        network.connect(net, need.instance, need.port, 4)


def _short_rings() -> list[Ring]:
    return [
        ring for wide in range(3, 30) for lead in range(13)
        if (ring := Ring(wide, lead)).fill_steps <= FILLED - 2 and ring.fade_steps >= 14
    ]  # fmt: skip


def _length(leave: int) -> int:
    """The repeaters of a column: two where rings come before it."""
    return COLUMN if leave > DIRECT else 3 if leave >= 20 else 2 if leave > 10 else 1
