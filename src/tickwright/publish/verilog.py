"""Plans as Verilog (IEEE Std 1364-2005): a Circuit with a model of each part, and a bench that replays the hand.

`verilog_text` gives the whole file. In the bench a step of the world is very many units of time, in which the parts
that are due act one after another, by priority and order of scheduling, as the rules say. Run it with
`iverilog -g2005 -o plan.vvp plan.v && vvp -n plan.vvp`; each line it prints is `STEP NUMBER VALUE`, where the watched
names are numbered from 0.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from itertools import groupby

from tickwright.engine.circuit import KINDS, Circuit, Ports
from tickwright.errors import UsageError
from tickwright.kinds import CONTAINERS, PARTS, PASSING, STILL, kinds_with
from tickwright.plan.hand import USUAL, Stimulus, default_act
from tickwright.publish.verilog_parts import MODULES
from tickwright.rules.power import watched_cell
from tickwright.space import Cell, cell_text

__all__ = ["verilog_text"]

_NEVER = kinds_with("piston", "hopper", "ejector")  # with none of them, what a crate holds stays as it is
_LEVELS = kinds_with("comparator", "plate")  # parts whose output is a level of four bits, not one bit
_ACTS = kinds_with("repeater", "comparator", "torch", "lamp", "lever", "button", "plate", "sensor")
_SHOW_NOTHING = (*CONTAINERS, *(kind for kind in STILL if kind not in PASSING))
_LAMPS, _SENSORS, _SOURCES = kinds_with("lamp"), kinds_with("sensor"), kinds_with("source")
_TASKS = {"flip": "flip", "on": "put_on", "off": "put_off", "press": "press", "tread": "tread", "leave": "leave"}


def verilog_text(
    circuit: Circuit,
    watch: Mapping[str, Cell],
    stimuli: Iterable[Stimulus] = (),
    steps: int = 200,
    title: str = "",
    one_by_one: bool = True,
) -> str:
    """The Circuit as a Verilog file whose bench does the acts, runs the steps 0 to `steps` - 1 and says what changes.

    `watch` maps names to cells, numbered from 0; the bench prints `STEP NUMBER VALUE`, the value at the end of step 0
    and each change. With `one_by_one` off, parts due in one step with one priority act in one unit of
    time, which a simulator may do sooner and in any order.

    Raises UsageError for a plan with pistons, hoppers or ejectors, and for acts that build or handle items.
    """
    _refuse_what_moves(circuit)
    return _Writer(circuit, watch, sorted(stimuli, key=lambda stimulus: stimulus.step), steps, one_by_one).text(title)


_BENCH = ("module bench;", "  reg started = 0;", "  reg [63:0] changes = 0;  // parts that acted, and acts of the hand")


def _refuse_what_moves(circuit: Circuit) -> None:
    for cell, part in sorted(circuit.geometry.parts.items()):
        if part.kind in _NEVER:
            raise UsageError(
                f"The {part.kind} at {cell_text(cell)} cannot be said in Verilog: only plans without pistons, hoppers "
                "and ejectors can be exported so. Remove it, or export waveforms (--vcd)."
            )


def _plain(text: str) -> str:
    """A text as a comment may hold it: printable ASCII in one line, no backslash or backquote."""
    return re.sub(r"[^ -\[\]-_a-~]", "?", text)[:200]


def _big(number: int) -> str:
    """A number as Verilog writes it, with its width where 31 bits are not enough."""
    return str(number) if number < 2**31 else f"64'd{number}"


class _Writer:
    """Writes one file; an actor's output is the net `a` and its number."""

    def __init__(
        self, circuit: Circuit, watch: Mapping[str, Cell], stimuli: Sequence[Stimulus], steps: int, one_by_one: bool
    ) -> None:
        self.circuit = circuit
        self.watch = watch
        self.stimuli = [stimulus for stimulus in stimuli if stimulus.step < steps]
        self.steps = steps
        rules = circuit.rules
        self.top = rules.wire.top_level
        self.kinds = [KINDS[code] for code in circuit.kind]
        own = rules.repeater
        given = {0, own.priority_ahead, own.priority_off, own.priority_on}
        given |= {rules.comparator.priority, rules.comparator.priority_ahead}
        self.turn = {priority: number for number, priority in enumerate(sorted(given))}
        self.place = self._places() if one_by_one else [0] * circuit.n
        self.each = circuit.n + 2 if one_by_one else 0  # what one change may schedule: before, while and after telling
        self.span = self.each * (steps * circuit.n + len(self.stimuli) + 1) + 1  # units of a step for each priority
        self.looks_at = len(self.turn) * self.span
        self.hand_at = self.looks_at + circuit.n
        most = max(Counter(stimulus.step for stimulus in self.stimuli).values(), default=0)
        self.step = self.hand_at + most + 2
        if self.step * steps >= 2**63:
            raise UsageError(
                f"A run of {steps:,} steps of a plan of {circuit.n:,} parts is too long for the clock of a Verilog "
                "simulator: ask for a shorter one (--for)."
            )
        self.used: dict[str, None] = {}

    def _places(self) -> list[int]:
        """place[actor], from 1: the order of telling, what watches a lamp right after it."""
        rank, kinds, index = self.circuit.rank, self.kinds, self.circuit.index
        keys = []
        for actor, kind in enumerate(kinds):
            seen = index.get(self._watched(actor)) if kind in _SENSORS else None
            lamp = seen is not None and kinds[seen] in _LAMPS
            keys.append((int(rank[seen if lamp else actor]), lamp, int(rank[actor]), actor))
        places = [0] * len(keys)
        for place, (*_, actor) in enumerate(sorted(keys), 1):
            places[actor] = place
        return places

    def text(self, title: str) -> str:
        """The whole file."""
        circuit = [*self._parts(), *self._watches()]
        bench = self._bench()
        head = [
            f"// {_plain(title) or 'A plan'}, under the rules {_plain(self.circuit.rules.name)}.",
            f"// A step of 0.05 s is {self.step} units of time. Times assume a world at its full 20 steps a second.",
            "// Each line printed: STEP NUMBER VALUE, at the end of the step. The numbers are:",
            *(f"//   {number} {_plain(name)}" for number, name in enumerate(self.watch)),
            "`timescale 1us/1us",
            "",
        ]
        modules = [MODULES[name] for name in MODULES if name in self.used]
        return "\n".join([*head, *modules, *_BENCH, *circuit, *bench, "endmodule", ""])

    # --- levels ----------------------------------------------------------------------------------------------------

    def _given(self, source: int, loss: int, most: int) -> tuple[int, str]:
        """What a source gives after its way: (level, condition) if it is on or off, else (0, expression)."""
        kind = self.kinds[source]
        if kind in _SOURCES:
            return min(self.top, most) - loss, "1'b1"
        if kind not in _LEVELS:
            return min(self.top, most) - loss, f"a{source}"
        level = f"a{source}" if most >= self.top else f"(a{source} > {most} ? 4'd{most} : a{source})"
        return 0, level if loss == 0 else f"({level} > {loss} ? {level} - 4'd{loss} : 4'd0)"

    def _level(self, hearing: Sequence[tuple[int, int, int]]) -> str:
        """The highest level of what is heard, as an expression of four bits."""
        given = [self._given(*entry) for entry in hearing]
        plain = sorted((pair for pair in given if pair[0] > 0), reverse=True)
        text = "4'd0"
        for level, pairs in reversed([(level, list(pairs)) for level, pairs in groupby(plain, lambda pair: pair[0])]):
            text = f"{' | '.join(condition for _, condition in pairs)} ? 4'd{level} : {text}"
        levels = [expression for level, expression in given if level == 0 and expression[0] != "1"]
        levels += [f"({text})"] if plain else []
        while len(levels) > 1:
            pairs_of = [levels[index : index + 2] for index in range(0, len(levels), 2)]
            levels = [f"({a[0]} > {a[1]} ? {a[0]} : {a[1]})" if len(a) == 2 else a[0] for a in pairs_of]
        return levels[0] if levels else "4'd0"

    def _power(self, hearing: Sequence[tuple[int, int, int]]) -> str:
        """Whether anything heard has a level, as an expression of one bit."""
        words = []
        for source, loss, most in hearing:
            level, text = self._given(source, loss, most)
            if level > 0:
                words.append(text)
            elif self.kinds[source] in _LEVELS and most > loss:
                words.append(f"(a{source} > {loss})")
        return " | ".join(words) or "1'b0"

    def _hearing(self, ports: Ports, actor: int) -> list[tuple[int, int, int]]:
        here = range(ports.start[actor], ports.start[actor + 1])
        return [(int(ports.source[entry]), int(ports.loss[entry]), int(ports.most[entry])) for entry in here]

    # --- the circuit -----------------------------------------------------------------------------------------------

    def _at(self, place: int, priority: int = 0) -> int:
        """The first unit of a step for what is scheduled with that priority, in that place among the told."""
        return self.turn[priority] * self.span + place

    def _parts(self) -> list[str]:
        nets, lines = [], []
        for actor, kind in enumerate(self.kinds):
            made = self._part(actor, kind)
            if made is None:
                continue
            module, ports, numbers = made
            self.used[module] = None
            wide = "[3:0] " if kind in _LEVELS else ""
            given = ", ".join(f".{name}({_big(number)})" for name, number in numbers.items())
            nets.append(f"  wire {wide}a{actor};  // {kind} {cell_text(self.circuit.cells[actor])}")
            lines.append(f"  {module} #({given}) p{actor}(a{actor}{''.join(f', {port}' for port in ports)});")
        return [*nets, *lines]

    def _part(self, actor: int, kind: str) -> tuple[str, list[str], dict[str, int]] | None:
        """A part's module, its ports after the output, and its parameters; None for what acts on nothing."""
        circuit, rules = self.circuit, self.circuit.rules
        power = self._hearing(circuit.power, actor)
        flank = self._hearing(circuit.flank, actor)
        place = self.place[actor]
        at = self._at(place)
        numbers = {"STEP": self.step, "EACH": self.each, "DELAY": int(circuit.delay[actor])}
        behaviour = PARTS[kind].behaviour if kind in PARTS else None
        if behaviour == "repeater":
            off, on = (int(priority) for priority in circuit.priority[actor])
            numbers |= {"AT_ON": self._at(place, off), "AT_OFF": self._at(place, on)}
            numbers["AT_END"] = self._at(max(self.each - 1, 0), rules.repeater.priority_off)
            return "tw_repeater", [self._power(power), self._power(flank), "started"], numbers
        if behaviour == "comparator":
            numbers |= {"AT": self._at(place, int(circuit.priority[actor][0]))}
            numbers["DIFFERENCE"] = int(circuit.difference[actor])
            return "tw_comparator", [self._rear(actor, power), self._level(flank), "started"], numbers
        if behaviour == "torch":
            numbers |= {"AT": at, "AT_FIRST": self._at(0), "WINDOW": rules.torch.burnout_window}
            numbers |= {"REST": rules.torch.burnout_rest, "COUNT": rules.torch.burnout_count}
            return "tw_torch", [self._power(power), "started"], numbers
        if behaviour == "lamp":
            return "tw_lamp", [self._power(power), "started"], numbers | {"AT": at}
        if behaviour == "sensor":
            numbers |= {"AT": at, "AT_FIRST": self._at(0), "PULSE": rules.sensor.pulse}
            return "tw_sensor", [self._seen(actor), "started"], numbers
        if behaviour == "lever":
            return "tw_lever", [], {"THROWN": int(circuit.laid[actor] > 0)}
        if behaviour == "button":
            return "tw_button", [], numbers | {"AT": at}
        if behaviour == "plate":
            counts = int(circuit.counts[actor]) if PARTS[kind].shows_level else 0
            looks = {"LOOK": rules.look_every(kind), "AT": self.looks_at + actor}
            return "tw_plate", [], {"STEP": self.step, **looks, "COUNTS": counts, "TOP": self.top}
        if behaviour in (None, "still", "source", "wire", "crate"):
            return None
        raise ValueError(f"there is no Verilog for a {kind}")

    def _rear(self, actor: int, power: Sequence[tuple[int, int, int]]) -> str:
        """A comparator's rear level; a crate behind it replaces that, one behind a cell only while it is not full."""
        crate = int(self.circuit.reads[actor])
        if crate < 0:
            return self._level(power)
        fill = f"4'd{self.circuit.rules.fill_level('crate', int(self.circuit.stock[crate]))}"
        full = f"({self._level(power)}) >= 4'd{self.top}"
        return fill if self.circuit.directly[actor] else f"{full} ? {self._level(power)} : {fill}"

    def _seen(self, sensor: int) -> str:
        """What a change-sensor sees of the cell behind it: a wire's level, of others only whether they are on."""
        watched = self._watched(sensor)
        kind = self.circuit.geometry.kind(watched)
        if self.circuit.geometry.is_wire(watched):
            return self._level(self.circuit.hears(watched))
        return f"{{3'd0, a{self.circuit.index[watched]} != 0}}" if kind in _ACTS else "4'd0"

    def _watched(self, sensor: int) -> Cell:
        return watched_cell(self.circuit.geometry, self.circuit.cells[sensor])

    def _watches(self) -> list[str]:
        lines = []
        for number, cell in enumerate(self.watch.values()):
            kind = self.circuit.geometry.kind(cell)
            hears = self.circuit.hears(cell) if kind is not None and kind not in _SHOW_NOTHING else ()
            value, wide = self._level(hears), 4
            if kind in CONTAINERS:
                value, wide = f"32'd{self.circuit.stock[self.circuit.index[cell]]}", 32
            self.used["tw_watch"] = None
            given = f".STEP({_big(self.step)}), .NUMBER({number}), .WIDTH({wide})"
            lines.append(f"  tw_watch #({given}) w{number}({value});  // {kind or 'empty'} {cell_text(cell)}")
        return lines

    # --- the bench -------------------------------------------------------------------------------------------------

    def _bench(self) -> list[str]:
        lines = ["  initial begin", "    #1 started = 1;"]
        now = 1
        for step, stimuli in groupby(self.stimuli, lambda stimulus: stimulus.step):
            for number, stimulus in enumerate(stimuli):
                task = self._task(stimulus)
                at = step * self.step + self.hand_at + number
                lines.append(f"    #(64'd{at - now}) changes = changes + 1; {task}" if task else "")
                now = at if task else now
        end = self.steps * self.step - now
        return [*(line for line in lines if line), f"    #(64'd{end}) $finish;", "  end"]

    def _task(self, stimulus: Stimulus) -> str:
        """The call that does an act; "" if it does nothing."""
        actor = self.circuit.index.get(stimulus.cell)
        kind = self.circuit.geometry.kind(stimulus.cell)
        verb = (default_act(kind) or "") if stimulus.verb == USUAL else stimulus.verb
        if verb not in _TASKS:
            raise UsageError(
                f'"{stimulus}" cannot be said in Verilog: only levers, buttons and creatures on plates can be '
                "exported so. Leave the act out."
            )
        if actor is None or kind is None or verb not in PARTS[kind].acts:
            return ""
        return f"p{actor}.{_TASKS[verb]};"
