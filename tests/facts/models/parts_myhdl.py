"""The parts as MyHDL processes: a model of the block world that shares no code with Tickwright.

Simulated time orders everything, so no queue is written here; the simulator's own is used. A step takes STEP units. A
part that is due acts at a time made of its step, its priority and its ticket; tickets are handed out in the order of
scheduling. What listens wakes when the level at its port changes, and looks `rank` units later: ranks follow the (z, y,
x) order of the cells and are less than GAP, so that everyone has looked before the next change.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator

from myhdl import Signal, delay, now

GAP = 64
SLOT = GAP << 14  # one for each priority: room for so many tickets
STEP = 8 * SLOT
HAND = 4 * SLOT  # after the priorities -3 .. 0
END = 7 * SLOT


def level() -> Signal:
    return Signal(0)


class Desk:
    """Hands out tickets and collects the processes."""

    def __init__(self) -> None:
        self.tickets = 0
        self.processes: list[Iterator[object]] = []

    def time_of(self, steps: int, priority: int) -> int:
        """When a part acts that is scheduled now. Time starts one step early: then all are told at the start."""
        self.tickets += 1
        assert self.tickets * GAP < SLOT
        step = max(0, now() // STEP - 1)
        return (step + steps + 1) * STEP + (priority + 3) * SLOT + self.tickets * GAP

    def join(self, out: Signal, *sources: tuple[Signal, int]) -> None:
        """A wire, or what a port hears: the strongest of the sources, each less its loss."""

        def settle() -> Iterator[object]:
            while True:
                out.next = max(0, *(int(source) - loss for source, loss in sources))
                yield [source for source, _ in sources]

        self.processes.append(settle())


class Part:
    """Looks when told, has at most one event, acts when it is due."""

    def __init__(self, desk: Desk, rank: int, *fan_in: Signal) -> None:
        self.desk, self.rank, self.fan_in = desk, rank, fan_in
        self.due: int | None = None
        self.appointed = Signal(False)
        self.out = level()
        desk.processes += [self.listen(), self.keep_events()]

    def listen(self) -> Iterator[object]:
        yield delay(self.rank)
        self.look()
        while self.fan_in:
            yield list(self.fan_in)
            yield delay(self.rank)
            self.look()

    def keep_events(self) -> Iterator[object]:
        while True:
            if self.due is None:
                yield self.appointed
            assert self.due is not None
            yield delay(self.due - now())
            self.due = None
            yield from self.act()

    def schedule(self, steps: int, priority: int = 0) -> None:
        if self.due is None:
            self.due = self.desk.time_of(steps, priority)
            self.appointed.next = not self.appointed

    def look(self) -> None:
        pass

    def act(self) -> Iterator[object]:
        self.out.next = 0
        yield from ()


class Button(Part):
    def __init__(self, desk: Desk, out: Signal, steps: int = 20) -> None:
        super().__init__(desk, 1)
        self.out, self.steps = out, steps

    def use(self) -> None:
        if self.out == 0:
            self.out.next = 15
            self.schedule(self.steps)


class Lever(Part):
    def __init__(self, desk: Desk, out: Signal) -> None:
        super().__init__(desk, 1)
        self.out = out

    def use(self) -> None:
        self.out.next = 15 if self.out == 0 else 0


class Repeater(Part):
    def __init__(
        self, desk: Desk, rank: int, rear: Signal, out: Signal, *, ticks: int = 1, ahead: bool = False
    ) -> None:
        super().__init__(desk, rank, rear)
        self.rear, self.out, self.steps, self.ahead = rear, out, 2 * ticks, ahead

    def look(self) -> None:
        if (self.rear > 0) != (self.out > 0):
            self.schedule(self.steps, -3 if self.ahead else -2 if self.out > 0 else -1)

    def act(self) -> Iterator[object]:
        gone = self.rear == 0
        if self.out == 0:
            self.out.next = 15
            yield delay(GAP - 1)  # the others are told
            if gone:
                self.schedule(self.steps, -2)
        elif gone:
            self.out.next = 0


class Comparator(Part):
    def __init__(
        self, desk: Desk, rank: int, rear: Signal, out: Signal, *, less: Signal | None = None, ahead: bool = False
    ) -> None:
        super().__init__(desk, rank, rear, *([less] if less is not None else []))
        self.rear, self.less, self.out, self.ahead = rear, less, out, ahead

    def result(self) -> int:
        return max(0, int(self.rear) - (int(self.less) if self.less is not None else 0))

    def look(self) -> None:
        if self.result() != self.out:
            self.schedule(2, -1 if self.ahead else 0)

    def act(self) -> Iterator[object]:
        self.out.next = self.result()
        yield from ()


class Lamp(Part):
    def __init__(self, desk: Desk, rank: int, power: Signal, out: Signal) -> None:
        super().__init__(desk, rank, power)
        self.power, self.out = power, out

    def look(self) -> None:
        if self.power > 0:
            self.out.next = 15
        elif self.out > 0:
            self.schedule(4)

    def act(self) -> Iterator[object]:
        if self.power == 0:
            self.out.next = 0
        yield from ()


def record(steps: int, watched: dict[str, Signal], rows: list[dict[str, int]]) -> Iterator[object]:
    """What is watched at the end of each step."""
    yield delay(STEP + END)
    for _ in range(steps):
        rows.append({name: int(signal) for name, signal in watched.items()})
        yield delay(STEP)


def use(acts: list[tuple[int, Callable[[], None]]]) -> Iterator[object]:
    """The hand, in order of steps: one thing after another in its phase of the step."""
    for index, (step, act) in enumerate(acts):
        yield delay((step + 1) * STEP + HAND + index * GAP - now())
        act()
