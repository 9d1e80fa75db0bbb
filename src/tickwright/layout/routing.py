"""Routes: nets through the ground by negotiated congestion, each way found by A* over cells and levels.

McMurchie and Ebeling, "PathFinder: a negotiation-based performance-driven router for FPGAs" (1995): nets may share what
only one can have; what is shared grows dearer until none is. A way is made of wires, each of which loses a level, and
of repeaters, behind which the level is full again. The two sides of a repeater are foreign to each other.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from heapq import heappop, heappush
from typing import NamedTuple

from tickwright.layout.ground import FREE, Claim, Ground

TOP = 15
REPEATER_COST = 5.0
REPEATER_STEPS = 2
FIRST_PRICE, DEARER, HIGHEST_PRICE = 0.6, 1.5, 60.0
MOST_POPS = 60_000
AT_ONCE = 8  # nets between two looks at the time


class Goal(NamedTuple):
    """One sink of a net: its name, the cells that will do, the least level there, and the most repeaters on the way."""

    name: str
    cells: tuple[int, ...]
    need: int
    most_repeaters: int


class Task(NamedTuple):
    """One net to route: its number from 1, the cells where it may begin and their level, and its sinks."""

    number: int
    starts: tuple[int, ...]
    level: int
    goals: tuple[Goal, ...]


class Spot(NamedTuple):
    """A wire of a net's tree: its level, its part of the net between repeaters, and the repeaters before it."""

    level: int
    part: int
    repeaters: int


@dataclass(slots=True)
class Tree:
    """A net as routed so far: every wire of it, its claim, where each sink is met, and the sinks not reached."""

    spots: dict[int, Spot] = field(default_factory=dict)
    claim: Claim = field(default_factory=Claim)
    met: dict[str, int] = field(default_factory=dict)
    missing: list[str] = field(default_factory=list)
    parts: int = 1
    touching: dict[int, set[int]] = field(default_factory=dict)
    taken: set[int] = field(default_factory=set)
    supports: set[int] = field(default_factory=set)


class _Node(NamedTuple):
    """A step of a way: its cell and level, the node before, the repeater that led here (or -1), the air it needs."""

    cell: int
    level: int
    before: int
    repeater: int
    air: int
    part: int
    repeaters: int
    cost: float
    facing: str


def nearest_first(ground: Ground, task: Task) -> list[Goal]:
    """The goals of a net in the order in which they are reached; none if nothing can begin."""
    if not task.starts:
        return list(task.goals)
    start = task.starts[0]

    def near(goal: Goal) -> int:
        cell = goal.cells[0] if goal.cells else start
        return abs(ground.x[cell] - ground.x[start]) + abs(ground.y[cell] - ground.y[start])

    return sorted(task.goals, key=near)


