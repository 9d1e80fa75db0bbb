"""Compose: from a brief to a plan that keeps its chart, placed, routed, timed, checked and proved; or why not."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from time import monotonic
from typing import Any

from tickwright.arguments import checked
from tickwright.charts import ChartVerdict, check_charts
from tickwright.design.compose.brief import Brief
from tickwright.design.compose.closing import with_ticks
from tickwright.design.compose.hands import charts_for
from tickwright.design.compose.network import Network
from tickwright.design.compose.placing import Laid, NoPlace, place_network
from tickwright.design.compose.planning import network_of
from tickwright.design.compose.proving import BriefProof, prove_brief
from tickwright.design.compose.refusing import Refusal, Relaxation
from tickwright.design.compose.relaxing import relaxed
from tickwright.plan.model import Plan
from tickwright.plan.validate import is_supported
from tickwright.rules import RuleSet
from tickwright.space import Cell

MINUTES = 3.0
POLICY_STEPS = 2000  # of a trigger's deafness, up to which every further press is tried in a run of its own
LEFT = "what a further press does was not tried in runs, each of which is long: it rests on the proof"
PROOF_SECONDS = 60.0  # at least so long, when all else is done
ORDERS = ("canonical", "reversed", "1")

Progress = Callable[[str], bool]


@dataclass(frozen=True)
class Composed:
    """What came of composing a brief: the plan and what was found of it, or the reason why there is none."""

    brief: Brief
    seed: int
    plan: Plan | None
    verdicts: tuple[ChartVerdict, ...] = ()
    proof: BriefProof | None = None
    relax: tuple[Relaxation, ...] = ()
    claim: str | None = None
    why: str | None = None
    seconds: float = 0.0
    notes: tuple[str, ...] = field(default=())
    joined: tuple[str, ...] = ()  # states for which only a whole proof tells that no act counts twice

    @property
    def composed(self) -> bool:
        """Whether the plan keeps every claim and nothing refutes it; where acts are joined, whether it is proved."""
        kept = self.plan is not None and bool(self.verdicts) and all(one.passed for one in self.verdicts)
        verdict = self.proof.verdict if self.proof else None
        return kept and (verdict == "proved" if self.joined else verdict != "refuted")

    def as_data(self, file: str | None) -> dict[str, Any]:
        """The result as JSON shows it; `file` is where the plan was saved."""
        proof = self.proof
        return {
            "brief": self.brief.path,
            "seed": self.seed,
            "composed": self.composed,
            "file": file,
            "parts": len(self.plan.cells) if self.plan else None,
            "box": list(self.plan.size) if self.plan else None,
            "charts": [{"plan": file, **verdict.as_data()} for verdict in self.verdicts],
            "proof": proof.as_data() if proof else {"verdict": None, "states": 0, "bound": None},
            "relax": [
                {"claim": one.claim, "instead": one.instead, "amount_steps": one.amount_steps} for one in self.relax
            ],
            "seconds": round(self.seconds, 3),
            "claim": self.claim,
            "why": self.why,
            "notes": list(self.notes),
        }


@checked
def compose(
    brief: Brief, seed: int = 0, minutes: float | None = None, progress: Progress | None = None, proof: bool = True
) -> Composed:
    """Compose a brief: the same seed gives the same plan, as long as `minutes` do not end it sooner.

    `progress` is told what is being done; True from it stops the work, and what was found is given.
    """
    begun = monotonic()
    tell = progress or (lambda _text: False)
    deadline = begun + 60 * (MINUTES if minutes is None else minutes)
    try:
        network = network_of(brief)
    except Refusal as refusal:
        found = Composed(brief, seed, None, relax=relaxed(brief, refusal), claim=refusal.claim, why=refusal.why)
    else:
        found = _composed(brief, network, seed, deadline, tell, proof)
    return replace(found, seconds=monotonic() - begun)


def _composed(brief: Brief, network: Network, seed: int, deadline: float, tell: Progress, proof: bool) -> Composed:
    """What comes of a network: laid, checked and proved as far as it goes."""
    room = brief.room
    try:
        laid = place_network(
            network, brief.rulesets, room.size if room else None, room.blocked if room else (), seed, deadline, tell
        )
    except NoPlace as error:
        why = f"there is no room for {error} where the brief wants it, whichever way it is turned"
        return Composed(brief, seed, None, why=why)
    if laid is None:
        return Composed(brief, seed, None, why="there was no time to place it: allow more --minutes")
    plan = finished(brief, network, laid)
    if laid.wrong:
        told = f"{laid.wrong[0]}, and {len(laid.wrong) - 1} more" if len(laid.wrong) > 1 else laid.wrong[0]
        where = "room" if room else "time"
        why = f"it could not be laid in the {where} that there is ({told}): allow more --minutes, or try another --seed"
        return Composed(brief, seed, _standing(plan, brief.rulesets), why=why)
    tell("checking the chart")
    longest = max((steps or 0 for steps in network.ready.values()), default=0)
    verdicts = tuple(_check(plan, brief, longest))
    notes = (LEFT,) if longest > POLICY_STEPS else ()
    joined = tuple(dict.fromkeys(network.joined))
    broken = next((claim for one in verdicts for claim in one.claims if not claim.passed), None)
    if broken is not None:
        return Composed(
            brief, seed, plan, verdicts, claim=broken.claim, why=broken.detail, notes=notes, joined=joined
        )  # fmt: skip
    found = prove_brief(plan, brief, network, max(deadline, monotonic() + PROOF_SECONDS), tell) if proof else None
    return Composed(brief, seed, plan, verdicts, found, why=_unproved(found, joined), notes=notes, joined=joined)


def _unproved(proof: BriefProof | None, joined: Sequence[str]) -> str | None:
    """Why a plan that keeps its charts is not composed, if it is not."""
    if proof is not None and proof.verdict == "refuted":
        return f"the proof refutes it: {proof.detail}"
    if not joined or (proof is not None and proof.verdict == "proved"):
        return None
    ended = f"that is undecided: {proof.detail}" if proof is not None else "no proof was made"
    return (
        f"where {' and '.join(joined)}, several acts lead to the same state, and one of them may count while "
        f"the machine is deaf: such a plan is composed only if it is proved, and {ended}"
    )


def finished(brief: Brief, network: Network, laid: Laid) -> Plan:
    """The plan that came of it, with the brief's names and its charts."""
    cells = with_ticks(laid.layout.plan, laid.layout, laid.closed.ticks)

    def named(ends: dict[str, tuple[str, str]]) -> dict[str, Cell]:
        return {
            name: laid.layout.instances[instance].cell(network.made[instance].named[cell])
            for name, (instance, cell) in ends.items()
        }

    doors = frozenset(name for name, end in brief.outputs.items() if end.part == "piston-door")
    machines = tuple(
        replace(machine, deaf_steps=network.deaf.get(machine.name, machine.deaf_steps)) for machine in brief.machines
    )
    triggers, outputs = named(network.triggers), named(network.outputs)
    plan = Plan(
        cells, {name: triggers[name] for name in brief.inputs}, {name: outputs[name] for name in brief.outputs},
        (), brief.title, brief.rule_names[0], part_outputs=doors, machines=machines,
    )  # fmt: skip
    return replace(plan, charts=charts_for(brief))


