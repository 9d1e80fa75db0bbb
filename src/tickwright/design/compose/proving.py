"""Proof that a composed plan keeps its brief after every sequence of acts: its states beside those of the brief.

Each output is proved with the triggers that reach it; the brief's own states (how long ago each counting act was) go
along with the states of the circuit, and every output must show in every state what they say. This is written from the
spans that the claims mean, not from the network.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from time import monotonic
from typing import Any

from tickwright.design.compose.brief import Brief
from tickwright.design.compose.machine_monitors import machine_monitors
from tickwright.design.compose.monitors import Monitor, monitors_for
from tickwright.design.compose.network import Network
from tickwright.kinds import BUTTONS, Part
from tickwright.plan.hand import default_act
from tickwright.plan.model import Plan
from tickwright.plan.setup import Setup
from tickwright.rules import RuleSet

MOST_STATES = 600_000
ALONE_STEPS = {"short-button": 22, "long-button": 32, "lever": 12}  # how long after an act the next one comes
SETTLED = 40  # steps after which the untouched circuit rests
TELL_EVERY = 4096
SHOWN_AFTER = 20


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
    plan: Plan, brief: Brief, network: Network, deadline: float, progress: Callable[[str], bool] | None = None
) -> BriefProof:
    """Prove every output against every sequence of acts of the triggers that reach it, under each rule set."""
    states, told, undecided = 0, [], []
    rests = f"acts from step {SETTLED} on; order canonical; rules {' and '.join(brief.rule_names)}"
    monitors = [*monitors_for(brief, network), *machine_monitors(brief, network)]
    for monitor in monitors:
        names = " and ".join(monitor.outputs)
        why = _cannot(brief, monitor)
        if why:
            undecided.append(f"{names}: {why}")
            continue
        for rules in brief.rulesets:
            found = _Product(plan, brief, monitor, rules).prove(deadline, progress, f"proving {names}")
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
        rests += f"; a lever left alone for {ALONE_STEPS['lever']} steps after each flip"
    bound = f"{'; '.join(told)}; {rests}" if told else rests
    if undecided:
        return BriefProof("undecided", states, bound, "not proved: " + "; ".join(undecided))
    return BriefProof("proved", states, bound)


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

    def __init__(self, plan: Plan, brief: Brief, monitor: Monitor, rules: RuleSet) -> None:
        from tickwright.engine.native import StateGraph

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
        self.graph = StateGraph(Setup(laid, rules), watch, cells, self.lists, SETTLED)
        self.outputs = len(monitor.outputs)

    def prove(self, deadline: float, progress: Callable[[str], bool] | None, text: str) -> BriefProof:
        """Search breadth-first until all is seen, something differs, or it must stop."""
        graph, monitor = self.graph, self.monitor
        rest = tuple(UNTOUCHED for _ in self.kinds)
        start = (0, monitor.start, rest)
        index = {start: 0}
        keys = [start]
        parent: list[int] = [-1]
        label: list[tuple[int, ...]] = [()]
        at = 0
        while at < len(keys):
            if at % TELL_EVERY == 0 and at:
                stop = progress(f"{text}, {at:,} states") if progress else False
                if stop or monotonic() > deadline or len(keys) > MOST_STATES:
                    late = "its time was over" if len(keys) <= MOST_STATES else "it has too many states"
                    why = "stopped" if stop else late
                    return BriefProof("undecided", at, "", f"{why}: none of {at:,} states seen breaks a claim")
            state, watched, alone = keys[at]
            for acts, after in self._moves(state, alone):
                levels = graph.levels(after)
                worked, idle = self._worked(acts, levels, alone)
                following, wanted = monitor.step(watched, worked, levels)
                wrong = next(
                    (place for place, want in enumerate(wanted) if want is not None and want != bool(levels[place])),
                    None,
                )
                if wrong is not None:
                    return self._refuted(parent, label, at, acts, wrong, bool(levels[wrong]))
                key = (after, following, idle)
                if key not in index:
                    index[key] = len(keys)
                    keys.append(key)
                    parent.append(at)
                    label.append(acts)
            at += 1
        return BriefProof("proved", len(keys), "")

    def _moves(self, state: int, alone: tuple[int, ...]) -> Iterator[tuple[tuple[int, ...], int]]:
        row = self.graph.after(state)
        yield (), row[0]
        for acts, after in zip(self.lists, row[1:], strict=True):
            if after < 0:
                continue
            if all(alone[one] == UNTOUCHED for one in acts):
                yield acts, after

    def _worked(
        self, acts: Sequence[int], levels: tuple[int, ...], alone: tuple[int, ...]
    ) -> tuple[tuple[str, ...], tuple[int, ...]]:
        """The triggers that are worked by the acts, in their order; and how long each lever is to be left alone yet."""
        worked = tuple(self.monitor.triggers[one] for one in acts if levels[self.outputs + one])
        idle = tuple(
            ALONE_STEPS[kind] if one in acts else max(UNTOUCHED, left - 1)
            for one, (kind, left) in enumerate(zip(self.kinds, alone, strict=True))
        )
        return worked, idle

    def _refuted(
        self, parent: list[int], label: list[tuple[int, ...]], at: int, last: tuple[int, ...], wrong: int, shows: bool
    ) -> BriefProof:
        way, acts = [at], [last]
        while parent[way[-1]] >= 0:
            acts.append(label[way[-1]])
            way.append(parent[way[-1]])
        acts.reverse()
        script = []
        for steps, done in enumerate(acts):
            for one in done:
                name = self.monitor.triggers[one]
                act = "" if self.kinds[one] in BUTTONS else f":{default_act(self.kinds[one])}"
                script.append(f"{SETTLED + steps}:{name}{act}")
        name = self.monitor.outputs[wrong]
        step = SETTLED + len(acts) - 1
        seen, asked = ("on", "off") if shows else ("off", "on")
        why = f"{name} is {seen} at step {step} after these acts, and should be {asked}"
        return BriefProof("refuted", len(parent), "", why, tuple(script), step + SHOWN_AFTER)


UNTOUCHED = 0


def _piston_of(plan: Plan, cell: tuple[int, int, int]) -> tuple[int, int, int]:
    x, y, z = cell
    for near in ((x - 1, y, z), (x + 1, y, z), (x, y - 1, z), (x, y + 1, z)):
        part = plan.cells.get(near)
        if part is not None and part.kind == "pull-piston":
            return near
    raise AssertionError(f"no piston beside {cell}")
