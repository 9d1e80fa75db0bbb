"""Proof that a composed plan keeps its brief after every sequence of acts: its states beside those of the brief.

Each output is proved with the triggers that reach it; the brief's own states (how long ago each counting act was) go
along with the states of the circuit, and every output must show in every state what they say. This is written from the
spans that the claims mean, not from the network.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Sequence
from dataclasses import dataclass
from time import monotonic
from typing import TYPE_CHECKING, Any

from tickwright.design.compose.brief import Brief
from tickwright.design.compose.lowering import lowered
from tickwright.design.compose.machine_monitors import machine_monitors
from tickwright.design.compose.monitors import Monitor, monitors_for
from tickwright.design.compose.moved_monitors import moved_monitors
from tickwright.design.compose.network import Network
from tickwright.kinds import BUTTONS, Part
from tickwright.plan.hand import default_act
from tickwright.plan.model import Plan
from tickwright.plan.setup import Setup
from tickwright.rules import RuleSet

if TYPE_CHECKING:
    from tickwright.engine.native import Asked, Refuted

MOST_STATES = 5_000_000
LEVER_ALONE = 12  # steps after a flip in which the next one may come at the soonest
ALONE = {"short-button": 2, "long-button": 2, "lever": LEVER_ALONE - 1}
SETTLED = 40  # steps after which the untouched circuit rests
TELL_EVERY = 50_000  # states
ASKED_EVERY = 500  # questions
SHOWN_AFTER = 20

Progress = Callable[[str], bool]  # told what is being done; True stops


@dataclass(frozen=True, slots=True)
class BriefProof:
    """A verdict, "proved", "refuted" or "undecided"; how many states were seen, for what, and a script if refuted."""

    verdict: str
    states: int
    bound: str
    detail: str = ""
    counterexample: tuple[str, ...] = ()
    replay_steps: int | None = None

    def as_data(self) -> dict[str, Any]:
        """The proof as JSON shows it."""
        return {
            "verdict": self.verdict,
            "states": self.states,
            "bound": self.bound,
            "detail": self.detail,
            "counterexample": list(self.counterexample),
            "replay_steps": self.replay_steps,
        }


def prove_brief(
    plan: Plan, brief: Brief, network: Network, deadline: float, progress: Progress | None = None
) -> BriefProof:
    """Prove every output against every sequence of acts of the triggers that reach it, under each rule set."""
    states, told, undecided = 0, [], []
    rests = f"acts from step {SETTLED} on; order canonical; rules {' and '.join(brief.rule_names)}"
    low = lowered(brief)
    monitors = [*monitors_for(low, network), *machine_monitors(low, network), *moved_monitors(low, network)]
    for monitor in monitors:
        names = " and ".join(monitor.outputs)
        why = _cannot(brief, monitor)
        if why:
            undecided.append(f"{names}: {why}")
            continue
        for rules in brief.rulesets:
            found = _proof(plan, brief, monitor, rules, deadline, progress)
            states += found.states
            if found.verdict == "refuted":
                return BriefProof(
                    "refuted",
                    states,
                    f"{monitor.bound}; {rests}",
                    found.detail,
                    found.counterexample,
                    found.replay_steps,
                )
            if found.verdict == "undecided":
                undecided.append(f"{names}: {found.detail}")
        told.append(f"{names}: {monitor.bound}")
    if any(end.part in BUTTONS for end in brief.inputs.values()):
        rests += "; a button pressed a tick after its release at the soonest"
    if any(end.part == "lever" for end in brief.inputs.values()):
        rests += f"; a lever left alone for {LEVER_ALONE} steps after each flip"
    bound = f"{'; '.join(told)}; {rests}" if told else rests
    if undecided:
        return BriefProof("undecided", states, bound, "not proved: " + "; ".join(undecided))
    return BriefProof("proved", states, bound)


def _proof(
    plan: Plan, brief: Brief, monitor: Monitor, rules: RuleSet, deadline: float, progress: Progress | None
) -> BriefProof:
    """A proof that forgets what torches did, if none can burn out; else one that does not."""
    text = f"proving {' and '.join(monitor.outputs)}"
    if rules.torch.burnout_count > 1:
        quick = _Product(plan, brief, monitor, rules, True)
        found = quick.prove(deadline, progress, text)
        if not quick.walk.graph.crowded:
            return found
    return _Product(plan, brief, monitor, rules, False).prove(deadline, progress, text)


def _cannot(brief: Brief, monitor: Monitor) -> str | None:
    others = [name for name in monitor.triggers if brief.inputs[name].part not in (*BUTTONS, "lever")]
    return f"{' and '.join(others)} is no button and no lever" if others else monitor.cannot


def _without_doors(plan: Plan) -> Plan:
    """The plan with a lamp for each piston: what drives a door is proved, its motion is only run."""
    if not any(part.kind == "pull-piston" for part in plan.cells.values()):
        return plan
    cells = {cell: Part("lamp") if part.kind == "pull-piston" else part for cell, part in plan.cells.items()}
    return Plan(cells, plan.triggers, plan.outputs)


class _Product:
    """The circuit's states beside the monitor's."""

    def __init__(self, plan: Plan, brief: Brief, monitor: Monitor, rules: RuleSet, forget: bool) -> None:
        from tickwright.engine.native import Monitored, StateGraph

        self.monitor = monitor
        laid = _without_doors(plan)
        watch = {}
        for name in monitor.outputs:
            x, y, z = plan.outputs[name]
            door = name in plan.part_outputs
            watch[name] = _piston_of(plan, (x, y, z)) if door else (x, y, z)
        for name in monitor.triggers:
            watch[f"trigger {name}"] = plan.triggers[name]
        self.kinds = [brief.inputs[name].part for name in monitor.triggers]
        cells = [plan.triggers[name] for name in monitor.triggers]
        count = len(cells)
        self.lists: list[tuple[int, ...]] = [(one,) for one in range(count)]
        if count > 1:
            self.lists += [(a, b) for a in range(count) for b in range(count) if a != b]
        self.walk = Monitored(StateGraph(Setup(laid, rules), watch, cells, self.lists, SETTLED, forget))
        self.outputs = len(monitor.outputs)
        start = (monitor.start, (UNTOUCHED,) * count)
        self.states: list[tuple[Hashable, tuple[int, ...]]] = [start]
        self.numbers = {start: 0}
        self.wrong = 0  # of the outputs, the first that shows another thing than is wanted

    def prove(self, deadline: float, progress: Progress | None, text: str) -> BriefProof:
        """Search breadth-first until all is seen, something differs, or it must stop."""
        from tickwright.engine.native import Asked, Refuted

        walk, questions = self.walk, 0
        while True:
            found = walk.walk(TELL_EVERY, MOST_STATES)
            if isinstance(found, Asked):
                walk.tell(found, self._answer(found))
                questions += 1
                if questions % ASKED_EVERY:
                    continue
            elif isinstance(found, Refuted):
                return self._refuted(found)
            elif found is None:
                return self._undecided("it has too many states")
            elif not found:
                return BriefProof("proved", walk.expanded, "")
            if walk.graph.crowded:
                return self._undecided("torches switch too often to be forgotten")
            if progress is not None and progress(f"{text}, {walk.expanded:,} states"):
                return self._undecided("stopped")
            if monotonic() > deadline:
                return self._undecided("its time was over")

    def _undecided(self, why: str) -> BriefProof:
        seen = f"none of {self.walk.expanded:,} states seen breaks a claim"
        return BriefProof("undecided", self.walk.expanded, "", f"{why}: {seen}")

    def _answer(self, asked: Asked) -> int:
        """What follows for the monitor; which levers are left alone yet is kept along with its state."""
        from tickwright.engine.native import FORBIDDEN, UNJUDGED, WRONG

        monitor = self.monitor
        watched, alone = self.states[asked.watcher]
        acts = self.lists[asked.move] if asked.move >= 0 else ()
        if any(alone[one] != UNTOUCHED for one in acts):
            return FORBIDDEN
        levels = self.walk.levels(asked.face)
        worked, idle = self._worked(acts, levels, alone)
        following, wanted = monitor.step(watched, worked, levels)
        wrong = [place for place, want in enumerate(wanted) if want is not None and want != bool(levels[place])]
        if wrong:
            self.wrong = wrong[0]
            return WRONG
        if monitor.is_over(following):
            return UNJUDGED
        state = (following, idle)
        if state not in self.numbers:
            self.numbers[state] = len(self.states)
            self.states.append(state)
        return self.numbers[state]

    def _worked(
        self, acts: Sequence[int], levels: tuple[int, ...], alone: tuple[int, ...]
    ) -> tuple[tuple[str, ...], tuple[int, ...]]:
        """The triggers that are worked by the acts, in their order; and how long each is to be left alone yet.

        A lever so long from an act on, a button from its release on.
        """
        pressed = levels[self.outputs :]
        worked = tuple(self.monitor.triggers[one] for one in acts if pressed[one])
        idle = []
        for one, (kind, left) in enumerate(zip(self.kinds, alone, strict=True)):
            held = bool(pressed[one]) if kind in BUTTONS else one in acts
            idle.append(ALONE[kind] if held else max(UNTOUCHED, left - 1))
        return worked, tuple(idle)

    def _refuted(self, found: Refuted) -> BriefProof:
        ways = [*self.walk.way(found.couple), found.move]
        script = []
        for steps, way in enumerate(ways):
            for one in self.lists[way] if way >= 0 else ():
                name = self.monitor.triggers[one]
                act = "" if self.kinds[one] in BUTTONS else f":{default_act(self.kinds[one])}"
                script.append(f"{SETTLED + steps}:{name}{act}")
        name = self.monitor.outputs[self.wrong]
        step = SETTLED + len(ways) - 1
        seen, asked = ("on", "off") if self.walk.levels(found.face)[self.wrong] else ("off", "on")
        why = f"{name} is {seen} at step {step} after these acts, and should be {asked}"
        return BriefProof("refuted", self.walk.expanded, "", why, tuple(script), step + SHOWN_AFTER)


UNTOUCHED = 0


def _piston_of(plan: Plan, cell: tuple[int, int, int]) -> tuple[int, int, int]:
    x, y, z = cell
    for near in ((x - 1, y, z), (x + 1, y, z), (x, y - 1, z), (x, y + 1, z)):
        part = plan.cells.get(near)
        if part is not None and part.kind == "pull-piston":
            return near
    raise AssertionError(f"no piston beside {cell}")
