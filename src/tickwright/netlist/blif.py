"""BLIF: the reader of one flat model with .names and .latch.

Berkeley Logic Interchange Format, University of California, Berkeley, 1992 (from memory).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

from tickwright.arguments import checked
from tickwright.errors import NetlistError, near
from tickwright.netlist.network import Cover, Latch, Network

COMMANDS = (".model", ".inputs", ".outputs", ".names", ".latch", ".end")
KINDS = ("re", "fe", "al")
REFUSED_KINDS = {
    "ah": "is open while its clock is 1: give it the inverted clock and the type al",
    "as": "is asynchronous: give it a clock and one of re, fe and al",
}
ELSEWHERE = {
    ".subckt": "flatten the netlist before writing it as BLIF",
    ".gate": "write gates as .names",
    ".mlatch": "write it as .latch",
    ".exdc": "leave out external don't-cares",
    ".search": "put all into one file",
}
DEFAULT_CLOCK = "clock"
MOST_SIGNALS = 20_000


class NoOutputs(NetlistError):
    """A netlist without outputs."""


class NotRead(NetlistError):
    """A `command` of BLIF that this reader leaves to other programs."""

    def __init__(self, command: str, line: int) -> None:
        super().__init__(f"{command} is not read: {ELSEWHERE[command]}.", line)
        self.command = command


@dataclass(slots=True)
class _Reading:
    model: str = ""
    inputs: list[str] = field(default_factory=list)
    outputs: list[str] = field(default_factory=list)
    covers: dict[str, Cover] = field(default_factory=dict)
    latches: list[tuple[str, str, str, str | None, int]] = field(default_factory=list)
    lines: dict[str, int] = field(default_factory=dict)  # where each signal is driven
    output_lines: dict[str, int] = field(default_factory=dict)


@checked
def parse_blif(text: str, clock: str | None = None) -> Network:
    r"""The network that a BLIF text describes; `clock` names the clock of latches that name none.

    Such a latch takes its data at the rising edge; without `clock` the input "clock" is added for it. Raises
    NetlistError, with the line, for what is wrong or cannot be built.

    >>> parse_blif(".model m\n.inputs a b\n.outputs y\n.names a b y\n11 1\n.end").covers["y"].rows
    ('11',)
    """
    reading = _Reading()
    lines = list(_lines(text))
    at = 0
    while at < len(lines):
        number, words = lines[at]
        at += 1
        if words[0] == ".end":
            if at < len(lines) and lines[at][1][0] == ".model":
                raise NetlistError("There is a second model: one model is read, so flatten the netlist.", lines[at][0])
            break
        if words[0] == ".names":
            at = _names(reading, lines, at, words, number)
        else:
            _command(reading, words, number)
    return _finished(reading, clock)


def _lines(text: str) -> Iterator[tuple[int, list[str]]]:
    """The lines that say something: number of the first, words; a backslash at the end goes on in the next."""
    held: list[str] = []
    first = 0
    for number, raw in enumerate(text.split("\n"), 1):
        line = raw.rstrip("\r").split("#", 1)[0].rstrip()
        goes_on = line.endswith("\\")
        words = line.removesuffix("\\").split()
        if words and not held:
            first = number
        held += words
        if held and not goes_on:
            yield first, held
            held = []
    if held:
        yield first, held


def _command(reading: _Reading, words: list[str], number: int) -> None:
    name, rest = words[0], words[1:]
    if name == ".model":
        if reading.model:
            raise NetlistError("There is a second .model: one model is read, so flatten the netlist.", number)
        reading.model = rest[0] if rest else "model"
    elif name == ".inputs":
        for signal in rest:
            if signal in reading.inputs:
                raise NetlistError(f'"{signal}" is named twice among the inputs: name it once.', number)
            _drive(reading, signal, number)
            reading.inputs.append(signal)
    elif name == ".outputs":
        for signal in rest:
            reading.output_lines.setdefault(signal, number)
            if signal not in reading.outputs:
                reading.outputs.append(signal)
    elif name == ".latch":
        _latch(reading, rest, number)
    elif name == ".clock":
        return  # which of the inputs are clocks: a lever is a lever
    elif name in ELSEWHERE:
        raise NotRead(name, number)
    elif name.startswith("."):
        raise NetlistError(f"There is no {name}.{near(name, COMMANDS)}", number)
    else:
        raise NetlistError(
            f'"{" ".join(words)[:40]}" belongs to no .names: rows of a cover come right after it.', number
        )


def _drive(reading: _Reading, signal: str, number: int) -> None:
    if signal in reading.lines:
        raise NetlistError(
            f'"{signal}" is driven a second time, first in line {reading.lines[signal]}: a signal has one driver.',
            number,
        )
    if len(reading.lines) >= MOST_SIGNALS:
        raise NetlistError(f"The netlist has over {MOST_SIGNALS:,} signals, the most that is read: split it.", number)
    reading.lines[signal] = number


def _latch(reading: _Reading, rest: list[str], number: int) -> None:
    if not 2 <= len(rest) <= 5:
        raise NetlistError("A latch is written .latch INPUT OUTPUT [re|fe|al CLOCK] [0|2|3].", number)
    data, output, *more = rest
    start = more.pop() if len(more) in (1, 3) else "3"
    if start == "1":
        raise NetlistError(f'The latch "{output}" starts at 1: latches are built to start at 0; invert it.', number)
    if start not in ("0", "2", "3"):
        raise NetlistError(f'The latch "{output}" starts at "{start}": write 0, 2 or 3.', number)
    kind, clock = (more[0], more[1]) if more else ("re", None)
    if kind in REFUSED_KINDS:
        raise NetlistError(f'The latch "{output}" of type {kind} {REFUSED_KINDS[kind]}.', number)
    if kind not in KINDS:
        raise NetlistError(f'The latch "{output}" has the type "{kind}": use re, fe or al.', number)
    _drive(reading, output, number)
    reading.latches.append((data, output, kind, None if clock == "NIL" else clock, number))


def _names(reading: _Reading, lines: Sequence[tuple[int, list[str]]], at: int, words: list[str], number: int) -> int:
    """Read a cover's rows from line `at` on; the next line to read."""
    if len(words) < 2:
        raise NetlistError(".names names no signal: write its inputs and then its output.", number)
    *inputs, output = words[1:]
    rows: list[str] = []
    value: str | None = None
    while at < len(lines) and not lines[at][1][0].startswith("."):
        there, row = lines[at]
        at += 1
        wide = 2 if inputs else 1
        if len(row) != wide or row[-1] not in ("0", "1"):
            raise NetlistError(f'"{" ".join(row)[:40]}" is no row of a cover: write like "1-0 1".', there)
        if inputs and (len(row[0]) != len(inputs) or set(row[0]) - set("01-")):
            raise NetlistError(
                f'The row "{row[0][:40]}" does not fit {len(inputs)} inputs: give each 0, 1 or -.', there
            )
        if value is not None and row[-1] != value:
            raise NetlistError(f'"{output}" has rows for 1 and rows for 0: a cover has one kind.', there)
        value = row[-1]
        rows.append(row[0] if inputs else "")
    _drive(reading, output, number)
    reading.covers[output] = Cover(tuple(inputs), tuple(rows), value != "0", number)
    return at


