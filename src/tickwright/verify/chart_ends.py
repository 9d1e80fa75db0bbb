"""What a proof of a chart can see only once it knows every state: moments that a claim waits for and that never come.

A span until a moment that never comes is no span, a claim that so names none is not kept, and neither is a policy
whose moment never comes. The hand may always do more, so that a moment is given up only where no further act leads to
it.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator
from typing import Any, Literal, NamedTuple

from tickwright.charts.notation import Claim, Event, Level, Never, Policy, While, clause_moments
from tickwright.verify.chart_monitor import ChartMonitor, Memory, State
from tickwright.verify.search import Search


class Awaited(NamedTuple):
    """A clause that waits for the moment that ends it: a claim's, or a trigger's policy."""

    of: Literal["claim", "policy"]
    number: int  # of the claim, or of the trigger
    clause: int  # of the claim, or which policy of the trigger


class NeverComes(NamedTuple):
    """A moment that never comes: what waits for it, the event, and the state from which nothing leads to it."""

    text: str
    event: Event | None
    state: int


def never_coming(monitor: ChartMonitor, search: Search[Any]) -> Iterator[NeverComes]:
    """Of a search that went through every state: the moments that are waited for in vain, each once.

    First the claims and policies whose moments come in no state at all, then those that no act leads to any more.
    """
    told: set[tuple[str, Event | None]] = set()
    for claim, event in _never_named(monitor):
        told.add((claim.text, event))
        yield NeverComes(f"{claim.text}: {event or 'its moment'} never comes, so that it names no span", event, 0)
    for awaited in _never_met(monitor):
        text, event = _waits_for(monitor, awaited)
        ready = monitor.policies[monitor.triggers[awaited.number]][awaited.clause].word == "ready"
        told.add((text, event))
        why = f"{event} never comes" if ready else "no press can come while it lasts"
        yield NeverComes(
            f"{text}: {why}", event if ready else Event(monitor.triggers[awaited.number], "trigger", "worked"), 0
        )
    for awaited, state in _stuck(monitor, search):
        text, event = _waits_for(monitor, awaited)
        if (text, event) not in told:
            told.add((text, event))
            what = f"{text}: {event} never comes any more, whatever is done"
            yield NeverComes(what, event, state)


def _never_named(monitor: ChartMonitor) -> Iterator[tuple[Claim, Event | None]]:
    """The claims that named no span in any state, each with the event that never came, as far as that is plain."""
    for number, claim in enumerate(monitor.claims):
        if claim.is_policy or number in monitor.named:
            continue
        if any(isinstance(clause, Never | Level | While) for clause in claim.clauses):
            continue
        moments = [moment for clause in claim.clauses for moment in clause_moments(clause)]
        begun = [moment for moment in moments if moment.event is not None and moment.event in monitor.happened]
        missing = [moment.event for moment in moments if moment.event is not None and moment not in begun]
        yield claim, missing[0] if missing else moments[-1].event


def _never_met(monitor: ChartMonitor) -> Iterator[Awaited]:
    """The policies that no press met in any state, and those of readiness whose moment never came."""
    for number, trigger in enumerate(monitor.triggers):
        for index in range(len(monitor.policies.get(trigger, []))):
            if (trigger, index) not in monitor.met:
                yield Awaited("policy", number, index)


def _waits_for(monitor: ChartMonitor, awaited: Awaited) -> tuple[str, Event | None]:
    """The text of the claim that waits, and for which event."""
    if awaited.of == "claim":
        claim = monitor.claims[awaited.number]
        return claim.text, clause_moments(claim.clauses[awaited.clause])[-1].event
    trigger = monitor.triggers[awaited.number]
    policy = monitor.policies[trigger][awaited.clause]
    claim = next(one for one in monitor.claims if one.is_policy and one.name == trigger and policy in one.clauses)
    return claim.text, None if policy.moment is None else policy.moment.event


def _stuck(monitor: ChartMonitor, search: Search[Any]) -> Iterator[tuple[Awaited, int]]:
    """What is waited for in vain, each with the cheapest state from which every way goes on waiting."""
    waiting: dict[Awaited, set[int]] = {}
    leaning: dict[Awaited, list[int]] = {}
    known: dict[Memory, tuple[frozenset[Awaited], frozenset[Awaited]]] = {}
    for number, key in enumerate(search.keys):
        memory = key[1]
        assert isinstance(memory, Memory)
        if memory not in known:
            known[memory] = (
                frozenset.intersection(*(_waiting(monitor, state) for state in memory.states)),
                frozenset.intersection(*(_leaning(monitor, state) for state in memory.states)),
            )
        for awaited in known[memory][0]:
            waiting.setdefault(awaited, set()).add(number)
        for awaited in known[memory][1]:
            leaning.setdefault(awaited, []).append(number)
    if not leaning:
        return
    before: list[list[int]] = [[] for _ in search.keys]
    for number, following in search.successors.items():
        for one in set(following):
            before[one].append(number)
    for awaited in sorted(leaning):
        free = _leads_to(set(range(len(search.keys))) - waiting[awaited], before)
        vain = [number for number in leaning[awaited] if number not in free]
        if vain:
            yield awaited, min(vain, key=lambda number: search.cost[number])


def _leads_to(goals: Collection[int], before: list[list[int]]) -> set[int]:
    """The states from which some way leads to one of the goals."""
    found, heap = set(goals), list(goals)
    while heap:
        for number in before[heap.pop()]:
            if number not in found:
                found.add(number)
                heap.append(number)
    return found


def _waiting(monitor: ChartMonitor, state: State) -> frozenset[Awaited]:
    """All that waits for a moment in this way of standing."""
    keys = [one for shown in state.outputs for one in shown.missed]
    keys += [raw.waits for shown in state.outputs for raw in shown.raw if raw.waits is not None]
    keys += [(train.claim, train.clause) for train in state.trains if train.until is None]
    return frozenset([*_spans(monitor, keys), *_policies(monitor, state)])


def _leaning(monitor: ChartMonitor, state: State) -> frozenset[Awaited]:
    """What waits for a moment without which a claim is not kept: an output is on for nothing else, a policy goes on."""
    found: list[Awaited] = []
    for shown in state.outputs:
        covering = {raw.waits for raw in shown.raw if raw.begin <= 0 and (raw.end is None or raw.end > 0)}
        if shown.begun and len(covering) == 1:
            found += _spans(monitor, (one for one in covering if one is not None))
    return frozenset([*found, *_policies(monitor, state)])


def _spans(monitor: ChartMonitor, keys: Iterable[tuple[int, int]]) -> list[Awaited]:
    return [
        Awaited("claim", claim, clause) for claim, clause in keys
        if not isinstance(monitor.claims[claim].clauses[clause], While)
    ]  # fmt: skip


def _policies(monitor: ChartMonitor, state: State) -> Iterator[Awaited]:
    for number, (trigger, (index, _, left, _)) in enumerate(zip(monitor.triggers, state.policies, strict=True)):
        policies = monitor.policies.get(trigger, [])
        if left is None and 0 <= index < len(policies) and _waits(policies[index]):
            yield Awaited("policy", number, index)


def _waits(policy: Policy) -> bool:
    """Whether a policy goes on until an event; one that ends before its event is counted from the press."""
    moment = policy.moment
    return policy.word != "ready" and moment is not None and moment.event is not None and moment.steps >= 0
