"""The network of a contraption: instances of tiles, the nets between them, and when each input must act."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from tickwright.design.compose.tiles import Made
from tickwright.layout.model import Net, Pin
from tickwright.space import Cell

ROUTE_SLACK = 8  # steps that repeaters on the way to an input may add, as far as is known before routing


@dataclass(frozen=True, slots=True)
class Need:
    """An input whose column must end at a step after the trigger's act.

    `leave` is when the pulse must leave the column; `lead` names ways of outputs (net, instance, port) whose delay,
    found by routing, is to be taken from it. `more` is what its column must take at least beyond its least.
    """

    instance: str
    port: str
    leave: int
    lead: tuple[tuple[str, str, str], ...] = ()
    more: int = 0


@dataclass(slots=True)
class Tap:
    """A point of a trigger's chain: its net, when its pulse begins there, and the chain before it (or none).

    If rings make the wait, `chain` is the first of them, which the net `source` lets fade, `fixed_steps` before the
    pulse if the ways `lead` took no time; `source` falls `after_steps` after the tap of number `base`.
    """

    net: str
    step: int
    chain: str | None
    source: str = ""
    base: int = 0
    after_steps: int = 0
    fixed_steps: int = 0
    lead: tuple[tuple[str, str, str], ...] = ()


@dataclass(slots=True)
class Program:
    """What one trigger sets going: its front, its early output if any, its taps in order, and what hangs on each."""

    trigger: str
    front: str
    taps: list[Tap] = field(default_factory=list)
    needs: dict[str, list[Need]] = field(default_factory=dict)  # by net
    early: Early | None = None
    busy: Busy | None = None


@dataclass(frozen=True, slots=True)
class Early:
    """An output driven by the front itself: when the front's port must come on, less the delay of the ways `lead`."""

    on: int
    lead: tuple[tuple[str, str, str], ...]


@dataclass(frozen=True, slots=True)
class Busy:
    """What shuts the gate of a front: its memory, the way to the front, and from which step on a press counts again."""

    memory: str
    lead: tuple[str, str, str]
    ready: int


@dataclass(slots=True)
class Network:
    """All of it; `pins` says where instances must lie: at a cell, or along a side."""

    made: dict[str, Made] = field(default_factory=dict)
    drivers: dict[str, Pin] = field(default_factory=dict)
    sinks: dict[str, list[Pin]] = field(default_factory=dict)
    pins: dict[str, Cell | str] = field(default_factory=dict)
    programs: list[Program] = field(default_factory=list)
    triggers: dict[str, tuple[str, str]] = field(default_factory=dict)  # name -> instance, named cell
    outputs: dict[str, tuple[str, str]] = field(default_factory=dict)
    ready: dict[str, int | None] = field(default_factory=dict)  # from how many steps after an act on another counts
    extending: dict[str, int] = field(default_factory=dict)  # how soon after an act the next can extend what runs
    restarting: set[str] = field(default_factory=set)  # triggers whose further acts restart what runs
    deaf: dict[str, int] = field(default_factory=dict)  # of each machine
    ordered: dict[tuple[str, str], bool] = field(default_factory=dict)
    """Of (machine, state): whether an act wins over the end of a wait in its step (True), or the wait over acts."""
    joined: list[str] = field(default_factory=list)
    """Machines' states in which an act may count once more while the machine is deaf: right only if it is proved."""
    gap: int = 1  # cells left between tiles

    def add(self, name: str, made: Made) -> str:
        """Add an instance; its name."""
        assert name not in self.made, name
        self.made[name] = made
        return name

    def net(self, driver: str, port: str) -> str:
        """The net that a port drives, made when first asked for; its name."""
        name = f"{driver}.{port}"
        if name not in self.drivers:
            self.drivers[name] = Pin(driver, port)
            self.sinks[name] = []
        return name

    def connect(self, net: str, instance: str, port: str, most_steps: int | None = None) -> tuple[str, str, str]:
        """Let a net reach an input; the way as (net, instance, port)."""
        self.sinks[net].append(Pin(instance, port, most_steps=most_steps))
        return net, instance, port

    def nets(self) -> Mapping[str, Net]:
        """The nets that reach anything."""
        return {name: Net(self.drivers[name], tuple(sinks)) for name, sinks in self.sinks.items() if sinks}