def _finished(reading: _Reading, clock: str | None) -> Network:
    if not reading.outputs:
        raise NoOutputs("The netlist has no outputs: name them by .outputs.", 1)
    known = reading.lines
    clocked = any(latch[3] is None for latch in reading.latches)
    if clock is not None and clock not in known and not clocked:
        raise NetlistError(f'There is no "{clock}" to be the clock, and every latch names its own.{near(clock, known)}')
    if clock is None and clocked:
        clock = DEFAULT_CLOCK
    if clocked and clock is not None and clock not in known:
        reading.inputs.append(clock)
        known[clock] = 0
    latches = []
    for data, output, kind, own, number in reading.latches:
        for signal in (data, own or clock):
            _known(reading, str(signal), number)
        latches.append(Latch(data, output, kind, str(own or clock), number))
    for cover in reading.covers.values():
        for signal in cover.inputs:
            _known(reading, signal, cover.line)
    for signal in reading.outputs:
        _known(reading, signal, reading.output_lines[signal])
    return Network(
        reading.model or "model",
        tuple(reading.inputs),
        tuple(reading.outputs),
        reading.covers,
        tuple(latches),
        _ordered(reading),
    )


def _known(reading: _Reading, signal: str, number: int) -> None:
    if signal not in reading.lines:
        raise NetlistError(f'Nothing drives "{signal}".{near(signal, reading.lines)}', number)


def _ordered(reading: _Reading) -> tuple[str, ...]:
    """The covers, each after those it hears; a ring of them is an error that names it."""
    done: dict[str, None] = {}
    for first in reading.covers:
        waiting: list[tuple[str, Iterator[str]]] = []
        inside: dict[str, None] = {}

        def enter(name: str, waiting: list[tuple[str, Iterator[str]]], inside: dict[str, None]) -> None:
            if name not in done and name in reading.covers:
                if name in inside:
                    ring = [*list(inside)[list(inside).index(name) :], name]
                    raise NetlistError(
                        f"The signals {' → '.join(ring[:12])} hear one another in a ring: put a latch into it.",
                        reading.covers[name].line,
                    )
                inside[name] = None
                waiting.append((name, iter(reading.covers[name].inputs)))

        enter(first, waiting, inside)
        while waiting:
            name, rest = waiting[-1]
            following = next(rest, None)
            if following is not None:
                enter(following, waiting, inside)
            else:
                waiting.pop()
                del inside[name]
                done[name] = None
    return tuple(done)