def _check(plan: Plan, brief: Brief, longest: int) -> list[ChartVerdict]:
    """The charts under the first rules in the usual order; or the first verdicts that fail under other rules or orders.

    Policies, which take a run for every step, are tried once, if a trigger is deaf for POLICY_STEPS at the most: the
    proof holds them under all rules.
    """
    charts = []
    for chart in plan.charts:
        kept = tuple(line for line in chart.shows if line.split(":")[0].strip() not in plan.triggers)
        if kept:
            charts.append(replace(chart, shows=kept, hand=chart.hand or _hand(plan)))
    bare = replace(plan, charts=tuple(charts))
    first = check_charts(plan if longest <= POLICY_STEPS else bare, brief.rulesets[0])
    if not all(one.passed for one in first):
        return first
    for rules in brief.rulesets:
        for order in ORDERS:
            verdicts = check_charts(bare, rules, order=order)
            if not all(one.passed for one in verdicts):
                return verdicts
    return first


def _hand(plan: Plan) -> tuple[str, ...]:
    return tuple(f"0: {name}" for name in plan.triggers)


def _standing(plan: Plan, rulesets: Sequence[RuleSet]) -> Plan:
    """An attempt without the parts that lost what they stood on to another part, so that it can be opened."""
    cells = dict(plan.cells)
    while lost := [
        cell for cell, part in cells.items() if not all(is_supported(cells, rules, cell, part) for rules in rulesets)
    ]:
        for cell in lost:
            del cells[cell]
    return replace(plan, cells=cells)
