"""Judging a placed netlist: the plan's levers are worked, and its lamps held against the network.

Without latches: all inputs, up to 2^12 of them, else 4,096 at random. With latches: in lockstep from the start, every
change of a lever from every state where there are few, else a random walk. Turned, mirrored and under other orders of
telling a part of these is played again.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable, Mapping, Sequence
from random import Random
from typing import NamedTuple

from tickwright.engine import run
from tickwright.layout.timing import arrivals
from tickwright.netlist import Latch, Network
from tickwright.plan.edits import mirror, rotate
from tickwright.plan.hand import Stimulus
from tickwright.plan.model import Plan
from tickwright.rules import RuleSet
from tickwright.space import Cell

MOST_VECTORS = 4096
MOST_EDGES = 3000
WALK = 600
AGAIN = 48
FIRST_WAIT = 60
UNKNOWN_WAIT = 400
ORDERS = ("reversed", *(str(seed) for seed in range(1, 9)))

State = tuple[tuple[int, ...], tuple[int, ...]]  # the levers and the latches
Play = list[tuple[str, dict[str, int]]]  # the lever to flip, and what the outputs show then


class Judgement(NamedTuple):
    """How many cases were played, how many outputs were wrong in them, the first wrong in words, and the wait."""

    vectors: int
    wrong: int
    first: str
    settle_steps: int | None
    waited_steps: int
    complete: bool


def judge(
    plan: Plan,
    network: Network,
    levers: Mapping[str, Cell],
    outputs: Mapping[str, Cell],
    rules: Sequence[RuleSet],
    held: Mapping[Cell, frozenset[Cell]],
    seed: int = 0,
) -> Judgement:
    """Play the plan against the network under each rule set; `held` is what flip-flops hold back (see `arrivals`)."""
    bounds = [arrivals(plan, one, levers.values(), held) for one in rules]
    settle = None if any(bound is None for bound in bounds) else max(max(b.values(), default=0) for b in bounds if b)
    wait = (settle if settle is not None else UNKNOWN_WAIT) + 2
    play, complete = walk(network, seed) if network.latches else vectors(network, seed)
    wrong, first = 0, ""
    for number, one in enumerate(rules):
        ways = [(plan, levers, outputs, "canonical", play)]
        short = play[:AGAIN]
        ways += [(plan, levers, outputs, order, short) for order in ORDERS]
        for turns, mirrored in ((1, False), (2, False), (3, False), (0, True), (1, True), (2, True), (3, True)):
            named = Plan(plan.cells, dict(levers), dict(outputs), size=plan.size)
            other = rotate(mirror(named, "x") if mirrored else named, turns)
            ways.append((other, other.triggers, other.outputs, "canonical", short))
        for laid, hands, lamps, order, cases in ways:
            bad, words = _played(laid, hands, lamps, one, order, cases, wait)
            wrong += bad
            first = first or (f"under the rules {one.name}, order {order}: {words}" if words else "")
            if wrong and number == 0 and order == "canonical" and laid is plan:
                return Judgement(len(play), wrong, first, settle, wait, complete)
    return Judgement(len(play), wrong, first, settle, wait, complete)


def _played(
    plan: Plan,
    levers: Mapping[str, Cell],
    outputs: Mapping[str, Cell],
    rules: RuleSet,
    order: str,
    play: Play,
    wait: int,
) -> tuple[int, str]:
    """How many outputs are wrong over all cases, each `wait` steps after its lever was flipped; the first in words."""
    start = FIRST_WAIT + wait
    hand = [Stimulus(start + number * wait, levers[name], "flip") for number, (name, _) in enumerate(play) if name]
    steps = start + len(play) * wait + 1
    trace = run(plan, hand, steps, rules, order, watch=dict(outputs)).trace
    wrong, first = 0, ""
    for name in outputs:
        changes = trace.changes[name]
        at = 0
        for number, (lever, wanted) in enumerate(play):
            step = start + (number + 1) * wait - 1
            while at + 1 < len(changes) and changes[at + 1][0] <= step:
                at += 1
            if (changes[at][1] > 0) != bool(wanted[name]):
                wrong += 1
                first = first or f"{name} is wrong after {number + 1} changes, the last of {lever or 'none'}"
    return wrong, first


def vectors(network: Network, seed: int) -> tuple[Play, bool]:
    """All inputs in Gray order, one lever flipped from each to the next; at random where there are too many."""
    names = network.inputs
    all_of_them = 1 << len(names) <= MOST_VECTORS
    count = min(1 << len(names), MOST_VECTORS)
    random = Random(seed)
    flips = [""]
    for number in range(1, count):
        gray = (number & -number).bit_length() - 1
        flips.append(names[gray] if all_of_them else random.choice(names))
    now = dict.fromkeys(names, 0)
    cases = []
    for flip in flips:
        if flip:
            now[flip] ^= 1
        cases.append(dict(now))
    given = {name: sum(case[name] << number for number, case in enumerate(cases)) for name in names}
    values = network.values(given, len(cases))
    play = [(flip, {name: values[name] >> number & 1 for name in network.outputs}) for number, flip in enumerate(flips)]
    return play, all_of_them


class Stepper:
    """A network with latches, moved from state to state by its levers; all latches start at 0."""

    def __init__(self, network: Network) -> None:
        self.network = network
        self.latches: tuple[Latch, ...] = network.latches

    def values(self, state: State) -> dict[str, int]:
        """Every signal in a state."""
        given = dict(zip(self.network.inputs, state[0], strict=True))
        given |= {latch.output: value for latch, value in zip(self.latches, state[1], strict=True)}
        return self.network.values(given, 1)

    def start(self) -> State:
        """Where it rests at the start: levers at 0, latches at 0 but for those that are open."""
        return self._settled((0,) * len(self.network.inputs), (0,) * len(self.latches), None)

    def flipped(self, state: State, lever: int) -> State:
        """The state after one lever was flipped."""
        levers = tuple(value ^ (place == lever) for place, value in enumerate(state[0]))
        return self._settled(levers, state[1], self.values(state))

    def _settled(self, levers: tuple[int, ...], held: tuple[int, ...], before: dict[str, int] | None) -> State:
        for _ in range(len(self.latches) + 2):
            now = self.values((levers, held))
            old = before or now
            following = tuple(
                self._next(latch, value, old, now) for latch, value in zip(self.latches, held, strict=True)
            )
            if following == held and before is not None and now == before:
                break
            before, held = now, following
        return levers, held

    @staticmethod
    def _next(latch: Latch, value: int, old: dict[str, int], now: dict[str, int]) -> int:
        if latch.kind == "al":
            return now[latch.data] if not now[latch.clock] else value
        rising = latch.kind == "re"
        edge = old[latch.clock] == (not rising) and now[latch.clock] == rising
        return old[latch.data] if edge else value


def walk(network: Network, seed: int) -> tuple[Play, bool]:
    """Levers to flip so that each is flipped in every state that can be reached, or a random walk; see `judge`."""
    stepper = Stepper(network)
    start = stepper.start()
    edges = _reachable(stepper, start)
    random = Random(seed)
    play: Play = [("", _shown(stepper, start))]
    here = start
    if edges is None:
        clocks = [network.inputs.index(latch.clock) for latch in network.latches if latch.clock in network.inputs]
        for _ in range(WALK):
            clocked = clocks and random.random() < 0.5
            lever = random.choice(clocks) if clocked else random.randrange(len(network.inputs))
            here = stepper.flipped(here, lever)
            play.append((network.inputs[lever], _shown(stepper, here)))
        return play, False
    left = {(state, lever) for state, ways in edges.items() for lever in range(len(ways))}
    while left:
        way = _nearest(edges, here, left)
        if way is None:
            break  # what is left cannot be come to any more from here
        for lever in way:
            left.discard((here, lever))
            here = edges[here][lever]
            play.append((network.inputs[lever], _shown(stepper, here)))
    return play, not left


def _shown(stepper: Stepper, state: State) -> dict[str, int]:
    values = stepper.values(state)
    return {name: values[name] for name in stepper.network.outputs}


def _reachable(stepper: Stepper, start: State) -> dict[State, list[State]] | None:
    """Where each flip leads from each state; None if there are too many."""
    edges: dict[State, list[State]] = {}
    waiting = [start]
    levers = range(len(stepper.network.inputs))
    for state in waiting:
        if state in edges:
            continue
        if (len(edges) + 1) * len(levers) > MOST_EDGES:
            return None
        edges[state] = [stepper.flipped(state, lever) for lever in levers]
        waiting += edges[state]
    return edges


def _nearest(edges: Mapping[State, list[State]], here: State, left: Iterable[tuple[State, int]]) -> list[int] | None:
    """The fewest flips that end with one that is left."""
    wanted = left if isinstance(left, set) else set(left)
    queue: deque[tuple[State, list[int]]] = deque([(here, [])])
    seen = {here}
    while queue:
        state, way = queue.popleft()
        for lever, there in enumerate(edges[state]):
            if (state, lever) in wanted:
                return [*way, lever]
            if there not in seen:
                seen.add(there)
                queue.append((there, [*way, lever]))
    return None