class Router:
    """Routes all nets of a ground, in Python; `QuickRouter` does the same in C."""

    def __init__(self, ground: Ground, tasks: Sequence[Task], loss: int = 1) -> None:
        self.ground = ground
        self.tasks = sorted(tasks, key=lambda task: (len(task.goals), self._span(task)))
        self.loss = loss
        self.price = FIRST_PRICE
        self.trees = {task.number: Tree(missing=[goal.name for goal in task.goals]) for task in self.tasks}

    def _span(self, task: Task) -> int:
        ground = self.ground
        cells = [*task.starts, *(cell for goal in task.goals for cell in goal.cells)]
        return sum(
            max((axis[c] for c in cells), default=0) - min((axis[c] for c in cells), default=0)
            for axis in (ground.x, ground.y)
        )

    def route(
        self,
        rounds: int,
        told: Callable[[int, int], bool] | None = None,
        going: Callable[[], bool] | None = None,
        strict: bool = False,
    ) -> bool:
        """Make up to so many rounds; whether all is routed without conflicts.

        `told` is given the round and how many nets are still in conflict or unrouted, and may end it by giving False;
        so may `going`, which is asked between nets. A `strict` one ends after the first round if a sink has no way even
        while nets may share what they like: tiles are in each other's way.
        """
        done = self._rounds(rounds, told, going, strict)
        self._read()
        return done

    def _rounds(
        self,
        rounds: int,
        told: Callable[[int, int], bool] | None,
        going: Callable[[], bool] | None,
        strict: bool,
    ) -> bool:
        waiting = list(self.tasks)
        for number in range(rounds):
            for place, task in enumerate(waiting):
                if going is not None and place % AT_ONCE == 0 and not going():
                    return False
                self._reroute(task)
            waiting = self._unhappy()
            if strict and number == 0 and self._unreached():
                return False
            if told is not None and not told(number, len(waiting)):
                break
            if not waiting:
                return True
            self.price = min(self.price * DEARER, HIGHEST_PRICE)
        return False

    def _read(self) -> None:
        """Bring the trees up to date with what was routed: nothing to do, as Python routes in them."""

    def _reroute(self, task: Task) -> None:
        self.ground.claim(self.trees[task.number].claim, -1)
        tree = self._grow(task)
        self.trees[task.number] = tree
        self.ground.claim(tree.claim, 1)

    def _unhappy(self) -> list[Task]:
        ground, bad = self.ground, []
        for task in self.tasks:
            tree = self.trees[task.number]
            ground.claim(tree.claim, -1)
            cells = ground.conflicts(tree.claim)
            ground.claim(tree.claim, 1)
            for cell in cells:
                ground.history[cell] += 0.7
            if cells or tree.missing:
                bad.append(task)
        return bad

    def _unreached(self) -> bool:
        return any(tree.missing for tree in self.trees.values())

    def drop_conflicts(self) -> None:
        """Take out nets until no two conflict: what is left is laid; the sinks of the others are missing."""
        while True:
            worst: tuple[int, Task] | None = None
            for task in self.tasks:
                tree = self.trees[task.number]
                self.ground.claim(tree.claim, -1)
                count = len(self.ground.conflicts(tree.claim))
                self.ground.claim(tree.claim, 1)
                if count and (worst is None or count > worst[0]):
                    worst = (count, task)
            if worst is None:
                return
            task = worst[1]
            self.ground.claim(self.trees[task.number].claim, -1)
            self.trees[task.number] = Tree(missing=[goal.name for goal in task.goals])

    # --- one net ----------------------------------------------------------------------------------------------------

    def _grow(self, task: Task) -> Tree:
        tree = Tree()
        for goal in nearest_first(self.ground, task):
            nodes = self._search(task, tree, goal)
            if nodes is None:
                tree.missing.append(goal.name)
            else:
                self._add(tree, nodes)
                tree.met[goal.name] = nodes[-1].cell
        return tree

    def _add(self, tree: Tree, nodes: list[_Node]) -> None:
        layer = self.ground.layer
        fresh: dict[int, int] = {}
        for node in nodes:
            part = node.part
            if part < 0:
                part = fresh.setdefault(node.repeaters, tree.parts + len(fresh))
            if node.repeater >= 0:
                tree.claim.repeaters[node.repeater] = node.facing
                tree.taken.update((node.repeater, node.repeater - layer))
                tree.supports.add(node.repeater - layer)
            if node.air >= 0:
                tree.claim.airs.add(node.air)
            if node.cell not in tree.spots:
                tree.spots[node.cell] = Spot(node.level, part, node.repeaters)
                tree.claim.wires.add(node.cell)
                tree.taken.update((node.cell, node.cell - layer))
                tree.supports.add(node.cell - layer)
                for near in self.ground.twelve(node.cell):
                    tree.touching.setdefault(near, set()).add(part)
        tree.parts += len(fresh)

    def _search(self, task: Task, tree: Tree, goal: Goal) -> list[_Node] | None:
        """The cheapest way from the net's tree, or from its driver, to the goal: from the tree's wire to the last."""
        ground, price, loss, mine = self.ground, self.price, self.loss, task.number
        xs, ys, zs = ground.x, ground.y, ground.z
        load, history, taken, airs, supports = ground.load, ground.history, ground.taken, ground.airs, ground.supports
        wire, block, layer = ground.wire, ground.block, ground.layer
        goals = set(goal.cells)
        if not goals:
            return None
        low = [min(axis[c] for c in goals) for axis in (xs, ys, zs)]
        high = [max(axis[c] for c in goals) for axis in (xs, ys, zs)]

        def far(cell: int) -> int:
            x, y, z = xs[cell], ys[cell], zs[cell]
            dx = low[0] - x if x < low[0] else x - high[0] if x > high[0] else 0
            dy = low[1] - y if y < low[1] else y - high[1] if y > high[1] else 0
            dz = low[2] - z if z < low[2] else z - high[2] if z > high[2] else 0
            return max(dx + dy, dz)

        nodes: list[_Node] = []
        heap: list[tuple[float, int, int]] = []
        for cell, spot in tree.spots.items():
            heappush(heap, (far(cell), -spot.level, len(nodes)))
            nodes.append(_Node(cell, spot.level, -1, -1, -1, spot.part, spot.repeaters, 0.0, ""))
        for cell in task.starts:
            free = (wire[cell] in (FREE, mine)) and block[cell - layer] in (FREE, mine)
            clear = cell not in tree.taken and cell - layer not in tree.taken and tree.touching.get(cell, set()) <= {0}
            if free and clear and cell not in tree.spots and cell - layer not in tree.claim.airs:
                cost = 1 + history[cell] + price * load[cell]
                heappush(heap, (cost + far(cell), -task.level, len(nodes)))
                nodes.append(_Node(cell, task.level, -1, -1, -1, 0, 0, cost, ""))
        seen: dict[int, int] = {}
        pops = 0
        own_taken, touching, own_airs, own_supports = tree.taken, tree.touching, tree.claim.airs, tree.supports
        while heap:
            _, _, index = heappop(heap)
            node = nodes[index]
            cell, level, part, cost = node.cell, node.level, node.part, node.cost
            if seen.get(cell, 0) >= level:
                continue
            if node.before >= 0 and not self._clear(nodes, node):
                continue
            seen[cell] = level
            if cell in goals and level >= goal.need:
                return self._way(nodes, node)
            pops += 1
            if pops > MOST_POPS:
                return None
            lower = level - loss
            if lower >= 1:
                for there, air in ground.steps(cell):
                    if seen.get(there, 0) >= lower or there in own_taken:
                        continue
                    under = there - layer
                    if wire[there] not in (FREE, mine) or block[under] not in (FREE, mine):
                        continue
                    if under in own_taken or under in own_airs:
                        continue
                    touched = touching.get(there)
                    if touched and (part < 0 or touched != {part}):
                        continue
                    extra = history[there] + price * load[there]
                    if air >= 0:
                        if air in own_supports:
                            continue
                        extra += price * supports[air]
                    total = cost + 1 + extra
                    heappush(heap, (total + far(there), -lower, len(nodes)))
                    nodes.append(_Node(there, lower, index, -1, air, part, node.repeaters, total, ""))
            if node.repeaters < goal.most_repeaters:
                for middle, there, facing in ground.jumps(cell):
                    if seen.get(there, 0) >= TOP or there in own_taken or middle in own_taken:
                        continue
                    under, below = there - layer, middle - layer
                    if wire[there] not in (FREE, mine) or block[under] not in (FREE, mine) or block[below] != FREE:
                        continue
                    if own_taken & {under, below} or own_airs & {under, below} or touching.get(there):
                        continue
                    extra = history[there] + history[middle] + price * load[there]
                    extra += price * (taken[middle] + taken[below] + airs[below])
                    total = cost + REPEATER_COST + extra
                    heappush(heap, (total + far(there), -TOP, len(nodes)))
                    nodes.append(_Node(there, TOP, index, middle, -1, -1, node.repeaters + 1, total, facing))
        return None

    def _clear(self, nodes: list[_Node], node: _Node) -> bool:
        """Whether the last step of a way leaves alone what the way itself has taken before."""
        layer, cell, under = self.ground.layer, node.cell, node.cell - self.ground.layer
        near = self.ground.twelve(cell)
        mine = {cell, under}
        if node.repeater >= 0:
            mine |= {node.repeater, node.repeater - layer}
        same = node.repeater < 0
        index = node.before
        first = True
        air = node.air
        while index >= 0:
            old = nodes[index]
            own = (old.cell, old.cell - layer)
            if own[0] in mine or own[1] in mine or old.air in mine or air == own[1]:
                return False
            if not first and not same and old.cell in near:
                return False
            if old.repeater >= 0:
                if old.repeater in mine or old.repeater - layer in mine or air == old.repeater - layer:
                    return False
                same = False
            first = False
            index = old.before
        return True

    def _way(self, nodes: list[_Node], node: _Node) -> list[_Node]:
        way = [node]
        while way[-1].before >= 0:
            way.append(nodes[way[-1].before])
        return way[::-1]
