"""Routes found by the compiled library: the same ways as `Router` finds, 60 to 80 times as quickly."""

from __future__ import annotations

from collections.abc import Sequence

from tickwright.engine.native import is_installed
from tickwright.engine.native.routes import FACINGS, MET, REPEATERS, WIRES, Routes
from tickwright.layout.ground import Claim, Ground
from tickwright.layout.routing import Router, Spot, Task, Tree, nearest_first


class QuickRouter(Router):
    """Routes all nets of a ground, in C."""

    def __init__(self, ground: Ground, tasks: Sequence[Task], loss: int = 1) -> None:
        super().__init__(ground, tasks, loss)
        self.routes = Routes(ground.size, ground.wire, ground.block, ground.cuts, loss)
        self.goals = [nearest_first(ground, task) for task in self.tasks]
        self.index = {}
        for task, goals in zip(self.tasks, self.goals, strict=True):
            rows = [(goal.cells, goal.need, goal.most_repeaters) for goal in goals]
            self.index[task.number] = self.routes.add(task.number, task.level, task.starts, rows)

    def drop_conflicts(self) -> None:
        """Take out nets until no two conflict."""
        self.routes.drop()
        self._read()

    def _reroute(self, task: Task) -> None:
        self.routes.reroute(self.index[task.number], self.price)

    def _unhappy(self) -> list[Task]:
        return [self.tasks[which] for which in self.routes.unhappy()]

    def _unreached(self) -> bool:
        return any(met < 0 for which in self.index.values() for met in self.routes.read(which, MET))

    def _read(self) -> None:
        for task, goals in zip(self.tasks, self.goals, strict=True):
            which = self.index[task.number]
            wires, turned = self.routes.read(which, WIRES), self.routes.read(which, REPEATERS)
            tree = Tree(claim=Claim())
            for cell, level, part, repeaters in zip(*(wires[k::4] for k in range(4)), strict=True):
                tree.spots[cell] = Spot(level, part, repeaters)
                tree.claim.wires.add(cell)
            for cell, facing in zip(turned[::2], turned[1::2], strict=True):
                tree.claim.repeaters[cell] = FACINGS[facing]
            for goal, met in zip(goals, self.routes.read(which, MET), strict=True):
                if met < 0:
                    tree.missing.append(goal.name)
                else:
                    tree.met[goal.name] = met
            self.trees[task.number] = tree


def router_of(ground: Ground, tasks: Sequence[Task], loss: int) -> Router:
    """The router that this computer can run."""
    return QuickRouter(ground, tasks, loss) if is_installed() else Router(ground, tasks, loss)
